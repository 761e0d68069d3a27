"""The rule on the log itself: what it does not allow to be judged. Never a fault of the flying.

Owns      which holes are worth a word: in a phase that is judged, and longer than the standard lets pass.
Not here  finding gaps (tracks), phases that fell into one (phases), what is merely odd about a log (warnings).
"""

from __future__ import annotations

from collections.abc import Iterator

from debrief.grading.assessment import Assessment
from debrief.grading.case import NO_ALTITUDE, Case
from debrief.grading.standard import Tolerance
from debrief.grading.words import degrees, knots, phase_name, seconds, span_of_time
from debrief.language import tr
from debrief.phases.pace import ClockDoubt
from debrief.procedures.model import Phase

_ON_THE_WAY = (
    Phase.INBOUND,
    Phase.STATION_PASSAGE,
    Phase.OUTBOUND,
    Phase.COURSE_REVERSAL,
    Phase.INTERMEDIATE,
    Phase.FINAL,
    Phase.MISSED_APPROACH,
)


def log_quality(case: Case, tolerance: Tolerance) -> Iterator[Assessment]:
    """Altitude that cannot be used, positions too far apart, and what fell into gaps, a phase at a time."""
    reason = case.altitude_doubt() if case.has_altitude() else tr(NO_ALTITUDE)
    if reason:
        yield _whole(case, tolerance, "altitude", {"reason": reason})
    if case.too_sparse:
        interval = seconds(case.scene.flight.log.median_interval_s)
        yield _whole(case, tolerance, "sparse", {"value": interval})
    if case.clock_doubt is not None:
        yield _of_clock(case, tolerance, case.clock_doubt)
    for phase in _ON_THE_WAY:
        if case.procedure.leg_of(phase) is not None or case.leg_spans(phase):
            yield from _gaps(case, tolerance, phase)


def _of_clock(case: Case, tolerance: Tolerance, doubt: ClockDoubt) -> Assessment:
    if doubt.pace is not None:
        return _whole(case, tolerance, "clock", {"pace": f"{doubt.pace:.1f}"})
    speed = knots(doubt.speed_kt if doubt.speed_kt is not None else float("nan"))
    if doubt.bank_deg is None:
        return _whole(case, tolerance, "clock fast", {"speed": speed})
    return _whole(
        case, tolerance, "clock turns", {"speed": speed, "bank": degrees(doubt.bank_deg, nearest=1.0)}
    )


def _whole(case: Case, tolerance: Tolerance, variant: str, facts: dict[str, str]) -> Assessment:
    attempt = case.scene.attempt
    return Assessment(
        tolerance=tolerance,
        outcome="marginal",
        variant=variant,
        start_s=attempt.start_s,
        end_s=attempt.end_s,
        facts=facts,
    )


def _gaps(case: Case, tolerance: Tolerance, phase: Phase) -> Iterator[Assessment]:
    """The longest gap in a phase, where the gaps in it add up to too much; or the phase as a whole."""
    limit_s = tolerance.limit("at_most")
    spans, attempt = case.leg_spans(phase), case.scene.attempt
    lost_s = sum(case.scene.gap_s(span.start_s, span.end_s) for span in spans)
    whole = [s for s in attempt.not_seen if s.phase == phase and s.why == "not observed"]
    if not spans and whole:
        start_s, end_s = whole[0].start_s, whole[0].end_s
        known = start_s is not None and end_s is not None
        yield Assessment(
            tolerance=tolerance,
            outcome="marginal",
            phase=phase,
            variant="phase",
            value=end_s - start_s if start_s is not None and end_s is not None else None,
            limit=limit_s if known else None,
            unit="s" if known else None,
            start_s=start_s,
            end_s=end_s,
            facts={"phase": phase_name(phase)},
        )
    if lost_s <= limit_s:
        return
    inside = [
        gap
        for gap in case.scene.flight.log.gaps
        if any(gap.end_s > span.start_s and gap.start_s < span.end_s for span in spans)
    ]
    longest = max(inside, key=lambda gap: gap.seconds)
    scene = case.scene
    yield Assessment(
        tolerance=tolerance,
        outcome="marginal",
        phase=phase,
        variant="gap",
        value=lost_s,
        limit=limit_s,
        unit="s",
        excess=lost_s - limit_s,
        start_s=longest.start_s,
        end_s=longest.end_s,
        facts={
            "phase": phase_name(phase),
            "value": seconds(lost_s),
            "when": span_of_time(scene.time(longest.start_s), scene.time(longest.end_s)),
        },
    )
