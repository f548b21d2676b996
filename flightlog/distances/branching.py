"""The longest course over three fixes: branch and bound over triples of blocks, the most promising first.

A triple of blocks has a bound that no course through it exceeds; one that cannot beat the best course known is
dropped, the others are halved along their longest box, down to single fixes (Land & Doig 1960). When the time or
the memory runs out, the highest bound left is what the best course could have at most.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import cast

import numpy as np

from flightlog.arrays import Floats, Ints
from flightlog.distances.courses import Course, Nodes, Tree
from flightlog.distances.searching import NOTHING, Deadline, Found

TRIPLES_AT_ONCE = 2048
MOST_TRIPLES = 1_500_000
"""Kept waiting at a time, 20 bytes each; of more, the least promising are given up, their bound remembered."""
_WORTH_CLIMBING = 40
"""Better courses found by chance that are improved step by step; later ones come near the best anyway."""


def longest_course(
    course: Course, tree: Tree, slack_m: float, deadline: Deadline, start: Found = NOTHING
) -> Found:
    """The longest course that keeps the rules, and a bound on all others.

    What is longer by less than `slack_m` is not searched for; `start` is a course already known.
    """
    search = _Search(course, tree, slack_m, deadline, start.fixes, start.length_m)
    while search.waiting and not deadline.is_over():
        search.step()
    return search.result()


@dataclass
class _Search:
    """The state of one search."""

    course: Course
    tree: Tree
    slack_m: float
    deadline: Deadline
    best: tuple[int, ...] = ()
    best_m: float = 0.0
    given_up_m: float = 0.0  # highest bound of what there was no room or time for
    climbs_left: int = _WORTH_CLIMBING
    nodes: Ints = field(default_factory=lambda: np.empty((3, 0), dtype=np.int32))
    bound_m: Floats = field(default_factory=lambda: np.empty(0))

    def __post_init__(self) -> None:
        root = np.full((3, 1), self.tree.root, dtype=np.int32)
        self._take_in(cast(Ints, root))

    @property
    def waiting(self) -> int:
        """Triples not looked into yet."""
        return len(self.bound_m)

    def result(self) -> Found:
        """The best course, and the highest bound left."""
        left_m = max(float(self.bound_m.max(initial=0.0)), self.given_up_m)
        if not self.best:
            return NOTHING if left_m <= 0.0 else Found((), 0.0, left_m)
        return Found(self.best, self.best_m, max(left_m, self.best_m + self.slack_m))

    def step(self) -> None:
        """Halve the most promising triples and look at their parts."""
        if self.waiting > TRIPLES_AT_ONCE:
            order = np.argpartition(-self.bound_m, TRIPLES_AT_ONCE)
            now, later = order[:TRIPLES_AT_ONCE], order[TRIPLES_AT_ONCE:]
        else:
            now, later = np.arange(self.waiting), np.arange(0)
        halves = self._halved(self.nodes[:, now])
        self.nodes, self.bound_m = self.nodes[:, later], self.bound_m[later]
        self._take_in(halves)

    def _halved(self, nodes: Ints) -> Ints:
        """Both halves of each triple, cut in its longest box; those against the order of time are left out."""
        widest = np.argmax(self.tree.diagonal_m[nodes] + (self.tree.last[nodes] > self.tree.first[nodes]), axis=0)
        columns = np.arange(nodes.shape[1])
        cut = nodes[widest, columns]
        left, right = nodes.copy(), nodes.copy()
        left[widest, columns] = self.tree.left[cut]
        right[widest, columns] = self.tree.right[cut]
        halves = np.concatenate((left, right), axis=1)
        halves = halves[:, halves.min(axis=0) >= 0]
        first, last = self.tree.first[halves], self.tree.last[halves]
        in_order = (first[0] <= last[1]) & (np.maximum(first[0], first[1]) <= last[2])
        return halves[:, in_order]

    def _take_in(self, nodes: Ints) -> None:
        """Bound new triples, learn from them, and keep those that may hold a longer course."""
        bound_m = self.course.bounds_m(self.tree, _three(nodes))
        promising = bound_m > self.best_m + self.slack_m
        nodes, bound_m = nodes[:, promising], bound_m[promising]
        if not nodes.shape[1]:
            self._tidy_up()
            return
        is_single = (self.tree.last[nodes] == self.tree.first[nodes]).all(axis=0)
        self._try_middles(nodes)
        self._settle(self.tree.first[nodes[:, is_single]])
        self.nodes = np.concatenate((self.nodes, nodes[:, ~is_single]), axis=1)
        self.bound_m = np.concatenate((self.bound_m, bound_m[~is_single]))
        self._tidy_up()

    def _tidy_up(self) -> None:
        """Drop what the best course has overtaken, and what there is no room for."""
        promising = self.bound_m > self.best_m + self.slack_m
        if not promising.all():
            self.nodes, self.bound_m = self.nodes[:, promising], self.bound_m[promising]
        if self.waiting > MOST_TRIPLES:
            order = np.argpartition(-self.bound_m, MOST_TRIPLES // 2)
            kept, dropped = order[: MOST_TRIPLES // 2], order[MOST_TRIPLES // 2 :]
            self.given_up_m = max(self.given_up_m, float(self.bound_m[dropped].max()))
            self.nodes, self.bound_m = self.nodes[:, kept], self.bound_m[kept]

    def _try_middles(self, nodes: Ints) -> None:
        """The fixes in the middle of blocks make courses too: the longest that keeps the rules may be the best."""
        first, last = self.tree.first[nodes], self.tree.last[nodes]
        fixes = np.maximum.accumulate((first + last) // 2, axis=0)
        fixes = fixes[:, (fixes <= last).all(axis=0)]
        if not fixes.shape[1]:
            return
        length_m, surely, _ = self.course.judged(_three(fixes))
        length_m = np.where(surely, length_m, 0.0)
        at = int(np.argmax(length_m))
        if length_m[at] > self.best_m:
            self.best, self.best_m = tuple(int(fix) for fix in fixes[:, at]), float(length_m[at])
            if self.climbs_left:
                self.climbs_left -= 1
                self._climb()

    def _climb(self) -> None:
        """Move one fix of the best course after the other to where it is longest, as long as that helps."""
        improved = True
        while improved:
            improved = False
            for k in range(3):
                low = self.best[k - 1] if k else 0
                high = self.best[k + 1] if k < 2 else int(self.tree.last[self.tree.root])
                moved = np.arange(low, high + 1)
                fixes = [np.full(len(moved), fix) for fix in self.best]
                fixes[k] = moved
                length_m, surely, _ = self.course.judged((fixes[0], fixes[1], fixes[2]))
                length_m = np.where(surely, length_m, 0.0)
                at = int(np.argmax(length_m))
                if length_m[at] > self.best_m + self.slack_m:
                    self.best = (*self.best[:k], int(moved[at]), *self.best[k + 1 :])
                    self.best_m, improved = float(length_m[at]), True

    def _settle(self, fixes: Ints) -> None:
        """Courses over single fixes: each becomes the best or is none; the ellipsoid settles doubts."""
        if not fixes.shape[1]:
            return
        length_m, surely, perhaps = self.course.judged(_three(fixes))
        at = int(np.argmax(np.where(surely, length_m, 0.0)))
        if surely[at] and length_m[at] > self.best_m:
            self.best, self.best_m = tuple(int(fix) for fix in fixes[:, at]), float(length_m[at])
        doubtful = perhaps & ~surely & (length_m > self.best_m + self.slack_m)
        while doubtful.any():
            if self.deadline.is_over():
                self.given_up_m = max(self.given_up_m, float(length_m[doubtful].max()))
                return
            fixes, length_m = fixes[:, doubtful], length_m[doubtful]
            at = int(np.argmax(length_m))
            one, two, three = (int(fix) for fix in fixes[:, at])
            self.course.look_into((one, two, three))
            _, surely, perhaps = self.course.judged(_three(fixes))
            if surely[at] or (perhaps[at] and self.course.keeps_rules((one, two, three))):
                self.best, self.best_m = (one, two, three), float(length_m[at])
            perhaps[at] = False
            doubtful = perhaps & (length_m > self.best_m + self.slack_m)


def _three(nodes: Ints) -> Nodes:
    """The rows of a (3, n) array."""
    return nodes[0], nodes[1], nodes[2]
