"""The files of a report: PDF, picture of page one, result file. Each appears whole or not at all.

Owns      ``write_report``; pages as a PDF and as a picture.
Not here  what stands in the files (``pages``, ``result_json``), writing them whole (``whole_files``).
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Sequence
from datetime import UTC, datetime
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING

import matplotlib as mpl
import numpy as np

from debrief.errors import OutputError, Place, as_path, refuse_other
from debrief.language import speaking, tr
from debrief.reference import with_references
from debrief.reports.annotated import Format, annotated_files, formats_from
from debrief.reports.pages import build_pages
from debrief.reports.result_json import result_json
from debrief.reports.style import CAUTION, PAPERS, PICTURE_DPI, Paper
from debrief.result import Result
from debrief.tracks.readers.registry import is_log
from debrief.tracks.readers.sniff import HEAD_BYTES
from debrief.whole_files import name_of, write_whole

if TYPE_CHECKING:
    from debrief.reports.page import Page

#: Of the files that every report has.
SUFFIXES = (".pdf", ".png", ".json")
_TRUETYPE = 42  # fonts embedded as they are, so that text can be selected and searched


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
        Where the folder cannot be made or a file cannot be written; then none of them is left half done. Where one of
        them would take the place of a log.
    """
    refuse_other(result, Result, OutputError, "the result", "Give what debrief gives.")
    folder = as_path(out, OutputError, "the folder")
    if paper not in PAPERS:
        raise OutputError(f"there is no paper {paper!r}", remedy=f"Give {' or '.join(PAPERS)}.")
    formats = formats_from((also,) if isinstance(also, str) else also)
    stem = name if name is not None else name_of(result.track.file)
    refuse_other(stem, str, OutputError, "the report's name", "Give a text.")
    if Path(stem).name != stem:
        raise OutputError(f"a report cannot be named {stem!r}", remedy="Give a name without a folder.")
    with speaking(result.language):
        contents = _contents(with_references(result), folder / stem, paper, formats)
    _refuse_to_replace_a_log(contents, result.track.sha256)
    write_whole(contents)
    return tuple(contents)


def _refuse_to_replace_a_log(paths: Iterable[Path], sha256: str) -> None:
    """A log may be named as one of a report's files: evening.json beside a report of evening.gpx would be lost."""
    for path in paths:
        if not path.is_file():
            continue
        content = path.read_bytes()
        itself = hashlib.sha256(content).hexdigest() == sha256
        # the further files are logs themselves, and are written anew
        if itself or (path.name.endswith(".json") and is_log(content[:HEAD_BYTES])):
            raise OutputError(
                "this is the log itself" if itself else "this is a log",
                where=Place(path=path),
                remedy="Choose another folder with --out.",
            )


def _contents(result: Result, stem: Path, paper: Paper, also: Sequence[Format]) -> dict[Path, bytes]:
    """The files of a report, by their paths."""
    pages = build_pages(result, paper)
    own = pdf_bytes(pages, result), png_bytes(pages[0]), result_json(result).encode()
    endings = dict(zip(SUFFIXES, own, strict=True)) | annotated_files(result, also)
    return {stem.with_name(stem.name + ending): content for ending, content in endings.items()}


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
