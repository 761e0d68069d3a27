"""The analysis alone, timed inside one process: prints ``name seconds`` a line.

Run as ``python -m tests.benchmarks.analysis FILE PROCEDURE``, a process of its own for each file.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from statistics import median

TIMES = 5


def main(arguments: list[str]) -> int:
    """Time reading, the first and the later analyses, and gpxpy's parsing of the same file."""
    import gpxpy

    from debrief import bundled_procedures, debrief, debrief_best, load_procedure, read_track

    path, name = arguments
    procedure = load_procedure(name)

    def parse() -> object:
        with open(path, encoding="utf-8") as file:
            return gpxpy.parse(file)

    seconds = {"first read": _once(lambda: read_track(path))}
    track = read_track(path)
    seconds["first analysis"] = _once(lambda: debrief(track, procedure))
    later: dict[str, Callable[[], object]] = {
        "gpxpy": parse,
        "read": lambda: read_track(path),
        "analysis": lambda: debrief(track, procedure),
        "choosing": lambda: debrief_best(track, bundled_procedures()),
    }
    runs: dict[str, list[float]] = {what: [] for what in later}
    for _ in range(TIMES):
        for what, call in later.items():
            runs[what].append(_once(call))
    seconds |= {what: median(taken) for what, taken in runs.items()}
    for what, taken in seconds.items():
        sys.stdout.write(f"{what}\t{taken:.6f}\n")
    return 0


def _once(call: Callable[[], object]) -> float:
    begun = time.process_time()
    call()
    return time.process_time() - begun


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
