"""Beats along a slope: to and fro over a narrow strip of ground, held up by the air that the slope pushes up."""

from __future__ import annotations

import numpy as np

from flightlog.arrays import Bools, Floats
from flightlog.phases.grid import FlightGrid, runs
from flightlog.settings import Settings

WINDOWS_S = (90.0, 180.0, 360.0)
"""Lengths of time over which beats are looked for: short beats of a dune up to some kilometres of a ridge."""


def ridge_mask(grid: FlightGrid, free: Bools, settings: Settings) -> Bools:
    """Steps in which the pilot beat along a slope, among those still `free`.

    A window counts when the air held the wing up (mean climb above `ridge_least_mps`, where still air would let
    it sink at a metre a second), when the pilot stayed over the same ground (net way far less than the way flown
    through the air) and when that ground is a narrow strip or a small patch. Circles in rising air are no beats:
    they are taken before.
    """
    found = np.zeros(grid.time_s.size, dtype=bool)
    for start, stop in runs(free):
        for window_s in WINDOWS_S:
            _mark_windows(grid, start, stop, grid.steps(window_s), settings, found)
    kept = np.zeros_like(found)
    for start, stop in runs(found & free):
        first, last = _trim_to_strip(grid, start, stop)
        if (last - first) * grid.step_s >= settings.ridge_least_s:
            kept[first:last] = True
    return kept


def _mark_windows(grid: FlightGrid, start: int, stop: int, width: int, settings: Settings, found: Bools) -> None:
    """Mark every window of `width` steps inside [start, stop) that looks like beats."""
    if stop - start <= width:
        return
    a = np.arange(start, stop - width)
    b = a + width
    duration_s = width * grid.step_s
    rise_mps = (grid.altitude_m[b] - grid.altitude_m[a]) / duration_s
    net_m = np.hypot(grid.east_m[b] - grid.east_m[a], grid.north_m[b] - grid.north_m[a])
    flown_m = _way(grid.air_east_m, grid.air_north_m)
    long_rms, wide_rms = _extent(grid.east_m, grid.north_m, a, b)
    strip = (wide_rms < settings.ridge_width_share * long_rms) | (long_rms < settings.ridge_patch_m)
    good = (
        (rise_mps > settings.ridge_least_mps)
        & (net_m < settings.ridge_net_share * (flown_m[b] - flown_m[a]))
        & strip
    )
    edges = np.zeros(found.size + 1, dtype=np.int64)
    np.add.at(edges, a[good], 1)
    np.add.at(edges, b[good] + 1, -1)
    found |= np.cumsum(edges[:-1]) > 0


def _way(east_m: Floats, north_m: Floats) -> Floats:
    """Length of the way flown up to every step."""
    return np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(east_m), np.diff(north_m)))])


def _extent(east_m: Floats, north_m: Floats, a: np.ndarray, b: np.ndarray) -> tuple[Floats, Floats]:
    """Root mean square extent of the positions a..b along their long and their short axis."""
    x, y = east_m - east_m.mean(), north_m - north_m.mean()
    count = (b - a).astype(float)

    def mean(values: Floats) -> Floats:
        total = np.concatenate([[0.0], np.cumsum(values)])
        return np.asarray((total[b] - total[a]) / count, dtype=np.float64)

    mean_x, mean_y = mean(x), mean(y)
    xx, yy, xy = mean(x * x) - mean_x**2, mean(y * y) - mean_y**2, mean(x * y) - mean_x * mean_y
    half, root = 0.5 * (xx + yy), np.sqrt(0.25 * (xx - yy) ** 2 + xy**2)
    return np.sqrt(np.maximum(half + root, 0.0)), np.sqrt(np.maximum(half - root, 0.0))


def _trim_to_strip(grid: FlightGrid, start: int, stop: int) -> tuple[int, int]:
    """Leave out the way in and the way out: what lies outside the strip that the middle of the run covers."""
    quarter = (stop - start) // 5
    x, y = grid.east_m[start:stop], grid.north_m[start:stop]
    core = slice(quarter, max(quarter + 2, stop - start - quarter))
    centre = np.array([np.median(x[core]), np.median(y[core])])
    offsets = np.stack([x, y]) - centre[:, None]
    _, axes = np.linalg.eigh(np.cov(offsets[:, core]) + 1e-9 * np.eye(2))
    along = axes.T @ offsets
    low, high = along[:, core].min(axis=1), along[:, core].max(axis=1)
    margin = 30.0 + 0.15 * (high - low)
    inside = np.all((along >= (low - margin)[:, None]) & (along <= (high + margin)[:, None]), axis=0)
    places = np.flatnonzero(inside)
    return start + int(places[0]), start + int(places[-1]) + 1
