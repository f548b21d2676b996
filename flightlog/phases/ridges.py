"""Beats along a slope: to and fro over a narrow strip of ground, held up by the air that the slope pushes up."""

from __future__ import annotations

import numpy as np

from flightlog.arrays import Bools, Floats, Ints, lengths, middle
from flightlog.phases.grid import FlightGrid, runs
from flightlog.settings import Settings

WINDOWS_S = (90.0, 180.0, 360.0)
"""Lengths of time over which beats are looked for: short beats of a dune up to some kilometres of a ridge."""


def ridge_mask(grid: FlightGrid, free: Bools, settings: Settings) -> Bools:
    """Steps in which the pilot beat along a slope, among those still `free`.

    A window counts when the air held the wing up (mean climb above `ridge_least_mps`, where still air would let
    it sink at a metre a second), when the pilot stayed over the same ground (net way far less than the way flown
    through the air) and when that ground is a narrow strip, flown to and fro, or a small patch: straight on into a
    strong wind is a glide. Circles in rising air are no beats:
    they are taken before. Where the wing went down for long, at either end or in between, the lift was left: that
    is no part of the climb, and neither is a stretch that lost height as a whole.
    """
    found = np.zeros(grid.time_s.size, dtype=bool)
    sums = _moment_sums(grid)
    taken = np.concatenate([[0], np.cumsum(~free)])
    for window_s in WINDOWS_S:
        _mark_windows(grid, sums, taken, grid.steps(window_s), settings, found)
    kept = np.zeros_like(found)
    for start, stop in runs(found & free):
        first, last = _trim_to_strip(grid, start, stop)
        if (last - first) * grid.step_s < settings.ridge_least_s:
            continue
        for a, b in _held_parts(grid, first, last, settings):
            if _is_held(grid, a, b, settings):
                kept[a:b] = True
    return kept


def _held_parts(grid: FlightGrid, first: int, last: int, settings: Settings) -> list[tuple[int, int]]:
    """The parts of [first, last) without its long descents, in no order.

    A descent is where the height lost, beyond what `ridge_least_mps` allows for its time, is greatest. At an end
    of the stretch `ridge_end_loss_m` of it are enough: the climb ends near its top and begins near its bottom. In
    between `ridge_sink_loss_m`: a beat through sink and back is part of soaring.
    """
    below = grid.altitude_m - settings.ridge_least_mps * grid.time_s
    parts, todo = [], [(first, last)]
    while todo:
        a, b = todo.pop()
        if b - a < 2:
            continue
        left = below[a:b]
        loss_m = np.maximum.accumulate(left) - left
        low = int(np.argmax(loss_m))
        high = int(np.argmax(left[: low + 1]))
        at_start, at_end = left[0] - left, left.max() - left[-1]
        top = int(np.flatnonzero(left == left.max())[-1])
        bottom = int(np.argmax(at_start))
        if loss_m[low] >= settings.ridge_sink_loss_m:
            todo += [(a, a + high + 1), (a + low, b)]
        elif at_end >= settings.ridge_end_loss_m and top > 0:
            todo.append((a, a + top + 1))
        elif at_start[bottom] >= settings.ridge_end_loss_m and bottom > 0:
            todo.append((a + bottom, b))
        else:
            parts.append((a, b))
    return parts


def _is_held(grid: FlightGrid, first: int, last: int, settings: Settings) -> bool:
    """Whether a part of such a stretch is long enough for one beat, and did not go down as a whole."""
    duration_s = (last - first) * grid.step_s
    lost_m = float(grid.altitude_m[first] - grid.altitude_m[last - 1])
    return duration_s >= settings.ridge_part_s and lost_m <= settings.ridge_held_loss_m


def _mark_windows(
    grid: FlightGrid, sums: Floats, taken: Ints, width: int, settings: Settings, found: Bools
) -> None:
    """Mark every window of `width` steps, all of it free, that looks like beats.

    `taken` (n + 1,): how many steps before each are not free.
    """
    if width >= found.size:
        return
    a, b = slice(None, -width), slice(width, None)  # first and last steps of all windows
    good = taken[width + 1 :] == taken[: -width - 1]
    if not good.any():
        return
    rise_m = grid.altitude_m[b] - grid.altitude_m[a]
    good &= rise_m > settings.ridge_least_mps * (width * grid.step_s)
    left = np.flatnonzero(good)
    right = left + width
    net_m = lengths(grid.east_m[right] - grid.east_m[left], grid.north_m[right] - grid.north_m[left])
    near = net_m < settings.ridge_net_share * (grid.air_way_m[right] - grid.air_way_m[left])
    good[left[~near]] = False
    left, right = left[near], right[near]
    if left.size == 0:
        return
    long_rms, wide_rms = _extent((sums.take(right, axis=1) - sums.take(left, axis=1)) / width)
    net_m, way_m = net_m[near], grid.ground_way_m[right] - grid.ground_way_m[left]
    beats = (wide_rms < settings.ridge_width_share * long_rms) & (net_m < settings.ridge_turned_share * way_m)
    good[left] = beats | (long_rms < settings.ridge_patch_m)
    count = np.cumsum(good)  # a step is in a window where one of those that begin up to `width` before it is good
    begun = np.concatenate([count, np.full(width, count[-1])])
    begun[width + 1 :] -= count[:-1]
    found |= begun > 0


def _moment_sums(grid: FlightGrid) -> Floats:
    """(5, n + 1): running sums of x, y, xx, yy, xy, from the middle of the flight."""
    x, y = grid.east_m - grid.east_m.mean(), grid.north_m - grid.north_m.mean()
    sums = np.zeros((5, x.size + 1))
    np.cumsum(np.stack([x, y, x * x, y * y, x * y]), axis=1, out=sums[:, 1:])
    return sums


def _extent(means: Floats) -> tuple[Floats, Floats]:
    """Root mean square extent along the long and the short axis, from means (5, k) of x, y, xx, yy, xy."""
    x, y, xx, yy, xy = means
    xx, yy, xy = xx - x * x, yy - y * y, xy - x * y
    half, root = 0.5 * (xx + yy), np.sqrt(0.25 * (xx - yy) ** 2 + xy**2)
    return np.sqrt(np.maximum(half + root, 0.0)), np.sqrt(np.maximum(half - root, 0.0))


def _trim_to_strip(grid: FlightGrid, start: int, stop: int) -> tuple[int, int]:
    """Leave out the way in and the way out: what lies outside the strip that the middle of the run covers."""
    quarter = (stop - start) // 5
    x, y = grid.east_m[start:stop], grid.north_m[start:stop]
    core = slice(quarter, max(quarter + 2, stop - start - quarter))
    offsets = np.stack([x - middle(x[core]), y - middle(y[core])])
    spread = offsets[:, core] - offsets[:, core].mean(axis=1, keepdims=True)
    _, axes = np.linalg.eigh(spread @ spread.T / spread.shape[1] + 1e-9 * np.eye(2))
    along = axes.T @ offsets
    low, high = along[:, core].min(axis=1), along[:, core].max(axis=1)
    margin = 30.0 + 0.15 * (high - low)
    inside = (along >= (low - margin)[:, None]) & (along <= (high + margin)[:, None])
    places = np.flatnonzero(inside[0] & inside[1])
    return start + int(places[0]), start + int(places[-1]) + 1
