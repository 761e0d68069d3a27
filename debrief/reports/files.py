"""The files of a report: PDF, picture of page one, result file. Each appears whole or not at all.

Owns      ``write_report``: names, folders, what happens when the disk is full.
Not here  what stands in the files (``pages``, ``result_json``).
"""

from __future__ import annotations

import errno
import os
import re
import stat
from collections.abc import Sequence
from datetime import UTC, datetime
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING

import matplotlib as mpl
import numpy as np

from debrief.errors import OutputError, Place
from debrief.language import speaking, tr
from debrief.reference import with_references
from debrief.reports.annotated import Format, annotated_files
from debrief.reports.pages import build_pages
from debrief.reports.result_json import result_json
from debrief.reports.style import CAUTION, PICTURE_DPI, Paper
from debrief.result import Result
from debrief.tracks.readers import PACKED, SUFFIXES

if TYPE_CHECKING:
    from debrief.reports.page import Page

_TRUETYPE = 42  # fonts embedded as they are, so that text can be selected and searched
_REMEDY = "Choose a folder that can be written to with --out, or make room on the disk."


def write_report(
    result: Result,
    out: Path,
    *,
    paper: Paper = "A4",
    name: str | None = None,
    also: Sequence[Format] = (),
) -> tuple[Path, ...]:
    """Write NAME.pdf, NAME.png (page one) and NAME.json to the folder ``out``, which is made where missing.

    NAME is that of the track's file without its ending, unless ``name`` is given. An older report of that name
    is replaced. The same result gives the same bytes. ``also`` names further files, see ``reports.annotated``.

    Returns
    -------
    The paths written: PDF, PNG, JSON, then the further ones in the order asked for.

    Raises
    ------
    OutputError
        Where the folder cannot be made or a file cannot be written; then none of them is left half done.
    """
    stem = name if name is not None else name_of(result.track.file)
    with speaking(result.language):
        contents = _contents(with_references(result), out / stem, paper, also)
    write_whole(contents)
    return tuple(contents)


def _contents(result: Result, stem: Path, paper: Paper, also: Sequence[Format]) -> dict[Path, bytes]:
    """The files of a report, by their paths."""
    pages = build_pages(result, paper)
    endings = {
        ".pdf": pdf_bytes(pages, result),
        ".png": png_bytes(pages[0]),
        ".json": result_json(result).encode(),
        **annotated_files(result, also),
    }
    return {stem.with_name(stem.name + ending): content for ending, content in endings.items()}


def name_of(track_file: str) -> str:
    """A track's file name without folders and ending; of a packed log, without either of its endings.

    >>> name_of("logs/evening.flight.gpx"), name_of("evening.gpx.gz"), name_of(".gpx")
    ('evening.flight', 'evening', 'debrief')
    """
    last = re.split(r"[/\\\\]", track_file)[-1]
    stem, _, ending = last.rpartition(".") if "." in last else (last, "", "")
    if ending.casefold() in PACKED and stem.casefold().endswith(SUFFIXES):
        stem = stem.rpartition(".")[0]
    return stem.strip() or "debrief"


def pdf_bytes(pages: Sequence[Page], result: Result) -> bytes:
    """The pages as one PDF with embedded fonts; dated by the flight, so that it can be made again the same."""
    return bound(
        pages,
        title=tr(
            "Flight debrief: {procedure}, {track}", procedure=result.procedure.name, track=result.track.file
        ),
        creator=result.program,
        date=result.track.end.astimezone(UTC),
    )


def bound(pages: Sequence[Page], *, title: str, creator: str, date: datetime) -> bytes:
    """Pages as one PDF, its text embedded as text."""
    from matplotlib.backends.backend_pdf import PdfPages

    metadata = {"Title": title, "Subject": tr(CAUTION), "Creator": creator, "CreationDate": date}
    buffer = BytesIO()
    with (
        mpl.rc_context(
            {
                "pdf.fonttype": _TRUETYPE,
                # by this one matplotlib decides whether a dash or a bullet needs a font of its own, in a PDF too
                "ps.fonttype": _TRUETYPE,
                "pdf.compression": 6,
                "path.simplify": True,
            }
        ),
        PdfPages(buffer, metadata=metadata) as pdf,
    ):
        for page in pages:
            pdf.savefig(page.figure)
    return buffer.getvalue()


def png_bytes(page: Page) -> bytes:
    """A page as a picture."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from PIL import Image

    page.figure.set_dpi(PICTURE_DPI)
    canvas = FigureCanvasAgg(page.figure)
    with mpl.rc_context({"text.hinting": "none"}):  # hinted letters are wider than the measured ones
        canvas.draw()  # type: ignore[no-untyped-call]  # matplotlib's own stubs leave it out
    pixels = np.asarray(canvas.buffer_rgba())  # type: ignore[no-untyped-call]  # the same
    picture = Image.fromarray(np.ascontiguousarray(pixels[:, :, :3]))
    buffer = BytesIO()
    picture.save(buffer, format="PNG", dpi=(PICTURE_DPI, PICTURE_DPI))
    return buffer.getvalue()


def check_folder(folder: Path) -> None:
    """Raise ``OutputError`` where it is plain, before any work is done, that nothing can be written there.

    Makes nothing. What only shows in writing, such as a full disk, is told by ``write_whole``.
    """
    for entry in (folder, *folder.parents):
        try:
            mode = entry.stat().st_mode
        except FileNotFoundError:
            continue
        except (OSError, ValueError) as error:  # NotADirectoryError is told of the file itself, further up
            if isinstance(error, NotADirectoryError):
                continue
            raise _cannot_write(folder, error) from error
        if not stat.S_ISDIR(mode):
            what = "it is a file, not a folder" if entry == folder else f"{entry} is a file, not a folder"
            raise OutputError(what, where=Place(path=folder), remedy="Choose another folder with --out.")
        if not os.access(entry, os.W_OK | os.X_OK):
            raise _cannot_write(folder, PermissionError(errno.EACCES, os.strerror(errno.EACCES)))
        return


def _cannot_write(path: Path, error: OSError | ValueError) -> OutputError:
    said = getattr(error, "strerror", None) or str(error)
    return OutputError(f"cannot be written: {said}", where=Place(path=path), remedy=_REMEDY)


def write_whole(contents: dict[Path, bytes]) -> None:
    """Write files so that each appears whole or not at all; after a failure nothing new is left behind.

    Raises
    ------
    OutputError
        Naming the file and what the system said.
    """
    waiting: dict[Path, Path] = {}
    made: list[Path] = []
    target = next(iter(contents)).parent
    try:
        made = _make_folder(target)
        for number, (target, content) in enumerate(contents.items()):
            if target.is_dir():
                raise IsADirectoryError(0, "a folder of that name stands there")
            part = target.with_name(f".{os.getpid()}-{number}.part")  # the same folder: a rename never copies
            waiting[part] = target
            part.write_bytes(content)
        for part, target in list(waiting.items()):
            os.replace(part, target)
            del waiting[part]
    except (OSError, ValueError) as error:  # ValueError: a name that the system cannot have
        raise _cannot_write(target, error) from error
    finally:
        for part in waiting:
            part.unlink(missing_ok=True)
        if waiting:
            for folder in made:
                _remove_if_empty(folder)


def _make_folder(folder: Path) -> list[Path]:
    """Make a folder and those above it; the ones made, innermost first."""
    missing = [folder, *folder.parents]
    missing = [entry for entry in missing if not entry.exists()]
    folder.mkdir(parents=True, exist_ok=True)
    return missing


def _remove_if_empty(folder: Path) -> None:
    try:
        folder.rmdir()
    except OSError:  # somebody else's file is in it by now
        return
