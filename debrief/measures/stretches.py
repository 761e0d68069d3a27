"""Stretches of time in which something holds, with their ends placed between the moments of a grid.

Owns      ``stretches`` and ``Stretch``.
Not here  what is looked for: limits (altitude, tracking), rates (turns, descent).
Imports   numpy only.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Stretch:
    """From ``start_s`` to ``end_s``; ``first`` and ``last`` are the indices of the moments inside."""

    start_s: float
    end_s: float
    first: int
    last: int

    @property
    def part(self) -> slice:
        """The moments inside."""
        return slice(self.first, self.last + 1)

    @property
    def seconds(self) -> float:
        """How long it lasts. [s]"""
        return self.end_s - self.start_s


def stretches(
    t_s: Floats, excess: Floats, segment: NDArray[np.int64], *, pause_s: float = 0.0
) -> list[Stretch]:
    """Every stretch in which ``excess`` is positive, in order of time.

    Parameters
    ----------
    t_s : increasing moments. [s]
    excess : positive where the condition holds, any unit; ``nan`` (not known) counts as not.
    segment : one number a moment; a stretch never reaches across a change of it.
    pause_s : stretches less than this apart are one. [s]

    Returns
    -------
    Ends lie where the straight line between two moments passes zero; beside a ``nan``, at a change of segment
    and at the edges of the arrays they lie on the moment itself.

    >>> t_s, level = np.arange(5.0), np.zeros(5, dtype=np.int64)
    >>> [(s.start_s, s.end_s) for s in stretches(t_s, np.array([-1.0, 1.0, 1.0, -3.0, -3.0]), level)]
    [(0.5, 2.25)]
    """
    holds = np.greater(excess, 0.0)
    if not holds.any():
        return []
    new_segment = np.diff(segment) != 0
    begins = holds.copy()
    begins[1:] &= ~holds[:-1] | new_segment
    ends = holds.copy()
    ends[:-1] &= ~holds[1:] | new_segment

    found: list[Stretch] = []
    for first, last in zip(np.flatnonzero(begins).tolist(), np.flatnonzero(ends).tolist(), strict=True):
        start_s = _zero_s(t_s, excess, segment, first, first - 1)
        end_s = _zero_s(t_s, excess, segment, last, last + 1)
        before = found[-1] if found else None
        if before is not None and segment[before.last] == segment[first] and start_s - before.end_s < pause_s:
            found[-1] = Stretch(before.start_s, end_s, before.first, last)
        else:
            found.append(Stretch(start_s, end_s, first, last))
    return found


def _zero_s(t_s: Floats, excess: Floats, segment: NDArray[np.int64], inside: int, outside: int) -> float:
    """Where the line from the moment inside to the one outside passes zero."""
    if not 0 <= outside < len(t_s) or segment[outside] != segment[inside] or not np.isfinite(excess[outside]):
        return float(t_s[inside])
    share = excess[inside] / (excess[inside] - excess[outside])
    return float(t_s[inside] + share * (t_s[outside] - t_s[inside]))
