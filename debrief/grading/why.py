"""Why each rule is there: what is at stake where it is not met.

Owns      ``why_it_matters``.
Not here  what was seen and what to do next time (``sentences``).
Source    common practice.
"""

from __future__ import annotations

from debrief.language import mark, tr

WHY = mark(
    {
        "altitude": "Published altitudes hold the clearance from terrain, and the height that the next leg counts on.",
        "altitude_before_station": "Up to the station the higher minimum holds: the passage is the first sure proof of the "
        "position.",
        "minimum_descent_altitude": "The minimum is the lowest height that is clear of obstacles without the runway in "
        "sight, and low enough to see it in time.",
        "step_down": "A step stands for high ground or an obstacle that lies before that distance.",
        "tracking": "The published altitudes are clear of terrain near the course only.",
        "not_established": "The next, lower altitude is clear of terrain on the course only.",
        "station_missed": "The station is the one sure fix: times and headings of all that follows count from it.",
        "arc": "The published altitude is clear of terrain near the arc only, and the lead radial counts on its distance.",
        "turn_lead": "A turn begun in the wrong place ends beside the outbound course, and the offset stays into the "
        "reversal.",
        "outbound_length": "The length of the outbound leg sets the room for the reversal, and for the descent on the way "
        "back in.",
        "reversal_missing": "The reversal gives the room to lose height and to be on the course before the final.",
        "reversal_side": "The published altitude is clear of terrain on the published side only.",
        "reversal_distance": "The published altitude is clear of terrain up to the published distance only.",
        "reversal_speed": "A turn at the same bank grows with the square of the speed, and the published area is drawn for "
        "the published maximum.",
        "intercept_angle": "A steep intercept leaves little time to turn, and leads through the course.",
        "intercept_overshoot": "Beyond the course the room is used up, and the way back costs the time that the final "
        "needs.",
        "descent_rate": "A high rate near the ground leaves no room to level off.",
        "stabilised": "What is not settled at the gate takes the attention that the landing needs.",
        "missed_approach": "The climb that is clear of obstacles begins at the missed approach point.",
        "needle_chasing": "The indication swings faster than the aircraft can follow: turns after it end beside the course.",
        "weaving": "A track that swings about the course never settles on it, and takes the attention that the descent needs.",
        "reverse_sensing": "An indication read the wrong way round leads away from the course, the farther the longer it is "
        "followed.",
        "log_quality": "What was not recorded can neither be praised nor mended.",
    }
)


#: Of a variant of a rule that protects something else than the rest of it.
_OF_VARIANT = mark(
    {
        (
            "minimum_descent_altitude",
            "side",
        ): "The circling minimum is clear of obstacles on the allowed side of the runway only.",
    }
)


def why_it_matters(rule: str, variant: str = "") -> str:
    """One sentence on what a rule, or one variant of it, protects."""
    return tr(_OF_VARIANT.get((rule, variant), WHY[rule]))
