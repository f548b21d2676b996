"""Courses of three fixes: what bounds their length, and which of them keep the rules."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol, cast

import numpy as np

from flightlog.arrays import Bools, Floats, Ints
from flightlog.distances.closing import SURE_SHARE, Closing, ClosingTable, perhaps_within, surely_within
from flightlog.distances.positions import Positions, arc_of_chord_m, blocks_of

Nodes = tuple[Ints, Ints, Ints]
"""Triples of blocks, or of fixes, in order of time: three arrays of one length."""


@dataclass(frozen=True, eq=False)
class Tree:
    """All runs of 1, 2, 4, 8 ... fixes as boxes; blocks are numbered, single fixes first. Arrays (blocks,)."""

    first: Ints
    last: Ints
    low: Floats  # (3, blocks)
    high: Floats
    diagonal_m: Floats  # 0 for a single fix
    left: Ints  # its two halves; -1: there is none
    right: Ints
    root: int

    def reach_m(self, one: Ints, other: Ints) -> tuple[Floats, Floats]:
        """Greatest and least arc between a fix of a block and one of another, element by element."""
        low, high = self.low[:, one], self.high[:, one]
        low_2, high_2 = self.low[:, other], self.high[:, other]
        ahead, behind = high_2 - low, high - low_2
        far = np.maximum(ahead, behind)
        near = np.maximum(np.maximum(low_2 - high, low - high_2), 0.0)
        far_m = arc_of_chord_m(np.sqrt(np.einsum("ij,ij->j", far, far)))
        return far_m, arc_of_chord_m(np.sqrt(np.einsum("ij,ij->j", near, near)))


def tree_of(positions: Positions) -> Tree:
    """The tree of a flight of n >= 1 fixes."""
    count = len(positions)
    firsts, lasts, lefts, rights = [], [], [], []
    size, base, below = 1, 0, 0
    while True:
        first = np.arange(0, count, size)
        firsts.append(first)
        lasts.append(np.minimum(first + size, count) - 1)
        pair = np.arange(len(first)) * 2
        if size == 1:
            lefts.append(np.full(count, -1))
            rights.append(np.full(count, -1))
        else:
            lefts.append(below + pair)
            rights.append(np.where(below + pair + 1 < base, below + pair + 1, -1))
        below, base = base, base + len(first)
        if len(first) == 1:
            break
        size *= 2
    levels = [blocks_of(positions, first, last) for first, last in zip(firsts, lasts, strict=True)]
    low = np.concatenate([level.low for level in levels], axis=1)
    high = np.concatenate([level.high for level in levels], axis=1)
    diagonal_m = np.concatenate([level.diagonal_m() for level in levels])
    parts = (np.concatenate(part) for part in (firsts, lasts, lefts, rights))
    first, last, left, right = parts
    return Tree(first, last, low, high, diagonal_m, left, right, base - 1)


class Course(Protocol):
    """A kind of course over three fixes."""

    def bounds_m(self, tree: Tree, nodes: Nodes) -> Floats:
        """No course through these blocks is longer than this; -inf where none keeps the rules."""

    def judged(self, fixes: Nodes) -> tuple[Floats, Bools, Bools]:
        """Lengths, which courses surely keep the rules, and which perhaps do."""

    def look_into(self, fixes: tuple[int, int, int]) -> None:
        """Find out more about one course, so that `judged` knows from now on."""

    def keeps_rules(self, fixes: tuple[int, int, int]) -> bool:
        """Whether one course keeps the rules on the ellipsoid: for those that stay in doubt."""


@dataclass(frozen=True, eq=False)
class OutAndReturn:
    """Start, turnpoint, finish: two legs, and start and finish near each other."""

    positions: Positions
    closing: Closing

    def bounds_m(self, tree: Tree, nodes: Nodes) -> Floats:
        """Two longest legs, where the blocks of start and finish come near enough."""
        start, turn, finish = nodes
        count = len(start)
        far_m, near_m = tree.reach_m(np.concatenate((start, turn, start)), np.concatenate((turn, finish, finish)))
        bound_m = far_m[:count] + far_m[count : 2 * count]
        is_open = ~perhaps_within(near_m[2 * count :], self.closing.limit_m(bound_m))
        return cast(Floats, np.where(is_open, -np.inf, bound_m))

    def judged(self, fixes: Nodes) -> tuple[Floats, Bools, Bools]:
        """Lengths and gaps of single fixes leave no doubt but the arcs' own."""
        start, turn, finish = fixes
        length_m = self.positions.arc_m(start, turn) + self.positions.arc_m(turn, finish)
        gap_m, limit_m = self.positions.arc_m(start, finish), self.closing.limit_m(length_m)
        return length_m, surely_within(gap_m, limit_m), perhaps_within(gap_m, limit_m)

    def look_into(self, fixes: tuple[int, int, int]) -> None:
        """There is nothing more to find out."""

    def keeps_rules(self, fixes: tuple[int, int, int]) -> bool:
        """Whether start and finish are near enough."""
        start, turn, finish = fixes
        length_m = self.positions.geodesic_m(start, turn) + self.positions.geodesic_m(turn, finish)
        return self.positions.geodesic_m(start, finish) <= float(self.closing.limit_m(length_m))


@dataclass(frozen=True, eq=False)
class Triangle:
    """Three turnpoints, within a start and a finish near each other; no leg shorter than a share of the whole."""

    positions: Positions
    closing: Closing
    table: ClosingTable
    least_leg_share: float  # 0: any shape

    def bounds_m(self, tree: Tree, nodes: Nodes) -> Floats:
        """Three longest legs, cut down to what the shape allows; -inf where shape or closing cannot be kept."""
        bound_m = self.shaped_bounds_m(tree, nodes)
        kept = np.flatnonzero(np.isfinite(bound_m))
        gap_m = self.table.least_at_m(tree.last[nodes[0][kept]], tree.first[nodes[2][kept]])
        bound_m[kept[~perhaps_within(gap_m, self.closing.limit_m(bound_m[kept]))]] = -np.inf
        return bound_m

    def shaped_bounds_m(self, tree: Tree, nodes: Nodes) -> Floats:
        """The same without a look at the closing.

        With a shortest leg of at least s of the whole none is longer than 1 - 2 s of it: so the whole is at most
        the shortest leg / s, and at most two legs / 2 s.
        """
        one, two, three = nodes
        far_m, near_m = tree.reach_m(np.concatenate((one, two, three)), np.concatenate((two, three, one)))
        far_m, near_m = far_m.reshape(3, len(one)), near_m.reshape(3, len(one))
        bound_m = far_m.sum(axis=0)
        share = self.least_leg_share
        if share:
            two_legs_m = bound_m - far_m.max(axis=0)
            bound_m = np.minimum(np.minimum(bound_m, two_legs_m / (2.0 * share)), far_m.min(axis=0) / share)
            bound_m[near_m.max(axis=0) > (1.0 - 2.0 * share) * bound_m * (1.0 + SURE_SHARE)] = -np.inf
        return cast(Floats, bound_m)

    def shaped(self, fixes: Nodes) -> tuple[Floats, Bools, Bools]:
        """Lengths of single fixes, which surely have the shape, and which perhaps."""
        one, two, three = fixes
        legs_m = np.stack([self.positions.arc_m(i, j) for i, j in ((one, two), (two, three), (three, one))])
        length_m = legs_m.sum(axis=0)
        spare_m = legs_m.min(axis=0) - self.least_leg_share * length_m
        surely = (spare_m >= SURE_SHARE * length_m) | (not self.least_leg_share)
        return length_m, surely, spare_m >= -SURE_SHARE * length_m

    def judged(self, fixes: Nodes) -> tuple[Floats, Bools, Bools]:
        """Lengths and shapes exactly, the closing by the table."""
        length_m, surely, perhaps = self.shaped(fixes)
        limit_m = self.closing.limit_m(length_m)
        surely &= surely_within(self.table.most_at_m(fixes[0], fixes[2]), limit_m)
        perhaps &= perhaps_within(self.table.least_at_m(fixes[0], fixes[2]), limit_m)
        return length_m, surely, perhaps

    def look_into(self, fixes: tuple[int, int, int]) -> None:
        """How near start and finish can come, exactly."""
        self.table.look_into(fixes[0], fixes[2])

    def keeps_rules(self, fixes: tuple[int, int, int]) -> bool:
        """Shape and closing."""
        gap_m = self.positions.geodesic_m(*self.table.nearest(fixes[0], fixes[2]))
        length_m = sum(self._legs_m(fixes))
        return self.keeps_shape(fixes) and gap_m <= float(self.closing.limit_m(length_m))

    def keeps_shape(self, fixes: tuple[int, int, int]) -> bool:
        """Whether the shortest leg is long enough, on the ellipsoid."""
        legs_m = self._legs_m(fixes)
        return min(legs_m) >= self.least_leg_share * sum(legs_m)

    def _legs_m(self, fixes: tuple[int, int, int]) -> list[float]:
        """The three legs on the ellipsoid."""
        one, two, three = fixes
        return [self.positions.geodesic_m(i, j) for i, j in ((one, two), (two, three), (three, one))]
