"""A folder of invented submissions for the timings: thirty minutes at 1 Hz each, flown by the simulation.

Run as ``python -m tests.benchmarks.submissions FOLDER COUNT``. All fly one procedure, each with a wind, speeds, an arrival
and an ending of its own; every fifth makes a mistake.
"""

from __future__ import annotations

import random
import sys
from dataclasses import replace
from pathlib import Path

from debrief.procedures import load_procedure
from debrief.simulation import fly
from debrief.simulation.plan import Faults
from debrief.simulation.sensor import Sensor, record
from debrief.simulation.writers import write_gpx
from tests.ensembles import plan_for

PROCEDURE = "lantern-vor-22"
MINUTES = 30.0
_FAULTS = (
    Faults(wrong_side=True),
    Faults(below_minimum_ft=180.0),
    Faults(overshoot_nm=0.9),
    Faults(turn_late_nm=1.2),
)


def write_submission(folder: Path, number: int) -> Path:
    """One log; the same number gives the same bytes."""
    path = folder / f"pilot-{number:05d}.gpx"
    if path.exists():
        return path
    draw = random.Random(f"submission {number}")
    procedure = load_procedure(PROCEDURE)
    plan = replace(plan_for(procedure, draw), start_distance_nm=draw.uniform(34.0, 44.0))
    if number % 5 == 0:
        faults = _FAULTS[number // 5 % len(_FAULTS)]
        plan = replace(plan, attempts=(replace(plan.attempts[0], faults=faults),))
    flight = fly(procedure, plan)
    last_s = float(flight.t_s[-1])
    track = record(flight.cropped(max(0.0, last_s - 60.0 * MINUTES), last_s), Sensor(), seed=number)
    write_gpx(
        track, path, name="Invented flight", description="Invented: made by the simulation for timings."
    )
    return path


def main(arguments: list[str]) -> int:
    """Write the folder, on two processes."""
    from joblib import Parallel, delayed

    folder, count = Path(arguments[0]), int(arguments[1])
    folder.mkdir(parents=True, exist_ok=True)
    Parallel(n_jobs=2)(delayed(write_submission)(folder, number) for number in range(count))
    return 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
