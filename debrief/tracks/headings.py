"""Directions that the log gives, held against the direction in which its positions move.

Owns      remarks on a column that stands still, does not follow the flight, or is measured from the other north.
Not here  wind and drift as measures (``measures.wind``). No number is corrected; a heading whose north the file leaves open
          is told by which one it proves to count from.

A heading differs from the track by drift, which changes sign as the aircraft turns; a wrong north does not.
So a constant is looked for beside a drift that goes with the sine and cosine of the track.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from debrief.language import mark, tr
from debrief.navigation.angles import difference_deg
from debrief.navigation.magnetism import variation_deg
from debrief.navigation.units import KT_PER_M_S
from debrief.tracks.middles import spread
from debrief.tracks.model import Floats
from debrief.tracks.points import Points

_NAMES = mark(
    {
        "ground_track_true_deg": ("ground track", "true"),
        "heading_true_deg": ("heading", "true"),
        "heading_mag_deg": ("heading", "magnetic"),
    }
)
_MOVING_KT = 40.0
_FEWEST = 30
_STILL_DEG = 1.0
_TURNED_DEG = 30.0
_LOOSE_DEG = 25.0
_MOST = 80  # percentile: a column wrong for a third of the flight follows nothing
_MOST_SIGMA = 1.2816  # that percentile's size of a normal error
_TRACK_OFF_DEG = 4.0
_HEADING_OFF_DEG = 6.0  # drift that is not quite a sine, and a heading's own error
_SAME_DEG = 2.5
_ALL_ROUND = 0.6  # length of the mean direction below which tracks go all round


@dataclass(frozen=True, slots=True, kw_only=True)
class _Held:
    """One column against the tracks: the constant between them and what is left beside it. [deg]"""

    offset_deg: float
    loose_deg: float
    still: bool
    all_round: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Headings:
    """What the positions say of the log's directions."""

    #: Of the columns that disagree with them, by name.
    warnings: Mapping[str, str] = field(default_factory=dict)
    #: That a heading which leaves its north open is magnetic, in words; empty where it is not.
    magnetic: str = ""


def look_at_headings(points: Points) -> Headings:
    """Hold the direction columns against the positions.

    A heading that does not say its north is magnetic where it plainly is: tracks all round, so that drift falls out, and a
    constant that is the variation and no other.
    """
    warnings, held = _held(points)
    heading = held.get("heading_true_deg")
    if not points.track.heading_north_open or heading is None or "heading_true_deg" not in warnings:
        return Headings(warnings=warnings)
    variation = _variation(points)
    if not (heading.all_round and abs(float(difference_deg(heading.offset_deg, -variation))) < _SAME_DEG):
        return Headings(warnings=warnings)
    if heading.still or heading.loose_deg > _LOOSE_DEG or "heading_mag_deg" in points.track.columns:
        return Headings(warnings=warnings)
    said = tr(
        "The log's heading does not say which north: it differs from the positions by {offset_deg:+.0f} degrees, and the "
        "variation here is {variation_deg:+.0f} (east positive), so it was used as magnetic.",
        offset_deg=heading.offset_deg,
        variation_deg=variation,
    )
    return Headings(
        warnings={name: words for name, words in warnings.items() if name != "heading_true_deg"},
        magnetic=said,
    )


def _held(points: Points) -> tuple[dict[str, str], dict[str, _Held]]:
    """The direction columns that disagree with the positions, and how; and each column held against them."""
    columns = {name: points.track.columns[name] for name in _NAMES if name in points.track.columns}
    if not columns or len(points) < _FEWEST:
        return {}, {}
    half = points.reach(2.0)
    here = np.arange(half, len(points) - half)
    east, north = points.offset_m(here - half, here + half)
    speed_kt = np.hypot(east, north) / (points.t_s[here + half] - points.t_s[here - half]) * KT_PER_M_S
    moving = (speed_kt > _MOVING_KT) & (points.local_speed_m_s[here] * KT_PER_M_S > _MOVING_KT)
    if moving.sum() < _FEWEST:
        return {}, {}
    track_deg = np.degrees(np.arctan2(east, north))[moving]
    here = here[moving]
    variation = _variation(points)
    warnings, all_held = dict[str, str](), dict[str, _Held]()
    for name, column in columns.items():
        held = _hold(column[points.index[here]], track_deg, drifting=name != "ground_track_true_deg")
        if held is None:
            continue
        all_held[name] = held
        words = _words(name, held, variation)
        if words:
            warnings[name] = words
    return warnings, all_held


def _variation(points: Points) -> float:
    middle = len(points) // 2
    return variation_deg(
        float(points.latitude_deg[middle]),
        float(points.track.longitude_deg[points.index[middle]]),
        0.0,
        points.track.time_at(float(points.t_s[middle])),
    )


def _hold(logged_deg: Floats, track_deg: Floats, *, drifting: bool) -> _Held | None:
    known = np.isfinite(logged_deg)
    if known.sum() < _FEWEST:
        return None
    logged_deg, track_deg = logged_deg[known], track_deg[known]
    track_rad = np.radians(track_deg)
    off_deg = difference_deg(logged_deg, track_deg)
    middle = np.degrees(
        np.arctan2(np.median(np.sin(np.radians(off_deg))), np.median(np.cos(np.radians(off_deg))))
    )
    left_deg = difference_deg(off_deg, float(middle))
    mean = float(np.hypot(np.sin(track_rad).mean(), np.cos(track_rad).mean()))
    offset_deg = float(middle)
    if drifting and mean < _ALL_ROUND:
        terms = np.column_stack([np.ones_like(track_rad), np.sin(track_rad), np.cos(track_rad)])
        fitted, *_ = np.linalg.lstsq(terms, left_deg, rcond=None)
        offset_deg += float(fitted[0])
        left_deg = left_deg - terms @ fitted
    turned = spread(difference_deg(track_deg, float(track_deg[0]))) > _TURNED_DEG or mean < _ALL_ROUND
    return _Held(
        offset_deg=float(difference_deg(offset_deg, 0.0)),
        loose_deg=max(spread(left_deg), float(np.percentile(np.abs(left_deg), _MOST)) / _MOST_SIGMA),
        still=bool(turned and np.ptp(logged_deg) < _STILL_DEG),
        all_round=mean < _ALL_ROUND,
    )


def _words(name: str, held: _Held, variation_deg: float) -> str | None:
    name_of, north_of = _NAMES[name]
    what, north = tr(name_of), tr(north_of)
    if held.still:
        return tr(
            "The log's {what} ({north}) stands still while the aircraft turns: do not trust it.",
            what=what,
            north=north,
        )
    if held.loose_deg > _LOOSE_DEG:
        return tr(
            "The log's {what} ({north}) does not follow the positions (it scatters by "
            "{loose_deg:.0f} degrees around them): do not trust it.",
            what=what,
            north=north,
            loose_deg=held.loose_deg,
        )
    drifting = name_of == "heading"
    if drifting and not held.all_round:
        return None
    # the constant that a right column would have: a magnetic one reads less by an easterly variation
    right = 0.0 if north_of == "true" else -variation_deg
    other = -variation_deg if north_of == "true" else 0.0
    limit = _HEADING_OFF_DEG if drifting else _TRACK_OFF_DEG
    if not np.isfinite(right) or abs(float(difference_deg(held.offset_deg, right))) < limit:
        return None
    if np.isfinite(other) and abs(float(difference_deg(held.offset_deg, other))) < _SAME_DEG:
        wrong = tr("magnetic") if north_of == "true" else tr("true")
        return tr(
            "The log's {what} is called {north} but is {wrong}: it differs from the positions by "
            "{offset_deg:+.0f} degrees, and the variation here is {variation_deg:+.0f} (east "
            "positive).",
            what=what,
            north=north,
            wrong=wrong,
            offset_deg=held.offset_deg,
            variation_deg=variation_deg,
        )
    return tr(
        "The log's {what} ({north}) differs from the direction of the positions by {right:+.0f} "
        "degrees throughout: do not trust it.",
        what=what,
        north=north,
        right=held.offset_deg - right,
    )
