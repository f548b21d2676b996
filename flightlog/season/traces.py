"""Climbs traced to the ground: places, how sure they are, and what they were traced with."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace

import numpy as np

from flightlog.arrays import Bools, Floats, Ints

SPOT_WIDTH_M = 70.0
"""Standard deviation of where air leaves the ground at one spot: a field, a village, a rock face (own)."""
SAME_M = 400.0
"""Traces of one day nearer than this are of one thermal: they stand 1 to 2 km apart (M 10)."""
SAME_SDS = 2.0
"""Along the drift, so many standard deviations of the difference of two traces may lie between them."""


@dataclass(frozen=True, eq=False)
class Traces:
    """n climbs traced to the ground, each by so much drift over so much height; arrays (n,).

    Standard deviations along the drift and across it. `drift_m` leads from the trace to where the air was met,
    `height_m` above the ground assumed, which lies at `ground_altitude_m`.
    """

    east_m: Floats
    north_m: Floats
    along_sd_m: Floats
    across_sd_m: Floats
    drift_to_rad: Floats
    drift_m: Floats
    height_m: Floats
    ground_altitude_m: Floats

    def drifted(self, longer: float) -> Traces:
        """The same climbs had each drifted farther by that share of its drift."""
        return replace(
            self,
            east_m=self.east_m - longer * self.drift_m * np.sin(self.drift_to_rad),
            north_m=self.north_m - longer * self.drift_m * np.cos(self.drift_to_rad),
            drift_m=(1.0 + longer) * self.drift_m,
        )

    def are_near(self, one: Ints, other: Ints) -> Bools:
        """Whether pairs of climbs of one day may be of one thermal; by their numbers, (k,) each."""
        east, north = self.east_m[one] - self.east_m[other], self.north_m[one] - self.north_m[other]
        sine, cosine = np.sin(self.drift_to_rad[other]), np.cos(self.drift_to_rad[other])
        reach = SAME_SDS * np.hypot(self.along_sd_m[one], self.along_sd_m[other])
        in_line = (np.abs(east * cosine - north * sine) < SAME_M) & (np.abs(east * sine + north * cosine) < reach)
        return np.asarray(in_line | (np.hypot(east, north) < SAME_M))

    def placed(self, east_m: Floats, north_m: Floats) -> Traces:
        """The same uncertainties elsewhere."""
        return replace(self, east_m=east_m, north_m=north_m)

    def chosen(self, at: Ints) -> Traces:
        """Some of the climbs."""
        return Traces(*(getattr(self, column.name)[at] for column in fields(self)))

    def precision(self) -> tuple[Floats, Floats, Floats]:
        """Inverse covariances with the spot's own width: east-east, north-north, east-north; each (n,), 1/m2."""
        along, across = (1.0 / (sd**2 + SPOT_WIDTH_M**2) for sd in (self.along_sd_m, self.across_sd_m))
        sine, cosine = np.sin(self.drift_to_rad), np.cos(self.drift_to_rad)
        return (
            along * sine**2 + across * cosine**2,
            along * cosine**2 + across * sine**2,
            (along - across) * sine * cosine,
        )
