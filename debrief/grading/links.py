"""Which finding can lead to which.

Owns      ``LINKS``: the table of causes and effects, each with its evidence and its sentence.
Not here  the evidence itself (``evidence``), the chains and their beginnings (``causes``).
Source    The order in which errors of an approach follow from one another is common practice.
"""

from __future__ import annotations

from dataclasses import dataclass

from debrief.grading import evidence as ev
from debrief.procedures.model import Phase
from debrief.result import Finding


@dataclass(frozen=True, slots=True, kw_only=True)
class Link:
    """One rule's finding leading to another's, each in any of the phases given (in all where none is)."""

    cause: str
    effect: str
    evidence: ev.Evidence
    sentence: str  # {finding} is the effect's number, the rest are facts of the evidence
    cause_phases: tuple[str, ...] = ()
    effect_phases: tuple[str, ...] = ()

    def fits(self, cause: Finding, effect: Finding) -> bool:
        """Whether it speaks of these two at all."""
        return (
            (cause.rule, effect.rule) == (self.cause, self.effect)
            and (not self.cause_phases or cause.phase in self.cause_phases)
            and (not self.effect_phases or effect.phase in self.effect_phases)
        )


_OUTBOUND = (Phase.OUTBOUND.value,)
_INTERMEDIATE = (Phase.INTERMEDIATE.value,)
_FINAL = (Phase.FINAL.value,)
_WAY_IN = (Phase.COURSE_REVERSAL.value, Phase.INTERMEDIATE.value, Phase.FINAL.value)

_STATION = (
    Link(
        cause="station_missed",
        effect="turn_lead",
        evidence=ev.beside_before_the_turn,
        sentence="The aircraft was already {aside} beside the station as the turn began, so no lead could fit "
        "(finding {finding}).",
    ),
    Link(
        cause="turn_lead",
        effect="station_missed",
        evidence=ev.turned_away_before,
        sentence="With the turn away begun {lead} before it, the station was never reached (finding {finding}).",
    ),
    Link(
        cause="turn_lead",
        effect="tracking",
        effect_phases=_OUTBOUND,
        evidence=ev.off_to_the_turns_outside,
        sentence="A turn begun {off} too {when} ends beside the outbound course, on the side where the leg then began (finding "
        "{finding}).",
    ),
    Link(
        cause="turn_lead",
        effect="altitude_before_station",
        evidence=ev.descended_with_the_turn,
        sentence="The descent to the next altitude began with the turn, and that was {off} too early (finding {finding}).",
    ),
    Link(
        cause="station_missed",
        effect="tracking",
        effect_phases=_OUTBOUND,
        evidence=ev.beside_the_radial_from_the_start,
        sentence="With the station {aside} aside, the outbound leg began beside its course (finding {finding}).",
    ),
)

_REVERSAL = (
    *(
        Link(
            cause=cause,
            cause_phases=phases,
            effect="intercept_overshoot",
            evidence=ev.narrow,
            sentence="The offset outbound took {narrowed} from the width of the reversal, and the turn in went "
            "through the course (finding {finding}).",
        )
        for cause, phases in (("tracking", _OUTBOUND), ("turn_lead", ()))
    ),
    *(
        Link(
            cause=cause,
            cause_phases=phases,
            effect="intercept_angle",
            evidence=ev.narrow_enough_to_steepen,
            sentence="The offset outbound took {narrowed} from the width of the reversal, and the course was met "
            "before the turn back was over (finding {finding}).",
        )
        for cause, phases in (("tracking", _OUTBOUND), ("turn_lead", ()))
    ),
    Link(
        cause="reversal_speed",
        effect="reversal_distance",
        evidence=ev.wider_by_speed,
        sentence="At {speed} the pattern takes {saved} more than at {published}, and it went beyond its distance "
        "(finding {finding}).",
    ),
    Link(
        cause="reversal_speed",
        effect="intercept_overshoot",
        evidence=ev.larger_turn_by_speed,
        sentence="At {speed} a turn has a radius of {radius}, at {published} of {smaller}: it went through the "
        "course (finding {finding}).",
    ),
    Link(
        cause="outbound_length",
        effect="reversal_distance",
        evidence=ev.begun_farther_out,
        sentence="Begun {longer} farther out than published, the reversal went beyond its distance (finding "
        "{finding}).",
    ),
    Link(
        cause="outbound_length",
        effect="not_established",
        evidence=ev.shorter_back,
        sentence="The way back was {shorter} shorter for it, with that much less room to join the course (finding "
        "{finding}).",
    ),
    Link(
        cause="outbound_length",
        effect="descent_rate",
        evidence=ev.shorter_to_descend,
        sentence="The final was {shorter} shorter for it, with the same height to lose (finding {finding}).",
    ),
    *(
        Link(
            cause="reversal_missing",
            effect=effect,
            effect_phases=phases,
            evidence=ev.no_room,
            sentence="Without the reversal there was no room on the way in to turn onto the course and to lose height (finding {finding}).",
        )
        for effect, phases in (
            ("not_established", ()),
            ("intercept_angle", ()),
            ("intercept_overshoot", ()),
            ("tracking", _WAY_IN),
            ("altitude", _WAY_IN),
            ("minimum_descent_altitude", ()),
            ("descent_rate", ()),
        )
    ),
    *(
        Link(
            cause="reversal_missing",
            effect=effect,
            effect_phases=(Phase.INBOUND.value,),
            evidence=ev.down_to_a_later_leg,
            sentence="Flown as the way in to the final, the inbound leg was descended to the altitude of a later leg "
            "(finding {finding}).",
        )
        for effect in ("altitude", "altitude_before_station")
    ),
)

_COURSE = (
    Link(
        cause="intercept_angle",
        effect="intercept_overshoot",
        evidence=ev.steeper_takes_more,
        sentence="From {angle} the turn onto the course takes {more} more than from 45 degrees, and it went through "
        "(finding {finding}).",
    ),
    Link(
        cause="intercept_overshoot",
        effect="not_established",
        evidence=ev.through_and_back_late,
        sentence="After going {over} through it, the course was not joined in what was left of the way (finding "
        "{finding}).",
    ),
    Link(
        cause="intercept_overshoot",
        effect="altitude",
        effect_phases=(Phase.COURSE_REVERSAL.value,),
        evidence=ev.let_down_beyond,
        sentence="Before it was back on the course the aircraft was let down below what holds there (finding "
        "{finding}).",
    ),
    Link(
        cause="not_established",
        effect="intercept_overshoot",
        evidence=ev.never_back,
        sentence="The track stayed beside the course from the turn in, up to {over} from it (finding {finding}).",
    ),
    Link(
        cause="intercept_angle",
        effect="not_established",
        evidence=ev.steep_and_never_on_it,
        sentence="Met at {angle}, the course was not joined in what was left of the way (finding {finding}).",
    ),
    Link(
        cause="intercept_overshoot",
        effect="tracking",
        effect_phases=_INTERMEDIATE,
        evidence=ev.just_after,
        sentence="The leg began on the far side of the course (finding {finding}).",
    ),
    Link(
        cause="not_established",
        effect="tracking",
        effect_phases=(*_INTERMEDIATE, *_FINAL),
        evidence=ev.from_the_beginning_of_final,
        sentence="Not on the course before, the aircraft was beside it on the next leg as well (finding {finding}).",
    ),
    Link(
        cause="tracking",
        cause_phases=_INTERMEDIATE,
        effect="tracking",
        effect_phases=_FINAL,
        evidence=ev.from_the_beginning_of_final,
        sentence="The final began beside the course, as the leg before had ended (finding {finding}).",
    ),
    *(
        Link(
            cause=cause,
            cause_phases=phases,
            effect="station_missed",
            effect_phases=_INTERMEDIATE,
            evidence=ev.passed_aside,
            sentence="Not on the course on the way there, the aircraft passed {aside} beside the station (finding "
            "{finding}).",
        )
        for cause, phases in (("not_established", ()), ("tracking", _INTERMEDIATE))
    ),
    Link(
        cause="reverse_sensing",
        effect="tracking",
        evidence=ev.went_out_with_it,
        sentence="Each turn away from the course led farther from it, beyond its tolerance (finding {finding}).",
    ),
    Link(
        cause="weaving",
        effect="tracking",
        evidence=ev.went_out_with_it,
        sentence="One of the swings led beyond the tolerance of the course (finding {finding}).",
    ),
    Link(
        cause="weaving",
        cause_phases=_FINAL,
        effect="stabilised",
        evidence=ev.gate_says("course", "track"),
        sentence="In such swings the approach was not stabilised (finding {finding}).",
    ),
    Link(
        cause="tracking",
        cause_phases=_FINAL,
        effect="stabilised",
        evidence=ev.gate_says("course", "track"),
        sentence="So far beside the course the approach was not stabilised (finding {finding}).",
    ),
)

_HEIGHT = (
    Link(
        cause="altitude_before_station",
        effect="altitude",
        evidence=ev.same_descent,
        sentence="It is the same descent that went through the minimum of the leg (finding {finding}).",
    ),
    Link(
        cause="altitude",
        effect="altitude_before_station",
        evidence=ev.already_low,
        sentence="The aircraft was low before the descent to the next leg was due (finding {finding}).",
    ),
    Link(
        cause="altitude",
        effect="altitude",
        evidence=ev.still_low,
        sentence="Not corrected there, the altitude was low on the next leg as well (finding {finding}).",
    ),
    Link(
        cause="altitude_before_station",
        effect="altitude",
        evidence=ev.still_low_there,
        sentence="The same descent went on through the minimum of the next leg (finding {finding}).",
    ),
    *(
        Link(
            cause=cause,
            effect=effect,
            evidence=ev.still_low,
            sentence="From there the aircraft stayed too low, into the final (finding {finding}).",
        )
        for cause in ("altitude_before_station", "altitude")
        for effect in ("step_down", "minimum_descent_altitude")
    ),
    Link(
        cause="not_established",
        effect="descent_rate",
        evidence=ev.late_to_descend,
        sentence="The descent began {late} into the final, and the rest of it was steep (finding {finding}).",
    ),
    Link(
        cause="step_down",
        effect="step_down",
        evidence=ev.through_both_steps,
        sentence="The descent through the step went on through the next one (finding {finding}).",
    ),
    Link(
        cause="step_down",
        effect="minimum_descent_altitude",
        evidence=ev.through_the_step,
        sentence="The descent through the step went on through the minimum (finding {finding}).",
    ),
    *(
        Link(
            cause="descent_rate",
            effect=effect,
            evidence=ev.sank_through,
            sentence="At {rate} there was no room left to level off, {later} later (finding {finding}).",
        )
        for effect in ("step_down", "minimum_descent_altitude")
    ),
    *(
        Link(
            cause="descent_rate",
            effect=effect,
            evidence=ev.sank_through_at_once,
            sentence="The aircraft went through the limit sinking at {rate} (finding {finding}).",
        )
        for effect in ("step_down", "minimum_descent_altitude")
    ),
    Link(
        cause="descent_rate",
        effect="stabilised",
        evidence=ev.still_sinking,
        sentence="With that rate the approach was not stabilised (finding {finding}).",
    ),
)

LINKS: tuple[Link, ...] = (*_STATION, *_REVERSAL, *_COURSE, *_HEIGHT)
