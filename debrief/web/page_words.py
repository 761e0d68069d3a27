"""The words of a report as a screen shows them: the same as on paper, as plain data for the templates.

Owns      ``page_words``: one dictionary a result, from the report's own parts.
Not here  any sentence (``reports``), the pictures (``pictures``), how it looks (templates and style sheet).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from debrief.language import tr
from debrief.reports import summary
from debrief.reports.findings import ABOUT, finding_words
from debrief.reports.flow import Column, Group, Row
from debrief.reports.method import log_part, method_part
from debrief.reports.pages import since_zero
from debrief.reports.readings import pointer_leads_in
from debrief.reports.reference_table import reference_part
from debrief.reports.scene import Scene
from debrief.reports.strips import about_strips
from debrief.reports.tables import grade_part, measures_part
from debrief.reports.words import clock, day, number
from debrief.result import Attempt, Result

_SOFT_HYPHEN = "\u00ad"


class Blocks:
    """Takes the text and the tables of a report, in order (a ``reports.flow.Words``)."""

    def __init__(self) -> None:
        self.blocks: list[dict[str, Any]] = []

    def heading(self, text: str, *, keep_pt: float = 0.0) -> None:
        """Take a heading."""
        del keep_pt
        self.blocks.append({"kind": "heading", "text": text})

    def subheading(self, text: str, *, keep_pt: float = 0.0) -> None:
        """Take a lesser heading."""
        del keep_pt
        self.blocks.append({"kind": "subheading", "text": text})

    def paragraph(
        self, text: str, *, size_pt: float = 0.0, bold: bool = False, colour: str = "", bullet: str = ""
    ) -> None:
        """Take a paragraph; those with a bullet that follow one another become a list."""
        del size_pt, colour
        last = self.blocks[-1] if self.blocks else {}
        if bullet and last.get("kind") == "list":
            last["items"].append(text)
        elif bullet:
            self.blocks.append({"kind": "list", "items": [text]})
        else:
            self.blocks.append({"kind": "paragraph", "text": text, "bold": bold})

    def table(self, columns: Sequence[Column], rows: Sequence[Row | Group]) -> None:
        """Take a table."""
        self.blocks.append(
            {
                "kind": "table",
                "columns": [
                    {"title": column.title.replace(_SOFT_HYPHEN, ""), "right": column.align == "right"}
                    for column in columns
                ],
                "rows": [
                    {"group": row.title} if isinstance(row, Group) else {"cells": row.cells, "bold": row.bold}
                    for row in rows
                ],
            }
        )

    def titled_table(
        self, title: str, columns: Sequence[Column], rows: Sequence[Row | Group], *, lesser: bool = False
    ) -> None:
        """Take a heading and its table."""
        self.blocks.append({"kind": "subheading" if lesser else "heading", "text": title})
        self.table(columns, rows)


def page_words(result: Result, scenes: Sequence[Scene]) -> dict[str, Any]:
    """Everything that is said of a result, in the order of the report."""
    log, method = Blocks(), Blocks()
    log_part(log, result)
    method_part(method, result)
    chosen = summary.to_work_on(result)
    return {
        "title": summary.title(result),
        "file": result.track.file,
        "day": day(result.track.start),
        "log_sentence": summary.log_sentence(result),
        "fit_sentence": summary.fit_sentence(result),
        "flown_sentence": summary.flown_sentence(result),
        "standard": result.standard.name,
        "work_heading": summary.work_heading(len(chosen)) if result.attempts else "",
        "nothing_to_work_on": "" if chosen or not result.attempts else summary.nothing_to_work_on(result),
        "work": [
            {
                "attempt": attempt.number,
                "number": finding.number,
                "sentences": summary.work_sentences(result, attempt, finding),
            }
            for attempt, finding in chosen
        ],
        "went_well": summary.went_well(result),
        "practise": [asdict(practice) for practice in summary.to_practise(result)],
        "about_findings": tr(ABOUT),
        "attempts": [
            _attempt_words(result, attempt, scenes[index] if scenes else None)
            for index, attempt in enumerate(result.attempts)
        ],
        "log": log.blocks,
        "method": method.blocks,
        "candidates": [
            {"name": entry.name, "file": entry.file, "fit": number(100 * entry.fit)}
            for entry in result.procedure.candidates
        ],
        "program": result.program,
    }


def _attempt_words(result: Result, attempt: Attempt, scene: Scene | None) -> dict[str, Any]:
    grade, measures = Blocks(), Blocks()
    grade_part(grade, "", attempt)
    measures_part(measures, "", attempt, pointer=pointer_leads_in(result))
    reference_part(measures, attempt)
    since = None if scene is None else since_zero(scene)
    return {
        "number": attempt.number,
        "sentence": summary.approach_sentence(attempt),
        "result": attempt.grade.result,
        "reason": attempt.grade.reason,
        "findings": [
            asdict(finding_words(finding, since)) | {"kind": finding.verdict} for finding in attempt.findings
        ],
        "grade": grade.blocks,
        "measures": measures.blocks,
        "about_strips": "" if scene is None else about_strips(scene),
    }


def summary_of(result: Result) -> dict[str, Any]:
    """What a list of flights shows of a result."""
    chosen = summary.to_work_on(result)
    return {
        "procedure": result.procedure.name,
        "procedure_file": result.procedure.file,
        "chosen": result.procedure.chosen,
        "fit": result.procedure.fit,
        "standard": result.standard.name,
        "day": day(result.track.start),
        "start": result.track.start.isoformat(),
        "from": clock(result.track.start),
        "results": [attempt.grade.result for attempt in result.attempts],
        "first": summary.work_sentences(result, *chosen[0])[0] if chosen else "",
        "samples": result.track.samples,
    }
