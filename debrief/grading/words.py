"""Quantities as they stand in a sentence: rounded as a pilot says them, with their unit.

Owns      numbers, times, places and names of phases in plain words.
Not here  the sentences themselves (``sentences``).

Feet to 10 (small ones to 1), miles to a tenth (hundredths below one), degrees to a tenth, as in the tables. A limit was
not measured and is told as it is, where that needs no more than two decimals more. A number that is not finite becomes
"an unknown ...": no sentence ever says "nan".
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime

import numpy as np

from debrief.language import figure, mark, tr
from debrief.procedures.model import StepDown

_IN_PHASE = mark(
    {
        "inbound": "On the inbound leg",
        "station_passage": "Over the station",
        "outbound": "On the outbound leg",
        "course_reversal": "In the course reversal",
        "intermediate": "On the intermediate leg",
        "final": "On final",
        "missed_approach": "In the missed approach",
        "landing": "On the landing",
    }
)
_PHASE_NAME = mark(
    {
        "inbound": "the inbound leg",
        "station_passage": "the station passage",
        "outbound": "the outbound leg",
        "course_reversal": "the course reversal",
        "intermediate": "the intermediate leg",
        "final": "the final",
        "missed_approach": "the missed approach",
        "landing": "the landing",
    }
)
_PHASE_LABEL = mark(
    {
        "inbound": "inbound leg",
        "station_passage": "station passage",
        "outbound": "outbound leg",
        "course_reversal": "course reversal",
        "intermediate": "intermediate leg",
        "final": "final",
        "missed_approach": "missed approach",
        "landing": "landing",
    }
)
_SIDES = mark({"left": "left", "right": "right"})
_PATTERNS = mark(
    {
        "base turn": "base turn",
        "racetrack": "racetrack",
        "teardrop": "teardrop",
        "straight turn": "straight turn",
    }
)
_SMALL_FT = 20.0
_TEN = 10.0
_SHORT_OF_A_MILE = 0.995  # from here on a tenth of a mile is fine enough


def in_phase(phase: str) -> str:
    """How a sentence about a phase begins."""
    return tr(_IN_PHASE[str(phase)])


def phase_name(phase: str) -> str:
    """A phase within a sentence."""
    return tr(_PHASE_NAME[str(phase)])


def phase_label(phase: str) -> str:
    """A phase in a list."""
    return tr(_PHASE_LABEL[str(phase)])


def pattern_name(pattern: str) -> str:
    """The shape of a reversal, as it is published or as it was recognised."""
    return tr(_PATTERNS.get(pattern, pattern))


def finely(limit: float, decimals: int) -> int | None:
    """With how many decimals a limit is told exactly: those that a measured value has, or two more at most.

    >>> finely(2.25, 1), finely(2.5, 1), finely(5 / 3, 1)
    (2, 1, None)
    """
    near = abs(limit) * 1e-9
    return next((d for d in range(decimals, decimals + 3) if abs(round(limit, d) - limit) <= near), None)


def feet(altitude_ft: float, *, exact: bool = False) -> str:
    """An altitude or a height, to 10 ft; below 20 ft to 1 ft. ``exact`` is for what is published or allowed.

    >>> feet(2644.0), feet(12.3), feet(1125.0, exact=True)
    ('2,640 ft', '12 ft', '1,125 ft')
    """
    if not np.isfinite(altitude_ft):
        return tr("an unknown height")
    decimals = finely(altitude_ft, 0) if exact else None
    if decimals is not None:
        return f"{figure(altitude_ft, f',.{decimals}f')} ft"
    return f"{figure(_rounded(altitude_ft, 10.0 if abs(altitude_ft) >= _SMALL_FT else 1.0), ',.0f')} ft"


def feet_a_minute(rate_ft_min: float, *, exact: bool = False) -> str:
    """A rate of climb or descent, to 10 ft/min; a limit as it is."""
    if not np.isfinite(rate_ft_min):
        return tr("an unknown rate")
    decimals = finely(rate_ft_min, 0) if exact else None
    if decimals is not None:
        return f"{figure(rate_ft_min, f',.{decimals}f')} ft/min"
    return f"{figure(_rounded(rate_ft_min, 10.0), ',.0f')} ft/min"


def feet_sure(half_width_ft: float) -> str:
    """How sure an altitude is: to 10 ft, rounded up as beside its value; below 10 ft to 1 ft.

    >>> feet_sure(42.3), feet_sure(7.2)
    ('50 ft', '7 ft')
    """
    return feet(rounded_up(half_width_ft, _TEN))


def feet_a_minute_sure(half_width_ft_min: float) -> str:
    """How sure a rate of climb or descent is, in the same way."""
    return feet_a_minute(rounded_up(half_width_ft_min, _TEN))


def nautical_miles(distance_nm: float, *, exact: bool = False) -> str:
    """A distance: a tenth of a mile, below one mile a hundredth; a limit as it is.

    >>> nautical_miles(4.26), nautical_miles(0.354), nautical_miles(1.25, exact=True)
    ('4.3 NM', '0.35 NM', '1.25 NM')
    """
    if not np.isfinite(distance_nm):
        return tr("an unknown distance")
    digits = 2 if abs(distance_nm) < _SHORT_OF_A_MILE else 1
    if exact:
        digits = finely(distance_nm, digits) or digits
    return f"{figure(round(distance_nm, digits) + 0.0, f'.{digits}f')} NM"


def dme(distance_nm: float) -> str:
    """What a DME reads, as it stands before that word: tenths.

    >>> dme(6.0)
    '6.0'
    """
    return figure(distance_nm, ".1f") if np.isfinite(distance_nm) else tr("an unknown")


def degrees(angle_deg: float, nearest: float = 0.1, *, exact: bool = False) -> str:
    """An angle, to a tenth of a degree where nothing else is asked for; a limit as it is.

    >>> degrees(8.62), degrees(1.02), degrees(42.4, nearest=1.0), degrees(2.25, exact=True)
    ('8.6 degrees', '1 degree', '42 degrees', '2.25 degrees')
    """
    if not np.isfinite(angle_deg):
        return tr("an unknown angle")
    decimals = finely(angle_deg, 1) if exact else None
    if decimals is not None:
        nearest = 10.0**-decimals
    rounded = round(_rounded(angle_deg, nearest), 3)
    return (
        tr("{angle:g} degree", angle=rounded)
        if abs(rounded) == 1.0
        else tr("{angle:g} degrees", angle=rounded)
    )


def heading(direction_deg: float) -> str:
    """A course, radial or heading in three figures, north as 360.

    >>> heading(44.0), heading(-0.3)
    ('044', '360')
    """
    whole = round(direction_deg) % 360
    return f"{whole or 360:03d}"


def knots(speed_kt: float) -> str:
    """A speed, to 1 kt."""
    return f"{round(speed_kt):d} kt" if np.isfinite(speed_kt) else tr("an unknown speed")


def seconds(duration_s: float, *, exact: bool = False) -> str:
    """A short time; a limit as it is.

    >>> seconds(14.4), seconds(12.5, exact=True)
    ('14 s', '12.5 s')
    """
    if not np.isfinite(duration_s):
        return tr("an unknown time")
    decimals = (finely(duration_s, 0) if exact else None) or 0
    return f"{figure(duration_s, f'.{decimals}f')} s"


def minutes(duration_s: float) -> str:
    """A time by the stopwatch.

    >>> minutes(71.6)
    '1:12'
    """
    if not np.isfinite(duration_s):
        return tr("an unknown time")
    whole, rest = divmod(round(duration_s), 60)
    return f"{whole}:{rest:02d}"


def clock(time: datetime) -> str:
    """A moment, to the second.

    >>> from datetime import UTC
    >>> clock(datetime(2026, 3, 14, 18, 42, 9, 600_000, tzinfo=UTC))
    '18:42:09 UTC'
    """
    return f"{time:%H:%M:%S} UTC"


def span_of_time(start: datetime, end: datetime) -> str:
    """From when to when."""
    return tr("{start:%H:%M:%S} to {end:%H:%M:%S} UTC", start=start, end=end)


def course_name(course_deg: float, phase: str, *, ndb: bool) -> str:
    """What is flown along: outbound a radial, or the bearing from an NDB; inbound a course."""
    name = heading(course_deg)
    if str(phase) != "outbound":
        return tr("{name} course", name=name)
    return tr("{name} bearing", name=name) if ndb else tr("{name} radial", name=name)


def side_of(signed: float) -> str:
    """Right for a positive value, left for a negative one."""
    return side_name("right" if signed > 0 else "left")


def until_of(step: StepDown) -> str:
    """What ends a step-down: a DME distance, or a radial of another station."""
    if step.until_radial is None:
        return f"{dme(step.until_dme_nm or 0.0)} DME"
    radial, station = heading(step.until_radial.radial_deg), step.until_radial.station
    return tr("radial {radial} of {station}", radial=radial, station=station)


def side_name(side: str) -> str:
    """Left or right."""
    return tr(_SIDES[side])


def sentence_list(parts: Sequence[str]) -> str:
    """Several things in one sentence.

    >>> sentence_list(["too fast", "too low"])
    'too fast, and too low'
    """
    return tr(", and ").join(parts)


def told_apart(
    value: float, limit: float, coarse: Callable[[float], str], fine: Callable[[float], str]
) -> str:
    """A value beside its limit: finer where both would read the same though the value is beyond.

    >>> told_apart(7.56, 7.5, degrees, lambda angle_deg: degrees(angle_deg, nearest=0.1))
    '7.6 degrees'
    """
    return coarse(value) if value <= limit or coarse(value) != coarse(limit) else fine(value)


def rounded_up(half_width: float, step: float) -> float:
    """How sure a value is, as told beside one that is rounded to that step: what is less than a step as it is."""
    return half_width if not half_width >= step else float(np.ceil(half_width / step - 1e-9) * step)


def _rounded(value: float, nearest: float) -> float:
    return round(value / nearest) * nearest + 0.0
