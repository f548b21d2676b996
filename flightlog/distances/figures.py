"""The five figures of one flight: each search, its share of the time, and its result on the ellipsoid."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from functools import cached_property
from itertools import pairwise

import numpy as np

from flightlog.distances.branching import longest_course
from flightlog.distances.closing import Closing, ClosingTable, closing_table
from flightlog.distances.courses import OutAndReturn, Tree, Triangle, tree_of
from flightlog.distances.free import longest_way
from flightlog.distances.positions import Positions, arc_error_share
from flightlog.distances.results import BestCourse, FlightDistances, TurnPoint
from flightlog.distances.searching import NOTHING, Deadline, Found
from flightlog.distances.spatial import longest_open_triangle
from flightlog.settings import UNKNOWN_WING, Settings

KINDS = {
    "open_m": "open distance",
    "free_3_turnpoints_m": "free distance over up to three turnpoints",
    "out_and_return_m": "out and return",
    "triangle_m": "triangle",
    "fai_triangle_m": "FAI triangle",
}
"""Field of the results -> the kind of course in a pilot's words, in the order of the searches."""
LEAST_LENGTH_M = 1.0
"""Shorter is no course: the fixes of a pilot who stands still lie as far apart."""
_PROVED_M = 0.01
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


def distances_of(
    positions: Positions,
    number: int,
    closing: Closing,
    time_limit_s: float,
    settings: Settings = UNKNOWN_WING,
    kinds: Sequence[str] = tuple(KINDS),
) -> FlightDistances:
    """The figures of one flight; time that one search leaves over is there for the next ones.

    `number` is that of the flight, `kinds` are the fields to search for, the others stay
    None; errors and definitions are those of `best_distances`.
    """
    flight = _Flight(positions, closing, settings)
    budget = Deadline.after(time_limit_s)
    courses: dict[str, BestCourse | None] = dict.fromkeys(KINDS)
    notes = []
    open_bound_m = np.inf
    for k, name in enumerate(kinds):
        if len(positions) < 2:
            break
        left_s = max(0.0, budget.end_s - budget.clock())
        found = flight.found(name, Deadline.after(left_s / (len(kinds) - k)))
        if name == "open_m":
            open_bound_m = found.bound_m
        elif name == "out_and_return_m":  # neither leg is longer than the longest
            found = replace(found, bound_m=max(found.length_m, min(found.bound_m, 2.0 * open_bound_m)))
        courses[name] = flight.measured(name, found)
        if courses[name] is None and found.bound_m > LEAST_LENGTH_M:
            notes.append(
                f"{KINDS[name]}: none was found before the time limit; none is longer than {found.bound_m:.0f} m"
            )
    return FlightDistances(number, **courses, notes=tuple(notes))


@dataclass(frozen=True, eq=False)
class _Flight:
    """One flight and what its searches share."""

    positions: Positions
    closing: Closing
    settings: Settings

    @cached_property
    def _tree(self) -> Tree:
        """Its fixes in runs of 1, 2, 4 ..."""
        return tree_of(self.positions)

    @cached_property
    def _table(self) -> ClosingTable:
        """How near start and finish can come."""
        return closing_table(self.positions)

    @cached_property
    def _widest_m(self) -> float:
        """No two fixes are farther apart than this, straight."""
        return float(self._tree.diagonal_m[self._tree.root])

    def found(self, name: str, deadline: Deadline) -> Found:
        """The course of that kind, as its search finds it."""
        slack_m = self.settings.distance_slack_m
        if name == "open_m":
            return longest_way(self.positions, 1, slack_m, deadline)
        if name == "free_3_turnpoints_m":
            return longest_way(self.positions, 4, slack_m, deadline)
        if name == "out_and_return_m":
            return longest_course(OutAndReturn(self.positions, self.closing), self._tree, slack_m, deadline)
        share = self.settings.distance_fai_leg_share if name == "fai_triangle_m" else 0.0
        return self._triangle(share, slack_m, deadline)

    def _triangle(self, share: float, slack_m: float, deadline: Deadline) -> Found:
        """First of any three fixes; where that triangle cannot be closed, of those that can.

        The first search bounds the second, and has half of its time.
        """
        triangle = Triangle(self.positions, self.closing, self._table, share)
        left_s = max(0.0, deadline.end_s - deadline.clock())
        widest = longest_open_triangle(triangle, slack_m, Deadline.after(0.5 * left_s, deadline.clock))
        best = NOTHING
        if widest.fixes:
            one, two, three = widest.fixes
            if triangle.keeps_rules((one, two, three)):
                best = widest
        if widest.bound_m <= best.length_m + slack_m or not widest.bound_m:
            return widest
        closed = longest_course(triangle, self._tree, slack_m, deadline, start=best)
        return replace(closed, bound_m=min(closed.bound_m, widest.bound_m))

    def measured(self, name: str, found: Found) -> BestCourse | None:
        """The course on the ellipsoid, with its bound."""
        if not found.fixes:
            return None
        fixes = [fix for k, fix in enumerate(found.fixes) if k == 0 or fix != found.fixes[k - 1]]
        is_triangle = name in ("triangle_m", "fai_triangle_m")
        distance_m = self._length_m([*fixes, fixes[0]] if is_triangle else fixes)
        if distance_m < LEAST_LENGTH_M:
            return None
        error_share = arc_error_share(self._widest_m)
        bound_m = max(distance_m, found.bound_m * (1.0 + error_share))
        slack_m = self.settings.distance_slack_m + 2.0 * error_share * found.bound_m + _PROVED_M
        course = BestCourse(
            distance_m=distance_m,
            points=tuple(self._point(fix) for fix in fixes),
            bound_m=bound_m,
            gap_m=bound_m - distance_m,
            is_proved=bound_m - distance_m <= slack_m,
        )
        if name in ("open_m", "free_3_turnpoints_m"):
            return course
        ends = self._table.nearest(fixes[0], fixes[-1]) if is_triangle else (fixes[0], fixes[-1])
        start, finish = (self._point(fix) for fix in ends)
        return replace(course, start=start, finish=finish, closing_m=self._length_m(ends))

    def _length_m(self, fixes: list[int] | tuple[int, int]) -> float:
        """Length over these fixes on the ellipsoid."""
        return sum(self.positions.geodesic_m(i, j) for i, j in pairwise(fixes))

    def _point(self, fix: int) -> TurnPoint:
        """A fix as it is published; its time to the hundredth of a second."""
        return TurnPoint(
            _EPOCH + timedelta(seconds=round(float(self.positions.time_s[fix]), 2)),
            float(self.positions.latitude_deg[fix]),
            float(self.positions.longitude_deg[fix]),
        )
