"""``python -m debrief.simulation FOLDER`` writes the sample tracks there."""

import sys

from debrief.simulation.samples import write_samples
from debrief.simulation.submissions import write_submissions


def main(arguments: list[str]) -> int:
    """Write the samples into the one folder named; 2 where none or several are."""
    if len(arguments) != 1 or arguments[0].startswith("-"):
        sys.stderr.write("usage: python -m debrief.simulation FOLDER\n")
        return 2
    for path in [*write_samples(arguments[0]), *write_submissions(arguments[0])]:
        sys.stdout.write(f"{path}\n")
    return 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
