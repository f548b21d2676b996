"""Climbs traced to the ground: places, how sure they are, and what they were traced with."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace

import numpy as np

from flightlog.arrays import Bools, Floats, Ints
from flightlog.measures.thermal_sources import PARCEL_SHARE_SD

SPOT_WIDTH_M = 70.0
"""Standard deviation of where air leaves the ground at one spot: a field, a village, a rock face (own)."""
DRIFT_PARTS = ((0.7, 0.89, 0.24), (0.3, 1.47, 0.38))
"""Drift as a share of that reckoned with, as a mixture of normal ones: weight, mean, standard deviation. It stands
for a log-normal of median 1 and 0.35 (`PARCEL_SHARE_SD`) in its logarithm, and has its mean, 1.06, and variance:
parcels always rise, so that slow ones drift much farther and fast ones not much less."""
DRIFT_MEAN = sum(weight * mean for weight, mean, _ in DRIFT_PARTS)
LEAST_LOGARITHM = -300.0
"""Of a density: less is nothing, and numbers too small for their kind are slow."""
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


@dataclass(frozen=True, eq=False)
class Kernel:
    """How likely n climbs are from a place: each a sum of normal densities along its drift, m parts in all.

    Parts of one climb stand n apart; arrays (m,). `height` is the density in the middle of a part.
    """

    climbs: int
    east_m: Floats
    north_m: Floats
    ee: Floats  # inverse covariance, 1/m2
    nn: Floats
    en: Floats
    height: Floats

    def densities(self, places: Floats) -> Floats:
        """Density (k, m), 1/m2, at which each place (k, 2) puts each part.

        Its logarithm is a polynomial of the place, so that one matrix product gives all; places are reckoned from
        the middle of the parts, since squares of long ways cancel.
        """
        middle = np.array([self.east_m.mean(), self.north_m.mean()])
        e, n, (x, y) = self.east_m - middle[0], self.north_m - middle[1], (places - middle).T
        to_e, to_n = self.ee * e + self.en * n, self.nn * n + self.en * e
        of_place = np.stack([np.ones(len(x)), x, y, x * x, y * y, x * y], axis=1)
        alone = np.log(self.height) - 0.5 * (e * to_e + n * to_n)
        of_part = np.stack([alone, to_e, to_n, -0.5 * self.ee, -0.5 * self.nn, -self.en])  # (6, m)
        logarithm = of_place @ of_part
        np.maximum(logarithm, LEAST_LOGARITHM, out=logarithm)
        return np.asarray(np.exp(logarithm, out=logarithm))

    def summed(self, parts: Floats) -> Floats:
        """What parts (k, m) make of climbs (k, n)."""
        return np.asarray(parts.reshape(len(parts), len(self.height) // self.climbs, self.climbs).sum(axis=1))

    def repeated(self, climbs: Floats) -> Floats:
        """What climbs (n,) have, for each of their parts (m,)."""
        return np.tile(climbs, len(self.height) // self.climbs)


def kernel_of(traces: Traces) -> Kernel:
    """The parts of the climbs, by `DRIFT_PARTS`; what else is unsure along the drift is the same in each."""
    others = np.maximum(traces.along_sd_m**2 - (PARCEL_SHARE_SD * traces.drift_m) ** 2, traces.across_sd_m**2)
    parts = [
        replace(
            traces.drifted(mean - 1.0),
            along_sd_m=np.sqrt(others + (sd * traces.drift_m) ** 2),
        )
        for _, mean, sd in DRIFT_PARTS
    ]
    ee, nn, en = (np.concatenate(column) for column in zip(*(part.precision() for part in parts), strict=True))
    weights = np.repeat([weight for weight, _, _ in DRIFT_PARTS], len(traces.east_m))
    return Kernel(
        climbs=len(traces.east_m),
        east_m=np.concatenate([part.east_m for part in parts]),
        north_m=np.concatenate([part.north_m for part in parts]),
        ee=ee,
        nn=nn,
        en=en,
        height=weights * np.sqrt(ee * nn - en**2) / (2.0 * np.pi),
    )
