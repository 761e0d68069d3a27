"""One thread for linear algebra, in every process of the program.

Owns      the settings, and giving them to this process.
Not here  running in several processes (``checkride.workers``, ``web.server``).

Sums in another order differ in their last bits, so that results would depend on the machine. And the matrices here are
small: two threads that wait for each other on a busy machine took fifty times as long as one.
"""

from __future__ import annotations

import os

ONE_THREAD = dict.fromkeys(("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"), "1")


def compute_in_one_thread() -> None:
    """Set them, where the user has set nothing else; heeded by what is imported afterwards, as numpy is."""
    for name, value in ONE_THREAD.items():
        os.environ.setdefault(name, value)
