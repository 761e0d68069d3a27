"""The report in words alone: for a terminal, a message, a screen reader.

Owns      ``text_report``: the order of the parts, lines of 78 letters, units as they are spoken.
Not here  the words (grading, ``summary``, ``findings``, ``tables``, ``method``).

Nothing is drawn, and no column has to be followed by eye: each row of a table becomes a line that names its columns.
"""

from __future__ import annotations

import re
import textwrap
from collections.abc import Sequence
from dataclasses import replace
from functools import partial

from debrief.grading.sources import source_words
from debrief.language import mark, sentence, tr, within
from debrief.reports import summary
from debrief.reports.findings import finding_words
from debrief.reports.flow import Column, Group, Row, titled
from debrief.reports.layout import SOFT_HYPHEN
from debrief.reports.method import log_part
from debrief.reports.notes import texts_of, who_and_what
from debrief.reports.readings import figures, pointer_leads_in, sentences, title
from debrief.reports.reference_table import reference_part
from debrief.reports.style import CAUTION
from debrief.reports.tables import grade_part, measures_part
from debrief.reports.words import NOTHING, clock, grade_name
from debrief.result import Attempt, Result

COLUMNS = 78
_NARROW = 3  # columns of a table whose rows speak for themselves
#: Each unit after a number, or as a word of its own: as it is written, of one, of several.
_UNITS = (
    ("ft/min", mark("foot a minute"), mark("feet a minute")),
    ("°/s", mark("degree a second"), mark("degrees a second")),
    ("°", mark("degree"), mark("degrees")),
    ("NM", mark("nautical mile"), mark("nautical miles")),
    ("ft", mark("foot"), mark("feet")),
    ("kt", mark("knot"), mark("knots")),
    ("hPa", mark("hectopascal"), mark("hectopascals")),
    ("%", mark("per cent"), mark("per cent")),
)
_TIMES = (
    ("s", mark("second"), mark("seconds")),
    ("min", mark("minute"), mark("minutes")),
    ("h", mark("hour"), mark("hours")),
)
_SIGNS = (("±", mark("plus or minus")), ("−", mark("minus")), ("+", mark("plus")))


def text_report(result: Result) -> str:
    """The whole report in lines of 78 letters at most: what is most to the point comes first."""
    lines = _Lines()
    lines.paragraph(tr(CAUTION))
    _flown(lines, result)
    for attempt in result.attempts:
        _result(lines, result, attempt)
    if result.attempts:
        _to_work_on(lines, result)
        _to_practise(lines, result)
    for attempt in result.attempts:
        _findings(lines, result, attempt)
        _went_well(lines, result, attempt)
    for attempt in result.attempts:
        name = _name(result, attempt)
        _seen(lines, result, attempt, name)
        measures_part(lines, name, attempt, pointer=pointer_leads_in(result))
        reference_part(lines, attempt)
        grade_part(lines, name, replace(attempt, went_well=()))  # told before
    log_part(lines, result)
    lines.paragraph(tr("How each number was found stands at the end of the PDF."))
    return "\n".join(lines.lines).strip() + "\n"


class _Lines:
    """Takes headings, paragraphs and tables as lines (a ``flow.Words``)."""

    def __init__(self) -> None:
        self.lines: list[str] = []

    def heading(self, text: str, *, keep_pt: float = 0.0) -> None:
        """A line of its own between empty ones."""
        del keep_pt
        self.lines += ["", *_wrapped(text.upper()), ""]

    def subheading(self, text: str, *, keep_pt: float = 0.0) -> None:
        """The same."""
        del keep_pt
        self.lines += ["", *_wrapped(text), ""]

    def paragraph(
        self, text: str, *, size_pt: float = 0.0, bold: bool = False, colour: str = "", bullet: str = ""
    ) -> None:
        """A paragraph; of a list without any sign."""
        del size_pt, bold, colour, bullet
        self.lines += _wrapped(spelled(text))

    def verbatim(self, text: str) -> None:
        """What people wrote, and names of theirs: as they stand."""
        for line in text.split("\n"):
            self.lines += _wrapped(line)

    def table(self, columns: Sequence[Column], rows: Sequence[Row | Group]) -> None:
        """A line a row: its name, then each cell with the name of its column."""
        plain = {tr("Value"), tr("Beside it"), tr("Found")} if len(columns) <= _NARROW else set()
        for row in rows:
            if isinstance(row, Group):
                self.paragraph(f"{row.title}:")
                continue
            name, *cells = row.cells
            said = [
                cell if column.title in plain else f"{column.title}: {cell}"
                for column, cell in zip(columns[1:], cells, strict=True)
                if cell not in ("", NOTHING)
            ]
            self.paragraph(f"{sentence(name)}. {'; '.join(said)}.")

    def titled_table(
        self, title: str, columns: Sequence[Column], rows: Sequence[Row | Group], *, lesser: bool = False
    ) -> None:
        """A heading and its table."""
        (self.subheading if lesser else self.heading)(title)
        self.table(columns, rows)


def spelled(text: str) -> str:
    """The text with its units and signs as they are spoken.

    >>> spelled("At 1,100 ft the rate was −420 ± 60 ft/min; 1 NM, 7.5° and 29 s")
    'At 1,100 feet the rate was minus 420 plus or minus 60 feet a minute; 1 nautical mile, 7.5 degrees and 29 seconds'
    """
    text = text.replace(SOFT_HYPHEN, "").replace("min:s", tr("minutes and seconds"))
    for written, one, many in _UNITS:
        pattern = rf"(?:(?P<count>\d[\d.,]*)\s*)?(?<![A-Za-z-]){re.escape(written)}(?![A-Za-z])"
        text = re.sub(pattern, partial(_spoken, one, many), text)
    for written, one, many in _TIMES:
        text = re.sub(rf"(?P<count>\d[\d.,]*)\s{written}\b", partial(_spoken, one, many), text)
    for sign, word in _SIGNS:
        text = re.sub(rf"{re.escape(sign)}\s*(?=\d)", f"{tr(word)} ", text)
    text = text.replace("±", tr("plus or minus"))
    return re.sub(r"\s\+(?!\w)", f" {tr('positive')}", text)


def _spoken(one: str, many: str, found: re.Match[str]) -> str:
    count = found["count"]
    return f"{count} {tr(one if count == '1' else many)}" if count else tr(many)


def _wrapped(text: str) -> list[str]:
    return textwrap.wrap(text.replace(SOFT_HYPHEN, ""), COLUMNS, break_on_hyphens=False)


def _name(result: Result, attempt: Attempt) -> str:
    return tr("Attempt {number}", number=attempt.number) if len(result.attempts) > 1 else ""


def _flown(lines: _Lines, result: Result) -> None:
    lines.heading(tr("What was flown"))
    lines.verbatim(summary.title(result))
    lines.verbatim(result.track.file)
    lines.paragraph(sentence(summary.log_sentence(result)) + ".")
    lines.paragraph(summary.fit_sentence(result))
    lines.verbatim(tr("Held against: {name}", name=source_words(result.standard.name)))
    if result.notes is not None:
        lines.verbatim(who_and_what(result.notes))
        for name, text in texts_of(result.notes):
            lines.verbatim(f"{name}: {text}")
    lines.paragraph(summary.flown_sentence(result))
    if not result.attempts:
        lines.paragraph(summary.no_approach_advice(result))
    else:
        lines.paragraph(summary.altitude_sentence(result))
    if len(result.attempts) > 1:
        for attempt in result.attempts:
            lines.paragraph(f"{_name(result, attempt)}: {summary.approach_sentence(attempt)}")


def _result(lines: _Lines, result: Result, attempt: Attempt) -> None:
    lines.heading(titled(_name(result, attempt), tr("result")))
    lines.paragraph(sentence(grade_name(attempt.grade.result)) + ".")
    lines.paragraph(attempt.grade.reason)


def _to_work_on(lines: _Lines, result: Result) -> None:
    chosen = summary.to_work_on(result)
    lines.heading(summary.work_heading(len(chosen)))
    if not chosen:
        lines.paragraph(summary.nothing_to_work_on(result))
    for attempt, finding in chosen:
        for said in summary.work_sentences(result, attempt, finding):
            lines.paragraph(said)


def _to_practise(lines: _Lines, result: Result) -> None:
    chosen = summary.to_practise(result)
    if not chosen:
        return
    lines.heading(tr("To practise"))
    for practice in chosen:
        lines.paragraph(f"{practice.what}. {practice.exercise}")
        lines.paragraph(tr("Aim: {aim}", aim=within(practice.aim)))


def _findings(lines: _Lines, result: Result, attempt: Attempt) -> None:
    lines.heading(titled(_name(result, attempt), tr("findings")))
    if not attempt.findings:
        lines.paragraph(tr("None: every rule that could be judged was met."))
    for finding in attempt.findings:
        words = finding_words(finding, None)
        lines.paragraph(
            tr(
                "Finding {number}. {rule}. {verdict}.",
                number=words.number,
                rule=words.rule,
                verdict=words.verdict,
            )
        )
        lines.paragraph(words.message)
        if finding.value is not None and finding.limit is not None:
            lines.paragraph(tr("Measured: {value}; limit: {limit}.", value=words.value, limit=words.limit))
        if finding.start is not None:
            lines.paragraph(tr("When: {times} UTC.", times="; ".join(words.when)))
        for said in (words.why, words.advice, words.source):
            lines.paragraph(said)
        lines.lines.append("")


def _went_well(lines: _Lines, result: Result, attempt: Attempt) -> None:
    if not attempt.went_well:
        return
    lines.heading(titled(_name(result, attempt), tr("what went well")))
    for said in attempt.went_well:
        lines.paragraph(said)


def _seen(lines: _Lines, result: Result, attempt: Attempt, name: str) -> None:
    """What could be read from the instruments, where the procedure is at hand."""
    if result.flight is None or not attempt.shown:
        return
    procedure = result.flight.procedure
    lines.heading(titled(name, tr("what the pilot saw")))
    for shown in attempt.shown:
        if shown.time is None:
            lines.paragraph(f"{title(shown, attempt, procedure)}. {tr('Not shown: {why}.', why=shown.why)}")
            continue
        where = figures(shown, has_dme=procedure.station.has_dme)
        lines.paragraph(
            f"{title(shown, attempt, procedure)}, {clock(shown.time)} UTC, {where}. {sentences(shown, attempt, procedure)}"
        )
