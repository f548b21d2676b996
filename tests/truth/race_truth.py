"""What is true about a simulated race: when the pilot's path crossed each boundary. Shares no code with flightlog.

Distances are geodesics by PROJ, the path is that of the simulation itself, without the recorder's errors.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from pyproj import Geod

from .simulator import SimulatedLog

GEOD = Geod(ellps="WGS84")


@dataclass(frozen=True)
class Circle:
    """A cylinder of the race."""

    latitude_deg: float
    longitude_deg: float
    radius_m: float


def away_m(latitude: np.ndarray, longitude: np.ndarray, circle: Circle) -> np.ndarray:
    """Distance of points from the middle of a circle."""
    n = len(latitude)
    centre = np.full(n, circle.longitude_deg), np.full(n, circle.latitude_deg)
    return GEOD.inv(*centre, longitude, latitude)[2]


def true_crossings(log: SimulatedLog, circles: list[Circle], opens_s: float) -> list[float]:
    """Moments at which the circles were reached in order: the last way out of the first, then the first way into
    each of the others; as many as were reached in the air and in the recording."""
    truth = log.truth
    flying = (truth.column("in_air") > 0) & (truth.time_s <= truth.recorded_s[1])
    time_s = truth.time_s[flying]
    east, north = truth.column("east_m")[flying], truth.column("north_m")[flying]
    places = [log.latitude_longitude(x, y) for x, y in zip(east, north, strict=True)]
    latitude, longitude = np.array(places).T
    inside = [away_m(latitude, longitude, circle) - circle.radius_m for circle in circles]
    best: list[float] = []
    for out in np.flatnonzero((inside[0][:-1] <= 0) & (inside[0][1:] > 0)):
        found = [_between(time_s, inside[0], out)]
        if found[0] < opens_s:
            continue
        at = out + 1
        for depth in inside[1:]:
            later = np.flatnonzero(depth[at:] <= 0)
            if not later.size:
                break
            k = at + int(later[0])
            found.append(found[-1] if k == at and depth[k - 1] <= 0 else _between(time_s, depth, k - 1))
            at = k
        if len(found) >= len(best):
            best = found
    return best


def _between(time_s: np.ndarray, depth: np.ndarray, k: int) -> float:
    """When the depth passed zero between states k and k + 1."""
    share = depth[k] / (depth[k] - depth[k + 1])
    return float(time_s[k] + share * (time_s[k + 1] - time_s[k]))
