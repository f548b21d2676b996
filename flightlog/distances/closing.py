"""When a course counts as closed, and how near start and finish can come around given turnpoints."""

from __future__ import annotations

from dataclasses import dataclass
from typing import cast

import numpy as np
import numpy.typing as npt

from flightlog.arrays import Bools, Floats, Ints
from flightlog.distances.positions import Blocks, Positions, arc_of_chord_m, blocks_of, nearest_chord_m
from flightlog.errors import SettingsError

Floats32 = npt.NDArray[np.float32]
CELLS = 1024
"""Blocks of the table of closing distances, at most: 4 MB a table of four-byte floats."""
PAIRS_AT_ONCE = 400_000
"""Pairs of fixes worked on at a time."""
SURE_SHARE = 1e-6
"""A course is taken for closed only if it is so by this share, and for open likewise: arcs are good to 1e-6 and
four-byte floats to 1e-7, and the published lengths come from the ellipsoid."""
_LEAST_SURE_M = 1e-3


@dataclass(frozen=True)
class Closing:
    """How far apart start and finish of a closed course may be: a share of its length, or so many metres."""

    share: float | None = None
    metres: float | None = None

    def limit_m(self, length_m: Floats | float) -> Floats:
        """The gap allowed for courses of that length, m."""
        if self.metres is not None:
            return cast(Floats, np.full(np.shape(length_m), self.metres))
        return cast(Floats, np.multiply(length_m, self.share or 0.0))

    def __str__(self) -> str:
        if self.metres is not None:
            return f"{self.metres:g} m"
        return f"{100.0 * (self.share or 0.0):g} % of the distance"


def closing_from(text: str) -> Closing:
    """The rule that a text names: a share such as `5%`, or a length such as `800m` or `1.5km`.

    Raises
    ------
    SettingsError
        It is none of these, or below 0, or more than 100 % or 1000 km.

    >>> closing_from("5%"), closing_from("1.5 km").metres
    (Closing(share=0.05, metres=None), 1500.0)
    """
    words = text.strip().lower().replace(" ", "")
    for unit, factor, most in (("%", 0.01, 1.0), ("km", 1000.0, 1e6), ("m", 1.0, 1e6)):
        number = words.removesuffix(unit)
        if number == words:
            continue
        try:
            value = float(number) * factor
        except ValueError:
            break
        if 0.0 <= value <= most:
            return Closing(share=value) if unit == "%" else Closing(metres=value)
        break
    raise SettingsError(f"closing {text!r} is no share or length", "write it as 5%, 800m or 1.5km")


def surely_within(gap_m: Floats, limit_m: Floats) -> Bools:
    """Gaps that are within the limit whatever the small errors of the search."""
    return gap_m <= limit_m * (1.0 - SURE_SHARE) - np.minimum(_LEAST_SURE_M, 0.5 * limit_m)


def perhaps_within(gap_m: Floats, limit_m: Floats) -> Bools:
    """Gaps that are not surely beyond the limit."""
    return gap_m <= limit_m * (1.0 + SURE_SHARE) + _LEAST_SURE_M


class _ExactCells:
    """The cells of a table that were looked into: their gaps, and where they stand."""

    def __init__(self, cells: int, width: int) -> None:
        self.number = np.full((cells, cells), -1, dtype=np.int32)
        self._gap_m = np.empty((4, width, width), dtype=np.float32)
        self.count = 0

    def add(self, row: int, column: int, gap_m: Floats) -> None:
        """Keep a cell; one at the end of the flight may be smaller than the others."""
        if self.count == len(self._gap_m):
            self._gap_m = np.concatenate((self._gap_m, np.empty_like(self._gap_m)))
        self._gap_m[self.count, : gap_m.shape[0], : gap_m.shape[1]] = gap_m
        self.number[row, column] = self.count
        self.count += 1

    def put_into(self, gap_m: Floats, a: Ints, c: Ints) -> Floats:
        """The gaps with those of known cells in place of their bounds."""
        width = self._gap_m.shape[1]
        number = self.number[a // width, c // width]
        return np.where(number < 0, gap_m, self._gap_m[number, a % width, c % width])


@dataclass(frozen=True, eq=False)
class ClosingTable:
    """Bounds of the least gap between any fix up to a and any fix from c on, for all a <= c, by cells of fixes.

    `least_m[I, J]`: for a in cell I and c in cell J no start and finish are nearer. `most_m[I, J]`: with a from
    cell I on and c before cell J some are as near. Both fall with I and rise with J. `exact` holds the cells that
    were looked into.
    """

    positions: Positions
    width: int  # fixes of a cell
    box_m: Floats32  # (cells, cells) least gap by the boxes of two cells alone
    least_m: Floats32
    most_m: Floats32  # (cells + 1, cells + 1)
    exact: _ExactCells

    def least_at_m(self, a: Ints, c: Ints) -> Floats:
        """No start up to fix a and finish from fix c on are nearer than this; arrays of one shape."""
        gap_m = self.least_m[a // self.width, c // self.width].astype(np.float64)
        return self.exact.put_into(gap_m, a, c)

    def most_at_m(self, a: Ints, c: Ints) -> Floats:
        """Some start up to fix a and finish from fix c on are at most so far apart."""
        gap_m = self.most_m[a // self.width, c // self.width + 1].astype(np.float64)
        return self.exact.put_into(np.minimum(gap_m, self.positions.arc_m(a, c)), a, c)

    def look_into(self, a: int, c: int) -> None:
        """Make the bounds exact in the cell of a and c."""
        row, column = a // self.width, c // self.width
        if self.exact.number[row, column] < 0:
            self.exact.add(row, column, self._cell_m(row, column))

    def nearest(self, a: int, c: int) -> tuple[int, int]:
        """A start up to fix a and a finish from fix c on that are as near as any."""
        count, width = len(self.positions), self.width
        best, best_m = (a, c), float(self.positions.arc_m(a, c))
        limit_m = min(best_m, float(self.most_m[a // width, c // width + 1])) * (1.0 + SURE_SHARE)
        columns = c // width
        boxes = self.box_m[: a // width + 1, columns:]
        likely = np.flatnonzero(boxes.ravel() <= limit_m)
        for flat in likely[np.argsort(boxes.ravel()[likely], kind="stable")]:
            row, column = divmod(int(flat), boxes.shape[1])
            if float(boxes[row, column]) * (1.0 - SURE_SHARE) > best_m:
                break
            starts = np.arange(row * width, min((row + 1) * width, a + 1))
            finishes = np.arange(max((column + columns) * width, c), min((column + columns + 1) * width, count))
            gap_m = self.positions.arc_m(starts[:, None], finishes)
            at = int(np.argmin(gap_m))
            if float(gap_m.flat[at]) < best_m:
                one, other = divmod(at, len(finishes))
                best, best_m = (int(starts[one]), int(finishes[other])), float(gap_m.flat[at])
        return best

    def _cell_m(self, row: int, column: int) -> Floats:
        """Exact gaps for every a and c of a cell."""
        width, count = self.width, len(self.positions)
        starts = np.arange(row * width, min((row + 1) * width, count))
        finishes = np.arange(column * width, min((column + 1) * width, count))
        gap_m = np.minimum.accumulate(self.positions.arc_m(starts[:, None], finishes), axis=0)
        gap_m = np.minimum.accumulate(gap_m[:, ::-1], axis=1)[:, ::-1]
        limit_m = float(self.most_m[row, column + 1])  # some choice is as near: what is farther cannot matter
        before = np.flatnonzero(self.box_m[:row, column] <= limit_m)
        behind = np.flatnonzero(self.box_m[row, column + 1 :] <= limit_m) + column + 1
        if len(before):
            from_before = self._least_from_m(before, finishes)
            gap_m = np.minimum(gap_m, np.minimum.accumulate(from_before[::-1])[::-1])
        if len(behind):
            to_behind = self._least_from_m(behind, starts)
            gap_m = np.minimum(gap_m, np.minimum.accumulate(to_behind)[:, None])
        if row and (column + 1) * width < count:
            start, finish = self.nearest(row * width - 1, (column + 1) * width)
            gap_m = np.minimum(gap_m, float(self.positions.arc_m(start, finish)))
        return gap_m

    def _least_from_m(self, cells: Ints, fixes: Ints) -> Floats:
        """For each of some fixes, the least gap to any fix of the cells; some cells at a time."""
        least_m = np.full(len(fixes), np.inf)
        at_once = max(1, PAIRS_AT_ONCE // (self.width * len(fixes)))
        for k in range(0, len(cells), at_once):
            others = (cells[k : k + at_once, None] * self.width + np.arange(self.width)).ravel()
            others = others[others < len(self.positions)]
            least_m = np.minimum(least_m, self.positions.arc_m(others[:, None], fixes).min(axis=0))
        return least_m


def closing_table(positions: Positions) -> ClosingTable:
    """The table of a flight of n >= 1 fixes."""
    count = len(positions)
    width = max(1, -(-count // CELLS))
    first = np.arange(0, count, width)
    cells = blocks_of(positions, first, np.minimum(first + width, count) - 1)
    box_m = _in_strips(cells)
    middle = (cells.first + cells.last) // 2
    likely_m = positions.arc_m(middle[:, None], middle).astype(np.float32)
    # most_m[I, J] speaks of a anywhere in cell I, so of starts in the cells before it, and finishes from cell J on
    most_m = np.full((len(first) + 1, len(first) + 1), np.inf, dtype=np.float32)
    most_m[1:, :-1] = _over_wider_choices(likely_m)
    exact = _ExactCells(len(first), width)
    return ClosingTable(positions, width, box_m, _over_wider_choices(box_m), most_m, exact)


def _in_strips(cells: Blocks) -> Floats32:
    """Arcs of the least chords between all cells."""
    count = len(cells.first)
    box_m = np.empty((count, count), dtype=np.float32)
    for row in range(0, count, 128):
        strip = np.arange(row, min(row + 128, count))
        box_m[strip] = arc_of_chord_m(nearest_chord_m(cells.picked(strip), cells))
    return box_m


def _over_wider_choices(gap_m: Floats32) -> Floats32:
    """Least of the gaps over all rows up to this and all columns from this on."""
    falling = np.minimum.accumulate(gap_m, axis=0)
    return np.minimum.accumulate(falling[:, ::-1], axis=1)[:, ::-1]
