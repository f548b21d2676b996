"""The wind everywhere in a flight: a Gaussian process over time and height through the windows' winds.

Each wind component has mean 0 with a wide prior, one constant for the whole flight, a slow part of covariance
s0^2 exp(-|dt|/tau) exp(-|dz|/H) and a local part alike but with a tau of minutes: the wind differs from one slope
to the next. How large both parts are on this day is taken from its windows, by marginal likelihood over a few
values about the usual ones. Windows count by their own covariance, widened where they overlap; a window that
contradicts its neighbours is widened until it does not (a Student-like weight). Windows of straight flight all
rest on one airspeed of the flight: what that may be off shifts them all together, each by what its own headings
make of it, and no mean over them takes it away. Where another airspeed would make them agree, that tells it. Far
from any window the standard deviation grows back to that of the prior, so the field knows what it does not know.

References
----------
Rasmussen & Williams 2006, Gaussian Processes for Machine Learning, ch. 2, 5.4.1 (marginal
likelihood) and 5.4.2 (leave-one-out); M 4.
"""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np

from flightlog.air.air import NO_CIRCLES, Air, CircleRuns, WindChange, WindField, WindWindows
from flightlog.air.wind_inverses import WindInverse, inverses_of, wind_inverse
from flightlog.arrays import Floats, Ints, frozen_floats
from flightlog.estimates import Wind, wind_from_vector
from flightlog.lapack import lapack
from flightlog.settings import Settings

MOST_SITES = 150
ROUGH_SITES = 60
ROBUST_STEPS = 3
MOST_MEAN_NODES = 300
MOST_LIKELIHOOD_SITES = 80
SLOW_STEPS = (0.6, 1.0, 1.5)
LOCAL_STEPS = (0.5, 1.0, 2.0)
CHANGE_LOG_SD = 0.5
EXPECTED_99 = 9.21
"""99 % point of chi-square with 2 degrees of freedom."""


def fit_field(
    windows: WindWindows,
    node_time_s: Floats,
    node_altitude_m: Floats,
    settings: Settings,
    *,
    circles: CircleRuns = NO_CIRCLES,
    rough: bool = False,
) -> WindField | None:
    """Wind field through the windows, or None without any; the nodes sample the flight's path in the air.

    A `rough` field pools more windows and weighs the odd ones once: enough to find circles with.
    """
    if windows.start_s.size == 0:
        return None
    time, altitude, wind, noise, together = _pooled(
        windows, _groups(windows, ROUGH_SITES if rough else MOST_SITES)
    )
    parts = _correlations(time, altitude, time, altitude, settings)
    change = _likely_change(parts, wind, noise, together, settings)
    kernel = _kernel_of(parts, change, settings)
    widening = np.ones(len(time))
    steps = ROBUST_STEPS - int(rough)
    for step in range(steps):
        inverse = wind_inverse(kernel, noise * widening[:, None, None], together)
        weights = inverse.of(wind)
        if step == steps - 1:
            break
        contradiction = _contradiction(inverse, weights)
        if not (contradiction > 1.0).any():
            break
        widening = widening * contradiction
    return WindField(
        time_s=frozen_floats(time),
        altitude_m=frozen_floats(altitude),
        weights=frozen_floats(weights),
        inverse=frozen_floats(inverse.of_component()),
        node_time_s=frozen_floats(node_time_s),
        node_altitude_m=frozen_floats(node_altitude_m),
        circles=circles,
        change=change,
        settings=settings,
    )


def evaluate_field(field: WindField, time_s: Floats, altitude_m: Floats) -> tuple[Floats, Floats, Floats]:
    """Wind (east, north) and the standard deviation of one component at these times and heights."""
    kernel = _kernel(time_s, altitude_m, field.time_s, field.altitude_m, field.change, field.settings)
    wind = kernel @ field.weights
    variance = _prior_variance(field) - np.einsum("qm,qm->q", kernel @ field.inverse, kernel)
    return wind[:, 0], wind[:, 1], np.sqrt(np.maximum(variance, 1e-6))


def field_wind(field: WindField, time_s: Floats, altitude_m: Floats) -> tuple[Floats, Floats]:
    """Wind (east, north) alone, where nobody asks how sure it is."""
    kernel = _kernel(time_s, altitude_m, field.time_s, field.altitude_m, field.change, field.settings)
    wind = kernel @ field.weights
    return wind[:, 0], wind[:, 1]


def wind_at(air: Air, time_s: Floats | float, altitude_m: Floats | float) -> tuple[Floats, Floats, Floats]:
    """Wind (east, north, where the air goes) and the sd of one component, at any times and heights.

    NaN where the log does not tell: no window at all, or a standard deviation above the limit of the settings.
    """
    time = np.atleast_1d(np.asarray(time_s, dtype=np.float64))
    altitude = np.broadcast_to(np.asarray(altitude_m, dtype=np.float64), time.shape)
    if air.field is None:
        nothing = np.full(time.shape, np.nan)
        return nothing, nothing.copy(), nothing.copy()
    east, north, sd = evaluate_field(air.field, time, altitude)
    known = np.isfinite(sd) & (sd <= air.field.settings.wind_sd_limit_mps)
    return np.where(known, east, np.nan), np.where(known, north, np.nan), np.where(known, sd, np.nan)


def average_wind(
    field: WindField,
    start_s: float,
    end_s: float,
    low_m: float | None,
    high_m: float | None,
) -> Wind | None:
    """Posterior of the mean wind over the path between these times and heights.

    However long the flight, its error stays above `wind_common_sd_mps`: a pilot who speeds up or banks up on one
    side of every circle shifts the wind of all circles alike, and no mean over many of them shows it.
    """
    if field.node_time_s.size == 0:
        return None
    inside = (field.node_time_s >= start_s) & (field.node_time_s <= end_s)
    if low_m is not None:
        inside &= field.node_altitude_m >= low_m
    if high_m is not None:
        inside &= field.node_altitude_m < high_m
    nodes = np.flatnonzero(inside)
    if nodes.size == 0:
        middle = 0.5 * (start_s + end_s)
        on_path = low_m is None and high_m is None and field.node_time_s[0] <= middle <= field.node_time_s[-1]
        if not on_path:
            return None
        cross, within = _kernels_at(field, *_on_path(field, middle))
    else:
        cross, within = _node_kernels(field, nodes[:: 1 + nodes.size // MOST_MEAN_NODES])
    east, north = cross @ field.weights
    variance = within - float(cross @ field.inverse @ cross)
    se = float(np.sqrt(max(variance, 1e-6) + field.settings.wind_common_sd_mps**2))
    if not np.isfinite(se) or se > field.settings.wind_sd_limit_mps:
        return None
    circles = _circles(field.circles, start_s, end_s, low_m, high_m)
    return wind_from_vector(float(east), float(north), se, circles)


def _on_path(field: WindField, at_s: float) -> tuple[Floats, Floats]:
    """The path's time and altitude, (1,) each, at a moment between two nodes."""
    return np.array([at_s]), np.array([np.interp(at_s, field.node_time_s, field.node_altitude_m)])


def _node_kernels(field: WindField, nodes: Ints) -> tuple[Floats, float]:
    """Mean prior covariance of the wind at these nodes with that at the sites (m,), and with each other."""
    if field.node_time_s.size > MOST_MEAN_NODES:  # too many for a table of all pairs
        return _kernels_at(field, field.node_time_s[nodes], field.node_altitude_m[nodes])
    cross, within = _kernel_tables(field)
    if nodes.size == len(within):
        return cross.mean(axis=0), float(within.mean())
    return cross[nodes].mean(axis=0), float(within[nodes[:, None], nodes].mean())


@lru_cache(maxsize=1)  # a report asks for the mean wind of many parts of one flight's path
def _kernel_tables(field: WindField) -> tuple[Floats, Floats]:
    """Prior covariance of the wind at the q nodes with that at the sites (q, m), and with each other (q, q)."""
    time, altitude = field.node_time_s, field.node_altitude_m
    return (
        _kernel(time, altitude, field.time_s, field.altitude_m, field.change, field.settings),
        _kernel(time, altitude, time, altitude, field.change, field.settings),
    )


def _kernels_at(field: WindField, time_s: Floats, altitude_m: Floats) -> tuple[Floats, float]:
    """The means that `_node_kernels` gives, for any times and altitudes."""
    cross = _kernel(time_s, altitude_m, field.time_s, field.altitude_m, field.change, field.settings)
    within = _kernel(time_s, altitude_m, time_s, altitude_m, field.change, field.settings)
    return cross.mean(axis=0), float(within.mean())


def _likely_change(
    parts: tuple[Floats, Floats], wind: Floats, noise: Floats, together: Floats, settings: Settings
) -> WindChange:
    """How far the wind strays on this flight: the likeliest of a few values, drawn to the usual ones.

    A flight with a handful of windows does not tell and keeps about the usual values. `parts` are the correlations
    between the sites.
    """
    usual = WindChange(settings.wind_change_sd_mps, settings.wind_local_sd_mps)
    best, best_score = usual, -np.inf
    step = 1 + len(wind) // MOST_LIKELIHOOD_SITES
    parts = (parts[0][::step, ::step], parts[1][::step, ::step])
    wind, certain = wind[::step], _noise_of_all(noise[::step], together[::step])
    for slow in SLOW_STEPS:
        for local in LOCAL_STEPS:
            change = WindChange(usual.slow_sd_mps * slow, usual.local_sd_mps * local)
            unusual = (math.log(slow) ** 2 + math.log(local) ** 2) / (2.0 * CHANGE_LOG_SD**2)
            score = _log_likelihood(_kernel_of(parts, change, settings), certain, wind) - unusual
            if score > best_score:
                best, best_score = change, score
    return best


def _noise_of_all(noise: Floats, together: Floats) -> Floats:
    """Covariance (2m, 2m) of the noise (m, 2, 2) of all winds, all to east first; only its lower half.

    `together` (m, 2) is one standard deviation of an error that all share.
    """
    m = len(noise)
    covariance = np.zeros((2 * m, 2 * m), order="F")
    np.einsum("ii->i", covariance)[:] = np.concatenate([noise[:, 0, 0], noise[:, 1, 1]])
    np.einsum("ii->i", covariance[m:, :m])[:] = noise[:, 0, 1]
    if together.any():
        alike = together.T.ravel()
        covariance += np.outer(alike, alike)
    return covariance


def _log_likelihood(kernel: Floats, noise: Floats, wind: Floats) -> float:
    """Logarithm of the normal density of the winds (m, 2) with noise (2m, 2m), less its constant."""
    m = len(wind)
    covariance = noise.copy(order="F")
    covariance[:m, :m] += kernel.T
    covariance[m:, m:] += kernel.T
    lower, failed = lapack.dpotrf(covariance, lower=1, clean=0, overwrite_a=1)
    if failed:
        return -np.inf
    white, _ = lapack.dtrtrs(lower, wind.T.ravel(), lower=1)
    return float(-0.5 * (white @ white) - np.log(np.diagonal(lower)).sum())


def _prior_variance(field: WindField) -> float:
    """Variance of one wind component before any data."""
    change = field.change
    return float(field.settings.wind_prior_sd_mps**2 + change.slow_sd_mps**2 + change.local_sd_mps**2)


def _kernel(
    time_a: Floats,
    altitude_a: Floats,
    time_b: Floats,
    altitude_b: Floats,
    change: WindChange,
    settings: Settings,
) -> Floats:
    """Prior covariance of one wind component between places a and b of time and height."""
    return _kernel_of(_correlations(time_a, altitude_a, time_b, altitude_b, settings), change, settings)


def _kernel_of(parts: tuple[Floats, Floats], change: WindChange, settings: Settings) -> Floats:
    """Prior covariance of one wind component from the correlations of its slow and its local part."""
    whole = parts[0] * change.slow_sd_mps**2
    whole += parts[1] * change.local_sd_mps**2
    whole += settings.wind_prior_sd_mps**2
    return whole


def _correlations(
    time_a: Floats, altitude_a: Floats, time_b: Floats, altitude_b: Floats, settings: Settings
) -> tuple[Floats, Floats]:
    """How alike the slow and the local part of the wind are between places a and b of time and height."""
    later = np.abs(np.subtract.outer(time_a, time_b))
    higher = np.abs(
        np.subtract.outer(altitude_a / settings.wind_change_height_m, altitude_b / settings.wind_change_height_m)
    )
    slow, local = later * (-1.0 / settings.wind_change_time_s), later
    local *= -1.0 / settings.wind_local_time_s
    for part in (slow, local):
        part -= higher
        np.exp(part, out=part)
    return slow, local


def _contradiction(inverse: WindInverse, weights: Floats) -> Floats:
    """How much each site's covariance must grow for its neighbours to foretell it: 1 where they agree."""
    miss = np.einsum("kij,kj->ki", inverses_of(inverse.blocks()), weights)  # leave-one-out residual
    distance = (miss * weights).sum(axis=1)  # its squared Mahalanobis length
    return np.asarray(np.maximum(1.0, distance / EXPECTED_99))


def _groups(windows: WindWindows, most: int) -> Ints:
    """Which site each window goes to: neighbours in time are pooled once there are too many for one solve."""
    k = windows.start_s.size
    return np.arange(k) * min(k, most) // k


def _pooled(windows: WindWindows, group: Ints) -> tuple[Floats, Floats, Floats, Floats, Floats]:
    """Time, height, wind (m, 2) and noise (m, 2, 2) of each site, overlap of windows taken into account.

    Last, one standard deviation (m, 2) of the error that all sites share; the noise is without it.
    """
    alike = windows.together_mps if windows.together_mps.size else np.zeros((windows.start_s.size, 2))
    own = windows.covariance_mps2 - alike[:, :, None] * alike[:, None, :]
    information = inverses_of(own * _overlap(windows)[:, None, None])
    wind = np.stack([windows.east_mps, windows.north_mps, *alike.T], axis=1).reshape(-1, 2, 2)
    sites = int(group[-1]) + 1
    count = np.bincount(group, minlength=sites)
    middle = np.bincount(group, (windows.start_s + windows.end_s) / 2.0 - windows.start_s[0]) / count
    altitude = np.bincount(group, windows.altitude_m) / count
    total = np.zeros((sites, 2, 2))
    np.add.at(total, group, information)
    weighted = np.zeros((sites, 2, 2))
    np.add.at(weighted, group, np.einsum("kij,kaj->kai", information, wind))
    noise = inverses_of(total)
    pooled, together = np.einsum("kij,kaj->aki", noise, weighted)
    return np.asarray(middle + windows.start_s[0]), np.asarray(altitude), pooled, noise, together


def _overlap(windows: WindWindows) -> Floats:
    """How many times a window's flight time is used, counting windows of its own kind."""
    times = np.ones(windows.start_s.size)
    for kind in (0, 1):
        one = np.flatnonzero(windows.straight == kind)
        if one.size == 0:
            continue
        start, end = windows.start_s[one], windows.end_s[one]
        before = np.concatenate([[0.0], np.maximum(end[:-1] - start[1:], 0.0)])
        after = np.concatenate([before[1:], [0.0]])
        times[one] = 1.0 + np.minimum((before + after) / np.maximum(end - start, 1.0), 1.0)
    return times


def _circles(runs: CircleRuns, start_s: float, end_s: float, low_m: float | None, high_m: float | None) -> float:
    """Full circles flown between these times and heights; within a run height is taken to change evenly."""
    duration = np.maximum(runs.end_s - runs.start_s, 1e-9)
    begin = np.minimum(np.maximum((start_s - runs.start_s) / duration, 0.0), 1.0)
    finish = np.minimum(np.maximum((end_s - runs.start_s) / duration, 0.0), 1.0)
    gain = runs.end_altitude_m - runs.start_altitude_m
    gain = np.where(np.abs(gain) < 1e-3, 1e-3, gain)
    low_share = ((-np.inf if low_m is None else low_m) - runs.start_altitude_m) / gain
    high_share = ((np.inf if high_m is None else high_m) - runs.start_altitude_m) / gain
    begin = np.maximum(begin, np.minimum(low_share, high_share))
    finish = np.minimum(finish, np.maximum(low_share, high_share))
    return float(round(float((np.maximum(finish - begin, 0.0) * runs.turned_deg).sum()) / 360.0, 1))
