"""Ground, air or vehicle: what carried the pilot, second by second.

A hidden Markov chain on a grid of seconds (Rabiner 1989; phases of flight by such chains: Perrichon et al. 2024).
What decides the hard case, hanging over one place in a strong wind, stands in `evidence`.
"""

from __future__ import annotations

import numpy as np

from flightlog.arrays import Bools, Floats, Ints, zero_where_unknown
from flightlog.motion.carriers import by_wing_or_wheels
from flightlog.motion.chains import most_likely_path
from flightlog.motion.evidence import AIR, GROUND, SLOW_FLIGHT, VEHICLE, Grid, even_grid, log_likelihood
from flightlog.motion.motion import Motion, Spell
from flightlog.motion.stops import rolling_mean, run_seconds, runs_of, standing, until_a_stand, without_false_stops
from flightlog.settings import Settings

KINDS = ("ground", "air", "vehicle")
_STOOD_EVIDENCE = 30.0  # shorter: 20 s of standing dead still
_ADVANTAGE_PER_S, _MOST_ADVANTAGE = 0.25, 60.0  # of flying over driving, in logarithms of likelihood
_PART_FLOWN_ADVANTAGE = 20.0  # once more where part of it can only be flight, once more where both ends are


def find_spells(motion: Motion, settings: Settings) -> tuple[Spell, ...]:
    """Stretches of the log on the ground, in the air and in a vehicle, end to end from first fix to last."""
    grid = even_grid(motion)
    seen = log_likelihood(grid)
    moves, which = _log_transitions(grid)
    states = most_likely_path(seen, moves, np.log([0.5, 0.35, 0.1, 0.05]), which)
    path, likelihood = _slow_flight_is_flight(states, seen)
    path = _flying_or_driving(path, likelihood, grid, settings)
    path = _stop_and_go(path, grid, settings)
    path = _without_lifts(path, grid, settings)
    still = standing(grid)
    path = until_a_stand(path, grid, still, settings)
    path, unsure = without_false_stops(path, likelihood, grid, still, settings)
    return by_wing_or_wheels(motion, grid, still, _as_spells(path, unsure, grid, motion), settings)


_PER_SECOND = np.array(
    [  # to ground, air, vehicle, slow flight
        [1 - 4.01e-3, 2e-3, 1e-5, 2e-3],
        [4e-3, 1 - 2.4e-2, 1e-12, 2e-2],  # nobody steps from the air into a car
        [1e-5, 1e-12, 1 - 1e-5, 1e-12],
        [4e-3, 3e-2, 1e-12, 1 - 3.4e-2],
    ]
)


def _log_transitions(grid: Grid) -> tuple[Floats, Ints]:
    """Transitions (u, 4, 4), and which of them leads into each step after the first.

    Over a gap, that of all the seconds it lasted.
    """
    gaps = np.flatnonzero(grid.piece[1:] != grid.piece[:-1])
    silence_s = grid.time_s[gaps + 1] - grid.time_s[gaps]
    seconds, gap_which = np.unique(np.clip(np.round(silence_s), 1, 1_000_000), return_inverse=True)
    which = np.zeros(len(grid.time_s) - 1, dtype=np.int64)
    which[gaps] = gap_which.reshape(-1) + 1
    lasting = [max(1, round(grid.step_s)), *seconds.astype(np.int64).tolist()]
    return np.log([np.linalg.matrix_power(_PER_SECOND, lasts) for lasts in lasting]), which


def _slow_flight_is_flight(states: Ints, seen: Floats) -> tuple[Ints, Floats]:
    """The path over three states and their likelihoods (g, 3): air's is that of the flight which the path chose.

    Where the path stands on the ground, the better of the two flights is the one to beat.
    """
    flying = seen[:, AIR].copy()
    slow, ground = states == SLOW_FLIGHT, states == GROUND
    flying[slow] = seen[slow, SLOW_FLIGHT]
    flying[ground] = np.maximum(seen[ground, AIR], seen[ground, SLOW_FLIGHT])
    likelihood = np.stack([seen[:, GROUND], flying, seen[:, VEHICLE]], axis=1)
    return np.where(slow, AIR, states), likelihood


def _flying_or_driving(path: Ints, likelihood: Floats, grid: Grid, settings: Settings) -> Ints:
    """Settle which stretches between real stops on foot were flown and which driven, each as a whole.

    A smooth glide looks like a road and a rough road like a flight, but between the air and a car the pilot stands
    on the ground for a while. A flight is the likelier by far where both fit.
    """
    if not (path == VEHICLE).any():
        return path
    path = path.copy()
    starts, stops = runs_of(path)
    running = np.concatenate([np.zeros((1, 3)), np.cumsum(likelihood, axis=0)])
    evidence = running[stops] - running[starts]
    seconds = run_seconds(grid, starts, stops)
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


def _stop_and_go(path: Ints, grid: Grid, settings: Settings) -> Ints:
    """Turn short flights into driving where a drive lies but a traffic stop away: nobody changes over so fast."""
    path = path.copy()
    while True:
        starts, stops = runs_of(path)
        seconds = run_seconds(grid, starts, stops)
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


def _without_lifts(path: Ints, grid: Grid, settings: Settings) -> Ints:
    """Turn flights that are rides up on a cable into rides: up at an even pace and straight, all the way."""
    path = path.copy()
    half = round(15.0 / grid.step_s)
    rises = rolling_mean(zero_where_unknown(grid.climb_mps), half) > settings.least_ride_climb_mps
    starts, stops = runs_of(path)
    long = (path[starts] == AIR) & ((stops - starts) * grid.step_s >= 40.0)
    up = [slice(a, b) for a, b in zip(starts[long], stops[long], strict=True) if rises[a:b].mean() > 0.6]
    if up:
        turning = rolling_mean(grid.sideways_mps2, half)
        ride = rises & (np.exp(grid.log_spread) < settings.largest_ride_spread_mps) & (turning < 0.5)
        for one in up:
            if ride[one].mean() > 0.6:
                path[one] = VEHICLE
    return path


def _as_spells(path: Ints, unsure: Bools, grid: Grid, motion: Motion) -> tuple[Spell, ...]:
    """The runs of the path as spells that lie end to end and cover the log."""
    starts, stops = runs_of(path)
    spells = []
    thin = motion.altitude_source == "gnss"
    for number, (start, stop) in enumerate(zip(starts, stops, strict=True)):
        begins = motion.time_s[0] if number == 0 else 0.5 * (grid.time_s[start - 1] + grid.time_s[start])
        ends = motion.time_s[-1] if stop == len(path) else 0.5 * (grid.time_s[stop - 1] + grid.time_s[stop])
        sure = not (thin or unsure[start:stop].any())
        spells.append(Spell(KINDS[path[start]], float(begins), float(ends), sure))
    return tuple(spells)
