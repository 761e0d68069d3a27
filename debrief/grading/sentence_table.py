"""Every sentence that a verdict is told in, in one place.

Owns      what was seen, what to do next time, and what went well: whole sentences with gaps for quantities.
Not here  the quantities (``words``), which sentence is due (``rules_...``: the assessment's ``variant``), the advice
          by an NDB's pointer (``pointer_advice``), filling them in (``sentences``).

They speak of the flying and not of the flyer: what, where, by how much; then one thing to do, with a number.
A marginal finding always says how sure the log is.
"""

from __future__ import annotations

from typing import NamedTuple

from debrief.language import mark


class Sentences(NamedTuple):
    """For one variant of one rule; an empty text is never asked for."""

    exceeded: str
    marginal: str
    advice: str
    well: str = ""


_NOTHING_TO_DO = mark("Nothing to change in the flying: record the whole approach to have it judged.")

SENTENCES: dict[tuple[str, str], Sentences] = {
    ("altitude", "low"): Sentences(
        "{In} the altitude fell to {value} at {at}, {where}: {depth} below the published {published}, "
        "where {allowed} is allowed.",
        "{In} the altitude read {value} at {at}, {where}: {depth} below the published {published}, where "
        "{allowed} is allowed; the log is only sure to {sure}.",
        "Level off at {target}, a little above the minimum, and trim before doing anything else.",
        "{In} the altitude never fell below {value}, with {published} published.",
    ),
    ("altitude", "early"): Sentences(
        "The descent below {published} began at {began_at}, {began}, before the {course} course was joined: the "
        "altitude was down to {value}, {depth} too low, and {allowed} is allowed.",
        "The descent below {published} may have begun at {began_at}, {began}, before the {course} course was joined: "
        "the altitude was down to {value}, {depth} too low, where {allowed} is allowed; the log is only sure "
        "to {sure}.",
        "Hold {published} until the needle is within half its scale and the track along the course, then start down.",
        "",
    ),
    ("altitude", "low and early"): Sentences(
        "The course reversal was flown at {held}, and the descent from there began at {began_at}, {began}, before the "
        "{course} course was joined: the altitude was down to {value}, {depth} below the published {published}, where "
        "{allowed} is allowed.",
        "The course reversal was flown at {held}, and the descent from there began at {began_at}, {began}, before the "
        "{course} course was joined: the altitude read {value}, {depth} below the published {published}, where "
        "{allowed} is allowed; the log is only sure to {sure}.",
        "Level off at {target}, a little above the minimum, and start down from there only once established on the "
        "{course} course.",
    ),
    ("altitude", "left"): Sentences(
        "{In} the altitude fell to {value} at {at}, {where}: {depth} below the published {published}, "
        "where {allowed} is allowed.",
        "{In} the altitude read {value} at {at}, {where}: {depth} below the published {published}, where "
        "{allowed} is allowed; the log is only sure to {sure}.",
        "Hold {published} until {until}, then start down.",
    ),
    ("altitude", "high"): Sentences(
        "{In} the altitude was as high as {value} at {at}, {where}: {depth} above the published {published}, "
        "where {allowed} is allowed.",
        "{In} the altitude read {value} at {at}, {where}: {depth} above the published {published}, where "
        "{allowed} is allowed; the log is only sure to {sure}.",
        "Be down to {target} early in the leg and hold it: trim first, then one small correction at a time.",
        "{In} the altitude was down to {value} in time, with {published} published as the most.",
    ),
    ("altitude_before_station", ""): Sentences(
        "The descent below {published} began before {before}, at {began_at}, {began}: the altitude was down to "
        "{value} before the passage, {depth} too low.",
        "The descent below {published} began before {before}, at {began_at}, {began}: the altitude read {value} "
        "before the passage, {depth} low; the log is only sure to {sure}.",
        "Hold {published} until {passed}, then start down.",
        "{published} was kept up to {before}: {value} at the passage.",
    ),
    ("altitude_before_station", "over"): Sentences(
        "",
        "The descent below {published} began in the cone of ambiguity over the station, at {began_at}: the altitude read "
        "{value} by the passage, {depth} low. In the cone nobody can tell the passage to the second.",
        "Hold {published} until {passed}, then start down.",
    ),
    ("minimum_descent_altitude", "low"): Sentences(
        "On final the altitude fell to {value} at {at}, {where}: {depth} below the minimum descent altitude "
        "of {published}.",
        "On final the altitude read {value} at {at}, {where}: {depth} below the minimum descent altitude of "
        "{published}; the log is only sure to {sure}.",
        "Begin to level off {lead} before the minimum, a tenth of the rate of descent, and hold {target}.",
        "On final the altitude never fell below {value}, with a minimum of {published}.",
    ),
    ("minimum_descent_altitude", "high"): Sentences(
        "Once at the minimum the altitude rose to {value} at {at}, {where}: {depth} above the minimum of "
        "{published}, where {allowed} is allowed.",
        "Once at the minimum the altitude read {value} at {at}, {where}: {depth} above the minimum of "
        "{published}, where {allowed} is allowed; the log is only sure to {sure}.",
        "Set the power for level flight at the minimum, trim, and hold it within {allowed} above {published}.",
    ),
    ("minimum_descent_altitude", "circling"): Sentences(
        "Before the base turn the altitude fell to {value} at {at}, {where}: {depth} below the circling minimum of "
        "{published}.",
        "Before the base turn the altitude read {value} at {at}, {where}: {depth} below the circling minimum of "
        "{published}; the log is only sure to {sure}.",
        "Level off at {target}, and leave it for the runway only in the base turn, on a path that leads to it.",
    ),
    ("minimum_descent_altitude", "side"): Sentences(
        "Circling to runway {runway} was flown on the {flown} side of it, up to {aside} from its centre line; only the "
        "{published} side is allowed, and the circling minimum holds there alone.",
        "",
        "Say before the approach that runway {runway} is circled to on its {published} side, and turn off the final "
        "course so as to fly there.",
        "Circling to runway {runway} stayed on the {published} side, as published.",
    ),
    ("minimum_descent_altitude", "landed"): Sentences(
        "",
        "",
        "",
        "The minimum of {published} was left only on a stable path to the runway.",
    ),
    ("step_down", ""): Sentences(
        "On final the altitude was {value} at {at}, {where}: {depth} below the {published} that holds until "
        "{until}.",
        "On final the altitude read {value} at {at}, {where}: {depth} below the {published} that holds until "
        "{until}; the log is only sure to {sure}.",
        "Level off at {target} and stay there until {until}; then descend to the next minimum.",
        "The step of {published} until {until} was kept: {value} at the lowest.",
    ),
    ("tracking", ""): Sentences(
        "{In} the aircraft was {value} {side} of the {course} ({aside}), and beyond {limit} for {seconds}; "
        "worst at {at}, {where}.",
        "{In} the aircraft was {value} {side} of the {course} ({aside}), and beyond {limit} for {seconds}, "
        "worst at {at}, {where}; the log is only sure to {sure}.",
        "When the needle leaves the centre turn {turn} by {correction}, hold that until it comes back, then "
        "take out half.",
        "{In} the {course} was kept within {value}; {limit} is allowed.",
    ),
    ("tracking", "another"): Sentences(
        "{In} the aircraft flew along the {flown}, {steady} {side} of the {course}, out to the turn off, and was "
        "beyond {limit} for {seconds}.",
        "{In} the aircraft flew along the {flown}, {steady} {side} of the {course}, out to the turn off, and was "
        "beyond {limit} for {seconds}; the log is only sure to {sure}.",
        "A needle that stands still beside the centre never comes in by itself: check what is set and the wind, turn "
        "{turn} by {correction}, and take out half as it centres.",
        "",
    ),
    ("not_established", ""): Sentences(
        "The {course} was never joined on the way back: the closest that was held for {held} is {value}, where "
        "established means {limit}.",
        "The {course} may never have been joined on the way back: the closest that was held for {held} is "
        "{value}, where established means {limit}; the log is only sure to {sure}.",
        "Turn onto the {course} when the needle moves off its stop and be within {limit} before any descent; "
        "without that, go around.",
        "The inbound course was joined {distance} from the station.",
    ),
    ("not_established", "far"): Sentences(
        "The {course} was never joined on the way back: it was never followed for {held}, at any distance "
        "from it.",
        "",
        "Turn onto the {course} when the needle moves off its stop and be within {limit} before any descent; "
        "without that, go around.",
    ),
    ("reverse_sensing", ""): Sentences(
        "{In} the heading was turned {value} away from the course at {at}, {where}, with the needle {before} to the "
        "{needle}; the needle then went out to {after}. Corrections away from it are those of a needle read the wrong "
        "way round.",
        "{In} the heading was turned about {value} away from the course at {at}, {where}, with the needle {before} to "
        "the {needle}; it then went out to {after}. The log is only sure to {sure}.",
        "Set the course in the direction of flight, see that the flag agrees, and turn towards the needle: 5 degrees "
        "at first.",
    ),
    ("reverse_sensing", "pointer"): Sentences(
        "{In} the heading was turned {value} away from the course at {at}, {where}, with the course {before} to the "
        "{needle}; it then was {after} away. Corrections away from it are those of a pointer read the wrong way round.",
        "{In} the heading was turned about {value} away from the course at {at}, {where}, with the course {before} to "
        "the {needle}; it then was {after} away. The log is only sure to {sure}.",
        "Say the bearing and the course before each correction, and turn to the side where the course lies: 5 degrees "
        "at first.",
    ),
    ("needle_chasing", ""): Sentences(
        "{In} the heading swung from side to side by {value} and more, {swings} times with {period} there and back, "
        "from {at}, {where}: no indication answers so quickly, and {limit} is the most.",
        "{In} the heading swung from side to side by {value} and more, {swings} times with {period} there and back, "
        "from {at}, {where}, where {limit} is the most; the log is only sure to {sure}.",
        "Hold one heading for 20 s, see what the needle does, and only then correct once, by 5 degrees.",
    ),
    ("needle_chasing", "cone"): Sentences(
        "Over the station the heading swung by {value} there and back, from {at}, {where}: in the cone no indication says "
        "anything, and {limit} is the most.",
        "Over the station the heading swung by {value} there and back, from {at}, {where}, where {limit} is the most; "
        "the log is only sure to {sure}.",
        "Note the heading that keeps the needle still a mile before the station, and hold it within 3 degrees until the "
        "needle is steady again.",
    ),
    ("weaving", ""): Sentences(
        "{In} the track swung through the {course} by {value} and more, {swings} times with {period} there and back, from "
        "{at}, {where}, and up to {aside} to the side; {limit} is the most.",
        "{In} the track swung through the {course} by {value} and more, {swings} times with {period} there and back, from "
        "{at}, {where}, and up to {aside} to the side, where {limit} is the most; the log is only sure to {sure}.",
        "Find the heading that holds the needle still, correct from it by 5 degrees, and take out half as the needle comes "
        "back.",
    ),
    ("station_missed", ""): Sentences(
        "The station was missed: the closest point, at {at}, was {value} from it, and farther than {limit} "
        "outside the cone is no passage.",
        "The station may have been missed: the closest point, at {at}, was {value} from it, where {limit} is "
        "the most; the log is only sure to {sure}.",
        "Inside 5 NM find the heading that holds the needle still and keep it until the station is passed; do "
        "not turn away before.",
        "The station was crossed {value} from overhead.",
    ),
    ("station_missed", "overhead"): Sentences(
        "",
        "",
        "",
        "The station was crossed overhead.",
    ),
    ("turn_lead", "early"): Sentences(
        "The turn at the station began {value} too early: {flown} at {at}, where {right} suits a turn of "
        "{change} at {speed}.",
        "The turn at the station began {value} early: {flown} at {at}, where {right} suits a turn of {change} "
        "at {speed}; the log is only sure to {sure}.",
        "At {speed} begin a turn of {change} about {when}, not earlier.",
        "The turn at the station began {flown}, within {value} of the right place.",
    ),
    ("turn_lead", "late"): Sentences(
        "The turn at the station began {value} too late: {flown} at {at}, where {right} suits a turn of "
        "{change} at {speed}.",
        "The turn at the station began {value} late: {flown} at {at}, where {right} suits a turn of {change} "
        "at {speed}; the log is only sure to {sure}.",
        "At {speed} begin a turn of {change} about {when}, with the next course set beforehand.",
        "The turn at the station began {flown}, within {value} of the right place.",
    ),
    ("outbound_length", "far"): Sentences(
        "The turn off the outbound course began at {value} DME, {off} beyond the published {published}; {limit} "
        "is allowed.",
        "The turn off the outbound course began at {value} DME, {off} beyond the published {published}; {limit} "
        "is allowed, and the log is only sure to {sure}.",
        "Have the first heading of the reversal ready half a mile early and turn as the DME reads {published}.",
        "The outbound leg ended at {value} DME, with {published} published.",
    ),
    ("outbound_length", "near"): Sentences(
        "The turn off the outbound course began at {value} DME, {off} short of the published {published}; "
        "{limit} is allowed.",
        "The turn off the outbound course began at {value} DME, {off} short of the published {published}; "
        "{limit} is allowed, and the log is only sure to {sure}.",
        "Stay on the outbound course until the DME reads {published}; the room is needed on the way back in.",
        "The outbound leg ended at {value} DME, with {published} published.",
    ),
    ("outbound_length", "long"): Sentences(
        "The outbound leg lasted {value}, {off} longer than the published {published}; {limit} is allowed.",
        "The outbound leg lasted {value}, {off} longer than the published {published}; {limit} is allowed, and "
        "the log is only sure to {sure}.",
        "Start the clock over the station and turn at {published}, a second later for each knot of headwind and "
        "earlier for each of tailwind.",
        "The outbound leg lasted {value}, with {published} published.",
    ),
    ("outbound_length", "short"): Sentences(
        "The outbound leg lasted {value}, {off} shorter than the published {published}; {limit} is allowed.",
        "The outbound leg lasted {value}, {off} shorter than the published {published}; {limit} is allowed, and "
        "the log is only sure to {sure}.",
        "Start the clock over the station and stay outbound until {published}, a second less for each knot of "
        "tailwind and more for each of headwind.",
        "The outbound leg lasted {value}, with {published} published.",
    ),
    ("outbound_length", "long, in a wind"): Sentences(
        "The outbound leg lasted {value}, {off} longer than the published {published}; {limit} is allowed.",
        "The outbound leg lasted {value}, {off} longer than the published {published}; {limit} is allowed, and "
        "the log is only sure to {sure}.",
        "Start the clock over the station and turn at {corrected}: that is the published {published} in this "
        "flight's wind.",
    ),
    ("outbound_length", "short, in a wind"): Sentences(
        "The outbound leg lasted {value}, {off} shorter than the published {published}; {limit} is allowed.",
        "The outbound leg lasted {value}, {off} shorter than the published {published}; {limit} is allowed, and "
        "the log is only sure to {sure}.",
        "Start the clock over the station and stay outbound until {corrected}: that is the published {published} in "
        "this flight's wind.",
    ),
    ("outbound_length", "otherwise"): Sentences(
        "The outbound leg lasted {value}, {off} {than} than the published {published}, where {limit} is allowed; it "
        "does fit the time {otherwise}.",
        "The outbound leg lasted {value}, {off} {than} than the published {published}, where {limit} is allowed; it "
        "does fit the time {otherwise}, and the log is only sure to {sure}.",
        "Fly {published} from the station where the procedure gives a time, or brief the correction beforehand.",
    ),
    ("reversal_missing", "left out"): Sentences(
        "The published {pattern} was not flown: from the station, at {at}, the approach went straight in.",
        "",
        "Fly the outbound leg and the {pattern} unless cleared for a straight-in approach.",
    ),
    ("reversal_missing", "left out, joined"): Sentences(
        "The published {pattern} was not flown: the approach joined the inbound course at {at}, {where}, and went "
        "straight in.",
        "",
        "Fly the outbound leg and the {pattern} unless cleared for a straight-in approach.",
    ),
    ("reversal_missing", "straight in"): Sentences(
        "The published {pattern} was not flown: from the station, at {at}, the approach went straight in. It may be "
        "left out on arriving within {published} of the inbound course; the arrival was {value} off it, {over} more.",
        "The published {pattern} was not flown. It may be left out on arriving within {published} of the inbound "
        "course; the arrival was {value} off it, which the log is only sure of to {sure}.",
        "Fly the outbound leg and the {pattern} on arriving from farther round than {published}, unless cleared "
        "for a straight-in approach.",
        "The approach went straight in, as is allowed: the arrival was {value} off the inbound course, with "
        "{published} published.",
    ),
    ("reversal_missing", "straight in, joined"): Sentences(
        "The published {pattern} was not flown: the approach joined the inbound course at {at}, {where}, and went "
        "straight in. It may be left out on arriving within {published} of the inbound course; the arrival was "
        "{value} off it, {over} more.",
        "The published {pattern} was not flown. It may be left out on arriving within {published} of the inbound "
        "course; the arrival was {value} off it, which the log is only sure of to {sure}.",
        "Fly the outbound leg and the {pattern} on arriving from farther round than {published}, unless cleared "
        "for a straight-in approach.",
        "The approach went straight in, as is allowed: the arrival was {value} off the inbound course, with "
        "{published} published.",
    ),
    ("reversal_missing", "straight"): Sentences(
        "The published {pattern} was not flown: at {at}, {where}, one turn led straight back to the inbound "
        "course.",
        "",
        "Begin the {pattern} with a turn to {first}, so that the turn back meets the course from one side.",
    ),
    ("reversal_missing", "flown"): Sentences(
        "",
        "",
        "",
        "The published {pattern} was flown.",
    ),
    ("reversal_missing", "another"): Sentences(
        "",
        "",
        "",
        "A course reversal was flown.",
    ),
    ("reversal_side", "side"): Sentences(
        "The course reversal was flown {flown} of the outbound course, as far as {aside} beside it; it is published on the "
        "{published}.",
        "",
        "Say the side before the turn: the first turn goes {published}, to {first}.",
        "The course reversal was flown on its published side, {published} of the outbound course.",
    ),
    ("reversal_side", "turns"): Sentences(
        "The course reversal was flown with turns to the {flown}, as far as {aside} beside the outbound course; they are "
        "published to the {published}.",
        "",
        "Say the side before the turn: from the outbound heading of {first} it goes {published}.",
        "The turns of the course reversal went to the {published}, as published.",
    ),
    ("reversal_side", "parallel"): Sentences(
        "",
        "",
        "",
        "The racetrack, with turns to the {published}, was entered parallel: back through its holding side.",
    ),
    ("reversal_distance", ""): Sentences(
        "The course reversal went out to {value} from the station at {at}, {over} beyond the published "
        "{published}.",
        "The course reversal went out to {value} from the station at {at}, {over} beyond the published "
        "{published}; the log is only sure to {sure}.",
        "Turn back so that the whole pattern fits within {published}: slow down first, then shorten the leg "
        "outbound.",
        "The course reversal stayed within {value} of the station; {published} is published.",
    ),
    ("reversal_distance", "turn by"): Sentences(
        "The course reversal went out to {value} from the station at {at}, {over} beyond the published "
        "{published}.",
        "The course reversal went out to {value} from the station at {at}, {over} beyond the published "
        "{published}; the log is only sure to {sure}.",
        "Begin the reversal no farther than {turn_by} from the station: at this speed and wind the pattern "
        "takes the rest.",
        "The course reversal stayed within {value} of the station; {published} is published.",
    ),
    ("reversal_speed", ""): Sentences(
        "The course reversal was flown at up to {value} indicated, {over} above the published {published}; "
        "{allowed} is allowed.",
        "The course reversal was flown at up to {value} indicated, {over} above the published {published}, where "
        "{allowed} is allowed; the speed is only sure to {sure}.",
        "Be at {target} before the station: reduce 3 minutes ahead of it and trim.",
        "The course reversal was flown at {value} indicated at the most; {published} is published.",
    ),
    ("reversal_speed", "at least"): Sentences(
        "The course reversal was flown at {value} indicated or more, whatever the wind: {over} above the published "
        "{published}, where {allowed} is allowed.",
        "The course reversal was flown at about {value} indicated or more, {over} above the published {published}, "
        "where {allowed} is allowed; the speed is only sure to {sure}.",
        "Be at {target} before the station: reduce 3 minutes ahead of it and trim.",
    ),
    ("intercept_angle", ""): Sentences(
        "The inbound course {course} was met at an angle of {value} at {at}, {where}; more than {limit} leaves "
        "little room to turn onto it.",
        "The inbound course {course} was met at an angle of {value} at {at}, {where}, where {limit} is the most; "
        "the log is only sure to {sure}.",
        "Roll out of the reversal on {steer}, {advised} to the course, and wait for the needle.",
        "The inbound course was met at an angle of {value}.",
    ),
    ("intercept_overshoot", ""): Sentences(
        "The turn inbound went {value} through the {course} course before it came back; {limit} is allowed.",
        "The turn inbound went {value} through the {course} course before it came back, where {limit} is allowed; "
        "the log is only sure to {sure}.",
        "Begin the turn onto the {course} course while the needle still moves, at half its scale or earlier.",
        "The turn onto the inbound course went only {value} through it.",
    ),
    ("intercept_overshoot", "lead"): Sentences(
        "The turn inbound went {value} through the {course} course before it came back; {limit} is allowed.",
        "The turn inbound went {value} through the {course} course before it came back, where {limit} is allowed; "
        "the log is only sure to {sure}.",
        "At {speed} the turn from {angle} takes {lead}: begin it with the needle still {needle} from the centre.",
        "The turn onto the inbound course went only {value} through it.",
    ),
    ("intercept_overshoot", "turning"): Sentences(
        "The turn inbound crossed the {course} course before it was over and went {value} through it before it came "
        "back; {limit} is allowed.",
        "The turn inbound crossed the {course} course before it was over and went {value} through it before it came "
        "back, where {limit} is allowed; the log is only sure to {sure}.",
        "Turn at standard rate all the way round, and keep farther from the {course} course before the turn where "
        "the wind carries towards it.",
        "The turn onto the inbound course went only {value} through it.",
    ),
    ("intercept_overshoot", "beside"): Sentences(
        "The turn inbound went {value} through the {course} course, and the aircraft stayed beside it; {limit} is "
        "allowed.",
        "The turn inbound went {value} through the {course} course, and the aircraft stayed beside it, where {limit} is "
        "allowed; the log is only sure to {sure}.",
        "Once through the {course} course turn back at once to cut it by 30 degrees, and keep that until the needle comes "
        "back.",
    ),
    ("intercept_overshoot", "none"): Sentences(
        "",
        "",
        "",
        "The turn inbound ended on the course, without going through it.",
    ),
    ("descent_rate", ""): Sentences(
        "On final the descent reached {value} over 10 s at {at}, {where}; {limit} is the most.",
        "On final the descent reached {value} over 10 s at {at}, {where}, where {limit} is the most; the log is "
        "only sure to {sure}.",
        "At {speed} a path of {path} takes {needed}: set that, and correct by 100 ft/min at a time.",
        "On final the descent never passed {value}; {limit} is the most.",
    ),
    ("descent_rate", "slower"): Sentences(
        "On final the descent reached {value} over 10 s at {at}, {where}; {limit} is the most.",
        "",
        "At {speed} a path of {path} takes {needed}: slow down before the final, to {slower} over the ground or less.",
        "",
    ),
    ("descent_rate", "steep"): Sentences(
        "On final the descent reached {value} over 10 s at {at}, {where}; {limit} is the most.",
        "",
        "Where the final was begun it takes a path of {path}, which is too steep: be on the course {far} or more before the "
        "runway, or go around.",
        "",
    ),
    ("stabilised", ""): Sentences(
        "The approach was not stabilised below {gate} above the runway, passed at {at}: {what}.",
        "The approach may not have been stabilised below {gate} above the runway, passed at {at}: {what}; the "
        "log cannot tell for sure.",
        "Have speed, course and rate settled by {gate} above the runway; if one is not, go around there.",
        "The approach was stabilised from {gate} above the runway down.",
    ),
    ("missed_approach", "late"): Sentences(
        "The climb away began at {at}, {value} {past} the missed approach point; {limit} is allowed.",
        "The climb away began at {at}, {value} {past} the missed approach point, where {limit} is allowed; the "
        "log is only sure to {sure}.",
        "At {point} with no runway in sight: power, pitch and climb, without looking again.",
        "The climb away began in time, {value} {past} the missed approach point.",
    ),
    ("missed_approach", "climb"): Sentences(
        "In the missed approach the climb averaged {value}; at least {limit} is asked for.",
        "In the missed approach the climb averaged {value}, where at least {limit} is asked for; the log is "
        "only sure to {sure}.",
        "Set full climb power and the pitch for {limit} or more at once, then clean up.",
        "In the missed approach the climb averaged {value}.",
    ),
    ("missed_approach", "course"): Sentences(
        "In the missed approach the track was {value} {side} of the published {course}; {limit} is allowed.",
        "In the missed approach the track was {value} {side} of the published {course}, where {limit} is allowed; "
        "the log is only sure to {sure}.",
        "Set {course} before the minimum, and hold it with the wind allowed for until the turn.",
        "In the missed approach the published {course} was kept within {value}.",
    ),
    ("missed_approach", "low turn"): Sentences(
        "In the missed approach the turn began at {begun}, {below} below the {due} up to which {course} is to be "
        "flown: the track was {value} {side} of it, and {limit} is allowed.",
        "In the missed approach the turn began at {begun}, {below} below the {due} up to which {course} is to be "
        "flown: the track was {value} {side} of it, where {limit} is allowed; the log is only sure to {sure}.",
        "Say the altitude of the turn when briefing {course}, and climb straight on to {due} before turning.",
    ),
    ("missed_approach", "only low turn"): Sentences(
        "In the missed approach the turn began at {begun}, {below} below the {due} up to which {course} is to be "
        "flown.",
        "In the missed approach the turn began at {begun}, {below} below the {due} up to which {course} is to be "
        "flown; the log is only sure to {sure}.",
        "Say the altitude of the turn when briefing {course}, and climb straight on to {due} before turning.",
    ),
    ("missed_approach", "turn"): Sentences(
        "In the missed approach the turn after {course} went {flown}; it is published to the {published}.",
        "",
        "Say the way of the turn when briefing {course}: {published}.",
    ),
    ("missed_approach", "low"): Sentences(
        "After the missed approach the aircraft levelled at {value}, {off} below the published {published}; "
        "{allowed} is allowed.",
        "After the missed approach the aircraft levelled at {value}, {off} below the published {published}, where "
        "{allowed} is allowed; the log is only sure to {sure}.",
        "Set {published} as the next altitude before the minimum, and climb to it without stopping.",
        "After the missed approach the aircraft climbed to {value}, with {published} published.",
    ),
    ("missed_approach", "high"): Sentences(
        "After the missed approach the aircraft levelled at {value}, {off} above the published {published}; "
        "{allowed} is allowed.",
        "After the missed approach the aircraft levelled at {value}, {off} above the published {published}, where "
        "{allowed} is allowed; the log is only sure to {sure}.",
        "Begin to level off a tenth of the rate of climb before {published}.",
        "After the missed approach the aircraft levelled at {value}, with {published} published.",
    ),
    ("arc", "outside"): Sentences(
        "On the arc the aircraft was up to {value} outside {published} DME, worst at {at}; {limit} is allowed.",
        "On the arc the aircraft was up to {value} outside {published} DME, worst at {at}, where {limit} is allowed; "
        "the log is only sure to {sure}.",
        "Turn 10 degrees more into the arc for each half mile outside it, and look at the DME again.",
        "The arc of {published} DME was kept within {value}.",
    ),
    ("arc", "inside"): Sentences(
        "On the arc the aircraft was up to {value} inside {published} DME, worst at {at}; {limit} is allowed.",
        "On the arc the aircraft was up to {value} inside {published} DME, worst at {at}, where {limit} is allowed; "
        "the log is only sure to {sure}.",
        "Keep the heading until the DME has grown to {published} again, then turn 10 degrees at a time.",
        "The arc of {published} DME was kept within {value}.",
    ),
    ("arc", "low"): Sentences(
        "On the arc the altitude fell {depth} below the published {published} at {at}; {allowed} is allowed.",
        "On the arc the altitude read {depth} below the published {published} at {at}, where {allowed} is allowed; "
        "the log is only sure to {sure}.",
        "Level off a little above {published} before joining the arc, and trim.",
        "On the arc the altitude never fell below {value}, with {published} published.",
    ),
    ("arc", "high"): Sentences(
        "On the arc the altitude was {depth} above the published {published} at {at}; {allowed} is allowed.",
        "On the arc the altitude read {depth} above the published {published} at {at}, where {allowed} is allowed; "
        "the log is only sure to {sure}.",
        "Be down to {published} before joining the arc.",
    ),
    ("log_quality", "gap"): Sentences(
        "",
        "Of {phase}, {value} were not recorded (longest from {when}): nothing there could be judged.",
        _NOTHING_TO_DO,
    ),
    ("log_quality", "phase"): Sentences(
        "",
        "Nothing of {phase} was recorded, so it could not be judged.",
        _NOTHING_TO_DO,
    ),
    ("log_quality", "altitude"): Sentences(
        "",
        "The altitudes could not be shown to be right: {reason}.",
        "Record the altitude with its pressure setting, or give it with the log, to have altitudes judged.",
    ),
    ("log_quality", "clock"): Sentences(
        "",
        "The positions move {pace} times as fast as the log's ground speed says, so nothing that goes by times, speeds or "
        "rates could be judged.",
        "Fly approaches at a simulation rate of 1 to have times, speeds and rates of descent judged.",
    ),
    ("log_quality", "clock turns"): Sentences(
        "",
        "By the log's times the course reversal was turned at {bank} of bank and {speed} over the ground, which no aircraft "
        "flies there: its clock probably runs fast, as at a simulation rate of 3 or more, so nothing that goes by times, "
        "speeds or rates could be judged.",
        "Fly approaches at a simulation rate of 1 to have times, speeds and rates of descent judged.",
    ),
    ("log_quality", "clock fast"): Sentences(
        "",
        "By the log's times the final was flown at {speed} over the ground, which no aircraft flies there: its clock "
        "probably runs fast, as at a simulation rate of 3 or more, so nothing that goes by times, speeds or rates could be "
        "judged.",
        "Fly approaches at a simulation rate of 1 to have times, speeds and rates of descent judged.",
    ),
    ("log_quality", "sparse"): Sentences(
        "",
        "The log has one position every {value}, too few to judge the legs.",
        "Set the recorder to one position a second, and in no case fewer than one in 5 s.",
    ),
}

# Off the scale on final it is no longer a matter of corrections.
SENTENCES |= {
    (rule, "lost"): SENTENCES[rule, ""]._replace(advice=told, well="")
    for rule, told in {
        "tracking": mark(
            "With the needle at its stop on final nothing tells how far off the course is: fly the missed approach at "
            "once, and come back for another approach."
        ),
        "stabilised": mark(
            "Have the needle off its stop and steady by {gate} above the runway; with the needle at its stop below that, "
            "fly the missed approach at once."
        ),
    }.items()
}

# Nor is it close to the station, where the needle runs off with a hundred feet.
SENTENCES["tracking", "close"] = SENTENCES["tracking", ""]._replace(
    advice=mark(
        "So close to the station the needle moves too fast to be followed: have it centred 2 NM before, and from there "
        "hold the heading within 3 degrees until the station is passed."
    ),
    well="",
)
