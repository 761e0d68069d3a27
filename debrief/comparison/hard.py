"""What the club as a whole finds hard: which items of the standard are missed, and how often.

Owns      the share of flights that missed an item, with an interval that knows that flights of one pilot are alike.
Not here  judging a flight (``debrief.grading``).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

import numpy as np

from debrief.comparison.model import Flown, Hard, Interval

_NORMAL_95 = 1.959964
_MISSED = ("unsatisfactory", "marginal")
_JUDGED = (*_MISSED, "satisfactory")


def what_is_hard(flights: Sequence[Flown]) -> tuple[Hard, ...]:
    """Every item that anybody missed, the most often missed first.

    An item counts as missed in a flight where any part of it was unsatisfactory or marginal.
    """
    judged: dict[tuple[str, str | None], dict[int, bool]] = defaultdict(dict)
    pilot_of = {flown.flight: flown.pilot for flown in flights}
    for flown in flights:
        for rule, phase, result in flown.items:
            if result in _JUDGED:
                seen = judged[rule, phase]
                seen[flown.flight] = seen.get(flown.flight, False) or result in _MISSED
    rows = [
        _share(rule, phase, seen, pilot_of) for (rule, phase), seen in judged.items() if any(seen.values())
    ]
    return tuple(sorted(rows, key=lambda row: (-row.share, row.rule, row.phase or "")))


def _share(rule: str, phase: str | None, seen: dict[int, bool], pilot_of: dict[int, str]) -> Hard:
    counts: dict[str, list[int]] = defaultdict(lambda: [0, 0])
    for flight, missed in seen.items():
        counts[pilot_of[flight]][0] += 1
        counts[pilot_of[flight]][1] += missed
    flights, missed = np.array(list(counts.values()), dtype=np.float64).T
    return Hard(
        rule=rule,
        phase=phase,
        flights=int(flights.sum()),
        missed=int(missed.sum()),
        share=float(missed.sum() / flights.sum()),
        interval=clustered_share(flights, missed),
        pilots=int((missed > 0).sum()),
    )


def clustered_share(flights: np.ndarray, missed: np.ndarray) -> Interval:
    """95 % interval for a share, from so many flights and misses of each pilot.

    Wilson's interval, with as many flights as would tell as much if each were another pilot's (the design effect, at
    least 1). Source: E. B. Wilson, J. American Statistical Association 22 (1927) 209-212; E. L. Korn, B. I. Graubard,
    Survey Methodology 24 (1998) 193-201. Mark of both: memory.
    """
    n, pilots = float(flights.sum()), len(flights)
    share = float(missed.sum()) / n
    effect = 1.0
    if pilots > 1 and 0.0 < share < 1.0:
        variance = float(((missed - share * flights) ** 2).sum()) * pilots / (pilots - 1) / n**2
        effect = max(variance / (share * (1.0 - share) / n), 1.0)
    n /= effect
    z2 = _NORMAL_95**2
    middle = (share + z2 / (2 * n)) / (1 + z2 / n)
    half = _NORMAL_95 * (share * (1 - share) / n + z2 / (4 * n**2)) ** 0.5 / (1 + z2 / n)
    return max(middle - half, 0.0), min(middle + half, 1.0)
