"""The ground: an invented hill with a launch, a small meadow to land on beside it, and a field in the valley.

East x and north y in metres from the edge of the hill in front of the launch. The hill has its own frame: `out`
metres in front of the edge (negative: back over the flat top) and `along` metres along it, to the right for a
pilot looking out.
"""

from __future__ import annotations

import math
import random
from dataclasses import dataclass

CARRY_HEIGHT_M = 1.0  # the recorder hangs this high above the ground the pilot stands on
# WGS 84
_A_M = 6378137.0
_E2 = 6.69437999014e-3


@dataclass(frozen=True)
class Site:
    """Where on the earth the invented hill stands: open country, its geoid height from the EGM96 test points.

    The three heights are the published EGM96 test values (F477 output file, from memory).
    """

    latitude_deg: float
    longitude_deg: float
    geoid_m: float
    local_noon_utc_h: float


SITES = (
    Site(46.874319, 102.448729, -43.575, 5.2),
    Site(-23.617446, 133.874712, 15.871, 3.1),
    Site(-14.621217, -54.978886, -2.969, 15.7),
)


def to_latitude_longitude(site: Site, x_m: float, y_m: float) -> tuple[float, float]:
    """Latitude and longitude (degrees) of a point, by the local radii of the ellipsoid at half way."""
    middle = math.radians(site.latitude_deg)
    latitude = middle
    for _ in range(2):
        half = 0.5 * (middle + latitude)
        root = 1 - _E2 * math.sin(half) ** 2
        latitude = middle + y_m / (_A_M * (1 - _E2) / root**1.5)
    radius = _A_M / math.sqrt(1 - _E2 * math.sin(latitude) ** 2)
    return math.degrees(latitude), site.longitude_deg + math.degrees(x_m / (radius * math.cos(latitude)))


@dataclass(frozen=True)
class Ground:
    """A named piece of ground, in metres."""

    name: str
    x_m: float
    y_m: float
    elevation_m: float
    radius_m: float
    use: tuple[str, ...]


class Hill:
    """A ridge with a steep face, a flat top and a valley with gentle waves in it."""

    def __init__(self, rng: random.Random, faces_deg: float, name: str = ""):
        self.faces_deg = faces_deg
        self.out_x, self.out_y = math.sin(math.radians(faces_deg)), math.cos(math.radians(faces_deg))
        self.along_x, self.along_y = self.out_y, -self.out_x
        self.relief_m = rng.uniform(220, 380)
        self.valley_m = rng.uniform(250, 900)
        self.crest_m = self.valley_m + self.relief_m
        self.face_m = self.relief_m * rng.uniform(1.7, 2.3)
        self.half_length_m = rng.uniform(700, 1100)
        self._waves = [rng.uniform(0, 6.28) for _ in range(2)]
        self.name = name
        self.places = self._make_places(rng)
        self.launch, self.pad, self.field = self.places

    def _make_places(self, rng: random.Random) -> tuple[Ground, Ground, Ground]:
        pad_along = rng.choice((-1, 1)) * rng.uniform(70, 160)
        spots = (
            ("Launch", 0.0, -rng.uniform(4, 9), rng.uniform(40, 60), ("launch",)),
            ("Top meadow", pad_along, -rng.uniform(38, 60), rng.uniform(30, 40), ("top_landing",)),
            ("Valley field", rng.uniform(-300, 300), self.face_m + rng.uniform(350, 700), 120.0, ("landing",)),
        )
        made = []
        for what, along, out, radius, use in spots:
            x, y = self.point(along, out)
            name = f"{self.name} {what.lower()}" if self.name else what
            made.append(Ground(name, x, y, self.height(x, y), radius, use))
        return made[0], made[1], made[2]

    def point(self, along_m: float, out_m: float) -> tuple[float, float]:
        """East and north of a point given in the frame of the hill."""
        return along_m * self.along_x + out_m * self.out_x, along_m * self.along_y + out_m * self.out_y

    def frame(self, x: float, y: float) -> tuple[float, float]:
        """(along, out) of a point given by east and north."""
        return x * self.along_x + y * self.along_y, x * self.out_x + y * self.out_y

    def length_share(self, along: float) -> float:
        """1 along the hill, falling to 0 beyond its ends."""
        over = abs(along) - self.half_length_m
        return 1.0 if over <= 0 else math.exp(-((over / 350) ** 2))

    def height(self, x: float, y: float) -> float:
        """Height of the ground above the sea (m)."""
        along, out = self.frame(x, y)
        share = 0.0
        if -2200 < out < self.face_m:
            if out > 0:
                share = 0.5 * (1 + math.cos(math.pi * (out / self.face_m) ** 0.7))
            elif out > -250:
                share = 1.0
            else:
                share = 0.5 * (1 + math.cos(math.pi * (-250 - out) / 1950))
            share *= self.length_share(along)
        waves = 0.0
        if share < 1:
            far = math.hypot(x, y) - 1800  # flat floor below the hill
            if far > 0:
                rise = min(1.0, far / 2500)
                waves = 25 * rise * math.sin(x / 900 + self._waves[0]) * math.sin(y / 1100 + self._waves[1])
        return self.valley_m + waves * (1 - share) + self.relief_m * share

    def face_out(self, altitude: float) -> float:
        """How far in front of the edge the face lies at this altitude (m)."""
        share = min(1.0, max(0.0, (altitude - self.valley_m) / self.relief_m))
        return self.face_m * (math.acos(2 * share - 1) / math.pi) ** (1 / 0.7)
