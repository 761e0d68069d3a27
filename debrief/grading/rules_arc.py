"""The DME arc on the way in: its distance and its altitude.

Owns      the verdicts on an arc that was flown.
Not here  measuring it (measures.arc), the radial on which it was left (measured, not judged).
"""

from __future__ import annotations

from collections.abc import Iterator

from debrief.grading.altitude_breaks import allowed, counts
from debrief.grading.assessment import Assessment, guarded
from debrief.grading.case import Case
from debrief.grading.standard import Tolerance
from debrief.grading.words import dme, feet, feet_sure, nautical_miles
from debrief.language import tr
from debrief.measures.arc import arc_breaks, arc_view
from debrief.procedures.model import Arc
from debrief.result import ArcMeasures, Spread


def arc(case: Case, tolerance: Tolerance) -> Iterator[Assessment]:
    """The greatest distance off the arc, or its altitude limits; nothing where no arc was flown."""
    published, flown = case.procedure.arc, case.measures.arc
    if published is None or flown is None:
        return
    if tolerance.unit == "ft":
        yield from _altitude(case, tolerance, published, flown)
    elif flown.off_nm is not None:
        yield _distance(case, tolerance, published, flown, flown.off_nm)


def _distance(
    case: Case, tolerance: Tolerance, published: Arc, flown: ArcMeasures, off: Spread
) -> Assessment:
    limit_nm, at_s = tolerance.limit("within"), case.t_s(off.max_abs_time)
    outside = float(case.scene.at(at_s).dme_nm[0]) > published.dme_nm
    return Assessment(
        tolerance=tolerance,
        outcome=guarded(off.max_abs - limit_nm, off.uncertainty),
        phase=None,
        variant="outside" if outside else "inside",
        value=off.max_abs,
        limit=limit_nm,
        unit="NM",
        excess=off.max_abs - limit_nm,
        uncertainty=off.uncertainty,
        start_s=case.t_s(flown.start),
        end_s=case.t_s(flown.end),
        at_s=at_s,
        facts={
            "value": nautical_miles(off.max_abs),
            "published": dme(published.dme_nm),
            "limit": nautical_miles(limit_nm, exact=True),
            "sure": nautical_miles(off.uncertainty),
        }
        | case.place(at_s),
    )


def _altitude(case: Case, tolerance: Tolerance, published: Arc, flown: ArcMeasures) -> Iterator[Assessment]:
    view = arc_view(case.scene, published)
    if published.altitude is None or view is None:
        return
    sure_ft = case.altitude_uncertainty_ft()
    if flown.altitude_ft is None:
        yield Assessment(
            tolerance=tolerance, outcome="not assessable", unit="ft", reason=tr("the log has no altitude")
        )
        return
    broken = [
        one for one in arc_breaks(case.scene, published, view, allowed(tolerance)) if counts(one, tolerance)
    ]
    for one in broken:
        allowed_ft = (tolerance.below if one.side == "below" else tolerance.above) or 0.0
        low = one.side == "below"
        yield Assessment(
            tolerance=tolerance,
            outcome=guarded(one.depth_ft - allowed_ft, sure_ft),
            phase=None,
            variant="low" if low else "high",
            value=one.limit_ft - one.depth_ft if low else one.limit_ft + one.depth_ft,
            limit=one.limit_ft - allowed_ft if low else one.limit_ft + allowed_ft,
            unit="ft",
            excess=one.depth_ft - allowed_ft,
            uncertainty=sure_ft,
            start_s=case.t_s(one.start),
            end_s=case.t_s(one.end),
            at_s=case.t_s(one.deepest),
            facts={
                "depth": feet(one.depth_ft),
                "published": feet(one.limit_ft, exact=True),
                "allowed": feet(allowed_ft, exact=True),
                "sure": feet_sure(sure_ft),
            }
            | case.place(case.t_s(one.deepest)),
        )
    low_ft = published.altitude.low_ft
    if not broken and low_ft is not None:
        limit_ft = low_ft - (tolerance.below or 0.0)
        yield Assessment(
            tolerance=tolerance,
            outcome="within",
            phase=None,
            variant="low",
            value=flown.altitude_ft.min,
            limit=limit_ft,
            unit="ft",
            excess=limit_ft - flown.altitude_ft.min,
            uncertainty=sure_ft,
            start_s=case.t_s(flown.start),
            end_s=case.t_s(flown.end),
            facts={"value": feet(flown.altitude_ft.min), "published": feet(low_ft, exact=True)},
        )
