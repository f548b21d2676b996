"""The standard atmosphere: temperature, pressure and density by height, and airspeeds at height.

All functions take scalars or arrays and give arrays (or numpy scalars) of the same shape. Altitude is geopotential
altitude in the standard atmosphere, which is what recorders write; for the few kilometres of a soaring flight it
equals height above the 1013.25 hPa level. Outside -5 000 to 20 000 m the answer is NaN: no soaring log goes there.

References
----------
ICAO Doc 7488, Manual of the ICAO Standard Atmosphere, 3rd ed. 1993; U.S. Standard Atmosphere 1976 (same constants
below 20 km).
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from flightlog.arrays import Floats

SEA_LEVEL_TEMPERATURE_K = 288.15
SEA_LEVEL_PRESSURE_PA = 101325.0
SEA_LEVEL_DENSITY_KGM3 = 1.225
GAS_CONSTANT_JPKGK = 287.05287
STANDARD_GRAVITY_MPS2 = 9.80665
LAPSE_RATE_KPM = 0.0065
TROPOPAUSE_M = 11000.0
TROPOPAUSE_TEMPERATURE_K = SEA_LEVEL_TEMPERATURE_K - LAPSE_RATE_KPM * TROPOPAUSE_M
LOWEST_M, HIGHEST_M = -5000.0, 20000.0
EARTH_RADIUS_M = 6356766.0
"""Radius that turns geometric into geopotential height, U.S. Standard Atmosphere 1976, p. 4."""

_EXPONENT = STANDARD_GRAVITY_MPS2 / (LAPSE_RATE_KPM * GAS_CONSTANT_JPKGK)  # 5.255880
_TROPOPAUSE_PRESSURE_PA = SEA_LEVEL_PRESSURE_PA * (TROPOPAUSE_TEMPERATURE_K / SEA_LEVEL_TEMPERATURE_K) ** _EXPONENT
_SCALE_ABOVE_M = GAS_CONSTANT_JPKGK * TROPOPAUSE_TEMPERATURE_K / STANDARD_GRAVITY_MPS2


def _inside(altitude_m: npt.ArrayLike) -> Floats:
    """The altitudes, NaN where the model ends."""
    altitude = np.asarray(altitude_m, dtype=np.float64)
    return np.where((altitude >= LOWEST_M) & (altitude <= HIGHEST_M), altitude, np.nan)


def temperature_k(altitude_m: npt.ArrayLike) -> Floats:
    """Temperature of the standard atmosphere, K.

    >>> float(temperature_k(1000.0))
    281.65
    """
    return np.asarray(SEA_LEVEL_TEMPERATURE_K - LAPSE_RATE_KPM * np.minimum(_inside(altitude_m), TROPOPAUSE_M))


def pressure_pa(altitude_m: npt.ArrayLike) -> Floats:
    """Pressure of the standard atmosphere, Pa.

    >>> round(float(pressure_pa(5000.0)), 2)
    54019.89
    """
    altitude = _inside(altitude_m)
    below = SEA_LEVEL_PRESSURE_PA * (temperature_k(altitude) / SEA_LEVEL_TEMPERATURE_K) ** _EXPONENT
    return np.asarray(below * np.exp(-np.maximum(altitude - TROPOPAUSE_M, 0.0) / _SCALE_ABOVE_M))


def density_kgm3(altitude_m: npt.ArrayLike) -> Floats:
    """Density of the standard atmosphere, kg/m3; real air at that altitude differs by some percent.

    >>> round(float(density_kgm3(2000.0)), 4)
    1.0065
    """
    return np.asarray(pressure_pa(altitude_m) / (GAS_CONSTANT_JPKGK * temperature_k(altitude_m)))


def pressure_altitude_m(static_pressure_pa: npt.ArrayLike) -> Floats:
    """Altitude at which the standard atmosphere has this pressure, m above the 1013.25 hPa level.

    Real air warmer than standard makes it read low: about 4 % of height for every 10 K. Pressures outside the
    model give NaN.

    >>> pressure_altitude_m(np.array([101325.0, 54019.89])).round(1) + 0.0
    array([   0., 5000.])
    """
    pressure = np.asarray(static_pressure_pa, dtype=np.float64)
    usable = np.where(pressure > 0.0, pressure, np.nan)
    ratio = usable / SEA_LEVEL_PRESSURE_PA
    below = SEA_LEVEL_TEMPERATURE_K / LAPSE_RATE_KPM * (1.0 - ratio ** (1.0 / _EXPONENT))
    above = TROPOPAUSE_M - _SCALE_ABOVE_M * np.log(usable / _TROPOPAUSE_PRESSURE_PA)
    return _inside(np.where(usable >= _TROPOPAUSE_PRESSURE_PA, below, above))


def geopotential_m(geometric_m: npt.ArrayLike) -> Floats:
    """Geopotential altitude of a geometric height above sea level; 3 m less at 4 500 m."""
    height = np.asarray(geometric_m, dtype=np.float64)
    return np.asarray(EARTH_RADIUS_M * height / (EARTH_RADIUS_M + height))


def true_airspeed_mps(equivalent_mps: npt.ArrayLike, altitude_m: npt.ArrayLike) -> Floats:
    """True airspeed of a wing flying at this equivalent airspeed: 10 % more at 2 000 m.

    >>> round(float(true_airspeed_mps(10.0, 2000.0)), 3)
    11.032
    """
    ratio = np.sqrt(SEA_LEVEL_DENSITY_KGM3 / density_kgm3(altitude_m))
    return np.asarray(np.asarray(equivalent_mps, dtype=np.float64) * ratio)


def equivalent_airspeed_mps(true_mps: npt.ArrayLike, altitude_m: npt.ArrayLike) -> Floats:
    """Equivalent airspeed, the one the wing feels, of a true airspeed at this altitude.

    >>> round(float(equivalent_airspeed_mps(11.0322, 2000.0)), 3)
    10.0
    """
    ratio = np.sqrt(density_kgm3(altitude_m) / SEA_LEVEL_DENSITY_KGM3)
    return np.asarray(np.asarray(true_mps, dtype=np.float64) * ratio)


def cold_air_error_m(indicated_height_m: npt.ArrayLike, sea_level_temperature_c: npt.ArrayLike) -> Floats:
    """How much lower than indicated a pressure height above a low-lying field really is, m, positive in cold air.

    The published altimeter correction: height over mean absolute temperature of the column, times the deviation
    from 15 C at sea level. Warm air gives a negative error. From memory after ICAO Doc 8168 (PANS-OPS), vol. I;
    reproduces the ICAO cold temperature error table within its rounding of 10 ft.

    >>> round(float(cold_air_error_m(1000.0, 0.0)))
    56
    """
    height = np.asarray(indicated_height_m, dtype=np.float64)
    temperature = np.asarray(sea_level_temperature_c, dtype=np.float64)
    mean_temperature_k = 273.0 + temperature - 0.5 * LAPSE_RATE_KPM * height
    return np.asarray(height * (15.0 - temperature) / mean_temperature_k)
