"""The files of a graded folder, written together: table, results, summary, and what belongs to them.

Owns      which files there are, that all of them appear, or none, and whether the table still agrees with the results.
Not here  what stands in them (``results``, ``summary``, ``overrules``, ``signatures``).
"""

from __future__ import annotations

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


def table_agrees(results: Results, folder: Path) -> bool:
    """Whether ``results.csv`` in that folder says what the results say; true, too, where none lies there."""
    try:
        told = read_ordinary(folder / CSV_NAME)
    except OSError:
        return True
    return told == results_csv(results.flights).encode("utf-8")
