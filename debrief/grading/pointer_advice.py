"""Advice where the course is flown by an NDB's pointer.

Owns      that advice: a pointer has no centre, no stop and no flag.
Not here  all other sentences (``sentence_table``).
"""

from __future__ import annotations

from debrief.language import mark

#: The same advice where the course is flown by an NDB's pointer, which has no centre, no stop and no flag.
POINTER_ADVICE: dict[tuple[str, str], str] = {
    (rule, variant): told
    for (rule, *variants), told in {
        ("altitude", "early"): mark(
            "Hold {published} until the bearing is within 5 degrees of the course and the track along it, then start down."
        ),
        ("tracking", ""): mark(
            "When the bearing leaves the course turn {turn} by {correction}, hold that until it comes back, then take out "
            "half."
        ),
        ("tracking", "another"): mark(
            "A bearing that stays the same beside the course never comes in by itself: check the course and the wind, turn "
            "{turn} by {correction}, and take out half as it comes back."
        ),
        ("tracking", "close"): mark(
            "So close to the station the pointer moves too fast to be followed: be on the course 2 NM before, and from "
            "there hold the heading within 3 degrees until the station is passed."
        ),
        ("tracking", "lost"): mark(
            "More than 10 degrees off on final the pointer shows no safe way back to the course: fly the missed approach at "
            "once, and come back for another approach."
        ),
        ("stabilised", "lost"): mark(
            "Have the bearing near the course and steady by {gate} above the runway; more than 10 degrees off it below that, "
            "fly the missed approach at once."
        ),
        ("not_established", "", "far"): mark(
            "Turn onto the {course} when the bearing comes within 10 degrees of it and be within {limit} before any descent; "
            "without that, go around."
        ),
        ("needle_chasing", ""): mark(
            "Hold one heading for 20 s, see what the pointer does, and only then correct once, by 5 degrees."
        ),
        ("needle_chasing", "cone"): mark(
            "Note the heading that keeps the bearing the same a mile before the station, and hold it within 3 degrees until "
            "the pointer is steady again."
        ),
        ("weaving", ""): mark(
            "Find the heading that keeps the bearing the same, correct from it by 5 degrees, and take out half as the bearing "
            "comes back."
        ),
        ("station_missed", ""): mark(
            "Inside 5 NM find the heading that keeps the bearing the same and keep it until the station is passed; do not "
            "turn away before."
        ),
        ("intercept_angle", ""): mark(
            "Roll out of the reversal on {steer}, {advised} to the course, and wait for the bearing to come near it."
        ),
        ("intercept_overshoot", ""): mark(
            "Begin the turn onto the {course} course while the bearing still moves, 5 degrees before the course or earlier."
        ),
        ("intercept_overshoot", "beside"): mark(
            "Once through the {course} course turn back at once to cut it by 30 degrees, and keep that until the bearing "
            "comes back."
        ),
        ("intercept_overshoot", "lead"): mark(
            "At {speed} the turn from {angle} takes {lead}: begin it with the bearing still {needle} from the course."
        ),
    }.items()
    for variant in variants
}
