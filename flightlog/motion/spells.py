"""Ground, air or vehicle: what carried the pilot, second by second.

A hidden Markov chain of three states on a grid of seconds (Rabiner 1989; phases of flight by such chains:
Perrichon et al. 2024). What decides the hard case, hanging over one place in a strong wind, is that air shakes a
wing up and down while a standing pilot's height is still.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from flightlog.arrays import Bools, Floats, Ints
from flightlog.motion.chains import most_likely_path
from flightlog.motion.interpolation import motion_at
from flightlog.motion.motion import Motion, Spell
from flightlog.settings import Settings

GROUND, AIR, VEHICLE = 0, 1, 2
KINDS = ("ground", "air", "vehicle")
_BOARDING_S = 60.0  # shortest time on foot between flying and driving: a wing is packed in minutes
_FLYING_ADVANTAGE = 8.0  # such a stretch is far oftener a flight than a drive
_BOTH_ENDS_ADVANTAGE = 30.0  # it took off and landed like a wing
_LARGEST_GRID = 200_000  # two days of seconds; longer logs get a coarser grid


@dataclass(frozen=True, eq=False)
class _Grid:
    """The log at even steps, piece by piece."""

    time_s: Floats  # (g,)
    piece: Ints
    step_s: float
    speed_mps: Floats
    climb_mps: Floats
    sideways_mps2: Floats  # acceleration across the course, size
    log_spread: Floats  # logarithm of the standard deviation of climb over 12 s or 4 intervals


def find_spells(motion: Motion, settings: Settings) -> tuple[Spell, ...]:
    """Stretches of the log on the ground, in the air and in a vehicle, end to end from first fix to last."""
    grid = _grid(motion, settings)
    likelihood = _log_likelihood(grid, motion.altitude_source == "gnss")
    path = most_likely_path(likelihood, _log_transitions(grid), np.log([0.5, 0.4, 0.1]))
    path = _without_boarding_in_flight(path, likelihood, grid)
    path, unsure = _without_short_stops(path, grid)
    return _as_spells(path, unsure, grid, motion)


def _grid(motion: Motion, settings: Settings) -> _Grid:
    """Smoothed speeds and climbs each second of each piece."""
    starts = np.flatnonzero(np.diff(motion.piece, prepend=motion.piece[0] - 1))
    stops = np.append(starts[1:], len(motion.piece)) - 1
    first, last = motion.time_s[starts], motion.time_s[stops]
    step = max(1.0, float((last - first).sum()) / _LARGEST_GRID)
    times = [np.arange(a, b + 1e-6, step) for a, b in zip(first, last, strict=True)]
    time_s = np.concatenate(times)
    piece = np.repeat(np.arange(len(times)), [len(t) for t in times])
    samples = motion_at(motion, time_s)
    speed = np.hypot(samples.velocity_east_mps, samples.velocity_north_mps)
    half_width_s = max(6.0, 2.0 * motion.interval_s)  # fewer fixes than five would hide the shaking
    spread = _rolling_spread(samples.climb_mps, piece, round(half_width_s / step))
    sideways = np.interp(time_s, motion.time_s, _sideways(motion))
    return _Grid(time_s, piece, step, speed, samples.climb_mps, sideways, np.log(np.maximum(spread, 0.02)))


def _sideways(motion: Motion) -> Floats:
    """Size of the acceleration across the course at every fix: 3 to 5 in a wing's turn, seldom 2 on a road."""
    east, north = motion.velocity_east_mps, motion.velocity_north_mps
    cross = north * motion.acceleration_east_mps2 - east * motion.acceleration_north_mps2
    return np.asarray(np.abs(cross) / np.maximum(np.hypot(east, north), 1.0))


def _rolling_spread(values: Floats, piece: Ints, half_width: int) -> Floats:
    """Standard deviation within so many steps to either side, inside the piece; NaN where nothing is known."""
    known = np.isfinite(values)
    filled = np.where(known, values, 0.0)
    count, total, square = (
        np.concatenate([[0.0], np.cumsum(column)]) for column in (known.astype(np.float64), filled, filled**2)
    )
    index = np.arange(len(values))
    starts = np.searchsorted(piece, piece)
    stops = np.searchsorted(piece, piece, side="right")
    low = np.maximum(index - half_width, starts)
    high = np.minimum(index + half_width + 1, stops)
    n = count[high] - count[low]
    safe = np.maximum(n, 1.0)
    mean = (total[high] - total[low]) / safe
    variance = np.maximum((square[high] - square[low]) / safe - mean**2, 0.0)
    return np.where(n >= 3, np.sqrt(variance), np.nan)


def _normal(values: Floats, mean: float, sd: float) -> Floats:
    """Density of the normal distribution."""
    return np.asarray(np.exp(-0.5 * ((values - mean) / sd) ** 2) / (sd * (2.0 * np.pi) ** 0.5))


def _log_likelihood(grid: _Grid, gnss_only: bool) -> Floats:
    """Logarithm of the likelihood of each step under ground, air and vehicle, (g, 3) (M 2)."""
    s, z, shake = grid.speed_mps, grid.climb_mps, grid.log_spread
    speed = np.stack(
        [
            0.60 * 2 * _normal(s, 0, 0.5) + 0.35 * _normal(s, 1.1, 0.7) + 0.05 * _normal(s, 3, 2),
            0.70 * _normal(s, 9.5, 4.0) + 0.15 * _normal(s, 2.0, 2.5) + 0.15 * _normal(s, 16.0, 5.0),
            0.25 * 2 * _normal(s, 0, 0.5) + 0.75 * _normal(s, 14.0, 7.0),
        ],
        axis=1,
    )
    extra = 0.35 if gnss_only else 0.0  # GNSS heights wander by this much in what looks like climb
    still, restless = np.hypot(0.2, extra), np.hypot(0.6, extra)
    climb = np.stack(
        [
            0.9 * _normal(z, 0, still) + 0.1 * _normal(z, 0, restless),
            0.35 * _normal(z, -1.0, np.hypot(0.7, extra))
            + 0.25 * _normal(z, 0, np.hypot(0.5, extra))
            + 0.4 * _normal(z, 0.3, 1.8),
            0.6 * _normal(z, 0, np.hypot(0.35, extra)) + 0.4 * _normal(z, 0, 1.0),
        ],
        axis=1,
    )
    calm = (np.log(0.25), 0.5) if gnss_only else (np.log(0.13), 0.45)
    spread = np.stack(
        [_normal(shake, *calm), _normal(shake, np.log(0.45), 0.5), _normal(shake, np.log(0.2), 0.7)], axis=1
    )
    a = grid.sideways_mps2
    sideways = np.stack(
        [
            0.95 * _normal(a, 0, 0.6) + 0.05 * _normal(a, 0, 2.0),
            0.80 * _normal(a, 0, 0.6) + 0.10 * _normal(a, 4.0, 1.5),
            0.90 * _normal(a, 0, 0.6) + 0.10 * _normal(a, 0, 2.0),
        ],
        axis=1,
    )
    total = np.zeros((len(s), 3))
    for density, weight in ((speed, 1 / 3), (climb, 1 / 3), (sideways, 1 / 3), (spread, 2 / 15)):
        logarithm = np.log(np.maximum(density, 1e-12))
        total += weight * grid.step_s * np.where(np.isfinite(logarithm), logarithm, 0.0)
    return total


_PER_SECOND = np.array(
    [
        [1 - 1.01e-3, 1e-3, 1e-5],
        [1e-3, 1 - 1e-3 - 1e-12, 1e-12],  # nobody steps from the air into a car
        [1e-5, 1e-12, 1 - 1e-5 - 1e-12],
    ]
)


def _log_transitions(grid: _Grid) -> Floats:
    """Transition into each step after the first: over a gap, that of all the seconds it lasted."""
    once = np.log(np.linalg.matrix_power(_PER_SECOND, max(1, round(grid.step_s))))
    gaps = np.flatnonzero(np.diff(grid.piece))
    if len(gaps) == 0:
        return np.asarray(once)
    every = np.repeat(once[None], len(grid.time_s) - 1, axis=0)
    silence = np.diff(grid.time_s)[gaps]
    for gap, seconds in zip(gaps, silence, strict=True):
        every[gap] = np.log(np.linalg.matrix_power(_PER_SECOND, int(np.clip(round(seconds), 1, 1_000_000))))
    return every


def _runs(path: Ints) -> tuple[Ints, Ints]:
    """First index and one past the last of each run of one state."""
    starts = np.flatnonzero(np.diff(path, prepend=-1))
    return starts, np.append(starts[1:], len(path))


def _without_boarding_in_flight(path: Ints, likelihood: Floats, grid: _Grid) -> Ints:
    """Settle stretches of flying and driving with too little time on foot between them for the one or the other.

    A smooth glide looks like a road, and a rough road like a flight; between the air and a car the pilot stands on
    the ground for minutes. The whole stretch becomes what it is more likely to be.
    """
    path = path.copy()
    starts, stops = _runs(path)
    long_ground = (path[starts] == GROUND) & (_seconds(grid, starts, stops) >= _BOARDING_S)
    group = np.cumsum(np.diff(long_ground, prepend=long_ground[0]) != 0)
    for number in np.unique(group[~long_ground]):
        mine = np.flatnonzero(group == number)
        kinds = path[starts[mine]]
        if not ((kinds == VEHICLE).any() and (kinds == AIR).any()):
            continue
        moving = kinds != GROUND
        first, last = starts[mine[moving][0]], stops[mine[moving][-1]]
        total = likelihood[first:last].sum(axis=0)
        both_ends = path[first] == AIR and path[last - 1] == AIR
        advantage = _BOTH_ENDS_ADVANTAGE if both_ends else _FLYING_ADVANTAGE
        path[first:last] = AIR if total[AIR] + advantage >= total[VEHICLE] else VEHICLE
    return path


def _seconds(grid: _Grid, starts: Ints, stops: Ints) -> Floats:
    """How long runs last, half of any gap beside them included."""
    middle = 0.5 * (grid.time_s[1:] + grid.time_s[:-1])
    edges = np.concatenate([grid.time_s[:1], middle, grid.time_s[-1:]])
    return edges[stops] - edges[starts]


def _without_short_stops(path: Ints, grid: _Grid) -> tuple[Ints, Bools]:
    """Turn stops of under 90 s between two flights into flight unless the pilot really stood (M 2).

    Also marks the stops that stay although they are short: their certainty is low.
    """
    path = path.copy()
    unsure = np.zeros(len(path), dtype=np.bool_)
    starts, stops = _runs(path)
    for start, stop in zip(starts, stops, strict=True):
        inside = start > 0 and stop < len(path)
        if path[start] != GROUND or not inside or grid.time_s[stop - 1] - grid.time_s[start] + grid.step_s >= 90.0:
            continue
        if path[start - 1] != AIR or path[stop] != AIR:
            continue
        level = np.abs(grid.climb_mps[start:stop]) < 0.35
        standing = level & (grid.speed_mps[start:stop] < 0.9)
        seconds = float(standing.sum()) * grid.step_s
        whole = float(stop - start) * grid.step_s
        if seconds >= max(4.0, 0.35 * whole) and level.mean() > 0.75:
            unsure[start:stop] = whole < 30.0
        else:
            path[start:stop] = AIR
    return path, unsure


def _as_spells(path: Ints, unsure: Bools, grid: _Grid, motion: Motion) -> tuple[Spell, ...]:
    """The runs of the path as spells that lie end to end and cover the log."""
    starts, stops = _runs(path)
    spells = []
    thin = motion.altitude_source == "gnss"
    for number, (start, stop) in enumerate(zip(starts, stops, strict=True)):
        begins = motion.time_s[0] if number == 0 else 0.5 * (grid.time_s[start - 1] + grid.time_s[start])
        ends = motion.time_s[-1] if stop == len(path) else 0.5 * (grid.time_s[stop - 1] + grid.time_s[stop])
        sure = not (thin or unsure[start:stop].any())
        spells.append(Spell(KINDS[path[start]], float(begins), float(ends), sure))
    return tuple(spells)
