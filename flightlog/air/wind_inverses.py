"""Inverses of the covariance of measured winds: the dear part of a wind field, done in quarters."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from flightlog.arrays import Floats
from flightlog.lapack import lapack

LEAST_QUARTER = 32
"""Rows of a matrix below which inverting its quarters gains nothing."""


@dataclass(frozen=True, eq=False)
class WindInverse:
    """Inverse of the covariance of the m measured winds: both components at all sites.

    East and north hang together by the noise of each site alone, which makes the off-diagonal quarter of the
    covariance a diagonal matrix d, so no matrix larger than (m, m) need be inverted. With N the covariance of the
    norths alone, that quarter of the inverse is -east d N^-1.
    """

    east: Floats  # (m, m) its quarter for the easts
    north: Floats  # (m, m)
    north_alone: Floats  # (m, m) N^-1
    shared: Floats  # (m,) d
    lessening: Floats | None = None  # (m, 2) c: an error common to all sites takes c c' off the inverse

    def of(self, wind: Floats) -> Floats:
        """The inverse times these winds (m, 2)."""
        east, north = wind[:, 0], wind[:, 1]
        by_east = self.east @ (east - self.shared * (self.north_alone @ north))
        times = np.stack([by_east, self.north_alone @ (north - self.shared * by_east)], axis=1)
        if self.lessening is None:
            return times
        return np.asarray(times - self.lessening * float((self.lessening * wind).sum()))

    def blocks(self) -> Floats:
        """The part of each site, (m, 2, 2)."""
        both = -np.einsum("ij,j,ji->i", self.east, self.shared, self.north_alone)
        own = np.stack([np.diagonal(self.east), both, both, np.diagonal(self.north)], axis=1).reshape(-1, 2, 2)
        if self.lessening is None:
            return own
        return np.asarray(own - self.lessening[:, :, None] * self.lessening[:, None, :])

    def of_component(self) -> Floats:
        """The mean of its quarters for the easts and the norths, (m, m)."""
        mean = (self.east + self.north) / 2.0
        if self.lessening is None:
            return mean
        return np.asarray(mean - self.lessening @ self.lessening.T / 2.0)


def wind_inverse(kernel: Floats, noise: Floats, together: Floats) -> WindInverse:
    """Inverse for sites with this prior covariance (m, m) of one component and noise (m, 2, 2).

    `together` (m, 2) is one standard deviation of an error that all sites share; it is put in by the formula of
    Sherman and Morrison (1950).
    """
    shared = noise[:, 0, 1]
    north_alone = _inverted(_with_diagonal(kernel, noise[:, 1, 1]))
    by_north = shared[:, None] * north_alone
    east = _inverted(_with_diagonal(kernel, noise[:, 0, 0]) - by_north * shared)
    north = north_alone + by_north.T @ east @ by_north  # Woodbury's form: cheaper than one more inverse
    own = WindInverse(east, north, north_alone, shared)
    if not together.any():
        return own
    times = own.of(together)
    return replace(own, lessening=times / np.sqrt(1.0 + float((together * times).sum())))


def _with_diagonal(matrix: Floats, more: Floats) -> Floats:
    """The matrix with its diagonal raised."""
    whole = matrix.copy()
    np.einsum("ii->i", whole)[:] += more
    return whole


def _inverted(covariance: Floats) -> Floats:
    """Inverse of a symmetric positive definite matrix: by Cholesky's factors, a large one by its quarters.

    Products of matrices run several times as fast as LAPACK's inverse of one.
    """
    half = len(covariance) // 2
    if half < LEAST_QUARTER:
        return _inverted_small(covariance)
    first = _inverted(covariance[:half, :half])
    across = first @ covariance[:half, half:]
    last = _inverted(covariance[half:, half:] - covariance[half:, :half] @ across)
    whole = np.empty_like(covariance)
    corner = across @ last
    whole[:half, :half] = first + corner @ across.T
    whole[:half, half:], whole[half:, half:] = -corner, last
    whole[half:, :half] = whole[:half, half:].T
    return whole


def _inverted_small(covariance: Floats) -> Floats:
    """The same by Cholesky's factors, a third of the general inverse's cost."""
    factor, failed = lapack.dpotrf(covariance.T, lower=1)
    if failed:
        return np.asarray(np.linalg.inv(covariance), dtype=np.float64)
    lower, _ = lapack.dpotri(factor, lower=1, overwrite_c=1)
    whole = lower + lower.T  # the upper half of `lower` is 0
    np.einsum("ii->i", whole)[:] *= 0.5
    return np.asarray(whole)


def inverses_of(matrices: Floats) -> Floats:
    """Inverses of k symmetric matrices (k, 2, 2)."""
    a, b, c = matrices[:, 0, 0], matrices[:, 0, 1], matrices[:, 1, 1]
    whole = np.stack([c, -b, -b, a], axis=1).reshape(-1, 2, 2)
    return np.asarray(whole / (a * c - b * b)[:, None, None])
