"""The task on a plane: what must be touched, in which order, and how far fixes lie from the boundaries.

Routes are sought on a conformal plane about the middle of the task, and measured on the ellipsoid in the end:
the plane's lengths differ by (half the task's width / earth radius)^2 / 2, 3e-5 at 50 km, which moves the best
point on a boundary by as small an angle and the length of the best route by the square of it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from flightlog.arrays import Bools, Floats
from flightlog.earth.geodesy import WGS84_A_M, WGS84_F, LocalPlane, geodesic_m
from flightlog.tasks.task import Cylinder, Task

DISC, OUTSIDE, LINE = "disc", "outside", "line"
"""What a route must touch: a disc, all that lies outside one, or a line between two points."""
SAME_PLACE_M = 1.0


@dataclass(frozen=True)
class Target:
    """What the route must touch next, on the plane: metres east and north of the middle of the task.

    Of a line, `ends` are (east, north, east, north), the left one first as the pilot comes.
    """

    kind: str
    east_m: float
    north_m: float
    radius_m: float
    ends: tuple[float, float, float, float] = (0.0, 0.0, 0.0, 0.0)

    def holds(self, east_m: Floats, north_m: Floats) -> Bools:
        """Whether points touch it already; never those of a line."""
        if self.kind == LINE:
            return np.zeros(np.shape(east_m), dtype=bool)
        away = np.hypot(east_m - self.east_m, north_m - self.north_m)
        inside: Bools = away <= self.radius_m if self.kind == DISC else away >= self.radius_m
        return inside


@dataclass(frozen=True)
class TaskPlane:
    """The task on its plane: a target for each cylinder after the point it is measured from.

    Where the task begins with its start, that cylinder is the first target too, since it has to be left or
    entered: `first` is the index of the cylinder that `targets[0]` belongs to.
    """

    plane: LocalPlane
    targets: tuple[Target, ...]
    first: int

    def target(self, cylinder: int) -> int:
        """Index of the target of a cylinder."""
        return cylinder - self.first


def plane_of(task: Task) -> TaskPlane:
    """The task on a plane about its middle."""
    plane = LocalPlane(*_middle(task.cylinders))
    origin = task.cylinders[0]
    first = 0 if origin.role == "start" else 1
    targets = []
    before = origin
    for cylinder in task.cylinders[first:]:
        is_within = first_distance_m(before, cylinder) < cylinder.radius_m
        targets.append(_target(plane, cylinder, task.cylinders, is_within=is_within))
        before = cylinder
    return TaskPlane(plane, tuple(targets), first)


def _middle(cylinders: Sequence[Cylinder]) -> tuple[float, float]:
    """Middle of all centres, right across the date line too."""
    lat, lon = np.radians([(one.lat_deg, one.lon_deg) for one in cylinders]).T
    x, y, z = (np.cos(lat) * np.cos(lon)).mean(), (np.cos(lat) * np.sin(lon)).mean(), np.sin(lat).mean()
    return math.degrees(math.atan2(z, math.hypot(x, y))), math.degrees(math.atan2(y, x))


def first_distance_m(one: Cylinder, other: Cylinder) -> float:
    """From the centre of one cylinder to that of another, on the ellipsoid."""
    return geodesic_m(one.lat_deg, one.lon_deg, other.lat_deg, other.lon_deg)[0]


def _target(plane: LocalPlane, cylinder: Cylinder, all_of_them: Sequence[Cylinder], *, is_within: bool) -> Target:
    """What to touch for a cylinder; `is_within` says that the route comes from inside it.

    Coming from within, an exit asks to get outside, and so does an entry, which begins there; coming from outside,
    both ask to get inside: a cylinder to be left must have been entered before.
    """
    east, north = (float(value) for value in plane.to_plane(cylinder.lat_deg, cylinder.lon_deg))
    radius = cylinder.radius_m * float(plane.scale(east))
    if cylinder.is_line:
        return Target(LINE, east, north, radius, _line_ends(plane, cylinder, all_of_them))
    needs_outside = is_within and (cylinder.direction == "exit" or cylinder.role == "start")
    return Target(OUTSIDE if needs_outside else DISC, east, north, radius)


def _line_ends(
    plane: LocalPlane, goal: Cylinder, all_of_them: Sequence[Cylinder]
) -> tuple[float, float, float, float]:
    """The two ends of a goal line, on the plane."""
    from geographiclib.geodesic import Geodesic

    bearing = line_bearing_deg(goal, all_of_them)
    ends = []
    for side in (-90.0, 90.0):
        end = Geodesic.WGS84.Direct(goal.lat_deg, goal.lon_deg, bearing + side, goal.radius_m)
        ends += [float(value) for value in plane.to_plane(end["lat2"], end["lon2"])]
    return (ends[0], ends[1], ends[2], ends[3])


def line_bearing_deg(goal: Cylinder, all_of_them: Sequence[Cylinder]) -> float:
    """Course on which a goal line is crossed: that of the line from the last other centre, where it arrives.

    Example: a leg due east is crossed on 90 degrees.
    """
    for before in reversed(all_of_them[:-1]):
        if first_distance_m(before, goal) >= SAME_PLACE_M:
            back = geodesic_m(goal.lat_deg, goal.lon_deg, before.lat_deg, before.lon_deg)[1]
            return (back + 180.0) % 360.0
    raise ValueError("a goal line without a leg to it")


def centre_plane_m(cylinder: Cylinder, lat_deg: Floats, lon_deg: Floats) -> tuple[Floats, Floats]:
    """East and north of a centre, scaled so that their length is the distance on the ellipsoid.

    Good to 1 mm at 100 km and 5 cm at 300 km: the plane's own distances, which are too long by (east / earth
    radius)^2 / 6, put right.
    """
    plane = LocalPlane(cylinder.lat_deg, cylinder.lon_deg)
    east, north = plane.to_plane(lat_deg, lon_deg)
    # mean radius of curvature squared, M N, half-way in latitude
    e2 = WGS84_F * (2.0 - WGS84_F)
    middle = np.radians(0.5 * (np.asarray(lat_deg) + cylinder.lat_deg))
    w2 = 1.0 - e2 * np.sin(middle) ** 2
    radii_m2 = WGS84_A_M**2 * (1.0 - e2) / w2**2
    # a line from the middle meridian: its mean scale, 1 + u / 6 + u^2 / 120 with u = (east / radius)^2
    u = east**2 / radii_m2
    scale = 1.0 + u / 6.0 + u**2 / 120.0
    return east / scale, north / scale


def centre_distance_m(cylinder: Cylinder, lat_deg: Floats, lon_deg: Floats) -> Floats:
    """Distance on the ellipsoid from a centre to points, m; NaN for NaN. Exactness as `centre_plane_m`."""
    return np.hypot(*centre_plane_m(cylinder, lat_deg, lon_deg))
