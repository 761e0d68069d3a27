"""Time: which samples are used, in which order, where stamps go backwards or are shared.

Owns      sorting; samples without a position; doubled samples; several samples on one stamp; a clock set back.
Not here  positions that repeat while time goes on (``repeats``), stamps that jitter (``jitter``).

Where a clock was set back and two stretches claim the same minutes, nobody can tell which is right: the shorter
is set aside. Of several samples a second under whole-second stamps the first is used: it stands nearest to
its stamp, and by the same amount each second, so that speeds come out right.
"""

from __future__ import annotations

import numpy as np

from debrief.language import tr
from debrief.tracks.model import Track
from debrief.tracks.points import Bools, Found, Ints, Points, no_reasons
from debrief.tracks.words import amount, clock, moment

_REGULAR_SHARE = 0.2  # of the stamps; above it, sharing a stamp is the recorder's habit
_OVERLAP_S = 5.0  # stamps that jitter or samples that changed places go back less than this
_MOST_SETBACKS = 30  # more, and the file is shuffled rather than its clock set back
_NEAR_M = 200.0
_NEAR_S = 2.0


def put_in_order(track: Track) -> tuple[Points, Found]:
    """Return the samples that can be used in order of time, and what was found about all raw samples."""
    reasons = no_reasons(len(track))
    warnings: list[str] = []
    everything = np.arange(len(track))

    placeless = _without_place(track)
    reasons[placeless] = "no position"
    if placeless.any():
        warnings.append(
            tr(
                "{samples} without a usable position or time, the first at {when}: set aside.",
                samples=amount(placeless.sum(), "sample"),
                when=moment(track, int(np.argmax(placeless))),
            )
        )
    index = everything[~placeless]
    if _runs_backwards(track.t_s[index]):
        warnings.append(tr("The file runs backwards in time; its samples are used in order of time."))
        index = index[::-1]

    set_back, words = _set_back(track, index)
    reasons[index[set_back]] = "clock set back"
    warnings += words
    index = index[~set_back]

    late = (
        track.t_s[index] < np.maximum.accumulate(track.t_s[index]) if len(index) else np.zeros(0, dtype=bool)
    )
    if late.any():
        warnings.append(
            tr(
                "{samples} out of order in time, the first at {when}; all samples are used in order of time.",
                samples=amount(late.sum(), "sample"),
                when=moment(track, int(index[np.argmax(late)])),
            )
        )
    index = index[np.argsort(track.t_s[index], kind="stable")]

    kept, shared, words = _one_a_stamp(track, index)
    reasons[index] = shared
    warnings += words
    points = Points.of(track, index[kept])
    return points, Found(reasons=reasons, breaks={}, warnings=tuple(warnings))


def _without_place(track: Track) -> Bools:
    latitude, longitude = track.latitude_deg, track.longitude_deg
    bad = ~(np.isfinite(track.t_s) & np.isfinite(longitude) & (np.abs(latitude) <= 90.0))
    return np.asarray(bad | ((latitude == 0.0) & (longitude == 0.0)))


def _runs_backwards(t_s: np.ndarray) -> bool:
    return len(t_s) > 2 and bool((np.diff(t_s) <= 0).all()) and t_s[-1] < t_s[0]


def _set_back(track: Track, index: Ints) -> tuple[Bools, list[str]]:
    """Mark the samples of the shorter stretch wherever two claim the same time at different places."""
    bad = np.zeros(len(index), dtype=bool)
    if len(index) < 3:
        return bad, []
    t_s = track.t_s[index]
    before = np.maximum.accumulate(t_s)[:-1]
    starts = np.nonzero((np.diff(t_s) < 0) & (before - t_s[1:] > _OVERLAP_S))[0] + 1
    if not 0 < len(starts) <= _MOST_SETBACKS:
        return bad, []
    points = Points.of(track, index)  # only its geometry is used here: the order is the file's
    steps_m = points.distance_m(np.arange(len(index) - 1), np.arange(1, len(index)))
    forward = np.diff(t_s) > 0
    speed_m_s = float(np.median(steps_m[forward] / np.diff(t_s)[forward])) if forward.any() else 0.0
    warnings = []
    for start in starts:
        earlier = np.nonzero(~bad[:start])[0]
        if not len(earlier) or t_s[start] >= t_s[earlier].max():
            continue
        later = np.arange(start, len(index))
        later = later[np.cumprod(t_s[later] <= t_s[earlier].max(), dtype=np.int64) > 0]
        again = earlier[t_s[earlier] >= t_s[start]]
        if _agree(points, earlier, later, _NEAR_M + _NEAR_S * speed_m_s):
            continue
        loser = later if len(later) <= len(again) else again
        bad[loser] = True
        first = int(index[loser[0]])
        warnings.append(
            tr(
                "The clock goes back by {back:.0f} s at {when}, and two stretches claim the same time at "
                "different places: the shorter, {samples} from {then}, is set aside.",
                back=float(before[start - 1] - t_s[start]),
                when=moment(track, int(index[start])),
                samples=amount(len(loser), "sample"),
                then=moment(track, first),
            )
        )
    return bad, warnings


def _agree(points: Points, earlier: Ints, later: Ints, near_m: float) -> bool:
    """Whether the ``later`` samples lie where the ``earlier`` ones were at the same times."""
    t_s = points.t_s
    ordered = earlier[np.argsort(t_s[earlier], kind="stable")]
    after = (
        np.clip(np.searchsorted(t_s[ordered], t_s[later]), 1, len(ordered) - 1) if len(ordered) > 1 else None
    )
    if after is None:
        return bool(np.median(points.distance_m(np.repeat(ordered, len(later)), later)) < near_m)
    left, right = ordered[after - 1], ordered[after]
    step_s = np.maximum(t_s[right] - t_s[left], 1e-9)
    share = np.clip((t_s[later] - t_s[left]) / step_s, 0.0, 1.0)
    east, north = points.offset_m(left, right)
    to_east, to_north = points.offset_m(left, later)
    return bool(np.median(np.hypot(to_east - share * east, to_north - share * north)) < near_m)


def _one_a_stamp(track: Track, index: Ints) -> tuple[Bools, np.ndarray, list[str]]:
    """Choose one sample of each stamp; ``index`` is in order of time, and of the file within a stamp."""
    count = len(index)
    reasons, warnings = no_reasons(count), list[str]()
    if count < 2:
        return np.ones(count, dtype=bool), reasons, warnings
    t_s = track.t_s[index]
    first = np.concatenate([[True], np.diff(t_s) > 0])
    if first.all():
        return first, reasons, warnings
    group = np.cumsum(first) - 1
    heads = np.nonzero(first)[0]
    head = heads[group]
    same = (track.latitude_deg[index] == track.latitude_deg[index[head]]) & (
        track.longitude_deg[index] == track.longitude_deg[index[head]]
    )
    doubled = same & ~first
    other = ~same
    reasons[doubled] = "doubled"
    if doubled.any():
        warnings.append(
            tr(
                "{samples} doubled (time and position of another), the first at {when}; one of each is used.",
                samples=amount(doubled.sum(), "sample"),
                when=moment(track, int(index[np.argmax(doubled)])),
            )
        )
    kept = first.copy()
    if other.any():
        whole = bool((np.mod(t_s, 1.0) == t_s[0] % 1.0).all())
        groups_shared = np.unique(group[other])
        habit = len(groups_shared) > _REGULAR_SHARE * len(heads)
        in_file_order = np.abs(np.diff(index)[np.nonzero(other)[0] - 1]) == 1
        if habit and in_file_order.mean() < _REGULAR_SHARE:
            reasons[other] = "same time"
            warnings.append(
                tr(
                    "The file records the same time twice, the second time from {when}, at places slightly "
                    "different: the first recording is used, {samples} of the other are set aside.",
                    when=moment(track, int(index[other].min())),
                    samples=amount(other.sum(), "sample"),
                )
            )
        elif whole and habit:
            a_second = (count - doubled.sum()) / len(heads)
            reasons[other] = "same second"
            warnings.append(
                tr(
                    "Times are whole seconds, with about {a_second:.1f} samples a second: the first of each "
                    "second is used, the other {samples} are set aside; times may be off by a second.",
                    a_second=a_second,
                    samples=amount(other.sum(), "sample"),
                )
            )
        else:
            _choose_fitting(track, index, kept, heads, groups_shared)
            reasons[~kept & (other | first)] = "same time"
            warnings.append(
                tr(
                    "{times} shared by samples at different places, the first at {when}; the one "
                    "that fits its neighbours is used.",
                    times=amount(len(groups_shared), "time"),
                    when=clock(track, float(t_s[heads[groups_shared[0]]])),
                )
            )
    return kept, reasons, warnings


def _choose_fitting(track: Track, index: Ints, kept: Bools, heads: Ints, shared: Ints) -> None:
    """Move ``kept`` to the sample of each shared stamp that lies nearest between its neighbours."""
    ends = np.append(heads[1:], len(index))
    for group in shared:
        members = np.arange(heads[group], ends[group])
        if 0 < group < len(heads) - 1:
            points = Points.of(
                track, index[np.concatenate([[heads[group - 1]], members, [heads[group + 1]]])]
            )
            at = np.arange(1, len(members) + 1)
            off = np.hypot(*points.off_chord_m(np.zeros_like(at), at, np.full_like(at, len(members) + 1)))
            kept[heads[group]] = False
            kept[members[np.argmin(off)]] = True
