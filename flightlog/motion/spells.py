"""Ground, air or vehicle: what carried the pilot, second by second.

A hidden Markov chain of three states on a grid of seconds (Rabiner 1989; phases of flight by such chains:
Perrichon et al. 2024). What decides the hard case, hanging over one place in a strong wind, is that air shakes a
wing up and down while a standing pilot's height is still.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from flightlog.arrays import Bools, Floats, Ints
from flightlog.motion.carriers import by_wing_or_wheels
from flightlog.motion.chains import most_likely_path
from flightlog.motion.interpolation import motion_at
from flightlog.motion.motion import Motion, Spell
from flightlog.settings import Settings

GROUND, AIR, VEHICLE = 0, 1, 2
KINDS = ("ground", "air", "vehicle")
_STOOD_EVIDENCE = 30.0  # shorter: 20 s of standing dead still
_ADVANTAGE_PER_S, _MOST_ADVANTAGE = 0.25, 60.0  # of flying over driving, in logarithms of likelihood
_PART_FLOWN_ADVANTAGE = 20.0  # once more where part of it can only be flight, once more where both ends are
_TABLE_SIZE = 1500
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
    grid = _grid(motion)
    likelihood = _log_likelihood(grid, motion.altitude_source == "gnss")
    path = most_likely_path(likelihood, _log_transitions(grid), np.log([0.5, 0.4, 0.1]))
    path = _flying_or_driving(path, likelihood, grid, settings)
    path = _stop_and_go(path, grid, settings)
    path = _without_lifts(path, grid, settings)
    path, unsure = _without_short_stops(path, grid, settings)
    return by_wing_or_wheels(motion, _as_spells(path, unsure, grid, motion), settings)


def _grid(motion: Motion) -> _Grid:
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
    """Logarithm of the likelihood of each step under ground, air and vehicle, (g, 3) (M 2).

    Features nearer than 3 s in time tell the same, the shaking over 12 s even longer: hence the weights.
    """
    features = (
        (_speed_densities, grid.speed_mps, 0.0, 60.0, 1 / 3),
        (lambda z: _climb_densities(z, 0.35 if gnss_only else 0.0), grid.climb_mps, -15.0, 15.0, 1 / 3),
        (_sideways_densities, grid.sideways_mps2, 0.0, 20.0, 1 / 3),
        (lambda shake: _spread_densities(shake, gnss_only), grid.log_spread, -4.5, 3.0, 2 / 15),
    )
    total = np.zeros((len(grid.time_s), 3))
    for densities, values, low, high, weight in features:
        centres = np.linspace(low, high, _TABLE_SIZE)
        table = weight * grid.step_s * np.log(np.maximum(densities(centres), 1e-12))
        place = (np.clip(values, low, high) - low) * ((_TABLE_SIZE - 1) / (high - low))
        known = np.isfinite(place)
        found = table[np.where(known, place + 0.5, 0.0).astype(np.int64)]
        total += found if known.all() else np.where(known[:, None], found, 0.0)
    return total


def _speed_densities(s: Floats) -> Floats:
    """Densities of ground speed on the ground, in the air and in a vehicle; 16 m/s is flying with a tailwind."""
    ground = 0.60 * 2 * _normal(s, 0, 0.5) + 0.35 * _normal(s, 1.1, 0.7) + 0.05 * _normal(s, 3, 2)
    air = 0.70 * _normal(s, 9.5, 4.0) + 0.15 * _normal(s, 2.0, 2.5) + 0.15 * _normal(s, 16.0, 5.0)
    vehicle = 0.25 * 2 * _normal(s, 0, 0.5) + 0.75 * _normal(s, 14.0, 7.0)
    return np.stack([ground, air, vehicle], axis=1)


def _climb_densities(z: Floats, extra: float) -> Floats:
    """Densities of climb; `extra` is what GNSS heights add by wandering."""
    ground = 0.9 * _normal(z, 0, float(np.hypot(0.2, extra))) + 0.1 * _normal(z, 0, float(np.hypot(0.6, extra)))
    glide = 0.35 * _normal(z, -1.0, float(np.hypot(0.7, extra)))
    air = glide + 0.25 * _normal(z, 0, float(np.hypot(0.5, extra))) + 0.4 * _normal(z, 0.3, 1.8)
    vehicle = 0.6 * _normal(z, 0, float(np.hypot(0.35, extra))) + 0.4 * _normal(z, 0, 1.0)
    return np.stack([ground, air, vehicle], axis=1)


def _sideways_densities(a: Floats) -> Floats:
    """Densities of the acceleration across the course: 3 to 5 m/s2 in a wing's turns."""
    ground = 0.95 * _normal(a, 0, 0.6) + 0.05 * _normal(a, 0, 2.0)
    air = 0.80 * _normal(a, 0, 0.6) + 0.10 * _normal(a, 4.0, 1.5)
    vehicle = 0.90 * _normal(a, 0, 0.6) + 0.10 * _normal(a, 0, 2.0)
    return np.stack([ground, air, vehicle], axis=1)


def _spread_densities(shake: Floats, gnss_only: bool) -> Floats:
    """Densities of the logarithm of the rolling spread of climb; nothing is too still for standing."""
    calm, width = (np.log(0.25), 0.5) if gnss_only else (np.log(0.13), 0.45)
    air, vehicle = _normal(shake, float(np.log(0.45)), 0.5), _normal(shake, float(np.log(0.2)), 0.7)
    ground = _normal(np.maximum(shake, calm), float(calm), width)
    return np.stack([ground, air, vehicle], axis=1)


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


def _flying_or_driving(path: Ints, likelihood: Floats, grid: _Grid, settings: Settings) -> Ints:
    """Settle which stretches between real stops on foot were flown and which driven, each as a whole.

    A smooth glide looks like a road and a rough road like a flight, but between the air and a car the pilot stands
    on the ground for a while. A flight is the likelier by far where both fit.
    """
    path = path.copy()
    starts, stops = _runs(path)
    running = np.concatenate([np.zeros((1, 3)), np.cumsum(likelihood, axis=0)])
    evidence = running[stops] - running[starts]
    seconds = _seconds(grid, starts, stops)
    stood = evidence[:, GROUND] - evidence[:, AIR] > _STOOD_EVIDENCE
    on_foot = (path[starts] == GROUND) & (stood | (seconds >= settings.shortest_boarding_s))
    group = np.cumsum(np.diff(on_foot, prepend=on_foot[0]) != 0)
    for number in np.unique(group[~on_foot]):
        mine = np.flatnonzero((group == number) & (path[starts] != GROUND))
        if not (path[starts[mine]] == VEHICLE).any():
            continue
        first, last = starts[mine[0]], stops[mine[-1]]
        advantage = min(_MOST_ADVANTAGE, _ADVANTAGE_PER_S * (last - first) * grid.step_s)
        advantage += _PART_FLOWN_ADVANTAGE * (
            (path[starts[mine]] == AIR).any() + (path[first] == path[last - 1] == AIR)
        )
        total = running[last] - running[first]
        path[first:last] = AIR if total[AIR] + advantage >= total[VEHICLE] else VEHICLE
    return path


def _stop_and_go(path: Ints, grid: _Grid, settings: Settings) -> Ints:
    """Turn short flights into driving where a drive lies but a traffic stop away: nobody changes over so fast."""
    path = path.copy()
    while True:
        starts, stops = _runs(path)
        seconds = _seconds(grid, starts, stops)
        brief = (path[starts] == GROUND) & (seconds < settings.quickest_boarding_s)
        for middle in np.flatnonzero(brief[1:-1]) + 1:
            pair = [middle - 1, middle + 1]
            kinds = path[starts[pair]]
            flown = pair[int(np.argmin(kinds))]
            if set(kinds.tolist()) == {AIR, VEHICLE} and seconds[flown] < settings.longest_drive_as_flight_s:
                path[starts[flown] : stops[flown]] = VEHICLE
                break
        else:
            return path


def _seconds(grid: _Grid, starts: Ints, stops: Ints) -> Floats:
    """How long runs last, half of any gap beside them included."""
    middle = 0.5 * (grid.time_s[1:] + grid.time_s[:-1])
    edges = np.concatenate([grid.time_s[:1], middle, grid.time_s[-1:]])
    return np.asarray(edges[stops] - edges[starts])


def _without_short_stops(path: Ints, grid: _Grid, settings: Settings) -> tuple[Ints, Bools]:
    """Turn stops between two flights into flight unless the pilot really stood (M 2).

    Under 90 s he must stand for a third of it and be level throughout; up to five minutes for a fifth: who hangs
    over one place in a strong wind drifts about, who has landed stands. Also marks the stops that stay although
    they are short: their certainty is low.
    """
    path = path.copy()
    unsure = np.zeros(len(path), dtype=np.bool_)
    starts, stops = _runs(path)
    whole = _seconds(grid, starts, stops)
    for number in np.flatnonzero((path[starts] == GROUND) & (whole < settings.long_stop_s)):
        start, stop = starts[number], stops[number]
        if start == 0 or stop == len(path) or path[start - 1] != AIR or path[stop] != AIR:
            continue
        if whole[number] > 1.5 * (stop - start) * grid.step_s:
            continue  # mostly a gap in which anything may have happened
        level = np.abs(grid.climb_mps[start:stop]) < 0.35
        standing = float((level & (grid.speed_mps[start:stop] < 0.9)).sum()) * grid.step_s
        if whole[number] < settings.short_stop_s:
            stood = standing >= max(4.0, 0.35 * whole[number]) and level.mean() > 0.75
        else:
            stood = standing >= 0.2 * whole[number]
        if stood:
            unsure[start:stop] = whole[number] < 30.0
        else:
            path[start:stop] = AIR
    return path, unsure


def _without_lifts(path: Ints, grid: _Grid, settings: Settings) -> Ints:
    """Turn flights that are rides up on a cable into rides: up at an even pace and straight, all the way."""
    path = path.copy()
    half = round(15.0 / grid.step_s)
    turning = _rolling_mean(grid.sideways_mps2, half)
    climb = _rolling_mean(np.nan_to_num(grid.climb_mps), half)
    ride = (
        (climb > settings.least_ride_climb_mps)
        & (np.exp(grid.log_spread) < settings.largest_ride_spread_mps)
        & (turning < 0.5)
    )
    starts, stops = _runs(path)
    for start, stop in zip(starts, stops, strict=True):
        if path[start] == AIR and ride[start:stop].mean() > 0.6 and (stop - start) * grid.step_s >= 40.0:
            path[start:stop] = VEHICLE
    return path


def _rolling_mean(values: Floats, half_width: int) -> Floats:
    """Mean within so many steps to either side."""
    running = np.concatenate([[0.0], np.cumsum(values)])
    index = np.arange(len(values))
    low, high = np.maximum(index - half_width, 0), np.minimum(index + half_width + 1, len(values))
    return np.asarray((running[high] - running[low]) / (high - low))


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
