"""The shortest route of a task and the shortest way left from a place, measured on the ellipsoid."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np

from flightlog.arrays import Floats
from flightlog.earth.geodesy import geodesic_m
from flightlog.tasks.geometry import LINE, Target, TaskPlane, plane_of
from flightlog.tasks.remaining import WaysLeft, ways_left
from flightlog.tasks.shortest import shortest_route
from flightlog.tasks.task import Cylinder, Task

CANDIDATES = 4
"""Fixes near the shortest way left that are measured exactly: tables of ways left err by up to 2 m at corners."""


@dataclass(frozen=True)
class Route:
    """A route: where it begins, where it reaches each cylinder, and how far it is from the begin to there."""

    lat_deg: tuple[float, ...]  # the begin, then one place a cylinder
    lon_deg: tuple[float, ...]
    length_m: tuple[float, ...]  # from the begin; 0 at the begin
    gap_m: float  # how much longer it is than the best route, at most

    @property
    def whole_m(self) -> float:
        """Length of the whole route."""
        return self.length_m[-1]


@dataclass(frozen=True, eq=False)
class TaskWays:
    """A task with its shortest route, ready to be asked for the way left from any place."""

    task: Task
    plane: TaskPlane
    route: Route

    @cached_property
    def to_goal(self) -> WaysLeft:
        """Tables of the ways left to goal."""
        return ways_left(self.plane, len(self.plane.targets) - 1)

    @cached_property
    def to_speed_end(self) -> WaysLeft:
        """Tables of the ways left to the end of the speed section."""
        return ways_left(self.plane, self.plane.target(self.task.speed_end))

    @property
    def distance_m(self) -> float:
        """Length of the task, from the centre of its first cylinder to goal."""
        return self.route.whole_m

    @property
    def speed_section_m(self) -> float:
        """Length of the shortest route between start and end of the speed section."""
        return self.to_here_m(self.task.speed_end) - self.to_here_m(self.task.start)

    def to_here_m(self, cylinder: int) -> float:
        """Length of the shortest route from its begin to where it reaches a cylinder; 0 for a launch."""
        at = self.plane.target(cylinder)
        return 0.0 if at < 0 else self.route.length_m[at + 1]

    def way_left_m(self, lat_deg: float, lon_deg: float, cylinder: int) -> float:
        """The shortest way from a place through this cylinder and all later ones, exact to a centimetre."""
        return route_from(self, lat_deg, lon_deg, cylinder).whole_m

    def least_way_left_m(self, lat_deg: Floats, lon_deg: Floats, cylinder: int) -> tuple[int, float]:
        """Which of many places has the shortest way left, and how long that is, exact to a centimetre."""
        east, north = self.plane.plane.to_plane(lat_deg, lon_deg)
        target = self.plane.target(cylinder)
        first, _ = self.to_goal.nearest(east, north, target)
        near = np.flatnonzero(np.hypot(east - east[first], north - north[first]) < 200.0)
        ways = self.to_goal.way_m(east[near], north[near], target)
        chosen = near[np.argsort(ways)[:CANDIDATES]]
        exact = [self.way_left_m(float(lat_deg[k]), float(lon_deg[k]), cylinder) for k in chosen]
        best = int(np.argmin(exact))
        return int(chosen[best]), exact[best]


def ways_of(task: Task) -> TaskWays:
    """A task with its shortest route."""
    plane = plane_of(task)
    origin = task.cylinders[0]
    bare = TaskWays(task, plane, Route((origin.lat_deg,), (origin.lon_deg,), (0.0,), 0.0))
    return TaskWays(task, plane, route_from(bare, origin.lat_deg, origin.lon_deg, plane.first))


def route_from(ways: TaskWays, lat_deg: float, lon_deg: float, cylinder: int) -> Route:
    """The shortest route from a place through a cylinder and all later ones."""
    plane, first = ways.plane, ways.plane.target(cylinder)
    targets = plane.targets[first:]
    if not targets:
        return Route((lat_deg,), (lon_deg,), (0.0,), 0.0)
    east, north = (float(value) for value in plane.plane.to_plane(lat_deg, lon_deg))
    found = shortest_route((east, north), targets, ways.to_goal.corners(east, north, first))
    corners = _reached_at((east, north), targets, found.corners_m)
    places = [(lat_deg, lon_deg)]
    for (x, y), target, one in zip(corners, targets, ways.task.cylinders[cylinder:], strict=True):
        places.append(_on_boundary(ways, x, y, target, one, places[-1]))
    lengths = [0.0]
    for before, after in pairwise(places):
        lengths.append(lengths[-1] + geodesic_m(*before, *after)[0])
    lats, lons = zip(*places, strict=True)
    return Route(lats, lons, tuple(lengths), found.gap_m)


def _reached_at(
    start_m: tuple[float, float], targets: Sequence[Target], corners_m: Floats
) -> list[tuple[float, float]]:
    """The corners of a route, each moved along it to where its target is first touched."""
    found: list[tuple[float, float]] = []
    before = start_m
    for target, corner in zip(targets, corners_m, strict=True):
        here = (float(corner[0]), float(corner[1]))
        if target.kind != LINE:
            here = before if _touches(target, before) else _first_touch(target, before, here)
        found.append(here)
        before = here
    return found


def _touches(target: Target, point: tuple[float, float]) -> bool:
    """Whether a point of the route touches a target already, to within a millimetre."""
    away = math.hypot(point[0] - target.east_m, point[1] - target.north_m)
    return away <= target.radius_m + 1e-3 if target.kind == "disc" else away >= target.radius_m - 1e-3


def _first_touch(target: Target, before: tuple[float, float], here: tuple[float, float]) -> tuple[float, float]:
    """Where the straight way to a corner first meets its target's circle; the corner where it just does not."""
    step = (here[0] - before[0], here[1] - before[1])
    off = (before[0] - target.east_m, before[1] - target.north_m)
    a = step[0] ** 2 + step[1] ** 2
    b = off[0] * step[0] + off[1] * step[1]
    c = off[0] ** 2 + off[1] ** 2 - target.radius_m**2
    root = b * b - a * c
    if a == 0.0 or root < 0.0:
        return here
    share = (-b - math.sqrt(root)) / a if target.kind == "disc" else (-b + math.sqrt(root)) / a
    share = min(max(share, 0.0), 1.0)
    return before[0] + share * step[0], before[1] + share * step[1]


def _on_boundary(
    ways: TaskWays, east_m: float, north_m: float, target: Target, cylinder: Cylinder, before: tuple[float, float]
) -> tuple[float, float]:
    """The corner on the true boundary of its cylinder; a corner inside it, which costs no way, stays."""
    from geographiclib.geodesic import Geodesic

    lat, lon = (float(value) for value in ways.plane.plane.to_degrees(east_m, north_m))
    away = math.hypot(east_m - target.east_m, north_m - target.north_m)
    if target.kind == LINE:
        return lat, lon
    if abs(away - target.radius_m) > 1e-2 + 1e-6 * target.radius_m:
        return before
    bearing = geodesic_m(cylinder.lat_deg, cylinder.lon_deg, lat, lon)[1]
    end = Geodesic.WGS84.Direct(cylinder.lat_deg, cylinder.lon_deg, bearing, cylinder.radius_m)
    return float(end["lat2"]), float(end["lon2"])
