"""``python -m tests.benchmarks.intervals`` prints how often the stated intervals hold the truth, measure by measure.

The larger run behind ``tests/measures/test_coverage.py``: 400 flights and more, some minutes.
"""

from __future__ import annotations

import argparse
import sys

from tests.measures.coverage import errors, pooled, share_held, table


def main(arguments: list[str]) -> int:
    """Print the table; 1 where the intervals hold too seldom or too often on the whole."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.intervals", description="95 % or not?")
    parser.add_argument("--clean", type=int, default=120, metavar="N", help="flights without a fault")
    parser.add_argument("--faulty", type=int, default=100, metavar="N", help="flights with one")
    parser.add_argument(
        "--special", type=int, default=40, metavar="N", help="flights with an arc, a hold, circling"
    )
    parser.add_argument("--recordings", type=int, default=2, metavar="N", help="of each")
    parser.add_argument("--seed", type=int, default=11, metavar="N")
    asked = parser.parse_args(arguments)
    found = list(errors(asked.clean, asked.faulty, asked.recordings, asked.seed, special=asked.special))
    for line in table(found):
        sys.stdout.write(f"{line}\n")
    share = pooled(share_held(found))
    sys.stdout.write(f"{'all, each alike':<26} {100 * share:>5.1f}%\n")
    return int(not 0.93 <= share <= 0.97)


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
