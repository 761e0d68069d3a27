"""The whole report, page by page.

Owns      which parts a report has, in which order.
Not here  the parts.
"""

from __future__ import annotations

from debrief.reports.flow import Flow
from debrief.reports.front import front_page
from debrief.reports.page import Page
from debrief.reports.scene import scenes
from debrief.reports.style import Paper
from debrief.reports.words import day
from debrief.result import Result


def build_pages(result: Result, paper: Paper) -> list[Page]:
    """Every page of the report, ready to be written."""
    flow = Flow(paper, (result.procedure.name, f"{result.track.file}, {day(result.track.start)}"))
    shown = scenes(result.flight, result.attempts) if result.flight is not None else ()
    front_page(flow, result, shown)
    return flow.finish()
