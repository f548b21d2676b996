"""Small flights with a known wind, for the tests of the air layer: a point turning in moving air, with noise."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from flightlog.arrays import frozen_floats, frozen_ints
from flightlog.earth.geodesy import LocalPlane
from flightlog.motion.motion import Motion

STEP_S = 0.1


@dataclass(frozen=True, eq=False)
class Flown:
    """A flight as it was: every 0.1 s, before any recorder saw it."""

    time_s: np.ndarray
    east_m: np.ndarray
    north_m: np.ndarray
    altitude_m: np.ndarray
    air_east_mps: np.ndarray
    air_north_mps: np.ndarray
    wind_east_mps: np.ndarray  # without gusts
    wind_north_mps: np.ndarray
    gust_east_mps: np.ndarray
    gust_north_mps: np.ndarray
    turn_rate_degps: np.ndarray


def wander(count: int, sd: float, time_s: float, random: np.random.Generator) -> np.ndarray:
    """Gauss-Markov noise with this standard deviation and correlation time."""
    keep = np.exp(-STEP_S / time_s)
    kicks = random.normal(0.0, sd * np.sqrt(1.0 - keep**2), count)
    kicks[0] = random.normal(0.0, sd)
    values, value = np.empty(count), 0.0
    for k, kick in enumerate(kicks):
        value = keep * value + kick
        values[k] = value
    return values


def fly(
    turn_rate_degps: np.ndarray,
    *,
    airspeed_mps: float = 10.0,
    wind=(4.0, -2.0),
    climb_mps: float = 1.5,
    start_m: float = 1000.0,
    gust_mps: float = 0.5,
    airspeed_wander_mps: float = 0.4,
    turn_wander_degps: float = 3.0,
    heading_deg: float = 0.0,
    seed: int = 1,
) -> Flown:
    """Fly these turn rates (one every 0.1 s); `wind` is a vector or a function of (time_s, altitude_m)."""
    random = np.random.default_rng(seed)
    n = len(turn_rate_degps)
    time = np.arange(n) * STEP_S
    rate = turn_rate_degps + wander(n, turn_wander_degps, 5.0, random)
    heading = np.radians(heading_deg) + np.radians(np.cumsum(rate) * STEP_S)
    speed = airspeed_mps + wander(n, airspeed_wander_mps, 8.0, random)
    altitude = start_m + climb_mps * time
    east, north = wind(time, altitude) if callable(wind) else (np.full(n, wind[0]), np.full(n, wind[1]))
    gust_east, gust_north = (wander(n, gust_mps, 12.0, random) for _ in range(2))
    air_east, air_north = speed * np.sin(heading), speed * np.cos(heading)
    return Flown(
        time_s=time,
        east_m=np.cumsum(air_east + east + gust_east) * STEP_S,
        north_m=np.cumsum(air_north + north + gust_north) * STEP_S,
        altitude_m=altitude,
        air_east_mps=air_east,
        air_north_mps=air_north,
        wind_east_mps=east,
        wind_north_mps=north,
        gust_east_mps=gust_east,
        gust_north_mps=gust_north,
        turn_rate_degps=rate,
    )


def recorded(flown: Flown, interval_s: float, *, noise: bool = True, seed: int = 2) -> Motion:
    """What a recorder makes of it; smoothed columns are the truth at the fixes, only `measured_...` are noisy."""
    random = np.random.default_rng(seed)
    n = len(flown.time_s)
    east, north = flown.east_m.copy(), flown.north_m.copy()
    if noise:
        east += wander(n, 2.0, 80.0, random) + wander(n, 0.6, 3.0, random) + random.normal(0.0, 0.4, n)
        north += wander(n, 2.0, 80.0, random) + wander(n, 0.6, 3.0, random) + random.normal(0.0, 0.4, n)
        east, north = np.round(east / 1.268) * 1.268, np.round(north / 1.853) * 1.853
    fix = np.arange(0, n, round(interval_s / STEP_S))
    rate = np.radians(flown.turn_rate_degps)
    zeros = np.zeros(len(fix))
    return Motion(
        fix=frozen_ints(np.arange(len(fix))),
        time_s=frozen_floats(1.7e9 + flown.time_s[fix]),
        piece=frozen_ints(zeros),
        plane=LocalPlane(47.0, 11.0),
        measured_east_m=frozen_floats(east[fix]),
        measured_north_m=frozen_floats(north[fix]),
        measured_altitude_m=frozen_floats(flown.altitude_m[fix]),
        east_m=frozen_floats(flown.east_m[fix]),
        north_m=frozen_floats(flown.north_m[fix]),
        altitude_m=frozen_floats(flown.altitude_m[fix]),
        velocity_east_mps=frozen_floats((flown.air_east_mps + flown.wind_east_mps)[fix]),
        velocity_north_mps=frozen_floats((flown.air_north_mps + flown.wind_north_mps)[fix]),
        climb_mps=frozen_floats(np.gradient(flown.altitude_m, STEP_S)[fix]),
        acceleration_east_mps2=frozen_floats((flown.air_north_mps * rate)[fix]),
        acceleration_north_mps2=frozen_floats((-flown.air_east_mps * rate)[fix]),
        altitude_source="pressure",
        altitude_scale=0.0,
        altitude_offset_m=0.0,
        altitude_scale_sd=0.01,
        interval_s=interval_s,
    )


def steady(degps: float, seconds: float) -> np.ndarray:
    """A turn rate held for so long."""
    return np.full(round(seconds / STEP_S), degps)


def joined(*parts: np.ndarray) -> np.ndarray:
    """Turn rates one after the other."""
    return np.concatenate(parts)
