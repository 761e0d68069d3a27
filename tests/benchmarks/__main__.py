"""``python -m tests.benchmarks`` prints what the work costs against what was asked, row by row.

Owns      the rows and their limits.
Not here  the logs (``flights``), the accounts (``processes``), what is timed (``analysis``, ``yardstick``).

Seconds are processor seconds, medians of runs taken in turns. ``--quick`` leaves out the rows that take minutes;
``--logs DIR`` keeps the invented logs there for the next time.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from tests.benchmarks.processes import Cost, medians, run

PROCEDURE = "lantern-vor-22"
TIMES = 5
BIG_FILE_MB = 200


@dataclass(frozen=True, slots=True)
class Row:
    """One line of the table; ``limit`` is None where nothing was asked."""

    what: str
    value: float
    unit: str
    limit: float | None = None
    detail: str = ""

    def __str__(self) -> str:
        asked = "" if self.limit is None else f"<= {self.limit:g}"
        said = "" if self.limit is None else ("holds" if self.value <= self.limit else "MISSED")
        return f"{self.what:<58} {self.value:>8.2f} {self.unit:<3} {asked:>8} {said:<7} {self.detail}"


@dataclass(frozen=True, slots=True)
class Bench:
    """Where the logs lie, and where reports may be written."""

    logs: Path
    out: Path

    def log(self, hours: float, hertz: float = 1.0, approaches: int = 1) -> Path:
        """A log of that kind, made where it is not there yet."""
        path = self.logs / f"{hours:g}h-{hertz:g}hz-{approaches}.gpx"
        if not path.exists():
            self.logs.mkdir(parents=True, exist_ok=True)
            run("-m", "tests.benchmarks.flights", str(path), str(hours), str(hertz), str(approaches))
        return path

    def report(self, log: Path, *, given: bool = True) -> list[str]:
        """The command line of a whole report."""
        choice = ["--procedure", PROCEDURE] if given else []
        return ["-m", "debrief", "report", str(log), *choice, "--out", str(self.out)]

    def yardstick(self, log: Path) -> list[str]:
        """The command line of the process that a report is held against."""
        return ["-m", "tests.benchmarks.yardstick", str(log), str(self.out / "plain.pdf")]

    def analysis(self, log: Path) -> dict[str, float]:
        """Seconds of the parts of the analysis of that log, see ``analysis``."""
        lines = run("-m", "tests.benchmarks.analysis", str(log), PROCEDURE).printed.splitlines()
        return {what: float(taken) for what, _, taken in (line.partition("\t") for line in lines)}


def report_rows(bench: Bench) -> Iterator[Row]:
    """A whole report of four hours, against the yardstick."""
    log = bench.log(4)
    plain, given, chosen = medians(
        [bench.yardstick(log), bench.report(log), bench.report(log, given=False)], TIMES
    )
    yield _against("report of 4 h at 1 Hz, against gpxpy and plain pages", given, plain, 2.5)
    yield _against("the same without --procedure", chosen, plain, 2.5)
    many = bench.log(4, approaches=5)
    plain, given = medians([bench.yardstick(many), bench.report(many)], 3)
    yield _against("report of 4 h with five approaches, against the same", given, plain, None)


def _against(what: str, cost: Cost, plain: Cost, limit: float | None) -> Row:
    detail = f"{cost.processor_s:.2f} s / {plain.processor_s:.2f} s, {cost.peak_mb:.0f} MB"
    return Row(what, cost.processor_s / plain.processor_s, "x", limit, detail)


def analysis_rows(bench: Bench) -> Iterator[Row]:
    """The analysis alone: against gpxpy's parsing, and of a short flight in milliseconds."""
    taken = bench.analysis(bench.log(4))
    for what, limit in (("analysis", 0.25), ("first analysis", 0.25), ("read", None), ("choosing", None)):
        detail = f"{taken[what] * 1000:.0f} ms / {taken['gpxpy'] * 1000:.0f} ms"
        yield Row(
            f"{what} of 4 h at 1 Hz, against gpxpy.parse", taken[what] / taken["gpxpy"], "x", limit, detail
        )
    short = bench.analysis(bench.log(0.5))
    yield Row("30 minutes at 1 Hz read and analysed", 1000 * (short["read"] + short["analysis"]), "ms")
    yield Row("30 minutes at 1 Hz analysed", 1000 * short["analysis"], "ms")


def help_row(bench: Bench) -> Iterator[Row]:
    """How soon the help text is there."""
    (cost,) = medians([["-m", "debrief", "--help"]], TIMES)
    yield Row("debrief --help", cost.processor_s, "s", 0.3)


def growth_rows(bench: Bench) -> Iterator[Row]:
    """Ten times the samples, in whole reports and in the analysis alone."""
    usual = bench.log(4)
    one = medians([bench.report(usual)], 3)[0]
    alone = bench.analysis(usual)
    for what, log in (("40 h at 1 Hz", bench.log(40)), ("4 h at 10 Hz", bench.log(4, 10))):
        ten = run(*bench.report(log))
        detail = f"{ten.processor_s:.1f} s, {ten.peak_mb:.0f} MB"
        yield Row(
            f"report of {what}, against 4 h at 1 Hz", ten.processor_s / one.processor_s, "x", 11, detail
        )
        taken = bench.analysis(log)
        for part in ("read", "analysis"):
            detail = f"{taken[part]:.2f} s"
            yield Row(f"{part} of {what}, against 4 h at 1 Hz", taken[part] / alone[part], "x", 11, detail)


def memory_rows(bench: Bench) -> Iterator[Row]:
    """Peak memory of a day's log, and of the biggest file."""
    cost = run(*bench.report(bench.log(24)))
    yield Row("peak memory, report of 24 h at 1 Hz", cost.peak_mb, "MB", 500, f"{cost.processor_s:.1f} s")
    big = _padded(bench.log(24, 10), bench.logs / f"{BIG_FILE_MB}mb.gpx")
    cost = run(*bench.report(big))
    yield Row(
        f"peak memory, report of {BIG_FILE_MB} MB of GPX",
        cost.peak_mb,
        "MB",
        None,
        f"{cost.processor_s:.1f} s",
    )


def page_rows(_bench: Bench) -> Iterator[Row]:
    """The page: the first visit, the replay's frames, many uploads at once (wall-clock: somebody waits), long lists."""
    from tests.benchmarks.page import cursor, lists, many, waiting

    for part in (waiting, cursor, many, lists):
        with tempfile.TemporaryDirectory() as folder:
            yield from (Row(*measured) for measured in part(Path(folder)))


def _padded(log: Path, path: Path) -> Path:
    """A file of the size wanted: the log, with spaces after each point. Line by line, so that this process stays small."""
    if not path.exists():
        with log.open(encoding="utf-8") as lines:
            points = sum("</trkpt>" in line for line in lines)
        spaces = " " * max(0, (BIG_FILE_MB * 10**6 - log.stat().st_size) // points)
        with log.open(encoding="utf-8") as lines, path.open("w", encoding="utf-8") as padded:
            padded.writelines(line.replace("</trkpt>", "</trkpt>" + spaces) for line in lines)
    return path


def logbook_rows(bench: Bench) -> Iterator[Row]:
    """A flight added, against its report; a list of 10,000 flights, and 2,000 of them compared."""
    log, books = bench.log(1), bench.logs / "books"
    books.mkdir(parents=True, exist_ok=True)
    report_s, add_s = [], []
    for number in range(3):  # each into a new logbook: the same flight is stored once
        book = bench.out / f"new-{number}.sqlite"
        add = ["-m", "debrief", "logbook", "add", str(log), "--pilot", "Wren", "--procedure", PROCEDURE]
        run("-m", "debrief", "logbook", "list", "--logbook", str(book))
        add_s.append(run(*add, "--logbook", str(book)).processor_s)
        report_s.append(run(*bench.report(log)).processor_s)
    detail = f"{min(add_s):.2f} s / {min(report_s):.2f} s"
    yield Row("a flight added to a logbook, against its report", min(add_s) / min(report_s), "x", 1.2, detail)
    big = books / "10000.sqlite"
    if not big.exists():
        run("-m", "tests.benchmarks.logbooks", str(big))
    (cost,) = medians([["-m", "debrief", "logbook", "list", "--logbook", str(big)]], TIMES)
    yield Row("list of 10,000 flights", cost.processor_s, "s", 0.5, f"{cost.peak_mb:.0f} MB")
    words = ["compare", "--procedure", "procedure-1", "--logbook", str(big), "--out", str(bench.out)]
    cost = run("-m", "debrief", *words)
    yield Row("comparison of 2,000 flights of 40 pilots", cost.processor_s, "s", 10)
    yield Row("peak memory of that", cost.peak_mb, "MB", 600)


def main(arguments: list[str]) -> int:
    """Print the table; 1 where a limit is missed."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks", description="What the work costs.")
    parser.add_argument("--quick", action="store_true", help="leave out the rows that take minutes")
    parser.add_argument("--logs", metavar="DIR", type=Path, help="keep the invented logs here")
    asked = parser.parse_args(arguments)
    missed = False
    with tempfile.TemporaryDirectory() as folder:
        bench = Bench(logs=asked.logs or Path(folder) / "logs", out=Path(folder))
        parts = [help_row, analysis_rows, report_rows]
        for part in parts if asked.quick else [*parts, logbook_rows, page_rows, growth_rows, memory_rows]:
            for row in part(bench):
                sys.stdout.write(f"{row}\n")
                sys.stdout.flush()
                missed |= row.limit is not None and row.value > row.limit
    return int(missed)


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
