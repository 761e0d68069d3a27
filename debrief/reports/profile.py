"""The profile: altitude along the path flown, with the published limits.

Owns      ``draw_profile`` and its legend, and what it shares with ``final``: axes, traces, labels, numbers.
Not here  the limits' stretches (``limits``), the final against distance (``final``).

A pilot reads from it: where the aircraft was high or low against each limit, leg by leg.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from debrief.language import tr
from debrief.phases.model import StationView
from debrief.procedures.model import Phase
from debrief.reports.bands import bands_height, phase_bands
from debrief.reports.chart import Chart, reach, round_values
from debrief.reports.layout import Rect, width_pt
from debrief.reports.legend import Entry, phase_entries, reference_entries
from debrief.reports.limits import LimitStretch, limit_stretches
from debrief.reports.page import ASCENT, DESCENT, Page, number_across_pt
from debrief.reports.placing import Placer
from debrief.reports.scene import Scene
from debrief.reports.strips import bands_of
from debrief.reports.style import INK, PAPER_WHITE, PHASE_LOOKS, REFERENCE_LOOK, SMALL_PT, SOFT
from debrief.reports.words import number, quantity

Floats = NDArray[np.float64]

LABEL_PT = 40.0
AXIS_PT = 26.0
_INBOUND_SHOWN_NM = 8.0
_MILE_STEPS = (0.5, 1.0, 2.0, 5.0, 10.0)
_ALTITUDE_STEPS_FT = (100.0, 200.0, 500.0, 1000.0, 2000.0, 5000.0)
_LABEL_STEP_PT = 3.0  # labels keep off a limit's line at steps of this


def profile_entries(scene: Scene) -> list[Entry]:
    """The legend of a profile."""
    entries = [
        *phase_entries([span.phase for span in scene.found.spans]),
        *reference_entries(scene.attempt),
        Entry(tr("published limit, strokes on the side not allowed"), "limit"),
    ]
    if scene.gaps:
        entries.append(Entry(tr("not observed"), "gap"))
    return entries


def draw_profile(page: Page, box: Rect, scene: Scene) -> None:
    """Altitude against the distance flown, from the last miles inbound to the end of the attempt."""
    start_s = _first_shown_s(scene)
    path = scene.path(start_s, scene.found.end_s)
    flown = _flown_nm(path)
    zero = float(np.interp(scene.zero_s, path.t_s, flown))

    def x_nm(t_s: Floats | float) -> Floats:
        return np.asarray(np.interp(t_s, path.t_s, flown) - zero)

    limits = [limit for limit in limit_stretches(scene) if limit.end_s > start_s]
    scale = reach(path.altitude_ft, [limit.altitude_ft for limit in limits], least=800.0)
    left = box.left + LABEL_PT
    x_from, x_to = float(flown[0] - zero), float(max(flown[-1] - zero, flown[0] - zero + 0.5))

    def x_at(t_s: float) -> float:
        share = (float(x_nm(max(t_s, start_s))) - x_from) / (x_to - x_from)
        return left + share * (box.right - left)

    bands = [band for band in bands_of(scene, x_at) if band.right_pt > left]
    top = box.top + bands_height(bands, left, box.right) + 1.0
    chart = Chart(page, Rect(left, top, box.right, box.bottom - AXIS_PT), x_from, x_to, *scale)
    phase_bands(page, bands, left, box.right, top - 1.0)
    axes(chart, tr("NM flown from {moment}", moment=scene.zero_name), signed=True)
    for gap_start_s, gap_end_s in scene.gaps:
        chart.unseen(float(x_nm(gap_start_s)), float(x_nm(gap_end_s)))
    borders = [float(x_nm(span.start_s)) for span in scene.found.spans[1:]]
    for border in borders:
        chart.upright(border)
    if scene.errorless is not None:
        beside = _leg_beside_leg(scene, scene.errorless, x_nm)
        errorless_trace(chart, beside, scene.errorless.approach.altitude_ft)
    placer = Placer(chart.box)
    upright_y = np.arange(chart.box.top, chart.box.bottom, _LABEL_STEP_PT)
    for border in borders:
        placer.avoid(np.full(len(upright_y), float(chart.x(border))), upright_y)
    floors = {(limit.start_s, limit.altitude_ft) for limit in limits if limit.forbidden_below}
    reaches = [(float(x_nm(max(limit.start_s, start_s))), float(x_nm(limit.end_s))) for limit in limits]
    for limit, ends in zip(limits, reaches, strict=True):
        chart.limit(*ends, limit.altitude_ft, forbidden_below=limit.forbidden_below)
    for span, phase_path in scene.paths:
        trace(
            chart,
            placer,
            span.phase,
            x_nm(phase_path.t_s),
            np.where(phase_path.t_s >= start_s, phase_path.altitude_ft, np.nan),
        )
    named = [
        limit for limit in limits if limit.forbidden_below or (limit.start_s, limit.altitude_ft) not in floors
    ]
    for limit, end_s in _runs(named):  # after the traces, which their figures keep off
        ends = float(x_nm(max(limit.start_s, start_s))), float(x_nm(end_s))
        limit_label(chart, placer, ends, limit.altitude_ft, below=limit.forbidden_below)
    say_if_empty(chart, path)
    numbers(chart, placer, scene, lambda view: x_nm(view.t_s), start_s)


def _runs(limits: Sequence[LimitStretch]) -> list[tuple[LimitStretch, float]]:
    """Each limit with where it ends, one that goes on at the same altitude in the next phase taken as one."""
    runs: list[tuple[LimitStretch, float]] = []
    for limit in limits:
        goes_on = runs and runs[-1][1] == limit.start_s
        if goes_on and (runs[-1][0].altitude_ft, runs[-1][0].forbidden_below) == (
            limit.altitude_ft,
            limit.forbidden_below,
        ):
            runs[-1] = runs[-1][0], limit.end_s
        else:
            runs.append((limit, limit.end_s))
    return runs


def _first_shown_s(scene: Scene) -> float:
    """Where the last miles inbound begin."""
    first = scene.found.spans[0]
    if first.phase != Phase.INBOUND:
        return first.start_s
    path = scene.path(first.start_s, first.end_s)
    near = np.flatnonzero(path.distance_nm < _INBOUND_SHOWN_NM)
    return float(path.t_s[near[0]]) if len(near) else first.start_s


def _flown_nm(path: StationView) -> Floats:
    """Distance along the path; a gap counts as the straight line across it."""
    known = np.flatnonzero(np.isfinite(path.east_nm))
    if not len(known):
        return np.zeros(len(path))
    across = np.hypot(np.diff(path.east_nm[known]), np.diff(path.north_nm[known]))
    flown: Floats = np.interp(np.arange(len(path)), known, np.concatenate([[0.0], np.cumsum(across)]))
    return flown


def _leg_beside_leg(scene: Scene, errorless: Scene, x_nm: Callable[[Floats | float], Floats]) -> Floats:
    """Where the errorless flight stands in the profile: each of its legs begins where the pilot's does. [NM]

    Between two beginnings its miles are stretched; beyond the first and the last they are its own.
    """
    path = errorless.approach
    own_nm = _flown_nm(path)
    begun_s = _beginnings_s(scene)
    pairs = [
        (float(np.interp(own_s, path.t_s, own_nm)), float(x_nm(begun_s[leg])))
        for leg, own_s in _beginnings_s(errorless).items()
        if leg in begun_s and own_s > errorless.found.start_s
    ]
    rising = [pair for index, pair in enumerate(pairs) if all(pair[1] > other[1] for other in pairs[:index])]
    if not rising:
        return own_nm - float(np.interp(errorless.zero_s, path.t_s, own_nm))
    own, beside = np.array(rising).T
    own = np.concatenate([[own[0] - 1e3], own, [own[-1] + 1e3]])
    beside = np.concatenate([[beside[0] - 1e3], beside, [beside[-1] + 1e3]])
    return np.asarray(np.interp(own_nm, own, beside))


def _beginnings_s(scene: Scene) -> dict[tuple[str, int, bool], float]:
    """When each leg of a flight first begins, a passage before the outbound leg told from one after it. [s]"""
    begun: dict[tuple[str, int, bool], float] = {}
    out = False
    for span in scene.found.spans:
        out = out or span.phase == Phase.OUTBOUND
        begun.setdefault((span.phase, span.circuit, out), span.start_s)
    return begun


def axes(chart: Chart, across: str, *, signed: bool) -> None:
    """The frame, round altitudes on the left and round miles below."""
    chart.frame()
    chart.figures_up(round_values(chart.y_from, chart.y_to, _ALTITUDE_STEPS_FT, 9), number)
    miles = round_values(chart.x_from, chart.x_to, _MILE_STEPS, 16)

    def text(value: float) -> str:
        shown = value if signed else abs(value)
        return number(shown, 0 if all(mile == round(mile) for mile in miles) else 1)

    chart.figures_across(miles, text)
    page, box = chart.page, chart.box
    page.text(box.right, box.bottom + AXIS_PT - 3.0, across, SMALL_PT, colour=SOFT, align="right")
    page.text(box.left - 4.0, box.bottom + AXIS_PT - 3.0, "ft", SMALL_PT, colour=SOFT, align="right")


def trace(chart: Chart, placer: Placer, phase: str, x: Floats, altitude_ft: Floats) -> None:
    """The altitude flown in one phase, by its look; labels keep off it."""
    look = PHASE_LOOKS[phase]
    chart.line(x, altitude_ft, colour=PAPER_WHITE, width=look.width_pt + 1.4, zorder=7.5)
    chart.line(x, altitude_ft, colour=look.colour, width=look.width_pt, dashes=look.dashes)
    placer.avoid(chart.x(x), chart.y(altitude_ft))


def errorless_trace(chart: Chart, x: Floats, altitude_ft: Floats) -> None:
    """The altitude of the errorless flight, under the pilot's."""
    look = REFERENCE_LOOK
    chart.line(x, altitude_ft, colour=look.colour, width=look.width_pt, dashes=look.dashes, zorder=7.0)


def say_if_empty(chart: Chart, path: StationView) -> None:
    """Say so where there is no altitude to draw."""
    if not np.isfinite(path.altitude_ft).any():
        chart.note(tr("no usable altitude in the log"))


def limit_label(
    chart: Chart, placer: Placer, ends: tuple[float, float], altitude_ft: float, *, below: bool
) -> None:
    """The figure of a limit, on its side of the line, or on the other where it would hide what was flown."""
    text = quantity(altitude_ft, "ft")
    wide, tall = label_size(text)
    left, right = (float(chart.x(x)) for x in ends)
    line_y, side = float(chart.y(altitude_ft)), 1.0 if below else -1.0
    shares = (0.5, 0.35, 0.65, 0.2, 0.8, 0.1, 0.9)
    rows = (line_y + side * (tall / 2 + 5.0), line_y - side * (tall / 2 + 1.5))  # the strokes' side first
    box = placer.among([(left + share * (right - left), y) for y in rows for share in shares], wide, tall)
    if box is not None:
        put_label(chart.page, box, text)
    line_x = np.arange(left, right, _LABEL_STEP_PT)  # for the labels that follow to keep off it
    placer.avoid(line_x, np.full(len(line_x), line_y))


def label_size(text: str) -> tuple[float, float]:
    """Width and height of a label [pt]."""
    return width_pt(text, SMALL_PT) + 2.0, (ASCENT + DESCENT) * SMALL_PT + 0.6


def put_label(page: Page, box: Rect, text: str, *, colour: str = INK) -> None:
    """Set a label on a place the placer found."""
    page.rect(box, fill=PAPER_WHITE, opacity=0.85, zorder=30.0)
    page.text(box.left + 1.0, box.bottom - DESCENT * SMALL_PT, text, SMALL_PT, colour=colour)


def numbers(
    chart: Chart,
    placer: Placer,
    scene: Scene,
    x_of: Callable[[StationView], Floats],
    from_s: float,
    to_s: float = np.inf,
) -> None:
    """The number of each finding at the altitude and place where it happened, of those between two moments.

    What began between them and was worst after the second stands at the second, where the picture ends.
    """
    for finding in scene.attempt.findings:
        moment = scene.moment_of(finding)
        if moment is not None and finding.start is not None and scene.seconds(finding.start) <= to_s:
            moment = min(moment, to_s)
        if moment is None or not from_s <= moment <= to_s:
            continue
        view = scene.flight.at(np.array([moment]))
        x, y = float(chart.x(x_of(view))[0]), float(chart.y(view.altitude_ft)[0])
        if not (chart.box.left <= x <= chart.box.right and chart.box.top <= y <= chart.box.bottom):
            continue  # also where the altitude is not known
        across = number_across_pt(finding.number)
        box = placer.near(x, y, across, across, far_pt=140.0, tied=True)
        if box is not None:
            chart.page.pin(x, y, box, finding.number, chart.box)
