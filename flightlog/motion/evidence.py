"""What each second looks like: speed, climb and shaking, and how well ground, air and wheels explain them.

Four states, not three: a wing flying into a strong wind hardly moves over the ground for minutes on end. That
slow flight is a state of its own, so that its slowness is paid for once and not every second. What tells it from
walking: on foot, height changes only as the slope under the feet does, and whoever comes back to a place comes
back to its height; and air shakes a wing up and down while a standing pilot's height is still.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from flightlog.arrays import Floats, Ints, lengths, zero_where_unknown
from flightlog.motion.interpolation import MotionSamples, motion_at
from flightlog.motion.motion import Motion

GROUND, AIR, VEHICLE, SLOW_FLIGHT = 0, 1, 2, 3

LARGEST_GRID = 200_000
"""Two days of seconds; longer logs get a coarser grid."""
SPREAD_HALF_WIDTH_S = 6.0
"""Climb is watched over 12 s: two or three gusts (M 2)."""
FEWEST_INTERVALS = 2.0
"""To either side, for the spread of climb: fewer fixes than five would hide the shaking."""
FEATURE_CORRELATION_S = 3.0
"""Speeds and climbs nearer in time than this tell the same (M 2)."""
SPREAD_WEIGHT_PER_S = 2.0 / 15.0
"""The spread over 12 s tells the same for longer (M 2)."""
PATH_GRADE, STEEP_GRADE = 0.15, 0.4
"""One standard deviation of height gained per way gone: on paths and meadows, and straight up or down a launch."""
STILL_CLIMB_MPS, WALKING_CLIMB_MPS, UNSTILL_CLIMB_MPS = 0.15, 0.25, 0.6
"""Spread of the smoothed climb of a pilot on foot: standing, on rough ground, with gusts on the pressure port."""
GNSS_CLIMB_MPS = 0.25
"""What GNSS heights add to it by wandering: 0.35 at the shortest, 0.17 over 15 s (M 1)."""
SLOW_FLIGHT_MPS = 1.8
"""Spread of one component of the velocity over ground of a wing held against the wind: gusts and pilot."""
WING_TURN_MPS2, WING_TURN_SD_MPS2 = 4.0, 1.5
"""Acceleration in a wing's turn: V^2 / R at 10 m/s and 20-35 m."""
STRAIGHT_SD_MPS2 = 0.6
"""Acceleration across the course of whoever goes straight on."""
CALM_SPREAD_MPS, CALM_SPREAD_GNSS_MPS = 0.13, 0.25
"""Spread of climb on the ground, of which only larger values speak against standing (M 2)."""
AIR_SPREAD_MPS, SMOOTH_AIR_SPREAD_MPS = 0.45, 0.18
"""Of a wing in thermic and in calm air (M 2; calm: evening glides)."""
VEHICLE_SPREAD_MPS = 0.2
LEAST_SPREAD_MPS = 0.05
"""Stiller than any wing flies: a frozen or bridged height, no evidence."""
LEAST_DENSITY = 1e-12
TABLE_SIZE = 1500
LOOSE_LAGS_S = (15.0, 30.0, 45.0, 60.0)
"""Times ahead and behind at which the height is compared with the ground's."""
LOOSE_REACH_S = 90.0
"""Over longer silences of the recorder nothing is compared."""
STEEPEST_GROUND = 0.55
"""Height by way: as steep as anybody climbs on foot, 29 degrees."""
GROUND_LOOSE_M, GROUND_LOOSE_GNSS_M = 1.0, 3.0
"""Mean height that recorders add by wandering within a minute (M 1)."""
AIR_LOOSE_M = 8.0
"""Mean height that a wing gains or loses over one place within a minute, where it stays over one place."""
AIR_BOUND_SHARE, ROAD_BOUND_SHARE = 0.45, 0.95
"""Shares of time in which flight and driving look bound to the ground."""
LOOSE_WEIGHT_PER_S = 1.0 / 15.0
"""It changes no faster than the shortest of the times compared."""


@dataclass(frozen=True, eq=False)
class Grid:
    """The log at even steps, piece by piece."""

    time_s: Floats  # (g,)
    piece: Ints
    step_s: float
    speed_mps: Floats
    altitude_m: Floats
    climb_mps: Floats
    sideways_mps2: Floats  # acceleration across the course, size
    log_spread: Floats  # logarithm of the standard deviation of climb over 12 s or 4 intervals
    gnss_only: bool  # heights wander
    loose_m: Floats  # height change within a minute that no slope under the feet explains


def even_grid(motion: Motion) -> Grid:
    """Smoothed speeds and climbs each second of each piece."""
    starts = np.flatnonzero(np.diff(motion.piece, prepend=motion.piece[0] - 1))
    stops = np.append(starts[1:], len(motion.piece)) - 1
    first, last = motion.time_s[starts], motion.time_s[stops]
    step = max(1.0, float((last - first).sum()) / LARGEST_GRID)
    times = [np.arange(a, b + 1e-6, step) for a, b in zip(first, last, strict=True)]
    time_s = np.concatenate(times)
    piece = np.repeat(np.arange(len(times)), [len(t) for t in times])
    samples = motion_at(motion, time_s)
    speed = lengths(samples.velocity_east_mps, samples.velocity_north_mps)
    half_width_s = max(SPREAD_HALF_WIDTH_S, FEWEST_INTERVALS * motion.interval_s)
    spread = _rolling_spread(samples.climb_mps, piece, round(half_width_s / step))
    sideways = np.interp(time_s, motion.time_s, _sideways(motion))
    loose = _loose_m(time_s, samples, step)
    shake = np.log(np.maximum(spread, 0.02))
    gnss_only = motion.altitude_source == "gnss"
    return Grid(
        time_s, piece, step, speed, samples.altitude_m, samples.climb_mps, sideways, shake, gnss_only, loose
    )


def _loose_m(time_s: Floats, samples: MotionSamples, step_s: float) -> Floats:
    """Height change beyond what the steepest ground between two places makes: the lesser of ahead and behind.

    The lesser, because who stands beside a launch or landing has flight on one side only.
    """
    ahead, behind = np.zeros(len(time_s)), np.zeros(len(time_s))
    east, north, altitude = samples.east_m, samples.north_m, samples.altitude_m
    for lag_s in LOOSE_LAGS_S:
        lag = round(lag_s / step_s)
        if not 0 < lag < len(time_s):
            continue
        way = lengths(east[lag:] - east[:-lag], north[lag:] - north[:-lag])
        excess = np.abs(altitude[lag:] - altitude[:-lag]) - STEEPEST_GROUND * way
        excess = np.where(time_s[lag:] - time_s[:-lag] <= LOOSE_REACH_S, zero_where_unknown(excess), 0.0)
        np.maximum(ahead[:-lag], excess, out=ahead[:-lag])
        np.maximum(behind[lag:], excess, out=behind[lag:])
    return np.minimum(ahead, behind)


def _sideways(motion: Motion) -> Floats:
    """Size of the acceleration across the course at every fix: 3 to 5 in a wing's turn, seldom 2 on a road."""
    east, north = motion.velocity_east_mps, motion.velocity_north_mps
    cross = north * motion.acceleration_east_mps2 - east * motion.acceleration_north_mps2
    return np.asarray(np.abs(cross) / np.maximum(lengths(east, north), 1.0))


def _rolling_spread(values: Floats, piece: Ints, half_width: int) -> Floats:
    """Standard deviation within so many steps to either side, inside the piece; NaN where nothing is known."""
    known = np.isfinite(values)
    filled = np.where(known, values, 0.0)
    total, square = (np.concatenate([[0.0], np.cumsum(column)]) for column in (filled, filled * filled))
    index = np.arange(len(values))
    edges = np.concatenate([[0], np.flatnonzero(piece[1:] != piece[:-1]) + 1, [len(values)]])
    lasting = edges[1:] - edges[:-1]
    low = np.maximum(index - half_width, np.repeat(edges[:-1], lasting))
    high = np.minimum(index + (half_width + 1), np.repeat(edges[1:], lasting))
    if known.all():
        n = high - low
    else:
        count = np.concatenate([[0], np.cumsum(known)])
        n = count[high] - count[low]
    safe = np.maximum(n, 1)
    mean = (total[high] - total[low]) / safe
    variance = np.maximum((square[high] - square[low]) / safe - mean**2, 0.0)
    return np.where(n >= 3, np.sqrt(variance), np.nan)


def log_likelihood(grid: Grid) -> Floats:
    """Logarithm of the likelihood of each step under ground, air, vehicle and slow flight, (g, 4) (M 2).

    Heights from GNSS wander, so climb and shaking say less there. Unknown heights say nothing.
    """
    gnss_only = grid.gnss_only
    each_s = grid.step_s / FEATURE_CORRELATION_S
    spread_s, loose_s = SPREAD_WEIGHT_PER_S * grid.step_s, LOOSE_WEIGHT_PER_S * grid.step_s
    total = _weighed(_climb_densities(grid, GNSS_CLIMB_MPS if gnss_only else 0.0), each_s, grid.climb_mps)
    _add_looked_up(total, grid.speed_mps, _table(_speed_densities, gnss_only, (0.0, 60.0), each_s))
    _add_looked_up(total, grid.sideways_mps2, _table(_sideways_densities, gnss_only, (0.0, 20.0), each_s))
    _add_looked_up(total, grid.log_spread, _table(_spread_densities, gnss_only, (-4.5, 3.0), spread_s))
    _add_looked_up(total, grid.loose_m, _table(_loose_densities, gnss_only, (0.0, 100.0), loose_s))
    return total


def _weighed(densities: tuple[Floats, ...], weight: float, values: Floats) -> Floats:
    """Weighted logarithms of densities of these values as columns, (k, 4); 0 where the value is unknown."""
    columns = np.stack(densities, axis=1)
    worth = weight * np.log(np.maximum(columns, LEAST_DENSITY))
    worth[~np.isfinite(values)] = 0.0
    return np.asarray(worth)


@dataclass(frozen=True, eq=False)
class _Table:
    """Weighted logarithms of densities at even steps between two ends, and a last row of 0 for unknown values."""

    low: float
    high: float
    rows: Floats  # (TABLE_SIZE + 1, 4)


@lru_cache(maxsize=32)  # of logs at one interval they are the same
def _table(
    densities: Callable[[Floats, bool], tuple[Floats, ...]],
    gnss_only: bool,
    ends: tuple[float, float],
    weight: float,
) -> _Table:
    """A fine table of the densities."""
    centres = np.linspace(*ends, TABLE_SIZE)
    rows = _weighed(densities(centres, gnss_only), weight, centres)
    return _Table(*ends, np.concatenate([rows, np.zeros((1, rows.shape[1]))]))


def _add_looked_up(total: Floats, values: Floats, table: _Table) -> None:
    """Add the rows of the table at these values; beyond its ends the last ones."""
    inside = np.minimum(np.maximum(values, table.low), table.high)
    place = (inside - table.low) * ((TABLE_SIZE - 1) / (table.high - table.low)) + 0.5
    row = np.where(np.isfinite(values), place, TABLE_SIZE).astype(np.int64)
    total += table.rows.take(row, axis=0)


def _normal(values: Floats, mean: float, sd: float | Floats) -> Floats:
    """Density of the normal distribution."""
    away = (values - mean) * (0.5**0.5 / sd) if mean else values * (0.5**0.5 / sd)
    return np.asarray(np.exp(-away * away) * ((2.0 * np.pi) ** -0.5 / sd))


def _speed_densities(s: Floats, _gnss_only: bool) -> tuple[Floats, ...]:
    """Densities of ground speed; 16 m/s is flying with a tailwind (M 2)."""
    still = 2 * _normal(s, 0, 0.5)
    ground = 0.60 * still + 0.35 * _normal(s, 1.1, 0.7) + 0.05 * _normal(s, 3, 2)
    air = 0.70 * _normal(s, 9.5, 4.0) + 0.15 * _normal(s, 2.0, 2.5) + 0.15 * _normal(s, 16.0, 5.0)
    vehicle = 0.25 * still + 0.75 * _normal(s, 14.0, 7.0)
    slow = s / SLOW_FLIGHT_MPS**2 * np.exp(-0.5 * (s / SLOW_FLIGHT_MPS) ** 2)  # two even components: Rayleigh
    return ground, air, vehicle, 0.98 * slow + 0.02 * still


def _climb_densities(grid: Grid, extra: float) -> tuple[Floats, ...]:
    """Densities of climb given the speed; `extra` is what GNSS heights add by wandering."""
    z, s = grid.climb_mps, np.minimum(grid.speed_mps, 6.0)
    on_path = lengths(PATH_GRADE * s, np.hypot(STILL_CLIMB_MPS, extra))
    steep = lengths(STEEP_GRADE * s, np.hypot(WALKING_CLIMB_MPS, extra))
    gusty = float(np.hypot(UNSTILL_CLIMB_MPS, extra))
    ground = 0.75 * _normal(z, 0, on_path) + 0.2 * _normal(z, 0, steep) + 0.05 * _normal(z, 0, gusty)
    glide = 0.35 * _normal(z, -1.0, float(np.hypot(0.7, extra)))
    air = glide + 0.25 * _normal(z, 0, float(np.hypot(0.5, extra))) + 0.4 * _normal(z, 0.3, 1.8)
    vehicle = 0.6 * _normal(z, 0, float(np.hypot(0.35, extra))) + 0.4 * _normal(z, 0, 1.0)
    return ground, air, vehicle, air


def _sideways_densities(a: Floats, _gnss_only: bool) -> tuple[Floats, ...]:
    """Densities of the acceleration across the course."""
    straight, bend = _normal(a, 0, STRAIGHT_SD_MPS2), _normal(a, 0, 2.0)
    ground = 0.95 * straight + 0.05 * bend
    air = 0.80 * straight + 0.10 * _normal(a, WING_TURN_MPS2, WING_TURN_SD_MPS2)
    return ground, air, 0.90 * straight + 0.10 * bend, ground


def _spread_densities(shake: Floats, gnss_only: bool) -> tuple[Floats, ...]:
    """Densities of the logarithm of the rolling spread of climb; nothing is too still for standing."""
    calm, width = (CALM_SPREAD_GNSS_MPS, 0.5) if gnss_only else (CALM_SPREAD_MPS, 0.45)
    ground = _normal(np.maximum(shake, np.log(calm)), float(np.log(calm)), width)
    shake = np.maximum(shake, np.log(LEAST_SPREAD_MPS))
    rough = _normal(shake, float(np.log(AIR_SPREAD_MPS)), 0.5)
    smooth = _normal(shake, float(np.log(SMOOTH_AIR_SPREAD_MPS)), 0.5)
    vehicle = _normal(shake, float(np.log(VEHICLE_SPREAD_MPS)), 0.7)
    return ground, 0.8 * rough + 0.2 * smooth, vehicle, 0.5 * rough + 0.5 * smooth


def _loose_densities(loose: Floats, gnss_only: bool) -> tuple[Floats, ...]:
    """Densities of height changes that no ground explains."""
    tied_m = GROUND_LOOSE_GNSS_M if gnss_only else GROUND_LOOSE_M
    tied, free = np.exp(-loose / tied_m) / tied_m, np.exp(-loose / AIR_LOOSE_M) / AIR_LOOSE_M
    air = AIR_BOUND_SHARE * tied + (1 - AIR_BOUND_SHARE) * free
    return tied, air, ROAD_BOUND_SHARE * tied + (1 - ROAD_BOUND_SHARE) * free, air
