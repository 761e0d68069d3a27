"""Straight lines by least squares through each run of so many samples, and the means and medians of such runs.

Owns      ``Lines``: the times of all runs of one length, made once, and the lines of any column over them; ``means``,
          ``medians``.
Not here  any sign.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from debrief.tracks.model import Floats


@dataclass(frozen=True, eq=False)
class Lines:
    """All runs of ``count`` samples at ``t_s`` (increasing); arrays have one entry a run."""

    t_s: Floats
    count: int

    @cached_property
    def mean_s(self) -> Floats:
        """The mean time."""
        return means(self.t_s, self.count)

    @cached_property
    def weights(self) -> Floats:
        """Times off the mean over the sum of their squares, shape (runs, count): by them values give their slope."""
        off_s = self._times - self.mean_s[:, None]
        return np.asarray(off_s / np.einsum("ij,ij->i", off_s, off_s)[:, None])

    @property
    def _times(self) -> Floats:
        return np.lib.stride_tricks.sliding_window_view(self.t_s, self.count)

    def through(self, values: Floats) -> tuple[Floats, Floats]:
        """Mean and slope of each run of ``values``."""
        windows = np.lib.stride_tricks.sliding_window_view(values, self.count)
        return means(values, self.count), np.einsum("ij,ij->i", self.weights, windows)

    def off(self, values: Floats) -> Floats:
        """Root mean square of what each run is off its line, about."""
        mean, slope = self.through(values)
        off = np.lib.stride_tricks.sliding_window_view(values, self.count) - mean[:, None]
        squares = np.einsum("ij,ij->i", off, off)
        # weights are times over the sum of their squares
        of_line = slope**2 / np.einsum("ij,ij->i", self.weights, self.weights)
        return np.asarray(np.sqrt(np.maximum(squares - of_line, 0.0) / self.count))


def means(values: Floats, count: int) -> Floats:
    """The mean of each run of ``count`` of ``values``."""
    return np.convolve(values, np.full(count, 1.0 / count), mode="valid")


def means_about(values: Floats, beside: int) -> Floats:
    """The mean of so many samples before and after each and itself, fewer at the ends."""
    if not beside:
        return values
    total = np.concatenate([[0.0], np.cumsum(values)])
    here = np.arange(len(values))
    first, last = np.maximum(here - beside, 0), np.minimum(here + beside + 1, len(values))
    return np.asarray((total[last] - total[first]) / (last - first))


def medians(values: Floats, count: int) -> Floats:
    """The median of each run of ``count`` of ``values``, all finite. Sorting such short runs is sooner done than parting."""
    ordered = np.sort(np.lib.stride_tricks.sliding_window_view(values, count), axis=1)
    return np.asarray((ordered[:, (count - 1) // 2] + ordered[:, count // 2]) / 2.0)
