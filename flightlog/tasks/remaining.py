"""The shortest way left, from any number of points at once: by dynamic programming over points of each boundary.

D(p, j) is the shortest way from p through targets j, j + 1, ... It is D(p, j + 1) where p touches target j
already, else the least of |p - q| + D(q, j + 1) over the points q of its boundary. Targets that must be left
(not convex) need nothing special (Bellman 1957).
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from flightlog.arrays import Floats
from flightlog.tasks.geometry import LINE, Target, TaskPlane

BOUNDARY_POINTS = 720
"""Points of each boundary, every half degree of a circle."""
FINER_STEPS = np.linspace(-1.0, 1.0, 33)
"""Steps between them at which the way is looked at once more; what comes after is taken as straight in between."""
_BLOCK = 2048
"""Points evaluated at a time: keeps the table of distances in 12 MB."""
_COARSE = 32


@dataclass(frozen=True, eq=False)
class WaysLeft:
    """Tables of a task up to one of its targets: points of each boundary, and the way left from them."""

    targets: tuple[Target, ...]
    east_m: tuple[Floats, ...]  # of each target: (b,)
    north_m: tuple[Floats, ...]
    after_m: tuple[Floats, ...]  # of each target: (b,) from the points of its boundary through the later targets

    def way_m(self, east_m: Floats, north_m: Floats, target: int) -> Floats:
        """The shortest way from points, (k,), through this target and all later ones; within 0.1 m, see M 8."""
        east, north = np.asarray(east_m, dtype=np.float64), np.asarray(north_m, dtype=np.float64)
        way = np.zeros(east.shape)
        open_ = np.arange(east.size)
        for j in range(target, len(self.targets)):
            if open_.size == 0:
                break
            touched = self.targets[j].holds(east[open_], north[open_])
            away = open_[~touched]
            for first in range(0, away.size, _BLOCK):
                chosen = away[first : first + _BLOCK]
                way[chosen] = self._least_m(east[chosen], north[chosen], j)
            open_ = open_[touched]
        return way

    def nearest(self, east_m: Floats, north_m: Floats, target: int) -> tuple[int, float]:
        """The point with the shortest way left, and that way; blocks that cannot hold it are passed over.

        The way left grows by no more than the way flown, so that one point of a block bounds all of it.
        """
        middles = np.arange(min(_COARSE // 2, east_m.size - 1), east_m.size, _COARSE)
        coarse = self.way_m(east_m[middles], north_m[middles], target)
        best = int(middles[np.argmin(coarse)])
        least = float(coarse.min())
        starts = np.arange(0, east_m.size, _COARSE)
        middles = middles[np.minimum(np.arange(starts.size), middles.size - 1)]
        off = np.hypot(
            east_m - np.repeat(east_m[middles], _COARSE)[: east_m.size],
            north_m - np.repeat(north_m[middles], _COARSE)[: north_m.size],
        )
        bound = coarse[np.minimum(np.arange(starts.size), coarse.size - 1)] - np.maximum.reduceat(off, starts)
        for block in np.argsort(bound):
            if bound[block] > least:
                break
            part = slice(int(starts[block]), int(starts[block]) + _COARSE)
            ways = self.way_m(east_m[part], north_m[part], target)
            at = int(np.argmin(ways))
            if ways[at] < least:
                best, least = int(starts[block]) + at, float(ways[at])
        return best, least

    def corners(self, east_m: float, north_m: float, target: int) -> list[tuple[float, float]]:
        """A point of each later target that a shortest way touches, to within a step of the boundary."""
        found: list[tuple[float, float]] = []
        for j in range(target, len(self.targets)):
            if not bool(self.targets[j].holds(np.float64(east_m), np.float64(north_m))):  # type: ignore[arg-type]
                away = np.hypot(self.east_m[j] - east_m, self.north_m[j] - north_m) + self.after_m[j]
                at = int(np.argmin(away))
                east_m, north_m = float(self.east_m[j][at]), float(self.north_m[j][at])
            found.append((east_m, north_m))
        return found

    def _least_m(self, east_m: Floats, north_m: Floats, j: int) -> Floats:
        """Least way over the boundary of target j: the best of its points, then of finer steps to either side."""
        d_east = self.east_m[j] - east_m[:, None]
        d_north = self.north_m[j] - north_m[:, None]
        way = np.sqrt(d_east * d_east + d_north * d_north)
        way += self.after_m[j]
        best = np.argmin(way, axis=1)
        least = way[np.arange(best.size), best]
        even = best < BOUNDARY_POINTS  # the points after those are where circles meet, and have no neighbours
        at = best[even][:, None] + FINER_STEPS
        if self.targets[j].kind == LINE:
            at = np.clip(at, 0.0, BOUNDARY_POINTS - 1.0)
        east, north = _boundary_at(self.targets[j], at)
        low = np.floor(at).astype(np.int64)
        after, share = self.after_m[j], at - low
        later = after[low % BOUNDARY_POINTS] * (1.0 - share) + after[(low + 1) % BOUNDARY_POINTS] * share
        finer = np.hypot(east - east_m[even][:, None], north - north_m[even][:, None]) + later
        least[even] = np.minimum(least[even], finer.min(axis=1))
        return np.asarray(least)


def ways_left(plane: TaskPlane, last: int) -> WaysLeft:
    """Tables of the ways left up to and including target `last`."""
    targets = plane.targets[: last + 1]
    east, north = zip(*(_boundary(target, targets[j + 1 :]) for j, target in enumerate(targets)), strict=True)
    after: list[Floats] = [np.zeros(part.size) for part in east]
    tables = WaysLeft(targets, east, north, tuple(after))
    for j, _ in reversed(list(pairwise(range(len(targets))))):
        after[j][:] = tables.way_m(east[j], north[j], j + 1)
    return tables


def _boundary(target: Target, later: tuple[Target, ...]) -> tuple[Floats, Floats]:
    """Points of a boundary; then those where it meets later circles, at which a way may bend."""
    east, north = _boundary_at(target, np.arange(BOUNDARY_POINTS, dtype=np.float64))
    if target.kind == LINE:
        return east, north
    meeting = np.concatenate([np.zeros(0), *(_meeting_rad(target, one) for one in later if one.kind != LINE)])
    return (
        np.concatenate([east, target.east_m + target.radius_m * np.sin(meeting)]),
        np.concatenate([north, target.north_m + target.radius_m * np.cos(meeting)]),
    )


def _boundary_at(target: Target, step: Floats) -> tuple[Floats, Floats]:
    """Points so many steps along a line or round a circle."""
    if target.kind == LINE:
        share = step / (BOUNDARY_POINTS - 1.0)
        x1, y1, x2, y2 = target.ends
        return x1 + share * (x2 - x1), y1 + share * (y2 - y1)
    angle = step * (2.0 * np.pi / BOUNDARY_POINTS)
    return target.east_m + target.radius_m * np.sin(angle), target.north_m + target.radius_m * np.cos(angle)


def _meeting_rad(one: Target, other: Target) -> Floats:
    """Directions from the centre of one circle to where it meets another."""
    east, north = other.east_m - one.east_m, other.north_m - one.north_m
    apart = float(np.hypot(east, north))
    if apart == 0.0:
        return np.zeros(0)
    cosine = (apart**2 + one.radius_m**2 - other.radius_m**2) / (2.0 * apart * one.radius_m)
    if abs(cosine) > 1.0:
        return np.zeros(0)
    middle, half = np.arctan2(east, north), np.arccos(cosine)
    return np.array([middle - half, middle + half])
