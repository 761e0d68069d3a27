"""The whole report, page by page.

Owns      which parts a report has, in which order.
Not here  the parts.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

from debrief.language import tr
from debrief.procedures.model import Phase
from debrief.reports.final import draw_final
from debrief.reports.findings import findings_part
from debrief.reports.flow import Flow, titled
from debrief.reports.front import front_page, plan_with_legend
from debrief.reports.layout import Rect
from debrief.reports.legend import draw_legend, legend_height
from debrief.reports.method import log_part, method_part
from debrief.reports.notes import notes_part
from debrief.reports.overview import OVERVIEW_PT, draw_log
from debrief.reports.page import Page
from debrief.reports.profile import draw_profile, profile_entries
from debrief.reports.readings import pointer_leads_in
from debrief.reports.reference_table import reference_part
from debrief.reports.scene import Scene, scenes
from debrief.reports.shown_part import shown_part
from debrief.reports.strips import about_strips, draw_strips
from debrief.reports.style import BODY_PT, GAP_PT, SOFT, TABLE_PT, Paper
from debrief.reports.summary import approach_sentence, title
from debrief.reports.tables import grade_part, measures_part
from debrief.reports.words import day
from debrief.result import Result

_PROFILE_SHARE = 0.48


def build_pages(result: Result, paper: Paper) -> list[Page]:
    """Every page of the report, ready to be written."""
    flow = Flow(paper, (title(result), f"{result.track.file}, {day(result.track.start)}"))
    shown = scenes(result.flight, result.attempts) if result.flight is not None else ()
    front_page(flow, result, shown)
    for number, attempt in enumerate(result.attempts):
        name = tr("Attempt {number}", number=attempt.number) if len(result.attempts) > 1 else ""
        scene = shown[number] if shown else None
        if scene is not None:
            _pictures(flow, name, scene, several=len(shown) > 1)
        flow.turn()
        since = None if scene is None else since_zero(scene)
        if scene is not None and since is not None:
            shown_part(flow, name, attempt, scene.flight.procedure, since, scene.zero_name)
        findings_part(flow, name, attempt, since)
        grade_part(flow, name, attempt)
        measures_part(flow, name, attempt, pointer=pointer_leads_in(result))
        reference_part(flow, attempt)
    if result.attempts:
        flow.space(6.0)
    else:
        flow.turn()
    notes_part(flow, result.notes)
    log_part(flow, result, (lambda: _whole_log(flow, result)) if shown else None)
    method_part(flow, result)
    return flow.finish()


def _whole_log(flow: Flow, result: Result) -> None:
    flow.subheading(tr("The whole log"), keep_pt=OVERVIEW_PT)
    box = flow.picture(OVERVIEW_PT)  # first: it may turn the page
    draw_log(flow.page, box, result.flight)
    flow.space(GAP_PT)  # its figures along the foot end at its edge


def since_zero(scene: Scene) -> Callable[[datetime], str]:
    """Minutes and seconds from the first station passage to a time of day."""
    return lambda time: scene.elapsed(scene.seconds(time))


def _pictures(flow: Flow, name: str, scene: Scene, *, several: bool) -> None:
    if several:
        flow.turn()
        flow.heading(titled(name, tr("plan view")))
        flow.paragraph(approach_sentence(scene.attempt))
        plan_with_legend(flow, flow.room, scene, [])
    _profile_page(flow, name, scene)
    flow.turn()
    flow.heading(titled(name, tr("strips against time")))
    flow.paragraph(about_strips(scene), size_pt=TABLE_PT, colour=SOFT)
    box = flow.picture(flow.room)
    draw_strips(flow.page, box, scene)


def _profile_page(flow: Flow, name: str, scene: Scene) -> None:
    flow.turn()
    flow.heading(titled(name, tr("profile")))
    entries = profile_entries(scene)
    legend = legend_height(entries, flow.width) + 6.0
    box = flow.picture(flow.room * _PROFILE_SHARE)
    draw_profile(flow.page, box, scene)
    flow.subheading(tr("The final"))
    box = flow.picture(flow.room)
    if scene.found.last(Phase.FINAL) is not None:
        draw_final(flow.page, Rect(box.left, box.top, box.right, box.bottom - legend), scene)
    else:
        flow.page.text(
            box.left, box.top + 2 * BODY_PT, tr("No final was flown, or none was observed."), BODY_PT
        )
    draw_legend(flow.page, Rect(box.left, box.bottom - legend + 6.0, box.right, box.bottom), entries)
