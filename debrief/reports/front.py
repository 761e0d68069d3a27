"""Page one: what was flown, how well, what to work on and to practise, what went well, and the plan view.

Owns      the setting of page one.
Not here  its words (``summary``), the map (``plan``).
"""

from __future__ import annotations

from debrief.grading.sources import source_words
from debrief.language import sentence, tr, within
from debrief.reports import summary
from debrief.reports.flow import Flow
from debrief.reports.layout import Rect, shortened, width_pt, wrapped
from debrief.reports.legend import Entry, draw_legend, legend_height, phase_entries, reference_entries
from debrief.reports.notes import notes_on_front
from debrief.reports.overview import OVERVIEW_PT, draw_log
from debrief.reports.page import ASCENT
from debrief.reports.plan import draw_plan, draw_track_only
from debrief.reports.scene import Scene
from debrief.reports.style import (
    ARC_LOOK,
    BODY_PT,
    GAP_PT,
    HEADING_PT,
    INK,
    LEADING,
    NOMINAL_LOOK,
    OUTSIDE_LOOK,
    RESULT_MARKS,
    RESULT_PT,
    RULE,
    SMALL_PT,
    SOFT,
    TABLE_PT,
    TITLE_PT,
)
from debrief.reports.words import grade_name, rule_name
from debrief.result import Attempt, Result

_LEAST_COLUMN_PT = 110.0
_LEAST_PLAN_PT = 190.0
_MORE_ROOM_PT = 160.0  # for what went well, where there is nothing to work on
_COLUMN_GAP_PT = 18.0
_WORK_SHARE = 0.64
_FEW = 2  # attempts whose results are set large, each on a line
_TWO_LINES = (-6.0, 4.2)  # beside a large word: above and below its baseline [pt]


def front_page(flow: Flow, result: Result, scenes: tuple[Scene, ...]) -> None:
    """Fill the first page."""
    _head(flow, result)
    if result.attempts:
        _results(flow, result)
        _advice(flow, result)
        _to_practise(flow, result)
    _map(flow, result, scenes)


def _head(flow: Flow, result: Result) -> None:
    page = flow.page
    label = tr("FLIGHT DEBRIEF")
    flow.y_pt -= 6.0
    page.text(flow.left, flow.y_pt + ASCENT * SMALL_PT, label, SMALL_PT, bold=True, colour=SOFT)
    made = shortened(
        tr("Held against: {name}", name=source_words(result.standard.name)), flow.width * 0.6, SMALL_PT
    )
    page.text(flow.right, flow.y_pt + ASCENT * SMALL_PT, made, SMALL_PT, colour=SOFT, align="right")
    flow.y_pt += SMALL_PT * LEADING + 2.0
    page.segments([(flow.left, flow.y_pt, flow.right, flow.y_pt)], colour=INK, width=1.4)
    flow.y_pt += 6.0
    size = TITLE_PT if len(wrapped(summary.title(result), flow.width, TITLE_PT, bold=True)) == 1 else 13.0
    flow.title(summary.title(result), size)
    flow.paragraph(f"{result.track.file}  ·  {summary.log_sentence(result)}", size_pt=TABLE_PT, colour=SOFT)
    fit = summary.fit_sentence(result)
    if fit:
        flow.paragraph(fit, size_pt=TABLE_PT, colour=SOFT)
    notes_on_front(flow, result.notes)
    flow.space(1.0)
    flow.paragraph(summary.flown_sentence(result), bold=not result.attempts)
    if not result.attempts:
        flow.paragraph(summary.no_approach_advice(result))
    altitude = summary.altitude_sentence(result) if result.attempts else ""
    if altitude:
        flow.paragraph(altitude)


def _results(flow: Flow, result: Result) -> None:
    """The result of each attempt: large, with its whole reason; of many attempts smaller, two side by side."""
    attempts = result.attempts
    if len(attempts) <= _FEW:
        for attempt in attempts:
            box = flow.picture(RESULT_PT * LEADING + 5.0)
            x, baseline = _result(flow, box, attempt, RESULT_PT, numbered=len(attempts) > 1)
            _reason(flow, attempt.grade.reason, x, baseline)
        return
    columns, size = 2, 10.5
    wide = (flow.width - _COLUMN_GAP_PT) / columns
    for index, attempt in enumerate(attempts):
        if index % columns == 0:
            row = flow.picture(size * LEADING + 5.0)
        left = row.left + index % columns * (wide + _COLUMN_GAP_PT)
        box = Rect(left, row.top, left + wide, row.bottom)
        x, baseline = _result(flow, box, attempt, size, numbered=True)
        flow.page.text(x, baseline, _why_briefly(attempt, box.right - x), TABLE_PT, colour=SOFT)


def _why_briefly(attempt: Attempt, room_pt: float) -> str:
    """The reason where there is room for it, else what went wrong first; in full it stands with the attempt's items."""
    cause = summary.first_cause(attempt)
    said = [attempt.grade.reason]
    if cause is not None:
        name = rule_name(cause.rule)
        failed = attempt.grade.result == "unsatisfactory"
        said += [name if failed else tr("improve: {rule}", rule=within(name))]
    return next((text for text in said if width_pt(text, TABLE_PT) <= room_pt), "")


def _result(flow: Flow, box: Rect, attempt: Attempt, size: float, *, numbered: bool) -> tuple[float, float]:
    """The sign and the word of one result; where its reason begins."""
    page = flow.page
    shape, colour = RESULT_MARKS[attempt.grade.result]
    baseline = box.top + size * 1.02 + 1.0
    page.mark(box.left + size * 0.45, baseline - size * 0.36, shape, size * 0.72, colour)
    x = box.left + size * 1.15
    if numbered:
        lead = tr("Attempt {number}", number=attempt.number)
        page.text(x, baseline, lead, size * 0.8)
        x += width_pt(lead, size * 0.8) + 8.0
    word = sentence(grade_name(attempt.grade.result))
    page.text(x, baseline, word, size, bold=True, colour=colour)
    return x + width_pt(word, size, bold=True) + 10.0, baseline


def _reason(flow: Flow, reason: str, x: float, baseline: float) -> None:
    """The reason of a result beside it, in one line or two; a longer one below it."""
    lines = wrapped(reason, flow.right - x, TABLE_PT)
    if len(lines) > len(_TWO_LINES):
        flow.paragraph(reason, size_pt=TABLE_PT, colour=SOFT)
        return
    for line, down in zip(lines, _TWO_LINES if len(lines) > 1 else (0.0,), strict=False):
        flow.page.text(x, baseline + down, line, TABLE_PT, colour=SOFT)


def _advice(flow: Flow, result: Result) -> None:
    """Two columns: what to work on, and what went well."""
    top = flow.y_pt
    middle = flow.left + (flow.width - _COLUMN_GAP_PT) * _WORK_SHARE
    floor = _to_work_on(flow, Rect(flow.left, top, middle, flow.bottom), result)
    least = _LEAST_COLUMN_PT if summary.to_work_on(result) else _MORE_ROOM_PT
    right = Rect(middle + _COLUMN_GAP_PT, top, flow.right, max(floor, top + least))
    flow.y_pt = max(floor, _went_well(flow, right, result)) + GAP_PT


def _to_work_on(flow: Flow, box: Rect, result: Result) -> float:
    page = flow.page
    chosen = summary.to_work_on(result)
    y = _column_head(flow, box, summary.work_heading(len(chosen)))
    if not chosen:
        return _lines(flow, box.left, y, summary.nothing_to_work_on(result), box.width, colour=SOFT)
    for attempt, finding in chosen:
        ring = page.number(box.left + 7.0, y + 5.6, finding.number)
        indent = ring.right + 6.0
        what, more = summary.work_sentences(result, attempt, finding)
        y = _lines(flow, indent, y, what, box.right - indent, bold=True)
        y = _lines(flow, indent, y, more, box.right - indent) + 3.0
    return y


def _went_well(flow: Flow, box: Rect, result: Result) -> float:
    """What went well, as far as it fits; all of it stands with the attempt."""
    sentences = summary.went_well(result)
    if not sentences:
        return box.top
    y = _column_head(flow, box, tr("What went well"))
    for index, text in enumerate(sentences):
        lines = wrapped(text, box.width - 9.0, BODY_PT)
        last = index == len(sentences) - 1
        if y + (len(lines) + (0 if last else 1)) * BODY_PT * LEADING > box.bottom and index:
            return _lines(
                flow,
                box.left + 9.0,
                y,
                tr("and {count} more, further on", count=len(sentences) - index),
                box.width,
                colour=SOFT,
            )
        flow.page.text(box.left, y + ASCENT * BODY_PT, "•", BODY_PT)
        y = _lines(flow, box.left + 9.0, y, text, box.width - 9.0) + 2.0
    return y


def _to_practise(flow: Flow, result: Result) -> None:
    """The exercises side by side, each with the number to aim at."""
    chosen = summary.to_practise(result)
    if not chosen:
        return
    top = _column_head(flow, Rect(flow.left, flow.y_pt, flow.right, flow.bottom), tr("To practise"))
    wide = (flow.width - _COLUMN_GAP_PT * (len(chosen) - 1)) / len(chosen)
    floors = []
    for index, practice in enumerate(chosen):
        left = flow.left + index * (wide + _COLUMN_GAP_PT)
        indent = left
        if practice.finding is not None:
            indent = flow.page.number(left + 7.0, top + 5.6, practice.finding).right + 6.0
        room = left + wide - indent
        y = _lines(flow, indent, top, practice.what, room, bold=True)
        y = _lines(flow, indent, y, practice.exercise, room)
        aim = tr("Aim: {aim}", aim=within(practice.aim))
        floors.append(_lines(flow, indent, y, aim, room, bold=True))
    flow.y_pt = max(floors) + GAP_PT


def _column_head(flow: Flow, box: Rect, text: str) -> float:
    flow.page.text(box.left, box.top + ASCENT * HEADING_PT + 2.0, text, HEADING_PT, bold=True)
    y = box.top + HEADING_PT * LEADING + 3.0
    flow.page.segments([(box.left, y, box.right, y)], colour=RULE, width=0.6)
    return y + 4.0


def _lines(
    flow: Flow, x: float, y: float, text: str, room: float, *, bold: bool = False, colour: str = INK
) -> float:
    for line in wrapped(text, room, BODY_PT, bold=bold):
        flow.page.text(x, y + ASCENT * BODY_PT, line, BODY_PT, bold=bold, colour=colour)
        y += BODY_PT * LEADING
    return y


def plan_entries(scene: Scene) -> list[Entry]:
    """The legend of a plan view."""
    entries = [] if scene.arc is None else [Entry(tr(ARC_LOOK.name), look=ARC_LOOK)]
    entries += phase_entries([span.phase for span in scene.found.spans])
    entries += reference_entries(scene.attempt)
    entries.append(Entry(tr(NOMINAL_LOOK.name), look=NOMINAL_LOOK))
    if len(scene.flight.attempts) > 1:
        entries.append(Entry(tr("other attempts, before and after"), look=OUTSIDE_LOOK))
    elif scene.flown_outside:
        entries.append(Entry(tr(OUTSIDE_LOOK.name), look=OUTSIDE_LOOK))
    entries.append(Entry(tr("phase begins, min:s from {moment}", moment=scene.zero_name), "change"))
    entries.append(Entry(tr("a minute"), "minute"))
    if any(scene.moment_of(finding) is not None for finding in scene.attempt.findings):
        entries.append(Entry(tr("a finding, by its number"), "finding"))
    return entries


def _map(flow: Flow, result: Result, scenes: tuple[Scene, ...]) -> None:
    if result.flight is None:
        flow.paragraph(tr("The pictures need the log; this result was read back without it."), colour=SOFT)
        return
    if not scenes:
        box = flow.picture(flow.room)
        bottom = box.bottom - OVERVIEW_PT
        draw_track_only(flow.page, Rect(box.left, box.top + 4.0, box.right, bottom - GAP_PT), result.flight)
        draw_log(flow.page, Rect(box.left, bottom, box.right, box.bottom), result.flight)
        flow.y_pt = flow.bottom
        return
    flow.need(_LEAST_PLAN_PT)
    chosen = summary.to_work_on(result)
    shown = next((scene for scene in scenes if chosen and scene.attempt is chosen[0][0]), scenes[-1])
    others = [scene for scene in scenes if scene is not shown]
    if others:
        flow.paragraph(
            tr("Plan of attempt {number}; each attempt has its own further on.", number=shown.attempt.number),
            colour=SOFT,
        )
    plan_with_legend(flow, flow.room, shown, others)


def plan_with_legend(flow: Flow, height_pt: float, scene: Scene, others: list[Scene]) -> None:
    """A plan view of that height, its legend included, at the place the flow has come to."""
    entries = plan_entries(scene)
    legend = legend_height(entries, flow.width)
    box = flow.picture(height_pt)
    area = Rect(box.left, box.top, box.right, box.bottom - legend - 5.0)
    draw_plan(flow.page, area, scene, others)
    draw_legend(flow.page, Rect(box.left, area.bottom + 5.0, box.right, box.bottom), entries)
