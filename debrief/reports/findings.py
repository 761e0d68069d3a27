"""The findings in full: what, when, value against limit, verdict, and what to do next time.

Owns      ``findings_part``, and the words of one finding for any other place.
Not here  the findings' own words and their order (grading), their numbers in the pictures.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import NamedTuple

from debrief.language import mark, tr, within
from debrief.reports.flow import Flow, titled
from debrief.reports.layout import wrapped
from debrief.reports.page import ASCENT
from debrief.reports.style import BODY_PT, INK, LEADING, RESULT_MARKS, RULE, SMALL_PT, SOFT, TABLE_PT
from debrief.reports.words import NOTHING, clock, phase_name, rule_name, sided, sided_limit, uncertain
from debrief.result import Attempt, Finding

_INDENT_PT = 20.0
_PAD_PT = 4.0
_UNDER_ROWS_PT = 1.5
_ABOVE_PT = 45.0  # what the findings are, and the head of their table
_VERDICTS = mark({"exceeded": "Exceeded", "marginal": "Marginal", "not flown": "Not flown"})
_COLOURS = {
    "exceeded": RESULT_MARKS["unsatisfactory"][1],
    "marginal": RESULT_MARKS["marginal"][1],
    "not flown": INK,
}
ABOUT = mark(
    "In the order of their weight; the numbers are those in the pictures. Exceeded: the limit was passed by more "
    "than the measurement's own uncertainty (the ±, 95 %). Marginal: by less, so it is not held against the pilot."
)
#: Where the columns begin, as shares of the width.
_VALUE, _LIMIT, _WHEN, _VERDICT = 0.37, 0.545, 0.67, 0.865

Elapsed = Callable[[datetime], str]


@dataclass(frozen=True, slots=True)
class FindingWords:
    """A finding as a reader sees it."""

    number: int
    rule: str
    value: str
    limit: str
    when: tuple[str, ...]
    verdict: str
    message: str
    why: str
    advice: str
    source: str


def finding_words(finding: Finding, elapsed: Elapsed | None) -> FindingWords:
    """The words of a finding; ``elapsed`` gives the minutes and seconds of a time, where the flight is at hand."""
    return FindingWords(
        number=finding.number,
        rule=f"{phase_name(finding.phase)}: {within(finding.kind or rule_name(finding.rule))}",
        value=sided(
            finding.rule,
            finding.unit,
            finding.value,
            lambda value: uncertain(value, finding.uncertainty, finding.unit, finding.limit),
        ),
        limit=sided_limit(finding.rule, finding.unit, finding.limit),
        when=tuple(_when(finding, elapsed)),
        verdict=tr(_VERDICTS[finding.verdict]),
        message=finding.message,
        why=tr("Why it matters: {why}", why=finding.why) if finding.why else "",
        advice=tr("Next time: {advice}", advice=finding.advice) if finding.advice else "",
        source=tr("Limit from: {source}", source=finding.source) if finding.source else "",
    )


def findings_part(flow: Flow, name: str, attempt: Attempt, elapsed: Elapsed | None) -> None:
    """Set every finding of an attempt, each kept together on a page."""
    laid = [_laid(flow, finding, elapsed) for finding in attempt.findings]
    flow.heading(titled(name, tr("findings")), keep_pt=_ABOVE_PT + (laid[0].tall_pt if laid else 0.0))
    if not attempt.findings:
        flow.paragraph(tr("None: every rule that could be judged was met."))
        return
    flow.paragraph(tr(ABOUT), size_pt=TABLE_PT, colour=SOFT)
    _head(flow)
    for one in laid:
        _finding(flow, one)
    flow.space(_PAD_PT)


def _columns(flow: Flow) -> tuple[float, float, float, float, float]:
    left, wide = flow.left, flow.width
    return (
        left + _INDENT_PT,
        left + _VALUE * wide,
        left + _LIMIT * wide,
        left + _WHEN * wide,
        left + _VERDICT * wide,
    )


def _head(flow: Flow) -> None:
    y = flow.y_pt + ASCENT * TABLE_PT + 2.0
    titles = (tr("Phase and rule"), tr("Value ± (95 %)"), tr("Limit"), tr("When (min:s, UTC)"), tr("Verdict"))
    for x, title in zip(_columns(flow), titles, strict=True):
        flow.page.text(x, y, title, TABLE_PT, bold=True, colour=SOFT)
    flow.y_pt += TABLE_PT * LEADING + 4.0
    flow.page.segments([(flow.left, flow.y_pt, flow.right, flow.y_pt)], colour=INK, width=0.8)


def _when(finding: Finding, elapsed: Elapsed | None) -> list[str]:
    if finding.start is None:
        return [NOTHING]
    times = [finding.start]
    if finding.end is not None and finding.end != finding.start:
        times.append(finding.end)
    lines = [_span([clock(time) for time in times])]
    return [_span([elapsed(time) for time in times]), *lines] if elapsed is not None else lines


def _span(times: list[str]) -> str:
    return times[0] if len(times) == 1 else tr("{start} to {end}", start=times[0], end=times[1])


class _Laid(NamedTuple):
    """A finding in lines, ready to be set."""

    finding: Finding
    cells: list[list[str]]  # of its line of figures
    texts: list[tuple[str, float, str]]  # its sentences: line, size [pt], colour
    tall_pt: float


def _laid(flow: Flow, finding: Finding, elapsed: Elapsed | None) -> _Laid:
    left, value_x, limit_x, when_x, verdict_x = _columns(flow)
    gap = 8.0
    words = finding_words(finding, elapsed)
    cells = [
        wrapped(words.rule, value_x - left - gap, TABLE_PT, bold=True),
        wrapped(words.value, limit_x - value_x - gap, TABLE_PT),
        wrapped(words.limit, when_x - limit_x - gap, TABLE_PT),
        [line for text in words.when for line in wrapped(text, verdict_x - when_x - gap, TABLE_PT)],
        wrapped(words.verdict, flow.right - verdict_x, TABLE_PT, bold=True),
    ]
    room = flow.right - left
    texts = [
        (line, size_pt, colour)
        for text, size_pt, colour in (
            (words.message, BODY_PT, INK),
            (words.why, BODY_PT, SOFT),
            (words.advice, BODY_PT, INK),
            (words.source, SMALL_PT, SOFT),
        )
        for line in wrapped(text, room, size_pt)
    ]
    rows_pt = max(len(cell) for cell in cells) * TABLE_PT * LEADING
    tall_pt = _PAD_PT + rows_pt + _UNDER_ROWS_PT + sum(size * LEADING for _, size, _ in texts) + _PAD_PT
    return _Laid(finding, cells, texts, tall_pt)


def _finding(flow: Flow, laid: _Laid) -> None:
    """One finding: a line of figures, then its sentences."""
    finding, cells, texts, tall_pt = laid
    columns, pitch = _columns(flow), TABLE_PT * LEADING
    if tall_pt > flow.room and flow.y_pt > flow.top:
        flow.turn()
        _head(flow)
    page, y = flow.page, flow.y_pt + _PAD_PT
    page.number(flow.left + 7.5, y + 4.2, finding.number)
    for number, (x, cell) in enumerate(zip(columns, cells, strict=True)):
        bold = number in (0, len(cells) - 1)
        colour = _COLOURS[finding.verdict] if number == len(cells) - 1 else INK
        for row, line in enumerate(cell):
            page.text(x, y + row * pitch + ASCENT * TABLE_PT, line, TABLE_PT, bold=bold, colour=colour)
    y += max(len(cell) for cell in cells) * pitch + _UNDER_ROWS_PT
    for line, size, colour in texts:
        page.text(columns[0], y + ASCENT * size, line, size, colour=colour)
        y += size * LEADING
    flow.y_pt = y + _PAD_PT
    page.segments([(flow.left, flow.y_pt, flow.right, flow.y_pt)], colour=RULE, width=0.5)
