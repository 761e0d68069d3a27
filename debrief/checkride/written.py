"""The files of a graded folder, written together: table, results, summary, and what belongs to them.

Owns      which files there are, that all of them appear, or none, and whether table and summary agree with the results.
Not here  what stands in them (``results``, ``summary``, ``overrules``, ``signatures``).
"""

from __future__ import annotations

import hashlib
from pathlib import Path
from typing import TYPE_CHECKING, Any

from debrief.checkride import overrules, signatures
from debrief.checkride.overrules import Decision
from debrief.checkride.results import CSV_NAME, JSON_NAME, PDF_NAME, Results, results_csv, results_json
from debrief.whole_files import read_ordinary, write_whole

if TYPE_CHECKING:
    from debrief.reports.style import Paper


def write_results(
    results: Results,
    out: Path,
    *,
    paper: Paper = "A4",
    decisions: tuple[Decision, ...] | None = None,
    signed: list[dict[str, Any]] | None = None,
) -> tuple[Path, ...]:
    """Write ``results.csv``, ``results.json`` and ``summary.pdf``; with decisions or signatures, those too.

    Raises ``OutputError`` where one cannot be written; then the older ones stand as they were.
    """
    from debrief.checkride.summary import summary_pdf  # matplotlib: only where something is written

    contents = {
        out / CSV_NAME: results_csv(results.flights).encode("utf-8"),
        out / JSON_NAME: results_json(results).encode("utf-8"),
        out / PDF_NAME: summary_pdf(results, paper),
    }
    if decisions is not None:
        contents[out / overrules.NAME] = overrules.decisions_json(decisions).encode("utf-8")
    if signed is not None:
        contents[out / signatures.NAME] = signatures.signatures_json(signed).encode("utf-8")
    write_whole(contents)
    return tuple(contents)


def summary_to_sign(results: Results, folder: Path) -> tuple[bytes, bool]:
    """The summary of the results, and whether it is what ``summary.pdf`` in that folder holds; of its paper, if so."""
    from debrief.checkride.summary import summary_pdf
    from debrief.reports.style import PAPERS

    there = _read(folder / PDF_NAME)
    made = [summary_pdf(results, "A4")]
    if there is not None and there not in made:
        made += [summary_pdf(results, paper) for paper in PAPERS if paper != "A4"]
    return (there, True) if there in made and there is not None else (made[0], False)


def summary_sum(folder: Path) -> str | None:
    """The sum of ``summary.pdf`` in that folder; ``None`` where none can be read there."""
    there = _read(folder / PDF_NAME)
    return None if there is None else hashlib.sha256(there).hexdigest()


def _read(path: Path) -> bytes | None:
    try:
        return read_ordinary(path)
    except OSError:
        return None


def table_agrees(results: Results, folder: Path) -> bool:
    """Whether ``results.csv`` in that folder says what the results say; true, too, where none lies there."""
    told = _read(folder / CSV_NAME)
    return told is None or told == results_csv(results.flights).encode("utf-8")
