"""Fixes in the order of their place instead of their time: where laps repeat each other, one look serves for all.

Whether three fixes make a long triangle does not depend on which came first; only closing it does. So the longest
triangle of any three fixes is searched for over a tree of places (a k-d tree, Bentley 1975, Comm. ACM 18:509). It
bounds every closed triangle, and where it is closed itself, nothing longer need be looked for.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from flightlog.arrays import Bools, Floats, Ints
from flightlog.distances.branching import longest_course
from flightlog.distances.courses import Nodes, Tree, Triangle, tree_of
from flightlog.distances.positions import Positions
from flightlog.distances.searching import Deadline, Found


@dataclass(frozen=True, eq=False)
class _AnyTriangle:
    """A triangle over three places, closed or not."""

    triangle: Triangle

    def bounds_m(self, tree: Tree, nodes: Nodes) -> Floats:
        """Three longest legs, as the shape allows."""
        return self.triangle.shaped_bounds_m(tree, nodes)

    def judged(self, fixes: Nodes) -> tuple[Floats, Bools, Bools]:
        """Lengths and shapes."""
        return self.triangle.shaped(fixes)

    def look_into(self, fixes: tuple[int, int, int]) -> None:
        """There is nothing more to find out."""

    def keeps_rules(self, fixes: tuple[int, int, int]) -> bool:
        """The shape alone."""
        return self.triangle.keeps_shape(fixes)


def longest_open_triangle(triangle: Triangle, slack_m: float, deadline: Deadline) -> Found:
    """The longest triangle of that shape, its closing left out of account; fixes in order of time."""
    order = by_place(triangle.positions)
    placed = triangle.positions.reordered(order)
    course = _AnyTriangle(Triangle(placed, triangle.closing, triangle.table, triangle.least_leg_share))
    found = longest_course(course, tree_of(placed), slack_m, deadline)
    return Found(tuple(sorted(int(order[fix]) for fix in found.fixes)), found.length_m, found.bound_m)


def by_place(positions: Positions) -> Ints:
    """An order of the fixes in which runs of 2, 4, 8 ... from its start on lie close together."""
    count = len(positions)
    space = np.stack((positions.east_m, positions.north_m, positions.up_m))
    order = np.arange(count)
    size = 1 << max(count - 1, 1).bit_length()
    while size > 1:
        edges = np.arange(0, count, size)
        placed = space[:, order]
        extent = np.maximum.reduceat(placed, edges, axis=1) - np.minimum.reduceat(placed, edges, axis=1)
        run = np.arange(count) // size
        along = placed[np.argmax(extent, axis=0)[run], np.arange(count)]
        order = order[np.lexsort((along, run))]
        size //= 2
    return order
