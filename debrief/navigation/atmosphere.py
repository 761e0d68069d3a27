"""The standard atmosphere: pressure altitude, altimeter settings and airspeeds.

Owns      the formulas between pressure, altitude, setting, temperature and airspeed, up to 36,089 ft.
Not here  which altitude a log holds (tracks.conditioning), whether it was good enough (grading).
Imports   numpy and navigation.units only.
Source    ICAO Doc 7488 / ISO 2533, the International Standard Atmosphere. Mark of the constants: memory; the
          values computed from them agree with an independent table (see the tests).
"""

from __future__ import annotations

import numpy as np

from debrief.navigation.units import GRAVITY_M_S2, KT_PER_M_S, M_S_PER_KT, METRES_PER_FT, F, plain

SEA_LEVEL_TEMPERATURE_K = 288.15
SEA_LEVEL_PRESSURE_HPA = 1013.25
LAPSE_RATE_K_FT = 0.0065 * METRES_PER_FT
GAS_CONSTANT_J_KG_K = 287.05287
HEAT_CAPACITY_RATIO = 1.4
CELSIUS_ZERO_K = 273.15
TROPOPAUSE_FT = 11_000.0 / METRES_PER_FT

_EXPONENT = GRAVITY_M_S2 / (GAS_CONSTANT_J_KG_K * 0.0065)
_TOP_FT = SEA_LEVEL_TEMPERATURE_K / LAPSE_RATE_K_FT  # where the straight lapse would reach absolute zero
_LOWEST_HPA = SEA_LEVEL_PRESSURE_HPA * (1.0 - TROPOPAUSE_FT / _TOP_FT) ** _EXPONENT

_SOUND_M_S = (HEAT_CAPACITY_RATIO * GAS_CONSTANT_J_KG_K * SEA_LEVEL_TEMPERATURE_K) ** 0.5
_COMPRESSION = HEAT_CAPACITY_RATIO / (HEAT_CAPACITY_RATIO - 1.0)
_MACH_FACTOR = (HEAT_CAPACITY_RATIO - 1.0) / 2.0


def pressure_altitude_ft(pressure_hpa: F) -> F:
    """Pressure altitude of a static pressure. [ft] ``nan`` above the tropopause (36,089 ft).

    >>> print(f"{pressure_altitude_ft(1013.25):.0f} {pressure_altitude_ft(843.0):.0f}")
    0 5002
    """
    pressure = np.where(np.greater_equal(pressure_hpa, _LOWEST_HPA), pressure_hpa, np.nan)
    altitude: F = plain(_TOP_FT * (1.0 - (pressure / SEA_LEVEL_PRESSURE_HPA) ** (1.0 / _EXPONENT)))
    return altitude


def pressure_hpa(pressure_altitude_ft: F) -> F:
    """Pressure at a pressure altitude [hPa]; ``nan`` above the tropopause (36,089 ft)."""
    altitude = np.where(np.less_equal(pressure_altitude_ft, TROPOPAUSE_FT), pressure_altitude_ft, np.nan)
    pressure: F = plain(SEA_LEVEL_PRESSURE_HPA * (1.0 - altitude / _TOP_FT) ** _EXPONENT)
    return pressure


def isa_temperature_c(pressure_altitude_ft: F) -> F:
    """Give the standard temperature at a pressure altitude [deg C]; ``nan`` above the tropopause (36,089 ft)."""
    altitude = np.where(np.less_equal(pressure_altitude_ft, TROPOPAUSE_FT), pressure_altitude_ft, np.nan)
    temperature: F = plain(SEA_LEVEL_TEMPERATURE_K - CELSIUS_ZERO_K - LAPSE_RATE_K_FT * altitude)
    return temperature


def altimeter_offset_ft(qnh_hpa: F) -> F:
    """Feet that an altimeter set to ``qnh_hpa`` shows above pressure altitude, at every height [ft].

    The subscale turns the whole dial, so the offset is the same at all heights. ``nan`` where the setting is
    not positive.

    >>> print(f"{altimeter_offset_ft(1000.0):.1f}")
    -363.8
    """
    setting = np.where(np.greater(qnh_hpa, 0), qnh_hpa, np.nan)
    offset: F = plain(_TOP_FT * ((setting / SEA_LEVEL_PRESSURE_HPA) ** (1.0 / _EXPONENT) - 1.0))
    return offset


def indicated_altitude_ft(pressure_altitude_ft: F, qnh_hpa: F | float) -> F:
    """Altitude that an altimeter set to ``qnh_hpa`` shows at a pressure altitude [ft].

    Exact, where 27 ft for each hPa would be wrong by 22 ft at 980 hPa.

    >>> print(f"{indicated_altitude_ft(3000.0, 1000.0):.1f}")
    2636.2
    """
    indicated: F = plain(np.add(pressure_altitude_ft, altimeter_offset_ft(plain(qnh_hpa))))
    return indicated


def _impact_ratio_from_mach(mach: F) -> F:
    ratio: F = (1.0 + _MACH_FACTOR * np.square(mach)) ** _COMPRESSION - 1.0
    return ratio


def _mach_from_impact_ratio(ratio: F) -> F:
    mach: F = np.sqrt(((ratio + 1.0) ** (1.0 / _COMPRESSION) - 1.0) / _MACH_FACTOR)
    return mach


def _local_sound_kt(static_temperature_c: F | float) -> F:
    temperature_k = np.add(static_temperature_c, CELSIUS_ZERO_K)
    temperature_k = np.where(temperature_k > 0, temperature_k, np.nan)
    sound_kt: F = plain(np.sqrt(HEAT_CAPACITY_RATIO * GAS_CONSTANT_J_KG_K * temperature_k) * KT_PER_M_S)
    return sound_kt


def true_airspeed_kt(
    calibrated_airspeed_kt: F, pressure_altitude_ft: F | float, static_temperature_c: F | float
) -> F:
    """Get the true airspeed of a calibrated airspeed: isentropic, below the speed of sound [kt].

    ``nan`` for a negative speed, above the tropopause, and where the aircraft would be supersonic. Indicated
    airspeed may be given where instrument and position error are unknown: they are then the error.

    >>> print(f"{true_airspeed_kt(170.0, 3000.0, 25.0):.2f}")
    182.49
    """
    speed = np.where(np.greater_equal(calibrated_airspeed_kt, 0), calibrated_airspeed_kt, np.nan)
    sea_level_ratio = _impact_ratio_from_mach(speed * M_S_PER_KT / _SOUND_M_S)
    local_ratio = sea_level_ratio * SEA_LEVEL_PRESSURE_HPA / pressure_hpa(plain(pressure_altitude_ft))
    mach = _mach_from_impact_ratio(local_ratio)
    true: F = plain(np.where(mach < 1, mach, np.nan) * _local_sound_kt(static_temperature_c))
    return true


def calibrated_airspeed_kt(
    true_airspeed_kt: F, pressure_altitude_ft: F | float, static_temperature_c: F | float
) -> F:
    """Get the calibrated airspeed of a true airspeed: isentropic, below the speed of sound [kt].

    ``nan`` for a negative speed, above the tropopause, and where the aircraft would be supersonic.

    >>> print(f"{calibrated_airspeed_kt(182.49, 3000.0, 25.0):.2f}")
    170.00
    """
    speed = np.where(np.greater_equal(true_airspeed_kt, 0), true_airspeed_kt, np.nan)
    mach = speed / _local_sound_kt(static_temperature_c)
    local_ratio = _impact_ratio_from_mach(np.where(mach < 1, mach, np.nan))
    sea_level_ratio = local_ratio * pressure_hpa(plain(pressure_altitude_ft)) / SEA_LEVEL_PRESSURE_HPA
    calibrated: F = plain(_mach_from_impact_ratio(sea_level_ratio) * _SOUND_M_S * KT_PER_M_S)
    return calibrated
