"""Real stops: who has landed stands, who hangs over one place in a strong wind drifts about."""

from __future__ import annotations

import numpy as np

from flightlog.arrays import Bools, Floats, Ints, zero_where_unknown
from flightlog.motion.evidence import AIR, GROUND, Grid
from flightlog.settings import Settings

STANDING_WINDOW_S = 3.0
"""Speed and climb are averaged over so long: noise of 0.3 m/s must not look like a step."""
STANDING_MPS, STANDING_CLIMB_MPS, STANDING_CLIMB_GNSS_MPS = 0.6, 0.25, 0.4
"""Mean speed and climb of a standing pilot, smoothed: 0.1 to 0.4 and 0.02 to 0.15 (M 1)."""
SURE_STOP_S = 30.0
"""A shorter stop may be a touch and go."""


def runs_of(path: Ints) -> tuple[Ints, Ints]:
    """First index and one past the last of each run of one state."""
    edges = np.flatnonzero(path[1:] != path[:-1]) + 1
    return np.concatenate([[0], edges]), np.concatenate([edges, [len(path)]])


def run_seconds(grid: Grid, starts: Ints, stops: Ints) -> Floats:
    """How long runs last, half of any gap beside them included."""
    middle = 0.5 * (grid.time_s[1:] + grid.time_s[:-1])
    edges = np.concatenate([grid.time_s[:1], middle, grid.time_s[-1:]])
    return np.asarray(edges[stops] - edges[starts])


def rolling_mean(values: Floats, half_width: int) -> Floats:
    """Mean within so many steps to either side; of what there is of them at the ends."""
    count = len(values)
    half = min(half_width, max(count - 1, 0))
    running = np.concatenate([np.zeros(half + 1), np.cumsum(values), np.zeros(half)])
    running[half + count :] = running[half + count]
    within = np.full(count, 2 * half + 1)
    within[:half] -= np.arange(half, 0, -1)
    within[count - half :] -= np.arange(1, half + 1)
    return np.asarray((running[2 * half + 1 :] - running[:count]) / within)


def standing(grid: Grid) -> Bools:
    """Where the pilot stands still, (g,)."""
    half = max(1, int(STANDING_WINDOW_S / 2 / grid.step_s))
    speed = rolling_mean(zero_where_unknown(grid.speed_mps), half)
    climb = rolling_mean(zero_where_unknown(grid.climb_mps), half)
    still = STANDING_CLIMB_GNSS_MPS if grid.gnss_only else STANDING_CLIMB_MPS
    return np.asarray((speed < STANDING_MPS) & (np.abs(climb) < still))


def without_false_stops(
    path: Ints, likelihood: Floats, grid: Grid, still: Bools, settings: Settings
) -> tuple[Ints, Bools]:
    """Turn stops between two flights into flight unless the pilot really stood: `still` from `standing`.

    Whoever lands comes down to the ground, stands for a few seconds at least and for a share of a longer stop; in
    between he follows the slope under his feet. A stop that is mostly standing needs no more proof. A gap of the
    recorder in which most of the stop lies is left alone: anything may have happened. Also marks the stops that
    stay although they are short: their certainty is low.
    """
    path, unsure = path.copy(), np.zeros(len(path), dtype=np.bool_)
    favour = likelihood[:, GROUND] - likelihood[:, AIR]
    starts, stops = runs_of(path)
    whole = run_seconds(grid, starts, stops)
    for number in np.flatnonzero(path[starts] == GROUND):
        start, stop = int(starts[number]), int(stops[number])
        if start == 0 or stop == len(path) or path[start - 1] != AIR or path[stop] != AIR:
            continue
        if whole[number] > 1.5 * (stop - start) * grid.step_s:
            continue
        if _stands_long(still[start:stop], grid, settings) or _short_landing(
            still[start:stop], float(favour[start:stop].sum()), grid, (start, stop), settings
        ):
            unsure[start:stop] = whole[number] < SURE_STOP_S
        else:
            path[start:stop] = AIR
    return path, unsure


def _stands_long(still: Bools, grid: Grid, settings: Settings) -> bool:
    """Whether the pilot stands for so long on end as no wing hangs still in the air."""
    width = max(1, round(settings.long_stand_s / grid.step_s))
    if len(still) < width:
        return False
    running = np.concatenate([[0], np.cumsum(still)])
    return bool((running[width:] - running[:-width]).max() >= settings.long_stand_share * width)


def _short_landing(still: Bools, evidence: float, grid: Grid, bounds: tuple[int, int], settings: Settings) -> bool:
    """Whether the wing came down to this stop, the pilot stood, and his height then followed the ground."""
    start, stop = bounds
    before = max(start - round(settings.stop_descent_s / grid.step_s), 0)
    sunk = float(grid.altitude_m[before] - grid.altitude_m[start]) / max(float(start - before) * grid.step_s, 1.0)
    allowed = settings.stop_climb_mps + settings.stop_grade * grid.speed_mps[start:stop]
    steep = np.abs(zero_where_unknown(grid.climb_mps[start:stop])) > allowed
    stood = still.mean() >= settings.stop_standing_share and still.sum() * grid.step_s >= settings.least_stop_s
    came_down = not sunk < settings.stop_descent_mps and steep.mean() < settings.stop_steep_share
    return bool(stood and came_down and evidence >= settings.stop_evidence)


def until_a_stand(path: Ints, grid: Grid, still: Bools, settings: Settings) -> Ints:
    """Move the ends of flights outwards over slow flight taken for a walk: `still` from `standing`.

    Nobody touches down and walks off without stopping first, nor starts his run without having stood. Where a
    flight's end and the first stand lie apart by a change of height, the descent was flown; likewise at the start.
    """
    path = path.copy()
    starts, stops = runs_of(path)
    reach = round(settings.longest_walk_off_s / grid.step_s)
    for number in np.flatnonzero(path[starts] == AIR):
        start, stop = int(starts[number]), int(stops[number])
        if stop < len(path) and path[stop] == GROUND:
            ahead = np.flatnonzero(still[stop : min(stop + reach, int(stops[number + 1]))])
            if len(ahead) and _flown(grid, stop, stop + int(ahead[0]), settings.least_walk_off_mps, settings):
                path[stop : stop + int(ahead[0])] = AIR
        if start > 0 and path[start - 1] == GROUND:
            low = max(start - reach, int(starts[number - 1]))
            behind = np.flatnonzero(still[low:start])
            if len(behind) and _flown(grid, low + int(behind[-1]), start, settings.least_walk_up_mps, settings):
                path[low + int(behind[-1]) + 1 : start] = AIR
    return path


def _flown(grid: Grid, first: int, last: int, least_mps: float, settings: Settings) -> bool:
    """Whether height changes between two steps by more than walking a few steps does, and so fast."""
    last = min(last, len(grid.altitude_m) - 1)
    change = abs(float(grid.altitude_m[last] - grid.altitude_m[first]))
    wander = settings.gnss_altitude_wander_m if grid.gnss_only else 0.0
    fast = change >= least_mps * float(grid.time_s[last] - grid.time_s[first])
    return fast and change >= settings.least_walk_off_height_m + wander
