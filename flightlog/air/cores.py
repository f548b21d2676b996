"""The core of a thermal from the way through it: how strong, how wide, where.

The rise of the air is taken as a Gaussian hill that drifts with the wind, and a little differently, since cores
wander and lean (M 5; Allen 2006, Gedeon 1973 for the shapes met in nature):

    rise = w0 (1 + s (z - zm) / 500 m) exp(-|p - c - u (t - tm)|^2 / R^2)

One steady circle cannot tell a wide thermal from one flown off its centre. What tells is the way in: the seconds
before the first circle are part of the fit. Where even they leave the place open, no core is given.

The rise is that of all the air met there: the way flown cannot tell one thermal's lift from its neighbour's. On
114 climbs of another simulator, in which thermals that meet add up, the strongest rise about the core came out 4 %
low in the median, and the intervals of the climbs' cores held it in 0.98. A single thermal's own strength came out
as well where it stood alone (held in 0.98); where neighbours added more than 15 % (44 climbs) it was held in 0.70.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from flightlog.arrays import Bools, Floats, Ints, middle

START_RADII_M = (50.0, 90.0, 140.0)
"""The fit starts from each of these: it has more than one valley (M 5)."""
NOISE_MPS = 0.6
NOISE_TIME_S = 4.0
"""Gusts of 0.6 m/s, one independent value per 4 s (M 5)."""
PRIOR_SD = np.array([5.0, 60.0, 60.0, 1.5, 1.5, 0.5, 0.5])
PRIOR_LOG_RADIUS = float(np.log(80.0))
PRIOR_STRENGTH_MPS = 3.0
"""w0 about 3 (1-5 m/s, Akos et al. 2008), c within 60 m of the circles' centre, u 1.5 m/s, R about 80 m, s 0.5."""
PRIOR_MEAN = np.array([PRIOR_STRENGTH_MPS, 0.0, 0.0, 0.0, 0.0, PRIOR_LOG_RADIUS, 0.0])
PRIOR_INFORMATION = np.diag(1.0 / PRIOR_SD**2)
STEPS = 18
SETTLED_COST = 1e-5
"""A step that lowers the chi-square by less is the last: it leaves a few thousandths of a standard deviation."""
MEETING_STEP, MET_SHARE = 4, 0.05
"""After so many steps, starts this near a better one, as a share of what the priors leave open, are left aside."""
LEAVING_SHARE = 0.25
"""Settled problems are left aside once they are so many: leaving them costs copies."""
LEAST_LOG_RADIUS, MOST_LOG_RADIUS = float(np.log(10.0)), float(np.log(1000.0))
HEIGHT_SCALE_M = 500.0
AMBIENT_MPS, AMBIENT_SD_MPS = 0.2, 0.25
"""Rise of the air that the thermal stands in, its mean and standard deviation: the way flown cannot tell it from
the core's own. Pilots circle where it rises rather than sinks; without it cores read 0.3 m/s high."""


@dataclass(frozen=True, eq=False)
class RiseSamples:
    """The rise of the air along the way, m values: time, place (drift taken out), height, all from their means."""

    time_s: Floats  # (m,) from the middle of the window
    east_m: Floats  # (m,) from the centre of the circles, in the frame that drifts with the wind
    north_m: Floats
    height_m: Floats  # from the mean height
    rise_mps: Floats  # of the air: climb plus the wing's own sink


@dataclass(frozen=True)
class CoreFit:
    """The core as fitted, in the frame of the samples, at their middle time; sd are standard deviations."""

    strength_mps: float
    strength_sd_mps: float
    radius_m: float
    log_radius_sd: float
    east_m: float
    north_m: float
    place_sd_m: float


def fit_cores(samples: list[RiseSamples]) -> list[CoreFit | None]:
    """Core of every window of samples; None where the fit did not settle.

    All windows and starts are solved side by side (Levenberg-Marquardt with soft-L1 residuals and priors).
    """
    if not samples:
        return []
    length = max(one.time_s.size for one in samples)
    data = np.zeros((5, len(samples), length))
    weight = np.zeros((len(samples), length))
    for i, one in enumerate(samples):
        count = one.time_s.size
        data[:, i, :count] = (one.time_s, one.east_m, one.north_m, one.height_m / HEIGHT_SCALE_M, one.rise_mps)
        step_s = middle(one.time_s[1:] - one.time_s[:-1]) if count > 1 else NOISE_TIME_S
        weight[i, :count] = min(step_s / NOISE_TIME_S, 1.0) / NOISE_MPS**2
    starts = len(START_RADII_M)
    data, weight = np.repeat(data, starts, axis=1), np.repeat(weight, starts, axis=0)
    parameters = np.zeros((weight.shape[0], 7))
    parameters[:, 0] = np.maximum(np.repeat([_upper(one.rise_mps) for one in samples], starts), 0.5)
    parameters[:, 5] = np.tile(np.log(START_RADII_M), len(samples))
    parameters, cost, information = _solve(data, weight, parameters)
    best = cost.reshape(-1, starts).argmin(axis=1) + starts * np.arange(len(samples))
    return [_core(parameters[i], information[i]) for i in best]


def _upper(rise_mps: Floats) -> float:
    """A first guess of the core's strength: four in five values lie below."""
    ordered = np.sort(rise_mps)
    place = 0.8 * (len(ordered) - 1)
    below = int(place)
    above = min(below + 1, len(ordered) - 1)
    return float(ordered[below] + (place - below) * (ordered[above] - ordered[below]))


def _equations(data: Floats, parameters: Floats) -> Floats:
    """Derivatives of the rise by the seven parameters, and last the rise less that measured, (8, b, m)."""
    time, east, north, height, measured = data
    w0, cx, cy, ux, uy, log_radius, s = (parameters[:, k : k + 1] for k in range(7))
    dx, dy = east - cx - ux * time, north - cy - uy * time
    inverse = np.exp(-2.0 * log_radius)
    squared = (dx * dx + dy * dy) * inverse
    hill = np.exp(-squared)
    equations = np.empty((8, *time.shape))
    np.multiply(1.0 + s * height, hill, out=equations[0])
    rise = w0 * equations[0]
    slope = rise * (2.0 * inverse)
    np.multiply(slope, dx, out=equations[1])
    np.multiply(slope, dy, out=equations[2])
    np.multiply(equations[1:3], time, out=equations[3:5])
    np.multiply(2.0 * rise, squared, out=equations[5])
    np.multiply(w0 * height, hill, out=equations[6])
    np.subtract(rise, measured, out=equations[7])
    return equations


def _cost(data: Floats, weight: Floats, parameters: Floats) -> tuple[Floats, Floats, Floats]:
    """Cost (b,), gradient (b, 7) and normal matrix (b, 7, 7) of soft-L1 residuals and priors."""
    equations = _equations(data, parameters)
    root = np.sqrt(1.0 + (equations[7] / NOISE_MPS) ** 2)
    off = (parameters - PRIOR_MEAN) / PRIOR_SD
    cost = 2.0 * NOISE_MPS**2 * np.einsum("bm,bm->b", weight, root - 1.0) + np.einsum("bi,bi->b", off, off)
    sums = (equations[:7] * (weight / root)).transpose(1, 0, 2) @ equations.transpose(1, 2, 0)
    return cost, sums[:, :, 7] + off / PRIOR_SD, sums[:, :, :7] + PRIOR_INFORMATION


def _solve(data: Floats, weight: Floats, parameters: Floats) -> tuple[Floats, Floats, Floats]:
    """Levenberg-Marquardt over all problems at once: parameters, cost and normal matrix at the end.

    Problems drop out as they settle, and starts that came to where a better one of their window is.
    """
    now = [parameters.copy(), *_cost(data, weight, parameters)]
    ended = [column.copy() for column in now]
    rows, damping = np.arange(len(parameters)), np.full(len(parameters), 1e-2)
    for number in range(1, STEPS + 1):
        trial = _stepped(now[0], now[2], now[3], damping)
        tried = (trial, *_cost(data, weight, trial))
        better = tried[1] < now[1]
        gain = np.where(better, now[1] - tried[1], 0.0)
        for column, new in zip(now, tried, strict=True):
            column[better] = new[better]
        damping *= np.where(better, 0.3, 6.0)
        np.maximum(np.minimum(damping, 1e6, out=damping), 1e-6, out=damping)
        left = (gain < SETTLED_COST) & (better | (damping > 1e3))
        if number == MEETING_STEP:
            left |= _met(now[0], now[1], rows)
        if number == STEPS or left.sum() >= LEAVING_SHARE * len(rows):
            for column, whole in zip(now, ended, strict=True):
                whole[rows] = column
            kept = np.flatnonzero(~left)
            if kept.size == 0:
                break
            rows, damping = rows[kept], damping[kept]
            now = [column[kept] for column in now]
            data, weight = data[:, kept], weight[kept]
    return ended[0], ended[1], ended[3]


def _stepped(parameters: Floats, gradient: Floats, normal: Floats, damping: Floats) -> Floats:
    """Parameters after one damped step, within bounds."""
    damped, diagonal = normal.copy(), np.arange(7)
    damped[:, diagonal, diagonal] *= 1.0 + damping[:, None]
    step = np.linalg.solve(damped, gradient[..., None])[..., 0]
    step[:, 5] = np.minimum(np.maximum(step[:, 5], -0.5), 0.5)
    trial = parameters - step
    trial[:, 5] = np.minimum(np.maximum(trial[:, 5], LEAST_LOG_RADIUS), MOST_LOG_RADIUS)
    return np.asarray(trial)


def _met(parameters: Floats, cost: Floats, rows: Ints) -> Bools:
    """Starts (b,) that are where a better one of the same window is, which will come to the same core."""
    starts, windows = len(START_RADII_M), rows // len(START_RADII_M)
    costs = np.full(starts * (windows[-1] + 1), np.inf)
    places = np.zeros((len(costs), 7))
    costs[rows], places[rows] = cost, parameters
    best = (costs.reshape(-1, starts).argmin(axis=1) + starts * np.arange(windows[-1] + 1))[windows]
    apart = np.abs(parameters - places[best]) / PRIOR_SD
    return np.asarray((apart.max(axis=1) < MET_SHARE) & (best != rows))


def _core(parameters: Floats, normal: Floats) -> CoreFit | None:
    """The fit in words, or None where its covariance is no number."""
    try:
        covariance = np.linalg.inv(normal)
    except np.linalg.LinAlgError:
        return None
    variance = np.diag(covariance)
    if not (np.all(np.isfinite(parameters)) and np.all(variance > 0)):
        return None
    return CoreFit(
        strength_mps=float(parameters[0]),
        strength_sd_mps=float(np.sqrt(variance[0])),
        radius_m=float(np.exp(parameters[5])),
        log_radius_sd=float(np.sqrt(variance[5])),
        east_m=float(parameters[1]),
        north_m=float(parameters[2]),
        place_sd_m=float(np.sqrt(0.5 * (variance[1] + variance[2]))),
    )
