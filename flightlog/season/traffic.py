"""Where the flying was: hours per square metre, and how many climbs that much flying finds around there."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from flightlog.arrays import Floats

STEP_M = 150.0
TRAFFIC_WIDTH_M = 250.0
"""Blur of the way flown, standard deviation: a climb is met within so much of it (own)."""
COUNTRY_WIDTH_M = 3000.0
"""A spot must beat the climbs per hour of the country around it, over so much (own): sunny hills are no spot."""
COUNTRY_CLIMBS = 4.0
"""So many climbs' worth of the season's mean is mixed into the country's own rate, which few climbs tell badly."""
STRAY_SHARE = 0.25
"""Of the climbs expected: traced to anywhere about, off the ways flown, since one flight's drift moves its ways by
its mean alone, and traces err by more than they know (own)."""
MOST_CELLS = 400_000


@dataclass(frozen=True, eq=False)
class Traffic:
    """On a grid of square cells: hours flown outside circling climbs, and climbs expected, per square metre.

    Row r, column c is the cell whose middle lies at `west_m + c step_m`, `south_m + r step_m`.
    """

    west_m: float
    south_m: float
    step_m: float
    hours_per_m2: Floats  # (rows, columns)
    expected_per_m2: Floats  # (rows, columns); its sum over all cells is the number of climbs

    def expected_at(self, east_m: Floats, north_m: Floats) -> Floats:
        """Climbs expected per square metre at places (n,); those off the grid take its edge."""
        return self._at(self.expected_per_m2, east_m, north_m)

    def hours_at(self, east_m: Floats, north_m: Floats) -> Floats:
        """Hours flown per square metre at places (n,)."""
        return self._at(self.hours_per_m2, east_m, north_m)

    def _at(self, grid: Floats, east_m: Floats, north_m: Floats) -> Floats:
        """Between the middles of four cells."""
        rows, columns = grid.shape
        column = np.clip((east_m - self.west_m) / self.step_m, 0.0, columns - 1.001)
        row = np.clip((north_m - self.south_m) / self.step_m, 0.0, rows - 1.001)
        c, r = column.astype(np.int64), row.astype(np.int64)
        across, up = column - c, row - r
        low = grid[r, c] * (1.0 - across) + grid[r, c + 1] * across
        high = grid[r + 1, c] * (1.0 - across) + grid[r + 1, c + 1] * across
        return np.asarray(low * (1.0 - up) + high * up)

    def drawn(self, count: int, chance: np.random.Generator) -> tuple[Floats, Floats]:
        """Places of so many climbs thrown by chance as the traffic expects them."""
        share = np.cumsum(self.expected_per_m2.ravel())
        cell = np.searchsorted(share, chance.uniform(0.0, share[-1], count))
        row, column = np.divmod(np.minimum(cell, share.size - 1), self.expected_per_m2.shape[1])
        jitter = chance.uniform(-0.5, 0.5, (2, count))
        return self.west_m + (column + jitter[0]) * self.step_m, self.south_m + (row + jitter[1]) * self.step_m


def traffic_of(
    way: tuple[Floats, Floats, Floats], climbs: tuple[Floats, Floats], blur_m: float = TRAFFIC_WIDTH_M
) -> Traffic:
    """The traffic of a region from its way, as east, north and hours (k,), and its climbs, east and north (n,).

    Without any way the climbs themselves, blurred to the width of the country, say where the flying was.
    """
    from scipy.ndimage import gaussian_filter

    east, north = (np.concatenate(pair) for pair in zip(way[:2], climbs, strict=True))
    edge = 2.0 * COUNTRY_WIDTH_M / 3.0
    west_m, south_m = float(east.min()) - edge, float(north.min()) - edge
    width, depth = float(east.max()) + edge - west_m, float(north.max()) + edge - south_m
    step_m = max(STEP_M, (width * depth / MOST_CELLS) ** 0.5)
    shape = (int(depth / step_m) + 2, int(width / step_m) + 2)

    def blurred(east_m: Floats, north_m: Floats, weight: Floats | None, width_m: float) -> Floats:
        row, column = np.rint((north_m - south_m) / step_m), np.rint((east_m - west_m) / step_m)
        at = (row * shape[1] + column).astype(np.int64)
        grid = np.bincount(at, weight, minlength=shape[0] * shape[1]).reshape(shape).astype(np.float64)
        return np.asarray(gaussian_filter(grid, width_m / step_m, mode="constant", truncate=3.5))

    area, count = step_m**2, len(climbs[0])
    wide_climbs = blurred(*climbs, None, COUNTRY_WIDTH_M)
    hours = blurred(way[0], way[1], way[2], blur_m)
    total_hours = float(hours.sum())
    if total_hours > 0.0:
        wide_hours = blurred(way[0], way[1], way[2], COUNTRY_WIDTH_M)
        mean_rate = count / total_hours
        # hours and climbs within the country's width, as numbers
        around = 4.0 * np.pi * COUNTRY_WIDTH_M**2 / area
        rate = (wide_climbs * around + COUNTRY_CLIMBS) / (wide_hours * around + COUNTRY_CLIMBS / mean_rate)
        followed = hours * rate
    else:
        followed = wide_climbs
    expected = (1.0 - STRAY_SHARE) * followed / followed.sum() + STRAY_SHARE * wide_climbs / wide_climbs.sum()
    return Traffic(west_m, south_m, step_m, hours / area, expected * count / area)
