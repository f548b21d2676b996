"""The smoother: where the pilot was and how fast he moved, from fixes that are noisy, rounded and irregular.

The prior is an integrated Wiener process: between fixes the acceleration (height) or its rate (position) is white
noise of a known strength. The estimate is that of the Kalman smoother of Rauch, Tung & Striebel 1965, which is
also a smoothing spline (Wahba 1978; Kohn & Ansley 1987), found as one banded system of linear equations.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from flightlog.arrays import Floats, Ints
from flightlog.lapack import cholesky_banded, solve_banded

LOOSE = 1e-8
"""Precision of what nothing is known about, relative to one measurement: keeps short pieces solvable."""
_PROBE_DECAY = 4.5  # probes this many decay lengths apart disturb each other by exp(-4.5), 1 %
_CLOSEST_PROBES = 10  # however long the interval: weights of interpolating splines fall to 0.43 from fix to fix


@dataclass(frozen=True, eq=False)
class Smoothed:
    """The smoothed states of n fixes: m values a state (value, rate, ...), c columns smoothed alike."""

    states: Floats  # (n, m, c)
    factor: Floats  # banded Cholesky factor of the posterior precision, upper form


def wiener_precision(step_s: Floats, spectral_density: Floats | float, order: int) -> Floats:
    """Precision that the integrated Wiener prior puts on the states at both ends of each step.

    Parameters
    ----------
    step_s : (k,) array, s
        Length of each step, > 0; infinite for a gap, which ties nothing.
    spectral_density : float or (k,) array
        Of the white noise: m2/s3 for order 2 (value, rate), m2/s5 for order 3 (value, rate, second rate).
    order : int
        2 or 3.

    Returns
    -------
    (2 order, 2 order, k) array
        Of (state before, state after): [-F, I]' Q^-1 [-F, I], in closed form.
    """
    if order == 2:
        pattern, powers = _PATTERN_2, _POWERS_2
    elif order == 3:
        pattern, powers = _PATTERN_3, _POWERS_3
    else:
        raise ValueError(f"order must be 2 or 3, not {order}")
    inverse = 1.0 / np.asarray(step_s, dtype=np.float64)
    by_power = [inverse / spectral_density]
    for _ in range(2 * order - 2):
        by_power.append(by_power[-1] * inverse)
    size = 2 * order
    precision = np.empty((size, size, len(inverse)))
    for row in range(size):
        for column in range(size):
            np.multiply(pattern[row, column], by_power[powers[row, column] - 1], out=precision[row, column])
    return precision


_PATTERN_2 = np.array([[12, 6, -12, 6], [6, 4, -6, 2], [-12, -6, 12, -6], [6, 2, -6, 4]], dtype=np.float64)
_POWERS_2 = np.array([[3, 2, 3, 2], [2, 1, 2, 1], [3, 2, 3, 2], [2, 1, 2, 1]])
_PATTERN_3 = np.array(
    [
        [720, 360, 60, -720, 360, -60],
        [360, 192, 36, -360, 168, -24],
        [60, 36, 9, -60, 24, -3],
        [-720, -360, -60, 720, -360, 60],
        [360, 168, 24, -360, 192, -36],
        [-60, -24, -3, 60, -36, 9],
    ],
    dtype=np.float64,
)
_POWERS_3 = 5 - np.add.outer([0, 1, 2, 0, 1, 2], [0, 1, 2, 0, 1, 2])


def smooth(
    measured: Floats, measurement_precision: Floats, step_precision: Floats, loose: float = LOOSE
) -> Smoothed:
    """Most probable states given measurements of their first value: one banded solve.

    Parameters
    ----------
    measured : (n, c) array
        NaN where missing; a row counts as missing where its precision is 0.
    measurement_precision : (n,) array
        1 / variance of each measurement.
    step_precision : (2m, 2m, n - 1) array
        What the prior says of each pair of neighbours, as `wiener_precision` gives it.
    loose : float
        Precision added to every value of a state, for pieces too short to determine it.
    """
    count, width = len(measured), step_precision.shape[1] // 2
    known = np.logical_and.reduce([np.isfinite(column) for column in measured.T])
    weight = np.where(known, measurement_precision, 0.0)
    banded = _banded(weight, step_precision, width, loose)
    right = np.zeros((count, width, measured.shape[1]))
    right[:, 0] = weight[:, None] * np.where(weight[:, None] > 0, measured, 0.0)
    factor = cholesky_banded(banded)
    states = solve_banded(factor, right.reshape(count * width, -1))
    return Smoothed(states.reshape(count, width, -1), factor)


def _banded(weight: Floats, step_precision: Floats, width: int, loose: float) -> Floats:
    """Lower banded form of the posterior precision, columns = states in order of time."""
    count, size = len(weight), 2 * width
    bands = np.zeros((size, count, width))
    bands[0] = loose
    bands[0, :, 0] += weight
    for column in range(size):
        for row in range(column, size):
            entry = step_precision[row, column]
            if column < width:
                bands[row - column, :-1, column] += entry
            else:
                bands[row - column, 1:, column - width] += entry
    return bands.reshape(size, count * width)


def variances(smoothed: Smoothed, position: int, spacing: int, stride: int = 1) -> Floats:
    """Posterior variance of one value of every state, (n,).

    The diagonal of the inverse by probing (Tang & Saad 2012): unit impulses `spacing` fixes apart share one
    solve, since the inverse decays exponentially away from its diagonal. `probe_spacing` gives a spacing good to
    6 % at worst, mostly to 1 %.
    With a stride above 1 only every so many fixes are computed, and what lies between is interpolated.
    """
    count, width, _ = smoothed.states.shape
    columns = max(1, min(-(-spacing // stride), -(-count // stride)))
    probe = np.arange(-(-count // stride))
    fix = probe * stride
    sign = np.where((probe // columns) % 2 == 0, 1.0, -1.0)
    probes = np.zeros((count * width, columns), order="F")
    probes[fix * width + position, probe % columns] = sign
    solved = solve_banded(smoothed.factor, probes)
    found = np.maximum(solved[fix * width + position, probe % columns] * sign, 0.0)
    return np.asarray(found if stride == 1 else np.interp(np.arange(count), fix, found))


def probe_spacing(interval_s: float, measurement_variance: float, spectral_density: float, order: int) -> int:
    """Fixes between two probes of `variances` so that they disturb each other by about 1 %.

    The smoother's weights decay with cos(pi/3) (order 3) or cos(pi/4) (order 2) of its cut-off frequency.
    """
    cut_off = (spectral_density / (measurement_variance * interval_s)) ** (0.5 / order)
    decay = cut_off * (0.5 if order == 3 else 0.5**0.5)
    return int(np.clip(np.ceil(_PROBE_DECAY / (decay * interval_s)), _CLOSEST_PROBES, 64))


def steps_between(time_s: Floats, piece: Ints) -> Floats:
    """Seconds from each fix to the next, (n - 1,); infinite across a gap."""
    return np.where(np.diff(piece) == 0, np.diff(time_s), np.inf)
