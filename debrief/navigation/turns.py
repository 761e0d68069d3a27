"""Turns: radius, rate, bank, and where a turn must begin.

Owns      the formulas of a level, coordinated turn, in scalars or arrays.
Not here  finding turns in a track (phases), judging them (grading), the wind (``wind``).
Imports   numpy and navigation.units only.
Source    A coordinated level turn: r = v² / (g tan(bank)), any mechanics text.

A speed is the true airspeed for a turn in the air, the ground speed for a lead along the ground.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from debrief.navigation.units import FEET_PER_NM, GRAVITY_M_S2, M_S_PER_KT, METRES_PER_NM, F, plain

#: Rate one: 360 degrees in two minutes. Mark: memory (all handbooks).
STANDARD_RATE_DEG_S = 3.0

#: The bank of a procedure's turns, or that of the standard rate where it is less.
#: Source: ICAO Doc 8168 Vol II, I-4-3, 3.6. Mark: seen.
STEEPEST_BANK_DEG = 25.0

#: A turn of more than this is begun over the station: its lead would grow beyond all sense. Mark: common practice.
STEEPEST_FLY_BY_DEG = 120.0

#: Beyond this change of course no lead is given: here it is four radii already, at 170 degrees eleven.
LARGEST_WITH_LEAD_DEG = 150.0

# The rule of thumb for the lead at a station. Mark: common practice.
_RULE_NM_PER_60_KT = 1.0 / 3.0
_RULE_MARGIN_NM = 0.5
_RULE_FULL_CHANGE_DEG = 90.0

_RIGHT_ANGLE_DEG = 90.0
_STRAIGHT_BACK_DEG = 180.0


def radius_nm(speed_kt: F, bank_deg: F | float) -> F:
    """Radius of the turn at a bank, either side. [NM] ``nan`` at no bank (no circle) or 90 deg and more.

    >>> print(f"{radius_nm(180.0, 25.0):.3f}")
    1.012
    """
    bank = np.abs(bank_deg)
    slope = np.tan(np.radians(np.where((bank > 0) & (bank < _RIGHT_ANGLE_DEG), bank, np.nan)))
    radius: F = plain(np.square(np.multiply(speed_kt, M_S_PER_KT)) / (GRAVITY_M_S2 * slope) / METRES_PER_NM)
    return radius


def radius_from_rate_nm(speed_kt: F, turn_rate_deg_s: F | float) -> F:
    """Radius of the turn at a rate, either side. [NM] ``nan`` where the rate is 0 (no circle).

    >>> print(f"{radius_from_rate_nm(120.0, 3.0):.3f}")
    0.637
    """
    rate_rad_s = np.radians(np.where(np.equal(turn_rate_deg_s, 0), np.nan, np.abs(turn_rate_deg_s)))
    radius: F = plain(np.multiply(speed_kt, M_S_PER_KT) / rate_rad_s / METRES_PER_NM)
    return radius


def turn_rate_deg_s(speed_kt: F, bank_deg: F | float) -> F:
    """Rate of turn at a bank, with its sign. [deg/s] ``nan`` where the speed is not positive or 90 deg of bank.

    >>> print(f"{turn_rate_deg_s(180.0, 25.0):.2f}")
    2.83
    """
    speed_m_s = np.where(np.greater(speed_kt, 0), speed_kt, np.nan) * M_S_PER_KT
    slope = np.tan(np.radians(np.where(np.less(np.abs(bank_deg), _RIGHT_ANGLE_DEG), bank_deg, np.nan)))
    rate: F = plain(np.degrees(GRAVITY_M_S2 * slope / speed_m_s))
    return rate


def bank_deg(speed_kt: F, turn_rate_deg_s: F | float) -> F:
    """Bank that a speed and a rate of turn imply in a coordinated turn, with the rate's sign [deg].

    >>> print(f"{bank_deg(120.0, 3.0):.2f}")
    18.24
    """
    speed_m_s = np.multiply(speed_kt, M_S_PER_KT)
    bank: F = np.degrees(np.arctan(speed_m_s * np.radians(turn_rate_deg_s) / GRAVITY_M_S2))
    return bank


def procedure_bank_deg(speed_kt: F) -> F:
    """Bank of a turn as procedures assume it: 25 deg, or that of 3 deg/s where it is less [deg].

    Source: ICAO Doc 8168 Vol II, I-4-3, 3.6. Mark: seen.

    >>> print(f"{procedure_bank_deg(120.0):.2f} {procedure_bank_deg(210.0):.2f}")
    18.24 25.00
    """
    bank: F = np.minimum(bank_deg(speed_kt, STANDARD_RATE_DEG_S), STEEPEST_BANK_DEG)
    return bank


def procedure_radius_nm(speed_kt: F) -> F:
    """Radius of a turn as procedures assume it: at the bank of ``procedure_bank_deg`` [NM].

    >>> print(f"{procedure_radius_nm(120.0):.3f} {procedure_radius_nm(180.0):.3f}")
    0.637 1.012
    """
    at_bank_nm = np.square(np.multiply(speed_kt, M_S_PER_KT)) / (
        GRAVITY_M_S2 * np.tan(np.radians(STEEPEST_BANK_DEG)) * METRES_PER_NM
    )
    radius: F = np.maximum(radius_from_rate_nm(speed_kt, STANDARD_RATE_DEG_S), at_bank_nm)
    return radius


def lead_distance_nm(groundspeed_kt: F, course_change_deg: F | float) -> F:
    """Distance before the station at which a turn onto the next course begins.

    Parameters
    ----------
    groundspeed_kt : float or array, >= 0. [kt]
    course_change_deg : float or array, either sign, only its size matters. [deg]

    Returns
    -------
    Lead along the present course, never negative. [NM]
    ``nan`` where the speed is ``nan``, or the change is 180 deg or more (no tangent exists).

    Notes
    -----
    r tan(change / 2), r the larger of a standard-rate turn (3 deg/s) and 25 deg of bank. Still air: the drift
    during the turn (20 kt for 30 s: 0.17 NM) is not in it, nor the roll into the turn.
    Source: r tan(c / 2) for a fly-by turn, ICAO Doc 8168 Vol II, III-3-8, 8.1.5.1.1. Mark: seen.

    >>> print(f"{lead_distance_nm(120.0, 90.0):.3f}")  # 120 / (60 pi): a two-minute circle
    0.637
    """
    change_deg = np.abs(course_change_deg)
    half_rad = np.radians(np.where(change_deg < _STRAIGHT_BACK_DEG, change_deg, np.nan) / 2.0)
    lead: F = plain(procedure_radius_nm(groundspeed_kt) * np.tan(half_rad))
    return lead


def lateral_lead_nm(groundspeed_kt: F, intercept_angle_deg: F | float) -> F:
    """Distance beside a course at which the turn onto it begins, at an intercept angle: r (1 - cos) [NM].

    >>> print(f"{lateral_lead_nm(120.0, 45.0):.3f}")
    0.186
    """
    beside: F = procedure_radius_nm(groundspeed_kt) * (1.0 - np.cos(np.radians(intercept_angle_deg)))
    return beside


@dataclass(frozen=True, slots=True, kw_only=True)
class RuleOfThumbLead:
    """The rule of thumb for the lead at a station, step by step, as a pilot says it [NM]."""

    speed_part_nm: float  # a third of a mile for each 60 kt of ground speed
    margin_nm: float  # plus half a mile
    share_of_90_deg: float  # times the change of course / 90
    height_part_nm: float  # plus the height above the station, because DME is slant range
    lead_nm: float  # what the DME reads where the turn begins


def rule_of_thumb_lead(groundspeed_kt: float, course_change_deg: float, height_ft: float) -> RuleOfThumbLead:
    """Go through the rule of thumb: (speed part + margin) x change / 90 + height. Mark: common practice.

    It gives a DME reading, not a distance over the ground, and it adds the height where slant range would
    take the root of squares: it turns early by up to the height. A height below the station counts as none.

    >>> steps = rule_of_thumb_lead(180.0, 45.0, 3038.0)
    >>> print(f"({steps.speed_part_nm:.1f} + {steps.margin_nm}) x {steps.share_of_90_deg}")
    (1.0 + 0.5) x 0.5
    >>> print(f"+ {steps.height_part_nm:.1f} = {steps.lead_nm:.2f}")
    + 0.5 = 1.25
    """
    speed_part_nm = float(groundspeed_kt) / 60.0 * _RULE_NM_PER_60_KT
    share = abs(float(course_change_deg)) / _RULE_FULL_CHANGE_DEG
    height_part_nm = max(float(height_ft), 0.0) / FEET_PER_NM
    return RuleOfThumbLead(
        speed_part_nm=speed_part_nm,
        margin_nm=_RULE_MARGIN_NM,
        share_of_90_deg=share,
        height_part_nm=height_part_nm,
        lead_nm=(speed_part_nm + _RULE_MARGIN_NM) * share + height_part_nm,
    )


def rule_of_thumb_lead_nm(groundspeed_kt: float, course_change_deg: float, height_ft: float) -> float:
    """DME reading where the turn begins, by the rule of thumb (see ``rule_of_thumb_lead``) [NM].

    >>> print(f"{rule_of_thumb_lead_nm(180.0, 45.0, 3038.0):.2f}")
    1.25
    """
    return rule_of_thumb_lead(groundspeed_kt, course_change_deg, height_ft).lead_nm
