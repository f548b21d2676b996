"""The smoother of `smoothing` as the spline it is: one unknown for each fix, not two or three.

What the integrated Wiener process holds most probable given noisy values is a smoothing spline (Wahba 1978), and
that is found from the divided differences of the values alone (Reinsch 1967, Numerische Mathematik 10:177-183;
Green & Silverman 1994, Nonparametric Regression, section 2.3.3): with y the values and W^-1 their variances,

    (R + Q' W^-1 Q) g = Q' y        and        smoothed = y - W^-1 Q g,

where Q' y are the differences that vanish for what the prior leaves free, R is their covariance under the prior,
and g the weights of the B-splines that, times the density, make up the highest derivative. Rates follow from
neighbouring values and that derivative, fix by fix. It takes 0.4 of the time of the system of all states.

Every value must be known; with some missing, take `smoothing.smooth`. Pieces have 2 fixes at least (`smooth_rate`)
or 3 (`smooth_bend`), which are then joined exactly; no piece knows of another.
"""

from __future__ import annotations

from typing import TypeVar

import numpy as np

from flightlog.arrays import Bools, Complexes, Floats, Ints
from flightlog.lapack import cholesky_banded, solve_banded

_Values = TypeVar("_Values", Floats, Complexes)


def smooth_rate(
    time_s: Floats, piece: Ints, measured: Floats, variance: Floats, density: Floats
) -> tuple[Floats, Floats]:
    """Smoothed values and their rates, (n,) each: white noise in the second derivative.

    Parameters
    ----------
    time_s, piece : (n,) arrays
        Strictly rising times; fixes with one number have no gap between them.
    measured, variance : (n,) arrays
        All known; variances above 0.
    density : (n - 1,) array
        Of the white noise within each step, value^2/s3. Across gaps it is not used.
    """
    step = np.diff(time_s)
    inverse, weight = 1.0 / step, density * step
    differences = np.stack([inverse[:-1], -(inverse[:-1] + inverse[1:]), inverse[1:]])
    covariance = [(weight[:-1] + weight[1:]) / 3.0, weight[1:-1] / 6.0]
    smoothed, shape = _fitted(piece, measured, variance, differences, covariance)
    bend = np.concatenate([[0.0], shape, [0.0]])  # at each fix, for a density of 1
    rise = (smoothed[1:] - smoothed[:-1]) * inverse
    early, late = (weight / factor for factor in (3.0, 6.0))
    ahead = rise - (early * bend[:-1] + late * bend[1:])
    behind = rise + (early * bend[1:] + late * bend[:-1])
    rate = np.append(ahead, behind[-1:])
    ends = np.flatnonzero(piece[1:] != piece[:-1])
    rate[ends] = behind[ends - 1]
    return smoothed, rate


def smooth_bend(
    time_s: Floats, piece: Ints, measured: Complexes, variance: Floats, density: Floats
) -> tuple[Complexes, Complexes, Complexes]:
    """Smoothed places, their rates and second rates, (n,) each, as complex numbers: white noise in the third.

    Parameters as those of `smooth_rate`; both components have one variance and density, value^2/s5.
    """
    step = np.diff(time_s)
    both = step[:-1] + step[1:]
    # the terms of the second divided difference of three neighbours, and of twice the change from one to the next
    second = np.stack([1.0 / (step[:-1] * both), -1.0 / (step[:-1] * step[1:]), 1.0 / (step[1:] * both)])
    differences = np.zeros((4, max(len(step) - 2, 0)))
    differences[1:] += second[:, 1:]
    differences[:3] -= second[:, :-1]
    differences *= 2.0
    falling, rising = np.ones_like(step), np.ones_like(step)  # ends of the B-splines that end and begin in a step
    falling[1:], rising[:-1] = step[1:] / both, step[:-1] / both
    covariance = _parabola_covariance(falling, rising, density * step)
    smoothed, shape = _fitted(piece, measured, variance, differences, covariance)
    padded = np.concatenate([np.zeros(2), shape, np.zeros(2)])
    ending, middle, beginning = padded[:-2], padded[1:-1], padded[2:]
    jerk = density * np.stack(  # of each step, in Bernstein's form
        [middle + falling * (ending - middle), middle, middle + rising * (beginning - middle)]
    )
    return smoothed, *_rates(step, piece, smoothed, jerk)


def _parabola_covariance(falling: Floats, rising: Floats, weight: Floats) -> list[Floats]:
    """Covariances of the differences: integrals of the products of parabolic B-splines, weighted step by step.

    Within a step the three B-splines that touch it are, in Bernstein's form, (falling, 0, 0), (0, 0, rising) and
    what is left of (1, 1, 1): they add up to 1.
    """
    end_end, begin_begin = falling * falling / 5.0, rising * rising / 5.0
    end_begin = falling * rising / 30.0
    end_middle = falling / 3.0 - end_end - end_begin
    begin_middle = rising / 3.0 - begin_begin - end_begin
    middle_middle = 1.0 - (falling + rising) / 3.0 - end_middle - begin_middle
    own = weight * np.stack([begin_begin, middle_middle, end_end])
    next_one = weight * np.stack([begin_middle, end_middle])
    return [
        own[0, :-2] + own[1, 1:-1] + own[2, 2:],
        next_one[0, 1:-2] + next_one[1, 2:-1],
        (weight * end_begin)[2:-2],
    ]


def _rates(step: Floats, piece: Ints, place: Complexes, jerk: Complexes) -> tuple[Complexes, Complexes]:
    """Rates and second rates at every fix from the places and the third derivative (3, n - 1) between them."""
    square = 0.5 * step * step
    rise = (place[1:] - place[:-1]) / step
    ahead = rise - square * (jerk[0] / 5.0 + jerk[1] / 10.0 + jerk[2] / 30.0)  # rate + step / 2 x second rate
    behind = rise - square * (jerk[2] / 5.0 + jerk[1] / 10.0 + jerk[0] / 30.0)  # rate - step / 2 x second rate
    rate, second = np.empty_like(place), np.empty_like(place)
    both = step[:-1] + step[1:]
    rate[1:-1] = (step[:-1] * ahead[1:] + step[1:] * behind[:-1]) / both
    second[1:-1] = 2.0 * (ahead[1:] - behind[:-1]) / both
    change = (jerk[0] + jerk[1] + jerk[2]) * (step / 3.0)
    breaks = np.flatnonzero(piece[1:] != piece[:-1])
    first, last = np.append(0, breaks + 1), np.append(breaks, len(step))
    second[first] = second[first + 1] - change[first]
    rate[first] = ahead[first] - 0.5 * step[first] * second[first]
    second[last] = second[last - 1] + change[last - 1]
    rate[last] = behind[last - 1] + 0.5 * step[last - 1] * second[last]
    return rate, second


def _fitted(
    piece: Ints, measured: _Values, variance: Floats, differences: Floats, covariance: list[Floats]
) -> tuple[_Values, _Values]:
    """The smoothed values (n,), and the weights g (n - m,) of the B-splines, 0 where those would span a gap.

    `differences` (m + 1, n - m) are the terms of each difference, of as many fixes from its own on; `covariance`
    the diagonals of R from the main one on.
    """
    order, count = len(differences) - 1, differences.shape[1]
    if count < 1:
        return measured.copy(), measured[:0]
    inside = piece[order:] == piece[:-order]
    if not inside.all():
        differences, covariance = differences * inside, _cut(covariance, inside)
    bands = np.zeros((count, order + 1))
    spread = differences * np.stack([variance[term : term + count] for term in range(order + 1)])
    for band in range(min(order + 1, count)):
        products = spread[band:, : count - band] * differences[: order + 1 - band, band:]
        bands[: count - band, band] = products.sum(axis=0)
        if band < len(covariance):
            bands[: count - band, band] += covariance[band]
    right = np.zeros(count, dtype=measured.dtype)
    for term in range(order + 1):
        right += differences[term] * measured[term : term + count]
    parts = right.view(np.float64).reshape(count, -1)
    weights = np.ascontiguousarray(solve_banded(cholesky_banded(bands.T), np.asfortranarray(parts)))
    shape = weights.reshape(-1).view(measured.dtype)
    smoothed = measured.copy()
    for term in range(order + 1):
        smoothed[term : term + count] -= spread[term] * shape
    return smoothed, shape


def _cut(covariance: list[Floats], inside: Bools) -> list[Floats]:
    """The diagonals of R without the differences that span a gap: those have the variance 1 and stand alone."""
    count = len(inside)
    diagonals = [np.where(inside, covariance[0], 1.0)]
    for band, diagonal in enumerate(covariance[1:], start=1):
        diagonals.append(diagonal * (inside[band:] & inside[: count - band]))
    return diagonals
