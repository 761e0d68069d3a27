"""What is planned for: speeds, wind, arrival and day, as a pilot types them.

Owns      ``Conditions`` and reading its parts from text; every mistake is one clear line.
Not here  what follows from them (``card``).
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from datetime import datetime

from debrief.errors import PlanError

SLOWEST_KT, FASTEST_KT = 40.0, 400.0
STRONGEST_WIND_KT = 150.0
STEP_KT = 10.0
WIDEST_RANGE_KT = 50.0  # six rows: more would not be a small table

_NUMBER = r"\d+(?:\.\d+)?"
_SPEED = re.compile(rf"({_NUMBER})(?:\s*[-–]\s*({_NUMBER}))?", re.ASCII)  # an en dash is pasted, too
_WIND = re.compile(rf"(\d{{1,3}})\s*/\s*({_NUMBER})\s*(?:kt)?", re.ASCII | re.IGNORECASE)
_COURSE = re.compile(_NUMBER, re.ASCII)
_FULL_CIRCLE_DEG = 360.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Conditions:
    """One way of flying a procedure: indicated airspeeds, the wind over the ground, where one comes from."""

    speed_kias: float  # down to the final
    final_speed_kias: float
    wind_from_true_deg: float  # where it comes from, from true north; it means nothing in a calm
    wind_speed_kt: float  # the same at every altitude
    when: datetime  # the day of the magnetic variation, with its time zone
    arrival_course_deg: float | None = None  # the course flown to the station, magnetic by its alignment


def read_speeds(text: str) -> tuple[float, ...]:
    """One indicated airspeed, or those of a range in steps of 10 kt with both its ends. [kt]

    Raises
    ------
    PlanError
        Not a speed, or one that no approach is flown at.

    >>> read_speeds("120"), read_speeds("160-185")
    ((120.0,), (160.0, 170.0, 180.0, 185.0))
    """
    match = _SPEED.fullmatch(text.strip())
    if match is None:
        raise PlanError(
            f'the speed "{_short(text)}" cannot be read',
            remedy="Give knots indicated, such as 120, or a range such as 160-190.",
        )
    first_kt = _speed(match[1])
    if match[2] is None:
        return (first_kt,)
    last_kt = _speed(match[2])
    if last_kt <= first_kt:
        raise PlanError(
            f"the range of speeds {first_kt:g}-{last_kt:g} does not run upwards",
            remedy="Give the lower speed first, such as 160-190.",
        )
    if last_kt - first_kt > WIDEST_RANGE_KT:
        raise PlanError(
            f"the range of speeds {first_kt:g}-{last_kt:g} is too wide for one card",
            remedy=f"Give one of {WIDEST_RANGE_KT:g} kt at most.",
        )
    steps = math.ceil((last_kt - first_kt) / STEP_KT)
    return (*(first_kt + STEP_KT * step for step in range(steps)), last_kt)


def read_speed(text: str) -> float:
    """One indicated airspeed [kt]; ``PlanError`` for anything else.

    >>> read_speed("110")
    110.0
    """
    speeds = read_speeds(text)
    if len(speeds) > 1:
        raise PlanError(f'"{_short(text)}" is a range', remedy="Give one speed here, in knots indicated.")
    return speeds[0]


def read_wind(text: str) -> tuple[float, float]:
    """Where the wind comes from and how fast it is: ``DIR/KT``. [deg true, kt] ``PlanError`` for anything else.

    >>> read_wind("240/18")
    (240.0, 18.0)
    """
    remedy = "Give where it comes from, in degrees true, and its knots: 240/18."
    match = _WIND.fullmatch(text.strip())
    if match is None:
        raise PlanError(f'the wind "{_short(text)}" cannot be read', remedy=remedy)
    from_true_deg, speed_kt = float(match[1]), float(match[2])
    if from_true_deg > _FULL_CIRCLE_DEG:
        raise PlanError(f"no wind comes from {from_true_deg:g} degrees", remedy=remedy)
    if speed_kt > STRONGEST_WIND_KT:
        raise PlanError(f"nobody flies an approach in a wind of {speed_kt:g} kt", remedy=remedy)
    return from_true_deg % _FULL_CIRCLE_DEG, speed_kt


def read_course(text: str) -> float:
    """A magnetic course in [0, 360). [deg] ``PlanError`` for anything else.

    >>> read_course("078"), read_course("360")
    (78.0, 0.0)
    """
    match = _COURSE.fullmatch(text.strip())
    if match is None or float(match[0]) > _FULL_CIRCLE_DEG:
        raise PlanError(
            f'the arrival course "{_short(text)}" cannot be read',
            remedy="Give the magnetic course flown to the station, 0 to 360: 078.",
        )
    return float(match[0]) % _FULL_CIRCLE_DEG


def _speed(text: str) -> float:
    speed_kt = float(text)
    if not SLOWEST_KT <= speed_kt <= FASTEST_KT:
        raise PlanError(
            f"no approach is flown at {speed_kt:g} kt",
            remedy=f"Give an indicated airspeed of {SLOWEST_KT:g} to {FASTEST_KT:g} kt.",
        )
    return speed_kt


def _short(text: str) -> str:
    printable = "".join(letter if letter.isprintable() else "?" for letter in text)
    return printable if len(printable) <= 24 else printable[:23] + "…"
