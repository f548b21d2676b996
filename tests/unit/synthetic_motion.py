"""Small flights built by hand: legs of speed, turn and climb in a steady wind, as Motion and Air objects."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from flightlog.air.air import Air, WindWindows
from flightlog.arrays import frozen_floats, frozen_ints
from flightlog.earth.geodesy import LocalPlane
from flightlog.motion.motion import Motion

STEP_S = 0.1
EPOCH_S = 1_700_000_000.0


@dataclass(frozen=True)
class Leg:
    """`seconds` of one thing; speeds and turns change evenly from the leg before unless `sharp`.

    On foot `speed_mps` is over the ground, in the air through the air.
    """

    seconds: float
    speed_mps: float
    climb_mps: float = 0.0
    turn_degps: float = 0.0
    on_foot: bool = False
    heading_deg: float | None = None  # jumps there at the start of the leg


@dataclass(frozen=True)
class Path:
    """The path in truth: (n,) arrays every 0.1 s, heading through the air (or over ground on foot)."""

    time_s: np.ndarray
    east_m: np.ndarray
    north_m: np.ndarray
    altitude_m: np.ndarray
    velocity_east_mps: np.ndarray
    velocity_north_mps: np.ndarray
    climb_mps: np.ndarray
    airspeed_mps: np.ndarray
    heading_deg: np.ndarray
    turn_degps: np.ndarray
    leg_starts_s: tuple[float, ...]


def fly(
    legs: list[Leg],
    *,
    wind: tuple[float, float] = (0.0, 0.0),
    altitude_m: float = 1000.0,
    heading_deg: float = 0.0,
) -> Path:
    """Integrate the legs. Ground speed on foot is the leg's own; it eases over 1 s, as does everything else."""
    speed, climb, turn, foot, head, starts = [], [], [], [], [], []
    heading, clock = heading_deg, 0.0
    for leg in legs:
        count = round(leg.seconds / STEP_S)
        starts.append(EPOCH_S + clock)
        clock += count * STEP_S
        heading = leg.heading_deg if leg.heading_deg is not None else heading
        steps = np.arange(count) * STEP_S
        head.append(heading + leg.turn_degps * steps)
        heading += leg.turn_degps * count * STEP_S
        speed.append(np.full(count, leg.speed_mps))
        climb.append(np.full(count, leg.climb_mps))
        turn.append(np.full(count, leg.turn_degps))
        foot.append(np.full(count, leg.on_foot))
    headings, on_foot = np.radians(np.concatenate(head)), np.concatenate(foot)
    speeds = np.concatenate(speed)
    east = speeds * np.sin(headings) + np.where(on_foot, 0.0, wind[0])
    north = speeds * np.cos(headings) + np.where(on_foot, 0.0, wind[1])
    east, north, up = (_eased(values) for values in (east, north, np.concatenate(climb)))
    time = EPOCH_S + np.arange(len(east)) * STEP_S
    return Path(
        time, np.cumsum(east) * STEP_S, np.cumsum(north) * STEP_S, altitude_m + np.cumsum(up) * STEP_S,
        east, north, up,
        np.hypot(east - wind[0], north - wind[1]),
        np.degrees(np.arctan2(east - wind[0], north - wind[1])) % 360.0, np.concatenate(turn), tuple(starts),
    )  # fmt: skip


def _eased(values: np.ndarray) -> np.ndarray:
    """Running mean over 1 s: nothing with a mass jumps."""
    width = round(1.0 / STEP_S)
    padded = np.concatenate([np.full(width // 2, values[0]), values, np.full(width - width // 2 - 1, values[-1])])
    return np.convolve(padded, np.ones(width) / width, mode="valid")


def observed(
    path: Path,
    *,
    interval_s: float = 1.0,
    wind: tuple[float, float] | None = (0.0, 0.0),
    shake_mps: float = 0.0,
    seed: int = 1,
    source: str = "pressure",
) -> tuple[Motion, Air]:
    """Motion and Air as the layers below hand them on; `wind` None: not known. `shake_mps` roughens climb."""
    every = np.arange(0, len(path.time_s), round(interval_s / STEP_S))
    generator = np.random.default_rng(seed)
    noise = shake_mps * generator.standard_normal(len(every))
    columns = {
        name: frozen_floats(getattr(path, name)[every])
        for name in ("time_s", "east_m", "north_m", "altitude_m", "velocity_east_mps", "velocity_north_mps")
    }
    zero, n = frozen_floats(np.zeros(len(every))), len(every)
    motion = Motion(
        fix=frozen_ints(np.arange(n)), piece=frozen_ints(np.zeros(n)), plane=LocalPlane(46.0, 9.0),
        measured_east_m=columns["east_m"], measured_north_m=columns["north_m"],
        measured_altitude_m=columns["altitude_m"], climb_mps=frozen_floats(path.climb_mps[every] + noise),
        acceleration_east_mps2=frozen_floats(np.gradient(path.velocity_east_mps, STEP_S)[every]),
        acceleration_north_mps2=frozen_floats(np.gradient(path.velocity_north_mps, STEP_S)[every]),
        altitude_source=source, altitude_scale=0.0, altitude_offset_m=0.0, altitude_scale_sd=0.0,
        interval_s=interval_s, **columns,
    )  # fmt: skip
    unknown = frozen_floats(np.full(n, math.nan))
    known = wind is not None
    east, north = wind if wind is not None else (math.nan, math.nan)
    air = Air(
        windows=WindWindows(*(frozen_floats([]),) * 5, frozen_floats(np.zeros((0, 2, 2))), frozen_floats([]),
                            frozen_floats([]), frozen_ints([])),
        wind_east_mps=frozen_floats(np.full(n, east)), wind_north_mps=frozen_floats(np.full(n, north)),
        wind_sd_mps=frozen_floats(np.full(n, 0.5)) if known else unknown,
        airspeed_mps=frozen_floats(path.airspeed_mps[every]) if known else unknown,
        heading_deg=frozen_floats(path.heading_deg[every]) if known else unknown,
        turn_rate_degps=frozen_floats(path.turn_degps[every]), density_kgm3=frozen_floats(np.full(n, 1.11)),
        circling=frozen_ints(zero), turnings=(), mean_wind=None,
    )  # fmt: skip
    return motion, air
