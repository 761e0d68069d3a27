"""The example reports of the project: made from the sample tracks, and held against what lies in ``reports/``.

Owns      which sample flights are shown, and ``python -m debrief.reports.examples [--check]``.
Not here  the sample tracks themselves (simulation), the reports (``pages``).

Run from the project's folder. Without ``--check`` the three reports are written anew. With it nothing is
written: the command says which of them no longer match, and its exit status is 1 then.
"""

from __future__ import annotations

import json
import re
import sys
from collections.abc import Iterator, Sequence
from io import BytesIO
from pathlib import Path

from debrief.errors import DebriefError
from debrief.pipeline import debrief
from debrief.procedures import load_procedure
from debrief.reference import with_references
from debrief.reports.files import SUFFIXES, pdf_bytes, write_report
from debrief.reports.pages import build_pages
from debrief.reports.result_json import Json, result_json
from debrief.result import Result
from debrief.tracks.readers import read_track

#: Sample track and bundled procedure.
EXAMPLES = (
    ("ember-altitude-bust.gpx", "ember-vor-17"),
    ("frosthelm-late-turn.gpx", "frosthelm-vor-04"),
    ("sallow-two-attempts.gpx", "sallow-vor-13"),
)
_TRACKS, _REPORTS = "sample_tracks", "reports"

#: Another processor may round the last bits of a computation the other way.
_SAME = 1e-6
_NUMBER = re.compile(r"\d+(?:\.\d+)?")


def make(root: Path) -> tuple[Path, ...]:
    """Write the example reports below ``root``; the paths written."""
    return tuple(path for result in _results(root) for path in write_report(result, root / _REPORTS))


def stale(root: Path) -> list[str]:
    """What in ``root / "reports"`` does not match the sample tracks any more, in words; empty where all does."""
    found = []
    for result in map(with_references, _results(root)):
        stem = root / _REPORTS / Path(result.track.file).stem
        paths = {suffix: stem.with_name(stem.name + suffix) for suffix in SUFFIXES}
        missing = [f"{path.name}: missing" for path in paths.values() if not path.is_file()]
        found += missing or [*_stale_json(paths[".json"], result), *_stale_pdf(paths[".pdf"], result)]
    return found


def _results(root: Path) -> Iterator[Result]:
    for track, procedure in EXAMPLES:
        yield debrief(read_track(root / _TRACKS / track), load_procedure(procedure))


def _stale_json(path: Path, result: Result) -> Iterator[str]:
    text, fresh = path.read_text(encoding="utf-8"), result_json(result)
    if text == fresh:
        return
    place = difference(json.loads(text), json.loads(fresh))
    if place is not None:
        yield f"{path.name}: differs at {place or 'its top'}"


def difference(old: Json, new: Json, place: str = "") -> str | None:
    """Where two JSON values first differ, as a path like ``attempts[0].wind``; ``None`` where they do not.

    Numbers are the same when they differ by less than a millionth of their size.
    """
    if isinstance(old, dict) and isinstance(new, dict):
        if list(old) != list(new):
            return place
        inside = (difference(old[key], new[key], f"{place}.{key}".lstrip(".")) for key in old)
        return next((found for found in inside if found is not None), None)
    if isinstance(old, list) and isinstance(new, list):
        if len(old) != len(new):
            return place
        inside = (difference(a, b, f"{place}[{at}]") for at, (a, b) in enumerate(zip(old, new, strict=True)))
        return next((found for found in inside if found is not None), None)
    if isinstance(old, float) and isinstance(new, float):
        return None if abs(old - new) <= _SAME * max(1.0, abs(old)) else place
    return None if type(old) is type(new) and old == new else place


def _stale_pdf(path: Path, result: Result) -> Iterator[str]:
    old = pages_text(path.read_bytes())
    new = pages_text(pdf_bytes(build_pages(result, "A4"), result))
    if len(old) != len(new):
        yield f"{path.name}: {len(old)} pages, {len(new)} now"
        return
    for number, (before, after) in enumerate(zip(old, new, strict=True), start=1):
        if not same_text(before, after):
            yield f"{path.name}: page {number} reads otherwise"


def pages_text(content: bytes) -> list[str]:
    """The text of each page of a PDF."""
    from pypdf import PdfReader  # of the developers' tools

    return [page.extract_text() for page in PdfReader(BytesIO(content)).pages]


def same_text(old: str, new: str) -> bool:
    """Whether two texts are the same but for the last digit of their numbers.

    >>> same_text("lead 0.41 NM", "lead 0.42 NM"), same_text("lead 0.41 NM", "lead 0.51 NM")
    (True, False)
    """
    if _NUMBER.split(old) != _NUMBER.split(new):
        return False
    return all(
        abs(float(a) - float(b)) <= 1.01 * 10.0 ** -len(a.partition(".")[2])
        for a, b in zip(_NUMBER.findall(old), _NUMBER.findall(new), strict=True)
    )


def main(arguments: Sequence[str]) -> int:
    """Make the examples, or check them; the exit status."""
    unknown = [argument for argument in arguments if argument != "--check"]
    if unknown:
        sys.stderr.write(f"{unknown[0]}: unknown. Usage: python -m debrief.reports.examples [--check]\n")
        return 2
    try:
        said = stale(Path()) if arguments else [str(path) for path in make(Path())]
    except DebriefError as error:
        sys.stderr.write(f"{error}\n")
        return 2
    sys.stdout.writelines(f"{line}\n" for line in said)
    return 1 if arguments and said else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
