"""The parts of a track: where reception was lost, or where a program only cut a track into pieces.

Owns      telling a piece that goes on from the one before from a part behind a gap.
Not here  how long a gap is (``tracks.gaps``), several tracks in a file (``several``).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from debrief.tracks.model import Floats


def without_repeated_ends(
    time_us: NDArray[np.int64], latitude_deg: Floats, longitude_deg: Floats, part: Floats
) -> tuple[NDArray[np.bool_], Floats]:
    """Which samples to keep, and the part of each: one that begins with the last sample of the one before goes on.

    Programs that cut a track repeat the sample at which they cut, with its very time and position, so that the pieces
    meet on a map; no recorder that lost reception does.
    """
    repeated = np.nonzero(
        (part[1:] != part[:-1])
        & (time_us[1:] == time_us[:-1])
        & (latitude_deg[1:] == latitude_deg[:-1])
        & (longitude_deg[1:] == longitude_deg[:-1])
    )[0]
    kept = np.ones(len(part), dtype=np.bool_)
    kept[repeated + 1] = False
    new_part = np.zeros(len(part), dtype=np.bool_)
    new_part[1:] = part[1:] != part[:-1]
    new_part[repeated + 1] = False
    return kept, np.cumsum(new_part).astype(np.float64)
