"""The one altitude step that a log is flagged for, whichever way its steps were found.

Owns      ``stepped``: which of the steps counts, how much, and the words for it.
Not here  finding the steps (``motion``, ``sparse``).
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from debrief.checkride.model import Flag
from debrief.checkride.signs.scale import greatest, strength_of
from debrief.checkride.signs.trace import Bools, Trace
from debrief.tracks.model import Floats

ABSURD_FT = 1000.0  # more than anybody would edit: a receiver's error
_ABSURD, _SET_BY_HAND = 0.4, 0.45


def stepped(trace: Trace, step_ft: Floats, times: Floats, absurd: Bools, first: int) -> Iterator[Flag]:
    """The greatest step beyond its limit; an absurd one only where there is no other.

    ``times`` is each step's excess in its limits, ``-inf`` where it tells nothing; entry 0 is the step that ends at
    sample ``first``.
    """
    at = greatest(np.where(absurd, -np.inf, times), 1.0)
    if at is None:
        at = greatest(times, 1.0)
    if at is None:
        return
    set_by_hand = trace.track.altitude_source == "indicated"
    most = _ABSURD if absurd[at] else _SET_BY_HAND if set_by_hand else 1.0
    yield Flag(
        sign="altitude_disagrees",
        strength=min(strength_of(float(times[at])), most),
        evidence=(
            f"at {trace.when(at + first)} the altitude steps by {abs(step_ft[at]):.0f} ft from one sample to the "
            "next, and stays there" + (", as where an altimeter is set anew" if set_by_hand else "")
        ),
    )
