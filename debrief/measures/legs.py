"""What is measured on every phase: time, way, tracking, altitude, speeds, drift, broken limits.

Owns      ``leg_fields``: the fields of ``LegMeasures``, to which each phase adds its own.
Not here  how each is found (the other modules of this package).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from types import MappingProxyType
from typing import TypedDict

import numpy as np

from debrief.language import tr
from debrief.measures import log_errors
from debrief.measures.altitude import leg_breaks
from debrief.measures.climb import climb_rate_sure_ft_min
from debrief.measures.descent import angle_flown_deg, angle_sure_deg
from debrief.measures.ends import ends_of, ends_sure, moved_s
from debrief.measures.final_track import by_eye_from_s
from debrief.measures.minimum import final_breaks
from debrief.measures.over_phase import EndsMove, altitude_sure, ends_move, range_sure
from debrief.measures.scene import Scene
from debrief.measures.statistics import all_known, known, mean, mean_direction_deg, range_of, weights_s
from debrief.measures.tracking import Tracking, tracking
from debrief.measures.uncertainty import COVERAGE, mean_rate_sd_ft_min
from debrief.phases.model import Floats, Span, StationView
from debrief.procedures.model import Phase
from debrief.result import LimitBreak, Range, Spread


class LegFields(TypedDict):
    """The fields of ``debrief.result.LegMeasures``, by name."""

    duration_s: float
    observed_s: float
    track_length_nm: float
    cross_track_nm: Spread | None
    deviation_deg: Spread | None
    within_half_scale: float | None
    altitude_ft: Range | None
    groundspeed_kt: Range | None
    airspeed_kias: Range | None
    airspeed_from: str | None
    vertical_speed_ft_min: Range | None
    descent_angle_deg: float | None
    drift_deg: float | None
    altitude_breaks: tuple[LimitBreak, ...]
    warnings: tuple[str, ...]
    uncertainties: dict[str, float]


def with_reasons(
    leg: LegFields, reasons: Iterable[str], sure: Mapping[str, float | None] = MappingProxyType({})
) -> LegFields:
    """The same fields with more warnings, each reason once, and the half-widths (95 %) of more measures."""
    fields = leg.copy()
    fields["uncertainties"] = leg["uncertainties"] | all_known(sure)
    fields["warnings"] = tuple(dict.fromkeys([*leg["warnings"], *(reason for reason in reasons if reason)]))
    return fields


def track_length_nm(view: StationView) -> float:
    """The way flown over the ground, nothing across a gap. [NM]"""
    step_nm = np.hypot(np.diff(view.east_nm), np.diff(view.north_nm))
    return float(np.sum(step_nm[np.diff(view.segment) == 0]))


def leg_fields(
    scene: Scene, span: Span, *, statistics: bool = True, every_half_width: bool = True
) -> LegFields:
    """Measure what every phase has in common; without ``statistics`` only its time and way.

    Without ``every_half_width`` that of the descent's angle is left out: no rule asks for it, and it takes the longest.
    """
    flight, procedure = scene.flight, scene.procedure
    part = scene.part(span.start_s, span.end_s)
    view = scene.view.where(part)
    duration_s = span.end_s - span.start_s
    observed_s = max(0.0, duration_s - scene.gap_s(span.start_s, span.end_s))
    fields = LegFields(
        duration_s=duration_s,
        observed_s=observed_s,
        track_length_nm=track_length_nm(view),
        cross_track_nm=None,
        deviation_deg=None,
        within_half_scale=None,
        altitude_ft=None,
        groundspeed_kt=None,
        airspeed_kias=None,
        airspeed_from=None,
        vertical_speed_ft_min=None,
        descent_angle_deg=None,
        drift_deg=None,
        altitude_breaks=(),
        warnings=(),
        uncertainties={},
    )
    if len(view) == 0:
        return with_reasons(fields, [tr("Nothing was observed in this phase.")])
    if not statistics:
        return with_reasons(fields, [tr("Its statistics were left out: only verdicts were asked for.")])
    weight_s = weights_s(view.t_s, view.segment)
    ends = ends_of(scene, span)

    whole = scene.view
    altitude_moves, speed_moves, climb_moves, kias_moves = ends_move(
        whole.t_s,
        (whole.altitude_ft, whole.groundspeed_kt, whole.vertical_speed_ft_min, scene.air.kias),
        (span.start_s, span.end_s),
        moved_s(ends),
    )
    worse = log_errors.rates_worse(flight, view.t_s)
    kept = leg_tracking(scene, span, moved_s(ends))
    _fill_tracking(fields, kept)
    fields["altitude_ft"] = range_of(
        view.altitude_ft,
        weight_s,
        altitude_sure(flight, view.altitude_ft, weight_s, altitude_moves),
    )
    fields["groundspeed_kt"] = range_of(
        view.groundspeed_kt,
        weight_s,
        range_sure(
            log_errors.velocity_kt(flight, turning=False),
            view.groundspeed_kt,
            weight_s,
            ends=speed_moves,
            worse=worse,
            mean_sd=log_errors.mean_groundspeed_kt(flight, view),
        ),
    )
    fields["vertical_speed_ft_min"] = range_of(
        view.vertical_speed_ft_min,
        weight_s,
        range_sure(
            log_errors.vertical_speed_ft_min(flight),
            view.vertical_speed_ft_min,
            weight_s,
            ends=climb_moves,
            worse=worse,
            mean_sd=_mean_climb_sd_ft_min(scene, span, float(weight_s.sum())),
        ),
    )
    final = span.phase is Phase.FINAL
    fields["altitude_breaks"] = final_breaks(scene) if final else leg_breaks(scene, span)
    fields["descent_angle_deg"] = angle_flown_deg(view)
    # of a final see ``descent``
    if every_half_width and fields["descent_angle_deg"] is not None and not final:
        fields["uncertainties"] |= all_known({"descent_angle_deg": angle_sure_deg(flight, view)})
    sure, why_not = ends_sure(scene, span, ends, fields["track_length_nm"])
    fields["uncertainties"] |= all_known(sure)
    air = _air(scene, span, part, weight_s, fields, kias_moves, worse)
    reasons = [kept.why, why_not, *air]
    if fields["altitude_ft"] is None:
        reasons.append(tr("Altitude not measured: the log has none here; its limits could not be checked."))
    elif not np.isfinite(view.altitude_ft).all() and procedure.leg_of(span.phase) is not None:
        missing_s = float(np.sum(weight_s[~np.isfinite(view.altitude_ft)]))
        reasons.append(
            tr(
                "The altitude is missing for {missing:.0f} s; the limits were not checked there.",
                missing=missing_s,
            )
        )
    if observed_s < duration_s - 1.0:
        reasons.append(
            tr(
                "{lost:.0f} s of {whole:.0f} s fell into gaps of the log.",
                lost=duration_s - observed_s,
                whole=duration_s,
            )
        )
    return with_reasons(fields, reasons)


def _mean_climb_sd_ft_min(scene: Scene, span: Span, seconds: float) -> float:
    """Standard deviation of the mean climb of a phase; that of a missed approach begins and ends by its altitudes."""
    seen = np.isfinite(scene.over(span.start_s, span.end_s).altitude_ft)
    if span.phase is Phase.MISSED_APPROACH and seconds > 0.0 and seen.sum() > 1:
        return climb_rate_sure_ft_min(scene, span, span.start_s) / COVERAGE
    return mean_rate_sd_ft_min(scene.flight, seconds)


def leg_tracking(scene: Scene, span: Span, ends_s: tuple[float, float] = (0.0, 0.0)) -> Tracking:
    """The tracking of a leg; of a final only as far as it is flown by the needle.

    ``ends_s``: how far off its ends are, standard deviations.
    """
    view = scene.over(span.start_s, span.end_s)
    by_eye_s = by_eye_from_s(scene) if span.phase is Phase.FINAL else None
    if by_eye_s is not None:
        view = view.where(view.t_s <= by_eye_s)
        if len(view) == 0:
            return Tracking(why=tr("Deviation not scored: the whole of it was flown by eye."))
    return tracking(scene.flight, span.phase, view, weights_s(view.t_s, view.segment), scene.time, ends_s)


def _fill_tracking(fields: LegFields, kept: Tracking) -> None:
    fields["cross_track_nm"] = kept.cross_track_nm
    fields["deviation_deg"] = kept.deviation_deg
    fields["within_half_scale"] = kept.within_half_scale
    fields["uncertainties"] |= all_known({"within_half_scale": kept.within_half_scale_sure})


def _air(
    scene: Scene,
    span: Span,
    part: slice,
    weight_s: Floats,
    fields: LegFields,
    by_ends: EndsMove,
    worse: Floats,
) -> list[str]:
    """Fill in airspeed and drift; the reasons where they are not known."""
    if span.phase is Phase.LANDING:  # on the ground neither means anything
        return []
    air, reasons = scene.air, []
    kias = air.kias[part]
    average_kt = mean(kias, weight_s)
    if average_kt is None:
        reasons.append(tr("Airspeed not known: {why}.", why=air.kias_why or tr("not logged in this phase")))
    else:
        fields["airspeed_kias"] = range_of(
            kias,
            weight_s,
            range_sure(
                air.kias_errors_kt(scene.flight, average_kt, scene.view.altitude_ft[part]),
                kias,
                weight_s,
                ends=by_ends,
                worse=worse,
            ),
        )
        fields["airspeed_from"] = tr(air.kias_from or "") or None
    drift_deg = mean_direction_deg(air.drift_deg[part], weight_s)
    fields["drift_deg"] = None if drift_deg is None else known(drift_deg)
    if drift_deg is None:
        reasons.append(
            tr("Drift not known: {why}.", why=air.heading_why or tr("no heading was logged in this phase"))
        )
    else:
        fields["uncertainties"] |= all_known({"drift_deg": air.heading_sure_deg(scene.view, part)})
    return reasons
