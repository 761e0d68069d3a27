"""What a process costs: processor seconds and peak memory of a child, from the system's own accounts.

Seconds are those of the processor (user and system), not of the clock: the machine may have other work.
A child's peak memory counts what its parent held when it started it, so this module and the one that runs the
rows import the standard library only.
"""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from statistics import median

ROOT = Path(__file__).resolve().parents[2]
KILOBYTES = 1 if sys.platform != "darwin" else 1024  # the unit of ru_maxrss, in kilobytes


@dataclass(frozen=True, slots=True)
class Cost:
    """What one process took, its own children not counted."""

    processor_s: float
    peak_mb: float
    printed: str


def run(*arguments: str) -> Cost:
    """Run Python with these arguments from the project's folder.

    Raises
    ------
    RuntimeError
        Where it ends with another status than 0.
    """
    with subprocess.Popen([sys.executable, *arguments], cwd=ROOT, stdout=subprocess.PIPE, text=True) as child:
        printed = child.stdout.read() if child.stdout is not None else ""
        _, status, usage = os.wait4(child.pid, 0)
        child.returncode = os.waitstatus_to_exitcode(status)
    if child.returncode:
        raise RuntimeError(f"{' '.join(arguments)} ended with status {child.returncode}")
    return Cost(usage.ru_utime + usage.ru_stime, usage.ru_maxrss / KILOBYTES / 1000.0, printed)


def medians(commands: Sequence[Sequence[str]], times: int) -> list[Cost]:
    """The cost of each command: the run with the median seconds of so many, taken in turns."""
    runs: list[list[Cost]] = [[] for _ in commands]
    for _ in range(times):
        for command, costs in zip(commands, runs, strict=True):
            costs.append(run(*command))
    return [_middle(costs) for costs in runs]


def _middle(costs: list[Cost]) -> Cost:
    seconds = median(cost.processor_s for cost in costs)
    return min(costs, key=lambda cost: abs(cost.processor_s - seconds))
