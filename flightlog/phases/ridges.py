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
    sums = _moment_sums(grid)
    for start, stop in runs(free):
        for window_s in WINDOWS_S:
            _mark_windows(grid, sums, start, stop, grid.steps(window_s), settings, found)
    kept = np.zeros_like(found)
    for start, stop in runs(found & free):
        first, last = _trim_to_strip(grid, start, stop)
        if (last - first) * grid.step_s >= settings.ridge_least_s:
            kept[first:last] = True
    return kept


def _mark_windows(
    grid: FlightGrid, sums: Floats, start: int, stop: int, width: int, settings: Settings, found: Bools
) -> None:
    """Mark every window of `width` steps inside [start, stop) that looks like beats."""
    if stop - start <= width:
        return
    a = np.arange(start, stop - width)
    b = a + width
    duration_s = width * grid.step_s
    rise_mps = (grid.altitude_m[b] - grid.altitude_m[a]) / duration_s
    net_m = np.hypot(grid.east_m[b] - grid.east_m[a], grid.north_m[b] - grid.north_m[a])
    flown_m = grid.air_way_m[b] - grid.air_way_m[a]
    long_rms, wide_rms = _extent(sums, a, b)
    strip = (wide_rms < settings.ridge_width_share * long_rms) | (long_rms < settings.ridge_patch_m)
    good = (rise_mps > settings.ridge_least_mps) & (net_m < settings.ridge_net_share * flown_m) & strip
    for first, last in runs(good):
        found[a[first] : b[last - 1] + 1] = True


def _moment_sums(grid: FlightGrid) -> Floats:
    """(5, n + 1): running sums of x, y, xx, yy, xy, from the middle of the flight."""
    x, y = grid.east_m - grid.east_m.mean(), grid.north_m - grid.north_m.mean()
    sums = np.zeros((5, x.size + 1))
    np.cumsum(np.stack([x, y, x * x, y * y, x * y]), axis=1, out=sums[:, 1:])
    return sums


def _extent(sums: Floats, a: np.ndarray, b: np.ndarray) -> tuple[Floats, Floats]:
    """Root mean square extent of the positions a..b along their long and their short axis."""
    x, y, xx, yy, xy = (sums[:, b] - sums[:, a]) / (b - a)
    xx, yy, xy = xx - x * x, yy - y * y, xy - x * y
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
