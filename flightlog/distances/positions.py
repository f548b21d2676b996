"""Fixes in space, and boxes around runs of them: what the searches for the best distances work on.

Distances on the ellipsoid are told by straight lines through the earth. A chord c belongs to the arc
2 R asin(c / 2R), R the earth's radius of curvature; boxes bound chords of fixes, and arcs grow with chords.
This holds at any extent, at the date line and at the poles, where flat maps stretch.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import cast

import numpy as np

from flightlog.arrays import Floats, Ints
from flightlog.earth.geodesy import WGS84_A_M, WGS84_F, geodesic_m

_E2 = WGS84_F * (2.0 - WGS84_F)
LEAST_RADIUS_M = WGS84_A_M * (1.0 - _E2)
"""Of all curves on WGS 84 that along the meridian at the equator is bent most: 6335.4 km."""
GREATEST_RADIUS_M = WGS84_A_M / np.sqrt(1.0 - _E2)
"""And those at the poles least: 6399.6 km."""
_RADIUS_M = 0.5 * (LEAST_RADIUS_M + GREATEST_RADIUS_M)
_LARGEST_HALF_CHORD = 1.0 - 1e-9  # of the radius: keeps arcs of fixes opposite each other finite


@dataclass(frozen=True, eq=False)
class Positions:
    """The n fixes of a flight on the ellipsoid, in order of time; all arrays (n,)."""

    time_s: Floats
    latitude_deg: Floats
    longitude_deg: Floats
    east_m: Floats  # of the middle fix, straight on; so is the north
    north_m: Floats
    up_m: Floats  # beside the tangent plane there: negative, the earth being round

    def __len__(self) -> int:
        return len(self.time_s)

    def reordered(self, order: Ints) -> Positions:
        """The same fixes in another order."""
        return Positions(
            self.time_s[order],
            self.latitude_deg[order],
            self.longitude_deg[order],
            self.east_m[order],
            self.north_m[order],
            self.up_m[order],
        )

    def arc_m(self, i: Ints | int, j: Ints | int) -> Floats:
        """Distance between fixes i and j (indices of any shapes), m; off by `arc_error_share` at most."""
        return arc_of_chord_m(self.chord_m(i, j))

    def geodesic_m(self, i: int, j: int) -> float:
        """Distance between fixes i and j on the ellipsoid, m, exactly."""
        lat, lon = self.latitude_deg, self.longitude_deg
        return geodesic_m(float(lat[i]), float(lon[i]), float(lat[j]), float(lon[j]))[0]

    def chord_m(self, i: Ints | int, j: Ints | int) -> Floats:
        """Straight line through the earth between fixes i and j, m."""
        east = self.east_m[i] - self.east_m[j]
        north = self.north_m[i] - self.north_m[j]
        up = self.up_m[i] - self.up_m[j]
        return cast(Floats, np.sqrt(east * east + north * north + up * up))


def positions_of(time_s: Floats, latitude_deg: Floats, longitude_deg: Floats) -> Positions:
    """The fixes on the ellipsoid; such without a position are left out.

    Arrays (n,), seconds and degrees; times not decreasing. n may be 0.
    """
    latitude, longitude = np.radians(latitude_deg), np.radians(longitude_deg)
    known = np.isfinite(latitude) & np.isfinite(longitude) & np.isfinite(time_s)
    latitude, longitude = latitude[known], longitude[known]
    prime_m = WGS84_A_M / np.sqrt(1.0 - _E2 * np.sin(latitude) ** 2)
    centred = np.stack(
        (
            prime_m * np.cos(latitude) * np.cos(longitude),
            prime_m * np.cos(latitude) * np.sin(longitude),
            prime_m * (1.0 - _E2) * np.sin(latitude),
        )
    )
    local = np.zeros_like(centred)
    if centred.shape[1]:
        middle = centred.shape[1] // 2
        axes = _axes(float(latitude[middle]), float(longitude[middle]))
        local = axes @ (centred - centred[:, middle : middle + 1])
    return Positions(time_s[known], latitude_deg[known], longitude_deg[known], local[0], local[1], local[2])


def _axes(latitude: float, longitude: float) -> Floats:
    """East, north and up at a place, as rows; radians."""
    sin_lat, cos_lat, sin_lon, cos_lon = (f(a) for a in (latitude, longitude) for f in (np.sin, np.cos))
    return np.array(
        [
            [-sin_lon, cos_lon, 0.0],
            [-sin_lat * cos_lon, -sin_lat * sin_lon, cos_lat],
            [cos_lat * cos_lon, cos_lat * sin_lon, sin_lat],
        ]
    )


def arc_of_chord_m(chord_m: Floats, radius_m: float = _RADIUS_M) -> Floats:
    """Length on a sphere of that radius above a straight line through it; arrays of any shape, m.

    >>> round(float(arc_of_chord_m(np.array(100_000.0))), 2)
    100001.03
    """
    half = chord_m / (2.0 * radius_m)
    square = half * half
    if float(np.max(half, initial=0.0)) < 0.05:  # 637 km: the next term of the series is below a millimetre
        return chord_m * (1.0 + square * (1.0 / 6.0 + square * (3.0 / 40.0 + square * 15.0 / 336.0)))
    return 2.0 * radius_m * np.arcsin(np.minimum(half, _LARGEST_HALF_CHORD))


def arc_error_share(chord_m: float) -> float:
    """How much longer or shorter, as a share, a geodesic of that chord may be than its arc.

    Over the same chord a curve is at most as long as a circle's arc that is nowhere less bent (Schur 1921); that
    flatter arcs are shorter holds for the nearly plane geodesics too. 5e-8 at 100 km, 5e-7 at 300 km.
    """
    chord = np.array(max(chord_m, 1.0))
    arc = float(arc_of_chord_m(chord))
    longest = float(arc_of_chord_m(chord, LEAST_RADIUS_M))
    shortest = float(arc_of_chord_m(chord, float(GREATEST_RADIUS_M)))
    return max(longest / arc - 1.0, 1.0 - shortest / arc) + 1e-12


@dataclass(frozen=True, eq=False)
class Blocks:
    """Boxes around runs of neighbouring fixes.

    Box k holds the fixes `first[k]` to `last[k]`; `low` and `high` are its corners, (3, blocks) m.
    """

    first: Ints
    last: Ints
    low: Floats
    high: Floats

    def picked(self, chosen: Ints) -> Blocks:
        """Some of the blocks, in the order asked for."""
        return Blocks(self.first[chosen], self.last[chosen], self.low[:, chosen], self.high[:, chosen])

    def are_single_fixes(self) -> bool:
        """Whether every box is one fix, a point."""
        return bool(np.array_equal(self.first, self.last))

    def diagonal_m(self) -> Floats:
        """Length of each box from corner to corner."""
        return cast(Floats, np.sqrt(((self.high - self.low) ** 2).sum(axis=0)))


def blocks_of(positions: Positions, first: Ints, last: Ints) -> Blocks:
    """Boxes around the fixes first[k] to last[k], which lie one after the other without overlap."""
    space = np.stack((positions.east_m, positions.north_m, positions.up_m))
    edges = np.stack((first, last + 1), axis=1).ravel()
    if len(edges) and edges[-1] == space.shape[1]:
        edges = edges[:-1]  # reduceat runs to the end by itself
    low = np.minimum.reduceat(space, edges, axis=1)[:, ::2]
    high = np.maximum.reduceat(space, edges, axis=1)[:, ::2]
    return Blocks(first, last, low, high)


def farthest_chord_m(one: Blocks, other: Blocks) -> Floats:
    """Greatest distance between their corners, (blocks of one, blocks of the other): no fixes are farther."""
    square = np.zeros((one.low.shape[1], other.low.shape[1]))
    are_points = one.are_single_fixes() and other.are_single_fixes()
    for axis in range(3):
        reach = one.high[axis][:, None] - other.low[axis]
        if not are_points:
            behind = other.high[axis] - one.low[axis][:, None]
            np.maximum(reach, behind, out=reach)
        square += np.multiply(reach, reach, out=reach)
    return cast(Floats, np.sqrt(square, out=square))


def nearest_chord_m(one: Blocks, other: Blocks) -> Floats:
    """Least distance between the boxes, (blocks of one, blocks of the other): no fixes are nearer."""
    square = np.zeros((one.low.shape[1], other.low.shape[1]))
    for axis in range(3):
        ahead = one.low[axis][:, None] - other.high[axis]
        behind = other.low[axis] - one.high[axis][:, None]
        gap = np.maximum(np.maximum(ahead, behind, out=ahead), 0.0, out=ahead)
        square += np.multiply(gap, gap, out=gap)
    return cast(Floats, np.sqrt(square, out=square))
