"""``python -m tests.benchmarks.logbooks FILE`` makes a logbook of 10,000 invented flights, 2,000 of them of one procedure.

Each is the same debrief with numbers drawn anew: what counts here is how many there are.
"""

from __future__ import annotations

import dataclasses
import sys

import numpy as np

from debrief.logbook import open_logbook
from debrief.logbook.adding import add_record
from debrief.logbook.opening import writing
from tests.logbook.hard_times import records

FLIGHTS, OF_ONE, PILOTS = 10_000, 2_000, 40


def make(address: str) -> None:
    """Fill a new logbook."""
    draw = np.random.default_rng(7)
    book = open_logbook(address)
    with writing(book) as connection:
        for number, record in enumerate(records(FLIGHTS, pilots=PILOTS)):
            other = number // OF_ONE
            content = {**record.procedure.content, "name": f"{record.procedure.name}, {other}"}
            procedure = dataclasses.replace(
                record.procedure,
                sha256=f"{other}" * 64,
                name=content["name"],
                file=f"procedure-{other}.toml",
                content=content,
            )
            attempts = tuple(
                {
                    **attempt,
                    "wind_speed_kt": float(draw.uniform(2, 25)),
                    "measures": {
                        name: value + float(draw.normal(0.0, 0.1 * abs(value) + 0.01))
                        for name, value in attempt["measures"].items()
                    },
                }
                for attempt in record.attempts
            )
            add_record(connection, dataclasses.replace(record, procedure=procedure, attempts=attempts))


if __name__ == "__main__":
    make(sys.argv[1])
