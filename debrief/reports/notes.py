"""People's own words about the flight: who flew what, the plan, the pilot's note, the instructor's remarks.

Owns      where these words stand: on page one while they are short, else in full on a later page.
Not here  reading them and making them safe (``debrief.sidecar``).
"""

from __future__ import annotations

from collections.abc import Iterator

from debrief.language import tr, within
from debrief.reports.flow import Flow
from debrief.reports.layout import wrapped
from debrief.reports.style import SOFT, TABLE_PT
from debrief.result import Notes

_LINES_ON_PAGE_ONE = 4


def who_and_what(notes: Notes) -> str:
    """The pilot and the aircraft, as far as they are told."""
    said = ((tr("Pilot"), notes.pilot), (tr("Aircraft"), notes.aircraft))
    return "  ·  ".join(f"{name}: {text}" for name, text in said if text)


def texts_of(notes: Notes) -> Iterator[tuple[str, str]]:
    """What each text is, and the text, which may have several lines."""
    said = (
        (tr("Planned"), notes.planned),
        (tr("Pilot's note"), notes.note),
        (tr("Instructor's remarks"), notes.instructor_remarks),
    )
    return ((name, text) for name, text in said if text)


def notes_on_front(flow: Flow, notes: Notes | None) -> None:
    """Set what was said on page one, or where it stands if it is long."""
    if notes is None:
        return
    who = who_and_what(notes)
    if who:
        flow.paragraph(who, size_pt=TABLE_PT)
    if _is_short(flow, notes):
        _set(flow, notes)
        return
    names = ", ".join(within(name) for name, _ in texts_of(notes))
    flow.paragraph(
        tr('In their own words ({names}): in full under "Notes", further on.', names=names),
        size_pt=TABLE_PT,
        colour=SOFT,
    )


def notes_part(flow: Flow, notes: Notes | None) -> None:
    """Set in full what had no room on page one."""
    if notes is None or _is_short(flow, notes):
        return
    flow.heading(tr("Notes"))
    _set(flow, notes)


def _is_short(flow: Flow, notes: Notes) -> bool:
    lines = [line for name, text in texts_of(notes) for line in _paragraphs(name, text)]
    return sum(len(wrapped(line, flow.width, TABLE_PT)) for line in lines) <= _LINES_ON_PAGE_ONE


def _paragraphs(name: str, text: str) -> list[str]:
    return f"{name}: {text}".split("\n")


def _set(flow: Flow, notes: Notes) -> None:
    for name, text in texts_of(notes):
        for line in _paragraphs(name, text):
            flow.paragraph(line, size_pt=TABLE_PT)
