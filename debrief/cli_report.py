"""What ``debrief report`` does with one track: read, debrief, write, and say so in a line.

Owns      ``Request`` (what was asked, read once) and ``report_one``.
Not here  the command's options (``cli``), the report itself (``reports``).
"""

from __future__ import annotations

import datetime
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal

from debrief.choice import debrief_best
from debrief.cli_terminal import stop_if_asked
from debrief.errors import OutputError, Place, SidecarError
from debrief.grading import Standard, load_standard
from debrief.language import ENGLISH, known, speaking, tr, trn
from debrief.pipeline import AltitudeCorrection, debrief
from debrief.procedures import Procedure, load_procedure, procedures_offered
from debrief.reference import with_references
from debrief.reports import write_report
from debrief.reports.annotated import Format, formats_from
from debrief.reports.summary import first_cause
from debrief.reports.text import text_report
from debrief.reports.words import grade_name
from debrief.result import Attempt, Result
from debrief.sidecar import notes_for
from debrief.tracks.readers import read_track
from debrief.whole_files import check_folder, name_of


@dataclass(frozen=True, slots=True, kw_only=True)
class Request:
    """What was asked for, the same for each track."""

    given: Procedure | None
    choices: tuple[Procedure, ...]
    standard: Standard
    out: Path
    paper: Literal["A4", "Letter"]
    altitude: AltitudeCorrection
    altitude_unit: Literal["ft", "m"] | None
    columns: Mapping[str, str]
    format: str | None
    date: datetime.date | None
    also: tuple[Format, ...] = ()
    note: str = ""
    sidecar: Path | None = None
    language: str = ENGLISH
    text: bool = False

    @classmethod
    def read(
        cls,
        *,
        procedure: str | None,
        procedures: Path | None,
        standard: str,
        out: Path,
        paper: Literal["A4", "Letter"],
        altitude: AltitudeCorrection,
        altitude_unit: Literal["ft", "m"] | None,
        columns: Mapping[str, str],
        format: str | None,
        date: datetime.date | None,
        tracks: Sequence[Path],
        also: Sequence[str] = (),
        note: str = "",
        sidecar: Path | None = None,
        language: str = ENGLISH,
        text: bool = False,
    ) -> Request:
        """Read the procedures and the standard, so that a mistake in them is told before any track is read."""
        _refuse_one_name_for_several(tracks)
        _refuse_one_sidecar_for_several(tracks, sidecar)
        formats = formats_from(also)
        check_folder(out)
        given = load_procedure(procedure) if procedure is not None else None
        choices = procedures_offered(procedures) if given is None else ()
        return cls(
            given=given,
            choices=choices,
            standard=load_standard(standard),
            out=out,
            paper=paper,
            altitude=altitude,
            altitude_unit=altitude_unit,
            columns=columns,
            format=format,
            date=date,
            also=formats,
            note=note,
            sidecar=sidecar,
            language=known(language),
            text=text,
        )


def _refuse_one_name_for_several(tracks: Sequence[Path]) -> None:
    """Names that differ by capital letters alone are one name to some systems."""
    names = [name_of(track.name) for track in tracks]
    counts = Counter(name.casefold() for name in names)
    same = [(track, name) for track, name in zip(tracks, names, strict=True) if counts[name.casefold()] > 1]
    if same:
        track, name = same[0]
        alike = [other for _, other in same if other.casefold() == name.casefold()]
        raise OutputError(
            f"{len(alike)} tracks are named {name!r}, so their reports would overwrite one another",
            where=Place(path=track),
            remedy="Rename one of them, or write them to different folders.",
        )


def _refuse_one_sidecar_for_several(tracks: Sequence[Path], sidecar: Path | None) -> None:
    if sidecar is not None and len(tracks) > 1:
        raise SidecarError(
            f"one sidecar is given for {len(tracks)} tracks",
            where=Place(path=sidecar),
            remedy="Give one track with --sidecar, or name each sidecar after its track and leave --sidecar out.",
        )


def report_one(path: Path, request: Request) -> tuple[str, ...]:
    """Debrief one track and write its report; gives the lines for the terminal.

    Raises
    ------
    DebriefError
        One clear line; nothing of this track's report is left behind.
    """
    with speaking(request.language):
        return _reported(path, request)


def _reported(path: Path, request: Request) -> tuple[str, ...]:
    name = name_of(path.name)
    notes = notes_for(path, name, sidecar=request.sidecar, note=request.note)
    track = read_track(
        path,
        columns=request.columns or None,
        date=request.date,
        altitude_unit=request.altitude_unit,
        format=request.format,
    )
    if request.given is not None:
        result = debrief(track, request.given, request.standard, altitude=request.altitude)
    else:
        result = debrief_best(track, request.choices, request.standard, altitude=request.altitude)
    stop_if_asked()  # nothing is written yet
    result = with_references(replace(result, notes=notes))
    files = write_report(result, request.out, paper=request.paper, name=name, also=request.also)
    told = text_report(result).splitlines() if request.text else summary(result)
    return (*told, tr("  wrote {files}", files=", ".join(str(file) for file in files)))


def summary(result: Result) -> Iterator[str]:
    """A line a flight: what was flown, the result, the first thing to work on; then what makes every height doubtful."""
    head = f"{result.track.file}: {result.procedure.name}"
    if result.procedure.chosen == "best fit":
        percent = 100 * (result.procedure.fit or 0.0)
        head = tr("{head} (best fit, {fit:.0f} %)", head=head, fit=percent)
    if not result.attempts:
        yield f"{result.track.file}: {' '.join(result.warnings) or tr('No approach was found in this log.')}"
    for attempt in result.attempts:
        which = head
        if len(result.attempts) > 1:
            which = tr(
                "{head} attempt {number} of {count}",
                head=head,
                number=attempt.number,
                count=len(result.attempts),
            )
        yield f"{which}: {grade_name(attempt.grade.result)}. {_first_to_work_on(attempt)}"
    if result.flight is not None:
        log = result.flight.log
        yield from (f"  {words}" for words in (*log.track.altitude_unit_notes, *log.altitude_unit_warnings))


def _first_to_work_on(attempt: Attempt) -> str:
    """The first cause, and how much followed from it."""
    cause = first_cause(attempt)
    if cause is None:
        return (
            attempt.grade.reason
            if attempt.grade.result == "not assessable"
            else tr("Nothing to work on was found.")
        )
    said = (
        tr("To look at first, marginal: {message}", message=cause.message)
        if cause.verdict == "marginal"
        else tr("Work on first: {message}", message=cause.message)
    )
    followed = len(attempt.causes[0].leads_to)
    if followed == 0:
        return said
    rest = trn("One other finding followed from it.", "{count} other findings followed from it.", followed)
    return f"{said} {rest}"
