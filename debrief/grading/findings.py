"""Findings: what was not met, told in order of importance; and what went well.

Owns      ``judge``, the numbering, the place of each finding.
Not here  verdicts (``rules``), sentences (``sentences``), the grade (``grade``).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from debrief.grading.assessment import Assessment
from debrief.grading.case import Case
from debrief.grading.grade import grade
from debrief.grading.needle_scale import by_pointer
from debrief.grading.rules import assess
from debrief.grading.sentences import advice, finding_kind, message, praise
from debrief.grading.standard import Standard
from debrief.grading.why import why_it_matters
from debrief.measures.scene import scene_of
from debrief.navigation.geodesy import StationPlane
from debrief.phases.model import Flight, FoundAttempt
from debrief.procedures.model import Phase
from debrief.result import Finding, Grade, Measures, Verdict, Wind

MOST_PRAISED = 4
_NEAR_SHARE = 1.0 / 3.0  # of what still counts as a passage: so near is well done. Mark: common practice
_SIDES = {
    rule: side
    for side, rules in {
        "altitude": ("minimum_descent_altitude", "step_down", "altitude", "altitude_before_station"),
        "tracking": ("tracking", "not_established", "reverse_sensing", "needle_chasing", "weaving"),
        "station": ("station_missed", "turn_lead", "outbound_length"),
        "reversal": ("reversal_missing", "reversal_side", "reversal_distance", "reversal_speed"),
        "arc": ("arc",),
        "intercept": ("intercept_angle", "intercept_overshoot"),
        "path": ("descent_rate", "stabilised", "missed_approach"),
        "log": ("log_quality",),
    }.items()
    for rule in rules
}
_FAR_ABOVE_FT = 100.0  # of who flies at a minimum. Mark: common practice
_PUBLISHED_LIMITS = ("altitude", "arc")
#: Nothing is said for how near the course a leg was that swung about it, for how a course was met that was
#: never joined, or for where another reversal was flown.
_BELIED_BY = {
    "tracking": ("reverse_sensing", "needle_chasing", "weaving"),
    "intercept_angle": ("not_established",),
    "intercept_overshoot": ("not_established",),
    "reversal_distance": ("reversal_missing", "reversal_side"),
    "reversal_speed": ("reversal_missing", "reversal_side"),
}
_VERDICTS: dict[str, Verdict] = {"exceeded": "exceeded", "marginal": "marginal", "not flown": "not flown"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Judgement:
    """All that a standard says about one attempt."""

    findings: tuple[Finding, ...]  # the most important first, numbered from 1
    grade: Grade
    went_well: tuple[str, ...]


def judge(
    flight: Flight, attempt: FoundAttempt, measures: Measures, wind: Wind | None, standard: Standard
) -> Judgement:
    """Hold one attempt against a standard.

    Parameters
    ----------
    flight, attempt, measures : the attempt, and what was measured on it.
    wind : that of the attempt where it is known; a timed leg may allow for it.
    standard : its limits.
    """
    case = Case(scene=scene_of(flight, attempt, wind), measures=measures, standard=standard)
    assessments = assess(case)
    hidden = any(missing.phase == Phase.STATION_PASSAGE for missing in attempt.not_seen)
    # a sentence on the station speaks of every passage
    praised = [a for a in assessments if not (hidden and a.rule == "station_missed")]
    return Judgement(
        findings=findings(case, assessments),
        grade=grade(assessments, standard),
        went_well=() if case.too_sparse else went_well(praised),
    )


def findings(case: Case, assessments: Iterable[Assessment]) -> tuple[Finding, ...]:
    """What was not met: failures before doubts, then by importance, then by time; the log's own holes last."""

    def order(assessment: Assessment) -> tuple[bool, bool, float, float]:
        start_s = assessment.start_s if assessment.start_s is not None else np.inf
        log = assessment.rule == "log_quality"
        return log, assessment.outcome == "marginal", -assessment.importance, start_s

    found = sorted((a for a in assessments if a.is_finding), key=order)
    return tuple(_finding(case, number, assessment) for number, assessment in enumerate(found, start=1))


def _finding(case: Case, number: int, assessment: Assessment) -> Finding:
    scene = case.scene
    start_s, end_s = assessment.start_s, assessment.end_s
    place = _place(case, assessment.at_s)
    return Finding(
        number=number,
        rule=assessment.rule,
        phase=assessment.phase,
        start=None if start_s is None else scene.time(start_s),
        end=None if end_s is None else scene.time(end_s),
        value=assessment.value,
        limit=assessment.limit,
        unit=assessment.unit,
        verdict=_VERDICTS[assessment.outcome],
        message=message(assessment),
        advice=advice(assessment, pointer=by_pointer(case.procedure, assessment.phase)),
        why=why_it_matters(assessment.rule, assessment.variant),
        uncertainty=assessment.uncertainty,
        source=str(assessment.tolerance.source),
        latitude_deg=None if place is None else place[0],
        longitude_deg=None if place is None else place[1],
        kind=finding_kind(assessment),
    )


def _place(case: Case, at_s: float | None) -> tuple[float, float] | None:
    """Latitude and longitude of the worst moment; ``None`` where it was not observed."""
    if at_s is None:
        return None
    view, station = case.scene.at(at_s), case.procedure.station
    plane = StationPlane(latitude_deg=station.latitude, longitude_deg=station.longitude)
    latitude_deg, longitude_deg = plane.to_geographic(float(view.east_nm[0]), float(view.north_nm[0]))
    if not (np.isfinite(latitude_deg) and np.isfinite(longitude_deg)):
        return None
    return float(latitude_deg), float(longitude_deg)


def went_well(assessments: Iterable[Assessment]) -> tuple[str, ...]:
    """Up to four sentences on what was surely within its limit, each of another side of the flying.

    The weightiest first; of one side a sentence with a number before one without.
    """
    said: dict[str, str] = {}
    every = list(assessments)
    within = [
        a
        for a in every
        if a.outcome == "within" and _surely(a) and praise(a) and _of_all(a, every) and not _belied(a, every)
    ]
    within.sort(key=lambda a: (a.value is None, -a.tolerance.weight))
    for assessment in within:
        said.setdefault(_SIDES[assessment.rule], praise(assessment))
    return tuple(said.values())[:MOST_PRAISED]


def _belied(assessment: Assessment, every: list[Assessment]) -> bool:
    """Whether the praise is hollow: something beside it was not met, or nothing was done for it."""
    if assessment.rule == "minimum_descent_altitude" and (assessment.excess or 0.0) < -_FAR_ABOVE_FT:
        return True  # kept by never coming down to it
    if assessment.rule in _PUBLISHED_LIMITS and assessment.unit == "ft" and assessment.excess is not None:
        tolerance = assessment.tolerance
        allowed_ft = (tolerance.above if assessment.variant == "high" else tolerance.below) or 0.0
        if assessment.excess > -allowed_ft:
            return True  # beyond what is published, if by no more than is allowed
    met_again = assessment.rule == "tracking" and assessment.phase == Phase.INTERMEDIATE
    return any(
        other.is_finding
        and (
            (other.phase == assessment.phase and other.rule in _BELIED_BY.get(assessment.rule, ()))
            or (met_again and other.rule == "not_established")  # it was an earlier circuit's
        )
        for other in every
    )


def _of_all(assessment: Assessment, every: list[Assessment]) -> bool:
    """Whether a sentence that names no leg holds for each passage: the station was crossed near overhead every time."""
    if assessment.rule != "station_missed":
        return True
    passages = [a for a in every if a.rule == assessment.rule]
    farthest_nm = max(a.value if a.value is not None else np.inf for a in passages)
    near_nm = _NEAR_SHARE * (assessment.limit or 0.0)
    return assessment.value == farthest_nm and farthest_nm <= near_nm


def _surely(assessment: Assessment) -> bool:
    """Within the limit whatever the uncertainty (guarded acceptance), or a yes that has no number."""
    if assessment.excess is None:
        return bool(assessment.facts)
    return assessment.excess + (assessment.uncertainty or 0.0) <= 0.0
