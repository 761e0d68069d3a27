"""One thing to practise for each rule: what, a concrete exercise, and the number to aim at.

Owns      ``EXERCISES``: every sentence of practice, whole, with gaps for quantities.
Not here  the quantities (``practice``), the findings' own advice (``sentences``).

The exercises speak of the flying and can be flown in a simulator as well as in the air. They and the numbers to
aim at are common practice: about half of the tolerance, so that the next flight has a margin.
"""

from __future__ import annotations

from typing import NamedTuple


class Exercise(NamedTuple):
    """The words of one thing to practise."""

    what: str
    exercise: str
    aim: str


#: By rule and variant; which variant is due is told by ``practice``.
EXERCISES: dict[tuple[str, str], Exercise] = {
    ("altitude", "low"): Exercise(
        "Levelling off on {leg}",
        "Fly {leg} three times: set {target} beforehand, level off there, trim, and hold it for two minutes before "
        "any other task.",
        "Within 50 ft of {target}, and never below {published}.",
    ),
    ("altitude", "early"): Exercise(
        "Starting down only once established",
        "Fly the way back in three times at {published}: say aloud that the needle is within half its scale and the "
        "track along the course, and only then reduce the power.",
        "Within 50 ft of {target} until established.",
    ),
    ("altitude", "left"): Exercise(
        "Keeping {published} to the end of {leg}",
        "Fly {leg} three times at {published}: say beforehand what ends it, say it again as it comes, and only then "
        "reduce the power.",
        "Within 50 ft of {target} to the end of the leg.",
    ),
    ("altitude", "high"): Exercise(
        "Getting down on {leg}",
        "Fly {leg} three times: begin the descent as the leg begins, and be level at {target} in its first half.",
        "Within 50 ft of {target} from the middle of the leg on.",
    ),
    ("altitude_before_station", ""): Exercise(
        "Keeping {published} up to the station",
        "Fly three station passages at {published}: wait until the needle has swung, say the time aloud, and only "
        "then reduce the power.",
        "Within 50 ft of {published} at each passage.",
    ),
    ("minimum_descent_altitude", "low"): Exercise(
        "Levelling off at the minimum",
        "Fly three descents to {published}: begin to level off {lead} above it, power first, then trim, and hold it "
        "for one minute.",
        "Lowest altitude between {published} and {ceiling}.",
    ),
    ("minimum_descent_altitude", "circling"): Exercise(
        "Circling at the minimum",
        "Fly three circuits at {published} to the runway circled to: hold it downwind, begin the base turn first, and "
        "only then the descent.",
        "Between {published} and {ceiling} up to each base turn.",
    ),
    ("minimum_descent_altitude", "side"): Exercise(
        "The side to circle on",
        "Brief three circling approaches aloud, with the side of the runway, and fly each at {published} on that side.",
        "Every circuit on the {side} side of runway {runway}.",
    ),
    ("minimum_descent_altitude", "high"): Exercise(
        "Holding the minimum",
        "Fly level at {published} three times for one minute with the gear and flaps of the approach, and note the "
        "power that holds it.",
        "Between {published} and {ceiling} for the whole minute.",
    ),
    ("step_down", ""): Exercise(
        "The step-down on final",
        "Fly the final three times and say the step before it: {published} until {until}. Level off at {target} "
        "and wait there until then.",
        "Never below {published} before {until}.",
    ),
    ("tracking", ""): Exercise(
        "Tracking the {course}",
        "Fly the {course} three times for three minutes: correct by 10 degrees, and take half of it out when the "
        "needle comes back.",
        "Within {half} of the centre for the whole three minutes.",
    ),
    ("tracking", "wind"): Exercise(
        "Tracking the {course}",
        "Fly the {course} three times for three minutes: begin on heading {heading}, which allows for the wind "
        "found on this flight, and correct by 10 degrees.",
        "Within {half} of the centre for the whole three minutes.",
    ),
    ("not_established", ""): Exercise(
        "Joining the inbound course",
        "Fly three intercepts of the {course} at 45 degrees: begin the turn as the needle leaves its stop, then "
        "hold the course for one minute before any descent.",
        "Within {limit} at the latest 60 s after the needle begins to move.",
    ),
    ("reverse_sensing", ""): Exercise(
        "Reading the needle the right way round",
        "Fly the {course} three times from 3 degrees beside it: say the course set, the flag and the side of the "
        "needle aloud, and only then turn.",
        "The first turn towards the needle in three of three, and the needle back within 1 degree.",
    ),
    ("needle_chasing", ""): Exercise(
        "Holding a heading by the needle",
        "Fly the {course} three times for three minutes with the clock: after each correction keep the heading for "
        "20 s before the next.",
        "No more than three corrections a minute, and none beyond 5 degrees.",
    ),
    ("weaving", ""): Exercise(
        "Settling on the course",
        "Join the {course} three times from half a mile aside: note the heading that keeps the needle still, and leave it by "
        "10 degrees at the most, by half of that each time the needle comes back.",
        "Swings of the track of less than {half} once the needle is inside half its scale.",
    ),
    ("needle_chasing", "cone"): Exercise(
        "The heading over the station",
        "Fly three station passages: note the heading that keeps the needle still a mile before, and keep it until a "
        "mile after.",
        "Within 3 degrees of that heading all through the cone.",
    ),
    ("station_missed", ""): Exercise(
        "Passing the station",
        "Fly three passages of the station from 10 NM out: inside 5 NM find the heading that keeps the needle "
        "still, and hold it until the needle swings.",
        "Closest point within {aim} of the station each time.",
    ),
    ("turn_lead", "lead"): Exercise(
        "The turn at the station",
        "Fly the station turn three times at {speed} with a change of {change}: begin it {seconds} before the passage.",
        "Begun within {half} of the right place, {lead} before the station.",
    ),
    ("turn_lead", "overhead"): Exercise(
        "The turn at the station",
        "Fly the station turn three times at {speed} with a change of {change}: set the next course beforehand, and "
        "begin as the needle swings.",
        "Begun no later than {half} past the station.",
    ),
    ("outbound_length", "distance"): Exercise(
        "Ending the outbound leg",
        "Fly the outbound leg three times: say the DME at each mile, have the first heading of the reversal ready "
        "at {ready} DME, and turn at {published}.",
        "The turn begun within {half} of {published} DME.",
    ),
    ("outbound_length", "time"): Exercise(
        "Timing the outbound leg",
        "Fly the outbound leg three times with the stopwatch: start it as the leg's timing begins, say each half "
        "minute, and turn at {published}.",
        "The turn begun within {half} of {published}.",
    ),
    ("reversal_missing", ""): Exercise(
        "The {pattern} reversal",
        "Draw the {pattern} and say its headings and times, then fly it three times from the station.",
        "All of its turns flown in three of three.",
    ),
    ("reversal_side", ""): Exercise(
        "The side of the reversal",
        "Fly the reversal three times: before the station, say the side and the first heading aloud, {side} and "
        "{first}.",
        "Three of three to the {side}, with the first heading within 5 degrees of {first}.",
    ),
    ("reversal_distance", ""): Exercise(
        "Keeping the reversal inside its distance",
        "Fly the reversal three times, slowed down before the station, and say the distance from it at each turn.",
        "Farthest point within {inside} of the station; {published} is the limit.",
    ),
    ("reversal_distance", "turn by"): Exercise(
        "Keeping the reversal inside its distance",
        "Fly the reversal three times in this wind, with its first turn begun no farther than {turn_by} from the "
        "station.",
        "Farthest point within {inside} of the station; {published} is the limit.",
    ),
    ("reversal_speed", ""): Exercise(
        "The speed for the reversal",
        "Slow down to {target} in level flight three times, begun 3 minutes before the station, and note the power "
        "that holds it.",
        "Within 5 kt of {target} from the station until established inbound.",
    ),
    ("intercept_angle", ""): Exercise(
        "Intercepting the inbound course",
        "Fly the turn back three times: roll out on a track of {left} or {right}, 45 degrees from the course, and "
        "wait for the needle.",
        "The course met at 30 to 45 degrees.",
    ),
    ("intercept_overshoot", ""): Exercise(
        "The turn onto the inbound course",
        "Fly the turn onto the {course} three times from 45 degrees: begin it as the needle leaves its stop, and "
        "roll out as it centres.",
        "No more than {half} through the course.",
    ),
    ("intercept_overshoot", "lead"): Exercise(
        "The turn onto the inbound course",
        "Fly the turn onto the {course} three times at {speed} from {angle}: begin it {lead} before the course, and "
        "roll out as the needle centres.",
        "No more than {half} through the course.",
    ),
    ("intercept_overshoot", "turning"): Exercise(
        "Room for the turn back",
        "Fly the reversal three times: before the turn back say how far the {course} is and that the turn takes {room} "
        "at {speed}, allow for the wind on the way out, and keep standard rate to the end.",
        "No more than {half} through the course.",
    ),
    ("descent_rate", ""): Exercise(
        "The rate of descent on final",
        "Fly the final three times at {speed}: set {needed} as the descent begins, and correct by 100 ft/min at a time.",
        "Between {least} and {most} down to the minimum.",
    ),
    ("descent_rate", "slower"): Exercise(
        "The speed and rate of descent on final",
        "Fly the final three times at {speed} over the ground, slowed down before it: a path of {path} then takes "
        "{needed}.",
        "Between {least} and {most} down to the minimum.",
    ),
    ("descent_rate", "steep"): Exercise(
        "Joining the course far enough out",
        "Fly the reversal three times so as to be on the course {far} or more before the runway; say the distance "
        "as it is joined, and climb away if it is less.",
        "On the course {far} before the runway in three of three.",
    ),
    ("stabilised", ""): Exercise(
        "Being stable at the gate",
        "Fly the final three times: at {gate} above the runway say rate, course and speed aloud, and climb away if "
        "one of them is outside its limit.",
        "All of them inside their limits from {gate} down.",
    ),
    ("missed_approach", "late"): Exercise(
        "Going around in time",
        "Fly three missed approaches: at {point} say the decision aloud, then set power and pitch within 5 s.",
        "The climb begun within {half} past that point.",
    ),
    ("missed_approach", "climb"): Exercise(
        "Climbing away",
        "Fly three climbs away from level flight at the minimum: full power and the pitch for {limit} within 5 s, "
        "then clean up.",
        "{limit} or more over the first minute.",
    ),
    ("missed_approach", "path"): Exercise(
        "Flying the published missed approach",
        "Say the missed approach before three finals: course {course}, then the turn, then {altitude}; and fly it "
        "to level flight.",
        "The course within 5 degrees, and level within 50 ft of {altitude}.",
    ),
    ("arc", ""): Exercise(
        "Keeping a DME arc",
        "Fly 60 degrees of the arc of {published} DME three times: turn 10 degrees at a time, and say the DME at "
        "each turn.",
        "Within 0.5 NM of {published} DME, at its altitude, all the way.",
    ),
}

#: The same where the course is flown by an NDB's pointer, which has no centre and no stop.
POINTER_EXERCISES: dict[tuple[str, str], Exercise] = {
    ("altitude", "early"): Exercise(
        "Starting down only once established",
        "Fly the way back in three times at {published}: say aloud that the bearing is within 5 degrees of the course "
        "and the track along it, and only then reduce the power.",
        "Within 50 ft of {target} until established.",
    ),
    ("altitude_before_station", ""): Exercise(
        "Keeping {published} up to the station",
        "Fly three station passages at {published}: wait until the pointer has swung, say the time aloud, and only "
        "then reduce the power.",
        "Within 50 ft of {published} at each passage.",
    ),
    ("turn_lead", "overhead"): Exercise(
        "The turn at the station",
        "Fly the station turn three times at {speed} with a change of {change}: have the next course in mind beforehand, "
        "and begin as the pointer swings.",
        "Begun no later than {half} past the station.",
    ),
    ("tracking", ""): Exercise(
        "Tracking the {course}",
        "Fly the {course} three times for three minutes: correct by 10 degrees, and take half of it out when the "
        "bearing comes back.",
        "Within {half} of the course for the whole three minutes.",
    ),
    ("tracking", "wind"): Exercise(
        "Tracking the {course}",
        "Fly the {course} three times for three minutes: begin on heading {heading}, which allows for the wind "
        "found on this flight, and correct by 10 degrees.",
        "Within {half} of the course for the whole three minutes.",
    ),
    ("not_established", ""): Exercise(
        "Joining the inbound course",
        "Fly three intercepts of the {course} at 45 degrees: begin the turn as the bearing comes within 10 degrees "
        "of it, then hold the course for one minute before any descent.",
        "Within {limit} at the latest 60 s after the turn is begun.",
    ),
    ("reverse_sensing", ""): Exercise(
        "Reading the pointer the right way round",
        "Fly the {course} three times from 3 degrees beside it: say the bearing, the course and the side on which it "
        "lies aloud, and only then turn.",
        "The first turn towards the course in three of three, and the bearing back within 1 degree.",
    ),
    ("needle_chasing", ""): Exercise(
        "Holding a heading by the pointer",
        "Fly the {course} three times for three minutes with the clock: after each correction keep the heading for "
        "20 s before the next.",
        "No more than three corrections a minute, and none beyond 5 degrees.",
    ),
    ("needle_chasing", "cone"): Exercise(
        "The heading over the station",
        "Fly three station passages: note the heading that keeps the bearing the same a mile before, and keep it until "
        "a mile after.",
        "Within 3 degrees of that heading all through the cone.",
    ),
    ("weaving", ""): Exercise(
        "Settling on the course",
        "Join the {course} three times from half a mile aside: note the heading that keeps the bearing the same, and "
        "leave it by 10 degrees at the most, by half of that each time the bearing comes back.",
        "Swings of the track of less than {half} once the bearing is within 5 degrees.",
    ),
    ("station_missed", ""): Exercise(
        "Passing the station",
        "Fly three passages of the station from 10 NM out: inside 5 NM find the heading that keeps the bearing the "
        "same, and hold it until the pointer swings.",
        "Closest point within {aim} of the station each time.",
    ),
    ("intercept_angle", ""): Exercise(
        "Intercepting the inbound course",
        "Fly the turn back three times: roll out on a track of {left} or {right}, 45 degrees from the course, and "
        "wait for the bearing to come near it.",
        "The course met at 30 to 45 degrees.",
    ),
    ("intercept_overshoot", ""): Exercise(
        "The turn onto the inbound course",
        "Fly the turn onto the {course} three times from 45 degrees: begin it as the bearing comes within 10 degrees "
        "of it, and roll out as it reads the course.",
        "No more than {half} through the course.",
    ),
    ("intercept_overshoot", "lead"): Exercise(
        "The turn onto the inbound course",
        "Fly the turn onto the {course} three times at {speed} from {angle}: begin it {lead} before the course, and "
        "roll out as the bearing reads it.",
        "No more than {half} through the course.",
    ),
}
