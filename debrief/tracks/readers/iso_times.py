"""Times as the standards for tracks ask for them: ISO 8601, the year first, in UTC.

Owns      turning a file's times into numbers piece by piece, so that the texts need not be kept.
Not here  the forms of a time (``stamps``), times as people write them (``csv_times``).
"""

from __future__ import annotations

import numpy as np

from debrief.tracks.readers.stamps import MINUTE_US, MISSING, YEAR_FIRST, Ints, midnight_us, read_stamps

_AT_ONCE = 20_000


class IsoTimes:
    """The times of a file's points, in their order."""

    def __init__(self) -> None:
        self.without_zone = 0  # were taken as UTC
        self.odd = ""  # the first that could not be read
        self._texts: list[str] = []  # not yet understood
        self._pieces: list[Ints] = []

    def add(self, text: str) -> None:
        """Take the time of the next point; "" where it has none."""
        self._texts.append(text)
        if len(self._texts) >= _AT_ONCE:
            self._understand()

    def add_all(self, texts: list[str]) -> None:
        """Take the times of the next points."""
        self._texts += texts
        self._understand()

    def all_us(self) -> Ints:
        """Microseconds since 1970 for each point; ``MISSING`` where it has no time that can be read."""
        self._understand()
        return np.concatenate(self._pieces)

    def _understand(self) -> None:
        stamps = read_stamps(self._texts)
        midnight = midnight_us(stamps, "dmy")
        whole = (midnight != MISSING) & (stamps.day_us != MISSING) & (stamps.form == YEAR_FIRST)
        offset_min = np.where(stamps.offset_min == MISSING, 0, stamps.offset_min)
        self._pieces.append(np.where(whole, midnight + stamps.day_us - offset_min * MINUTE_US, MISSING))
        self.without_zone += int((whole & (stamps.offset_min == MISSING)).sum())
        if not self.odd and not whole.all():
            self.odd = next((text for text, w in zip(self._texts, whole, strict=True) if text and not w), "")
        self._texts.clear()
