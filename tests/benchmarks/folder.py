"""A thousand submissions graded: ``python -m tests.benchmarks.folder [COUNT] [--logs DIR]``.

Prints the wall time of ``debrief grade`` without reports on every processor, against that of one process which does
gpxpy.parse alone over the same files; the greatest memory of a process; and what finding the copies takes. Asked: at
least 4 times as fast on two processors, 400 MB a worker, copies in 10 s.
"""

from __future__ import annotations

import argparse
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path

from tests.benchmarks.submissions import PROCEDURE

SAMPLED = 200  # files that gpxpy parses: the others take as long


def _parsed_s(paths: Sequence[Path]) -> float:
    import gpxpy

    begun = time.perf_counter()
    for path in paths:
        with path.open(encoding="utf-8") as file:
            gpxpy.parse(file)
    return time.perf_counter() - begun


def _copies_s(out: Path) -> tuple[float, int]:
    from debrief.checkride import journal
    from debrief.checkride.copies import matches_among

    with journal.opened(out) as kept:
        shapes = [entry.shape for entry in kept.entries.values() if entry.shape is not None]
    begun = time.perf_counter()
    found = sum(1 for _ in matches_among(shapes))
    return time.perf_counter() - begun, found


def main(arguments: list[str]) -> int:
    """Print the figures."""
    parser = argparse.ArgumentParser(
        prog="python -m tests.benchmarks.folder", description="What a folder costs."
    )
    parser.add_argument("count", type=int, nargs="?", default=1000)
    parser.add_argument("--logs", metavar="DIR", type=Path, help="keep the invented logs here")
    asked = parser.parse_args(arguments)
    with tempfile.TemporaryDirectory() as scratch:
        folder = asked.logs or Path(scratch) / "logs"
        make = [sys.executable, "-m", "tests.benchmarks.submissions", str(folder), str(asked.count)]
        subprocess.run(make, check=True)
        out = Path(scratch) / "out"
        grade = [
            sys.executable,
            "-m",
            "debrief",
            "grade",
            str(folder),
            "--procedure",
            PROCEDURE,
            "--out",
            str(out),
        ]
        begun = time.perf_counter()
        subprocess.run(grade, check=False, stdout=subprocess.DEVNULL)
        graded_s = time.perf_counter() - begun
        peak_mb = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
        paths = sorted(folder.glob("*.gpx"))
        some = paths[:SAMPLED]
        parsed_s = _parsed_s(some) * len(paths) / len(some)
        copies_s, found = _copies_s(out)
    sys.stdout.write(
        f"{len(paths)} flights graded in {graded_s:.1f} s; gpxpy.parse alone, one process: {parsed_s:.1f} s: "
        f"{parsed_s / graded_s:.2f} times as fast (asked 4)\n"
        f"greatest memory of a process {peak_mb:.0f} MB (asked 400)\n"
        f"copies found in {copies_s:.1f} s (asked 10): {found} pairs among flights of their own\n"
    )
    return 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
