"""The longest way over a number of turnpoints in order of time: dynamic programming from coarse to fine.

A free distance is a path through layers, one for the start, each turnpoint and the finish; in each stands a fix
not before that of the layer above. Layers hold blocks of fixes first: boxes bound how long any path through one of
them can be, and one that cannot beat the best path known is dropped; the others are split, down to single fixes.
Then nothing is left but the best path (Bellman 1957; from coarse to fine: Raphael 2001, IEEE PAMI 23:1379).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

import numpy as np

from flightlog.arrays import Bools, Floats
from flightlog.distances.positions import Blocks, Positions, arc_of_chord_m, blocks_of, farthest_chord_m
from flightlog.distances.searching import NOTHING, Deadline, Found

BLOCK_SIZES = (256, 64, 16, 4, 1)
"""Fixes of a block, from the first round to the last."""
PAIRS_AT_ONCE = 400_000
"""Pairs of blocks worked on at a time: arrays of 3 MB, which stay in a processor's cache."""
MOST_ROUNDS = 30
"""Of moving one turnpoint after the other; three to six are usual."""


class _OutOfTimeError(Exception):
    """The deadline came before the bounds were through."""


def longest_way(positions: Positions, legs: int, slack_m: float, deadline: Deadline) -> Found:
    """The longest way of so many legs through the fixes in order of time.

    A turnpoint may be used twice, so that ways over fewer turnpoints are among them. `slack_m`: what is longer by
    less than this is not searched for.
    """
    count = len(positions)
    if count < 2:
        return NOTHING
    best = climbed(positions, [round(k * (count - 1) / legs) for k in range(legs + 1)])
    bound_m = np.inf
    kept = [np.ones(count, dtype=np.bool_) for _ in range(legs + 1)]
    try:
        for size in BLOCK_SIZES:
            layers = [_cut(positions, fixes, size) for fixes in kept]
            if not all(len(layer.first) for layer in layers):
                bound_m = best.length_m
                break
            forward = _reach_m(layers, deadline)
            bound_m = min(bound_m, float(forward[-1].max()))
            if size == 1:  # single fixes: the longest way itself is left
                best = max(best, _traced(positions, layers, forward), key=lambda way: way.length_m)
                break
            through = _ways_through_m(layers, forward, deadline)
            best = max(best, climbed(positions, _ordered(layers, through)), key=lambda way: way.length_m)
            kept = [
                _fixes_of(layer, way > best.length_m + slack_m, count)
                for layer, way in zip(layers, through, strict=True)
            ]
    except _OutOfTimeError:
        pass
    return Found(best.fixes, best.length_m, max(bound_m, best.length_m) + slack_m)


def climbed(positions: Positions, fixes: Sequence[int]) -> Found:
    """A way made longer by moving one turnpoint after the other to its best fix, until none can be moved."""
    way = list(fixes)
    length_m = -1.0
    for _ in range(MOST_ROUNDS):
        before_m = length_m
        for k in range(len(way)):
            low = way[k - 1] if k else 0
            high = way[k + 1] if k + 1 < len(way) else len(positions) - 1
            choices = np.arange(low, high + 1)
            reach_m = np.zeros(len(choices))
            if k:
                reach_m += positions.arc_m(choices, way[k - 1])
            if k + 1 < len(way):
                reach_m += positions.arc_m(choices, way[k + 1])
            way[k] = low + int(np.argmax(reach_m))
        length_m = float(positions.arc_m(np.array(way[:-1]), np.array(way[1:])).sum())
        if length_m <= before_m:
            break
    return Found(tuple(way), length_m, np.inf)


def _cut(positions: Positions, kept: Bools, size: int) -> Blocks:
    """The fixes still in play as blocks of at most so many neighbours."""
    fixes = np.flatnonzero(kept)
    if not len(fixes):
        return Blocks(fixes, fixes, np.empty((3, 0)), np.empty((3, 0)))
    is_first = np.ones(len(fixes), dtype=np.bool_)
    is_first[1:] = (np.diff(fixes) > 1) | (np.diff(fixes // size) > 0)
    first = fixes[is_first]
    last = fixes[np.append(np.flatnonzero(is_first)[1:], len(fixes)) - 1]
    return blocks_of(positions, first, last)


def _fixes_of(layer: Blocks, chosen: Bools, count: int) -> Bools:
    """Which fixes stand in the chosen blocks, as a mask over all."""
    steps = np.zeros(count + 1, dtype=np.int64)
    steps[layer.first[chosen]] += 1
    steps[layer.last[chosen] + 1] -= 1
    return np.cumsum(steps[:-1]) > 0


def _reach_m(layers: Sequence[Blocks], deadline: Deadline) -> list[Floats]:
    """For every block of every layer: no way from the start that ends in it is longer than this, m."""
    forward = [np.zeros(len(layers[0].first))]
    for one, other in pairwise(layers):
        reach = np.full(len(other.first), -np.inf)
        for rows, columns, leg_m in _legs(one, other, deadline):
            leg_m += forward[-1][rows, None]
            np.maximum(reach[columns], leg_m.max(axis=0), out=reach[columns])
        forward.append(reach)
    return forward


def _ways_through_m(layers: Sequence[Blocks], forward: Sequence[Floats], deadline: Deadline) -> list[Floats]:
    """For every block of every layer: no way through it from start to finish is longer than this, m."""
    behind = np.zeros(len(layers[-1].first))
    through = [forward[-1]]
    for k in range(len(layers) - 2, -1, -1):
        reach = np.full(len(layers[k].first), -np.inf)
        for rows, columns, leg_m in _legs(layers[k], layers[k + 1], deadline):
            leg_m += behind[columns]
            reach[rows] = leg_m.max(axis=1)
        behind = reach
        through.insert(0, forward[k] + behind)
    return through


def _traced(positions: Positions, layers: Sequence[Blocks], forward: Sequence[Floats]) -> Found:
    """The longest way over single fixes, read backwards from its finish."""
    way = [int(layers[-1].first[np.argmax(forward[-1])])]
    for layer, reach_m in zip(layers[-2::-1], forward[-2::-1], strict=True):
        fixes = layer.first[layer.first <= way[0]]
        way.insert(0, int(fixes[np.argmax(reach_m[: len(fixes)] + positions.arc_m(fixes, way[0]))]))
    return Found(tuple(way), float(positions.arc_m(np.array(way[:-1]), np.array(way[1:])).sum()), np.inf)


def _legs(one: Blocks, other: Blocks, deadline: Deadline) -> Iterator[tuple[slice, slice, Floats]]:
    """Longest legs from blocks of one layer to blocks of the next, in strips; -inf against the order of time."""
    row = 0
    while row < len(one.first):
        if deadline.is_over():
            raise _OutOfTimeError
        column = int(np.searchsorted(other.last, one.first[row]))
        if column == len(other.first):
            return
        stop = min(len(one.first), row + max(1, PAIRS_AT_ONCE // (len(other.first) - column)))
        rows, columns = slice(row, stop), slice(column, len(other.first))
        leg_m = arc_of_chord_m(farthest_chord_m(_part(one, rows), _part(other, columns)))
        leg_m[one.first[rows, None] > other.last[columns]] = -np.inf
        yield rows, columns, leg_m
        row = stop


def _part(layer: Blocks, chosen: slice) -> Blocks:
    """Some blocks of a layer, without copying."""
    return Blocks(layer.first[chosen], layer.last[chosen], layer.low[:, chosen], layer.high[:, chosen])


def _ordered(layers: Sequence[Blocks], through_m: Sequence[Floats]) -> list[int]:
    """The first fix of the most promising block of each layer, none before the one above it."""
    fixes: list[int] = []
    for layer, way_m in zip(layers, through_m, strict=True):
        fix = int(layer.first[int(np.argmax(way_m))])
        fixes.append(max(fix, fixes[-1]) if fixes else fix)
    return fixes
