"""Physics of a steady turn: bank, load, radius, period and the sink that banking costs.

All functions take scalars or arrays. Speeds are true airspeeds in m/s, angles degrees, turn rates degrees a
second. A level, co-ordinated turn is assumed: lift balances weight and the turn's pull, and no side-slip. In a
steady climb or descent of a few m/s at 10 m/s the error of the bank is below 1 degree.

References
----------
FAA-H-8083-25, Pilot's Handbook of Aeronautical Knowledge, ch. 5 (radius, rate and load factor of turns).
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from flightlog.arrays import Floats
from flightlog.earth.atmosphere import STANDARD_GRAVITY_MPS2


def bank_from_turn_deg(airspeed_mps: npt.ArrayLike, turn_rate_degps: npt.ArrayLike) -> Floats:
    """Bank that this turn rate needs at this airspeed, degrees, with the sign of the turn rate.

    >>> round(float(bank_from_turn_deg(10.0, 20.45)), 1)
    20.0
    """
    pull = np.asarray(airspeed_mps, dtype=np.float64) * np.radians(turn_rate_degps)
    return np.asarray(np.degrees(np.arctan(pull / STANDARD_GRAVITY_MPS2)))


def turn_rate_degps(airspeed_mps: npt.ArrayLike, bank_deg: npt.ArrayLike) -> Floats:
    """Turn rate at this airspeed and bank, degrees a second; infinite at no airspeed."""
    speed = np.asarray(airspeed_mps, dtype=np.float64)
    return np.asarray(np.degrees(STANDARD_GRAVITY_MPS2 * np.tan(np.radians(bank_deg)) / speed))


def load_factor(bank_deg: npt.ArrayLike) -> Floats:
    """Weight felt in a turn, in multiples of the weight at rest: 1 level, 2 at 60 degrees.

    >>> round(float(load_factor(60.0)), 3)
    2.0
    """
    return np.asarray(1.0 / np.cos(np.radians(bank_deg)))


def turn_radius_m(airspeed_mps: npt.ArrayLike, bank_deg: npt.ArrayLike) -> Floats:
    """Radius of the circle flown through the air, m; infinite without bank.

    >>> round(float(turn_radius_m(10.0, 30.0)), 2)
    17.66
    """
    speed = np.asarray(airspeed_mps, dtype=np.float64)
    with np.errstate(divide="ignore"):
        return np.asarray(speed**2 / (STANDARD_GRAVITY_MPS2 * np.tan(np.radians(np.abs(bank_deg)))))


def circle_period_s(airspeed_mps: npt.ArrayLike, bank_deg: npt.ArrayLike) -> Floats:
    """Time of one full circle, s; infinite without bank.

    >>> round(float(circle_period_s(10.0, 30.0)), 1)
    11.1
    """
    return np.asarray(
        2.0 * np.pi * turn_radius_m(airspeed_mps, bank_deg) / np.asarray(airspeed_mps, dtype=np.float64)
    )


def sink_factor(bank_deg: npt.ArrayLike) -> Floats:
    """How many times its straight-flight sink a wing has in a turn at the same lift coefficient: n^1.5.

    Sink of a quadratic polar scales with the 1.5th power of the load (A. & L. Welch and F. Irving, The Complete
    Soaring Pilot's Handbook).

    >>> round(float(sink_factor(30.0)), 4)
    1.2408
    """
    return np.asarray(load_factor(bank_deg) ** 1.5)


def glide_ratio_over_ground(
    air_glide_ratio: npt.ArrayLike, airspeed_mps: npt.ArrayLike, tailwind_mps: npt.ArrayLike
) -> Floats:
    """Glide ratio over the ground of a glide through still air with this tailwind (negative: headwind).

    >>> float(glide_ratio_over_ground(10.0, 10.0, -5.0))
    5.0
    """
    speed = np.asarray(airspeed_mps, dtype=np.float64)
    over_ground = speed + np.asarray(tailwind_mps, dtype=np.float64)
    return np.asarray(np.asarray(air_glide_ratio, dtype=np.float64) * over_ground / speed)
