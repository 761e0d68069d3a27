"""Values, times and names as a reader sees them.

Owns      units and decimals, clock times, the plain words for phases, rules and verdicts.
Not here  whole sentences about the flight (``summary``), how numbers were found (``method``).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from datetime import datetime

from debrief.grading.words import finely, rounded_up
from debrief.language import figure, mark, tr
from debrief.procedures.model import Phase
from debrief.reports.style import LINE_LOOKS
from debrief.result import Attempt, NotSeenInfo

NOTHING = "–"
MINUS = "−"

_DECIMALS = {"ft": 0, "kt": 0, "s": 0, "ft/min": 0, "NM": 2, "deg": 1, "deg/s": 1, "%": 0}
_STEPS = {"ft": 10.0, "ft/min": 10.0}
_SMALL_FT = 20.0  # below it a height is told to one
_SIGNS = {"deg": "°", "deg/s": "°/s", "%": " %"}

RULES = mark(
    {
        "altitude": "Altitude on the leg",
        "altitude_before_station": "Altitude before the station",
        "minimum_descent_altitude": "Minimum descent altitude",
        "step_down": "Step-down altitude",
        "tracking": "Tracking the course",
        "not_established": "Established inbound",
        "reverse_sensing": "Corrections the wrong way",
        "needle_chasing": "Chasing the indication",
        "weaving": "Weaving along the course",
        "station_missed": "Passing the station",
        "turn_lead": "Turn at the station",
        "outbound_length": "Length of the outbound leg",
        "reversal_missing": "Published reversal",
        "reversal_side": "Side of the reversal",
        "reversal_distance": "Distance in the reversal",
        "reversal_speed": "Speed in the reversal",
        "intercept_angle": "Intercept angle",
        "intercept_overshoot": "Overshoot of the course",
        "arc": "DME arc",
        "descent_rate": "Rate of descent",
        "stabilised": "Stabilised approach",
        "missed_approach": "Missed approach",
        "log_quality": "Quality of the log",
    }
)
#: What the sign of a rule's value and limit means: from zero up, and below it.
_SIDES = mark(
    {
        ("turn_lead", "NM"): ("{value} early", "{value} late"),
        ("missed_approach", "NM"): ("{value} past", "{value} before"),
    }
)
_MONTHS = mark(
    (
        "January",
        "February",
        "March",
        "April",
        "May",
        "June",
        "July",
        "August",
        "September",
        "October",
        "November",
        "December",
    )
)
_WHY_NOT_SEEN = mark({"not observed": "not observed", "not flown": "not flown"})
_GRADES = mark(
    {
        "satisfactory": "satisfactory",
        "unsatisfactory": "unsatisfactory",
        "not assessable": "not assessable",
        "marginal": "marginal",
    }
)


def rule_name(rule: str) -> str:
    """A rule in plain words."""
    name = RULES.get(rule)
    return tr(name) if name is not None else rule.replace("_", " ").capitalize()


def why_not_seen(attempt: Attempt, missing: NotSeenInfo) -> str:
    """Why a phase is not shown: a way back beside the course was flown, though none of it counts as the next leg."""
    measures = attempt.measures
    joined = measures.intercept is not None and measures.intercept.established is not None
    after_it = missing.phase in (Phase.INTERMEDIATE, Phase.FINAL)
    if missing.why == "not flown" and after_it and measures.course_reversal is not None and not joined:
        return tr("never established")
    return tr(_WHY_NOT_SEEN[missing.why])


def grade_name(result: str) -> str:
    """The result of an attempt or an item."""
    return tr(_GRADES[result])


def phase_name(phase: str | None) -> str:
    """A phase in plain words; of a finding without one, the whole approach."""
    if phase is None:
        return tr("Whole approach")
    look = LINE_LOOKS.get(phase)
    return tr(look.name) if look is not None else phase.replace("_", " ").capitalize()


def number(value: float | None, decimals: int = 0, *, signed: bool = False) -> str:
    """A number with a thousands comma and a true minus, zero without a sign; a dash where it is not known.

    >>> number(-1234.6), number(0.04, 1, signed=True), number(None)
    ('−1,235', '0.0', '–')
    """
    if value is None or not math.isfinite(value):
        return NOTHING
    text = figure(abs(value), f",.{decimals}f")
    if not any(digit in "123456789" for digit in text):
        return text  # nothing has no side
    if value < 0:
        return MINUS + text
    return "+" + text if signed else text


def quantity(
    value: float | None, unit: str | None, *, signed: bool = False, decimals: int | None = None
) -> str:
    """A value with its unit, to the decimals of that unit.

    >>> quantity(620.4, "ft"), quantity(-3.26, "deg", signed=True), quantity(None, "ft")
    ('620 ft', '−3.3°', '–')
    """
    text = number(value, _DECIMALS.get(unit or "", 2) if decimals is None else decimals, signed=signed)
    if text == NOTHING or not unit:
        return text
    return text + _SIGNS.get(unit, f" {unit}")


def coarse(value: float, unit: str | None, limit: float | None = None) -> float:
    """A measured value as it is told: heights and their rates to tens, since no log is surer.

    As in the sentences of the findings. Small heights, and what would read as its limit, to one.

    >>> coarse(494.3, "ft"), coarse(12.3, "ft"), coarse(848.0, "ft", limit=850.0), coarse(12.3, "ft/min")
    (490.0, 12.3, 848.0, 10.0)
    """
    step = _STEPS.get(unit or "")
    if step is None or not math.isfinite(value) or (unit == "ft" and abs(value) < _SMALL_FT):
        return value
    rounded = round(value / step) * step
    if limit is not None and (rounded - limit) * (value - limit) <= 0.0:
        return value
    return rounded


def coarse_width(width: float, unit: str | None) -> float:
    """The half-width of an interval as it is told beside such a value: rounded up.

    >>> coarse_width(42.3, "ft"), coarse_width(7.2, "ft"), coarse_width(0.02, "NM")
    (50.0, 7.2, 0.02)
    """
    step = _STEPS.get(unit or "")
    return width if step is None else rounded_up(width, step)


def measured(
    value: float | None, unit: str | None, limit: float | None = None, *, signed: bool = False
) -> str:
    """A measured value with its unit, as finely as it is told.

    >>> measured(494.3, "ft"), measured(-923.0, "ft/min"), measured(None, "ft")
    ('490 ft', '−920 ft/min', '–')
    """
    return quantity(None if value is None else coarse(value, unit, limit), unit, signed=signed)


def decimals_of(unit: str) -> int:
    """How many decimals a value in that unit is shown with."""
    return _DECIMALS.get(unit, 2)


def uncertain(
    value: float | None,
    uncertainty: float | None,
    unit: str | None,
    limit: float | None = None,
    *,
    signed: bool = False,
) -> str:
    """A measured value with the half-width of its 95 % interval, both in the unit.

    >>> uncertain(0.5234, 0.012, "NM"), uncertain(44.0, None, "deg"), uncertain(494.3, 42.3, "ft")
    ('0.52 ± 0.01 NM', '44.0°', '490 ± 50 ft')
    """
    known = measured(value, unit, limit, signed=signed)
    if value is None or known == NOTHING or uncertainty is None or not math.isfinite(uncertainty):
        return known
    decimals = _DECIMALS.get(unit or "", 2)
    width = max(coarse_width(uncertainty, unit), 10.0**-decimals)  # a width is not printed as nothing
    sign = _SIGNS.get(unit or "", f" {unit}" if unit else "")
    return f"{number(coarse(value, unit, limit), decimals, signed=signed)} ± {number(width, decimals)}{sign}"


def sided(rule: str, unit: str | None, value: float | None, told: Callable[[float | None], str]) -> str:
    """A rule's value or limit as ``told`` writes it, in words where its sign says on which side it lies.

    >>> sided("turn_lead", "NM", -0.6, lambda value: f"{value:.1f} NM")
    '0.6 NM late'
    """
    sides = _SIDES.get((rule, unit or ""))
    if sides is None or value is None or not math.isfinite(value):
        return told(value)
    if round(value, decimals_of(unit or "")) == 0.0:
        return told(0.0)  # nothing has no side
    return tr(sides[0] if value > 0.0 else sides[1], value=told(abs(value)))


def sided_quantity(rule: str, unit: str | None, value: float | None) -> str:
    """A rule's value with its unit, on the side that its sign says.

    >>> sided_quantity("turn_lead", "NM", -0.6)
    '0.60 NM late'
    """
    return sided(rule, unit, value, lambda size: quantity(size, unit))


def limit_quantity(limit: float | None, unit: str | None) -> str:
    """A limit with its unit: it was not measured, and is shown as it is.

    >>> limit_quantity(2.25, "deg"), limit_quantity(7.5, "deg"), limit_quantity(5 / 3, "deg")
    ('2.25°', '7.5°', '1.7°')
    """
    return quantity(limit, unit, decimals=limit_decimals(limit, unit))


def limit_decimals(limit: float | None, unit: str | None) -> int:
    """With how many decimals a limit in that unit is shown."""
    decimals = decimals_of(unit or "")
    exactly = finely(limit, decimals) if limit is not None and math.isfinite(limit) else None
    return decimals if exactly is None else exactly


def sided_limit(rule: str, unit: str | None, limit: float | None) -> str:
    """A rule's limit with its unit, on the side that its sign says.

    >>> sided_limit("turn_lead", "NM", -0.125), sided_limit("tracking", "deg", 2.25)
    ('0.125 NM late', '2.25°')
    """
    return sided(rule, unit, limit, lambda size: limit_quantity(size, unit))


def bearing(angle_deg: float | None) -> str:
    """A course, radial or track in three figures, 360 for north.

    >>> bearing(0.2), bearing(44.0), bearing(359.7)
    ('360°', '044°', '360°')
    """
    if angle_deg is None or not math.isfinite(angle_deg):
        return NOTHING
    whole = round(angle_deg) % 360
    return f"{whole or 360:03d}°"


def uncertain_bearing(angle_deg: float | None, uncertainty_deg: float | None) -> str:
    """A course, radial or track with the half-width of its 95 % interval, where that says anything.

    >>> uncertain_bearing(44.0, 2.6), uncertain_bearing(44.0, None), uncertain_bearing(44.0, 180.0)
    ('044° ± 3°', '044°', '044°')
    """
    known = bearing(angle_deg)
    if known == NOTHING or uncertainty_deg is None or not uncertainty_deg < 180.0:
        return known
    return f"{known} ± {max(1, round(uncertainty_deg))}°"


def elapsed(seconds: float) -> str:
    """Minutes and seconds, with hours where there are any.

    >>> elapsed(75.4), elapsed(-5.0), elapsed(3725.0)
    ('1:15', '−0:05', '1:02:05')
    """
    whole = round(abs(seconds))
    minutes, rest = divmod(whole, 60)
    hours, minutes_left = divmod(minutes, 60)
    text = f"{hours}:{minutes_left:02d}:{rest:02d}" if hours else f"{minutes}:{rest:02d}"
    return (MINUS if seconds < 0 and whole else "") + text


def duration(seconds: float) -> str:
    """A length of time for a sentence.

    >>> duration(40.0), duration(410.0), duration(9000.0)
    ('40 s', '6 min 50 s', '2 h 30 min')
    """
    whole = round(seconds)
    minutes, rest = divmod(whole, 60)
    hours, minutes_left = divmod(minutes, 60)
    if hours:
        return f"{hours} h {minutes_left} min" if minutes_left else f"{hours} h"
    if minutes:
        return f"{minutes} min {rest} s" if rest else f"{minutes} min"
    return f"{rest} s"


def clock(time: datetime | None) -> str:
    """A time of day, UTC."""
    return NOTHING if time is None else f"{time:%H:%M:%S}"


def day(time: datetime) -> str:
    """A date that no reader can take for another.

    >>> from datetime import UTC
    >>> day(datetime(2026, 5, 4, tzinfo=UTC))
    '4 May 2026'
    """
    return tr("{day} {month} {year}", day=time.day, month=tr(_MONTHS[time.month - 1]), year=time.year)
