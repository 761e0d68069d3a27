"""One thread for linear algebra: the command line sets it before anything computes, and leaves a user's own choice."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

ASK = """
import sys
from debrief.cli import main
try:
    main(["procedures", "show", "lantern-vor-22"])
except SystemExit:
    import os
    sys.stderr.write(os.environ["OPENBLAS_NUM_THREADS"])
"""


def test_nothing_computes_before_it_is_set() -> None:
    loaded = "import sys, debrief.cli; print('numpy' in sys.modules)"

    assert subprocess.run([sys.executable, "-c", loaded], capture_output=True, text=True).stdout == "False\n"


@pytest.mark.parametrize(("chosen", "heeded"), [(None, "1"), ("3", "3")])
def test_the_command_line_computes_in_one_thread_unless_told_otherwise(
    chosen: str | None, heeded: str
) -> None:
    environment = {name: value for name, value in os.environ.items() if name != "OPENBLAS_NUM_THREADS"}
    environment |= {} if chosen is None else {"OPENBLAS_NUM_THREADS": chosen}
    done = subprocess.run([sys.executable, "-c", ASK], capture_output=True, text=True, env=environment)

    assert done.stderr == heeded
