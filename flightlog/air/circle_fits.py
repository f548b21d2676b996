"""Circles through points, many sets of points at once.

Points stand in padded arrays (k, m): k sets of at most m points, with a weight each; weight 0 marks padding. The
algebraic fits are closed forms and serve as starts; the geometric fit minimises the true distances to the circle.

References
----------
Taubin 1991, IEEE PAMI 13(11), 1115-1138; Pratt 1987, Computer Graphics 21(4); Kasa 1976, IEEE Trans. Instrum.
Meas. 25, 8-14; Chernov & Lesort 2005, J. Math. Imaging Vision 23, 239-252; Gander, Golub & Strebel 1994, BIT 34,
558-578.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from flightlog.arrays import Floats, Ints, lengths

NEWTON_STEPS = 20
SETTLED = 1e-13
"""A step of the root by a smaller share of it changes nothing that counts: the next one would be its square."""
SMALL = 1e-300


@dataclass(frozen=True, eq=False)
class Circles:
    """One circle a set: centre (k,), (k,) and radius (k,), in the unit of the points; NaN where none exists."""

    x: Floats
    y: Floats
    radius: Floats


@dataclass(frozen=True, eq=False)
class _Moments:
    """Weighted mean moments of centred points; z is the squared distance from their mean."""

    mean_x: Floats
    mean_y: Floats
    xx: Floats
    yy: Floats
    xy: Floats
    xz: Floats
    yz: Floats
    zz: Floats


def _moments(x: Floats, y: Floats, weight: Floats) -> _Moments:
    """Moments of each set; sets without any weight give NaN."""
    total = weight.sum(axis=1)
    share = weight / np.where(total > 0.0, total, np.nan)[:, None]
    mean_x, mean_y = _dots(share, x), _dots(share, y)
    u, v = x - mean_x[:, None], y - mean_y[:, None]
    su, sv = share * u, share * v
    z = u * u + v * v
    return _Moments(
        mean_x=mean_x,
        mean_y=mean_y,
        xx=_dots(su, u),
        yy=_dots(sv, v),
        xy=_dots(su, v),
        xz=_dots(su, z),
        yz=_dots(sv, z),
        zz=_dots(share * z, z),
    )


def _dots(a: Floats, b: Floats) -> Floats:
    """Sum of the products in each row."""
    return np.asarray(np.einsum("km,km->k", a, b))


def fit_kasa(x: Floats, y: Floats, weight: Floats | None = None) -> Circles:
    """Linear least-squares circle (Kasa 1976): fast, radius too small on short arcs.

    `x`, `y`, `weight` are (k, m); without weights every point counts once.
    """
    m = _moments(x, y, np.ones_like(x) if weight is None else weight)
    with np.errstate(invalid="ignore", divide="ignore"):
        determinant = m.xx * m.yy - m.xy**2
        cx = (m.xz * m.yy - m.yz * m.xy) / (2.0 * determinant)
        cy = (m.yz * m.xx - m.xz * m.xy) / (2.0 * determinant)
        return Circles(cx + m.mean_x, cy + m.mean_y, np.sqrt(cx**2 + cy**2 + m.xx + m.yy))


def fit_taubin(x: Floats, y: Floats, weight: Floats | None = None) -> Circles:
    """Algebraic circle of Taubin 1991: nearly unbiased, closed form but for a one-dimensional root.

    `x`, `y`, `weight` are (k, m). Points on one line give NaN or a huge radius; check the arc before use.
    """
    return _taubin(_moments(x, y, np.ones_like(x) if weight is None else weight))


def running_sums(x: Floats, y: Floats) -> Floats:
    """Sums (8, n + 1) before each of n points, for `fit_taubin_to_runs`."""
    sums, z = np.zeros((8, len(x) + 1)), x * x + y * y
    for column, values in zip(sums, (x, y, x * x, y * y, x * y, x * z, y * z, z * z), strict=True):
        np.cumsum(values, out=column[1:])
    return sums


def fit_taubin_to_runs(sums: Floats, first: Ints, stop: Ints) -> Circles:
    """The circles of `fit_taubin` through the points first..stop-1, (k,) each, of a series; NaN where none are.

    By `running_sums`: what overlapping runs share is added up once. For points about as far from 0 as the circles
    are large: farther away the sums lose digits.
    """
    return _taubin(_run_moments(sums, first, stop))


def _run_moments(sums: Floats, first: Ints, stop: Ints) -> _Moments:
    """Moments of each run, from sums about 0."""
    count = np.where(stop > first, stop - first, np.nan)
    mean_x, mean_y, xx, yy, xy, xz, yz, zz = (sums[:, stop] - sums[:, first]) / count
    square, z_mean = mean_x**2 + mean_y**2, xx + yy
    zz += 4.0 * (mean_x**2 * xx + mean_y**2 * yy - mean_x * xz - mean_y * yz + 2.0 * mean_x * mean_y * xy)
    zz += 2.0 * square * (z_mean - 2.0 * square) + square**2
    xx, yy, xy = xx - mean_x**2, yy - mean_y**2, xy - mean_x * mean_y
    return _Moments(
        mean_x=mean_x,
        mean_y=mean_y,
        xx=xx,
        yy=yy,
        xy=xy,
        xz=xz - mean_x * z_mean - 2.0 * (mean_x * xx + mean_y * xy),
        yz=yz - mean_y * z_mean - 2.0 * (mean_x * xy + mean_y * yy),
        zz=zz,
    )


def _taubin(m: _Moments) -> Circles:
    """Taubin's circle from the moments."""
    z = m.xx + m.yy
    determinant = m.xx * m.yy - m.xy**2
    spread = m.zz - z**2
    a3 = 4.0 * z
    a2 = -3.0 * z**2 - m.zz
    a1 = spread * z + 4.0 * determinant * z - m.xz**2 - m.yz**2
    a0 = m.xz * (m.xz * m.yy - m.yz * m.xy) + m.yz * (m.yz * m.xx - m.xz * m.xy) - spread * determinant
    root = np.zeros_like(z)
    with np.errstate(invalid="ignore", divide="ignore"):
        for _ in range(NEWTON_STEPS):  # from 0 Newton's method falls monotonically on the smallest root
            value = a0 + root * (a1 + root * (a2 + root * a3))
            slope = a1 + root * (2.0 * a2 + 3.0 * a3 * root)
            step = np.where(np.abs(slope) > SMALL, value / slope, 0.0)
            root = root - np.where(np.isfinite(step), step, 0.0)
            if not (np.abs(step) > SETTLED * np.abs(root)).any():
                break
        bottom = 2.0 * (root**2 - root * z + determinant)
        cx = (m.xz * (m.yy - root) - m.yz * m.xy) / bottom
        cy = (m.yz * (m.xx - root) - m.xz * m.xy) / bottom
        return Circles(cx + m.mean_x, cy + m.mean_y, np.sqrt(cx**2 + cy**2 + z))


def fit_geometric(x: Floats, y: Floats, weight: Floats | None = None, steps: int = 40) -> Circles:
    """Circle with the least squared distances to the points (Gauss-Newton from Taubin's, with damping).

    `x`, `y`, `weight` are (k, m). Converges in a few steps on arcs above 90 degrees; Levenberg's damping
    keeps short arcs from running away, there raise `steps`.
    """
    weight = np.ones_like(x) if weight is None else weight
    start = fit_taubin(x, y, weight)
    state = np.stack([start.x, start.y, start.radius], axis=1)
    damping = np.full(len(x), 1e-3)
    cost = _cost(state, x, y, weight)
    for _ in range(steps):
        step = _damped_step(state, x, y, weight, damping)
        tried = state + step
        tried_cost = _cost(tried, x, y, weight)
        better = tried_cost <= cost
        state = np.where(better[:, None], tried, state)
        cost = np.where(better, tried_cost, cost)
        damping = np.clip(np.where(better, damping / 10.0, damping * 10.0), 1e-12, 1e6)
    return Circles(state[:, 0], state[:, 1], state[:, 2])


def _cost(state: Floats, x: Floats, y: Floats, weight: Floats) -> Floats:
    """Weighted sum of squared distances to each circle."""
    distance = lengths(x - state[:, :1], y - state[:, 1:2]) - state[:, 2:3]
    return np.asarray((weight * distance**2).sum(axis=1))


def _damped_step(state: Floats, x: Floats, y: Floats, weight: Floats, damping: Floats) -> Floats:
    """Levenberg-Marquardt step of (centre, radius) for every set."""
    dx, dy = x - state[:, :1], y - state[:, 1:2]
    distance = np.maximum(lengths(dx, dy), SMALL)
    jacobian = np.stack([-dx / distance, -dy / distance, -np.ones_like(dx)], axis=2)
    normal = np.einsum("kmi,km,kmj->kij", jacobian, weight, jacobian)
    gradient = np.einsum("kmi,km,km->ki", jacobian, weight, distance - state[:, 2:3])
    diagonal = np.einsum("kii->ki", normal)
    normal = normal + np.eye(3) * ((damping[:, None] * diagonal + 1e-12)[:, None, :])
    usable = np.isfinite(normal).all(axis=(1, 2)) & np.isfinite(gradient).all(axis=1)
    normal = np.where(usable[:, None, None], normal, np.eye(3))
    gradient = np.where(usable[:, None], gradient, 0.0)
    return np.asarray(-np.linalg.solve(normal, gradient[:, :, None])[:, :, 0])
