"""The wind everywhere in a flight: a Gaussian process over time and height through the windows' winds.

Each wind component has mean 0 with a wide prior, one constant for the whole flight, a slow part of covariance
s0^2 exp(-|dt|/tau) exp(-|dz|/H) and a local part alike but with a tau of minutes: the wind differs from one slope
to the next. How large both parts are on this day is taken from its windows, by marginal likelihood over a few
values about the usual ones. Windows count by their own covariance, widened where they overlap; a window that
contradicts its neighbours is widened until it does not (a Student-like weight). Far from any window the standard
deviation grows back to that of the prior, so the field knows what it does not know.

References
----------
Rasmussen & Williams 2006, Gaussian Processes for Machine Learning, ch. 2, 5.4.1 (marginal
likelihood) and 5.4.2 (leave-one-out); M 4.
"""

from __future__ import annotations

import numpy as np
from scipy.linalg import lapack

from flightlog.air.air import NO_CIRCLES, Air, CircleRuns, WindChange, WindField, WindWindows
from flightlog.arrays import Floats, Ints, frozen_floats
from flightlog.estimates import Wind, wind_from_vector
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
    time, altitude, wind, noise = _pooled(windows, _groups(windows, ROUGH_SITES if rough else MOST_SITES))
    change = _likely_change(time, altitude, wind, noise, settings)
    prior = _for_both_components(_kernel(time, altitude, time, altitude, change, settings))
    widening = np.ones(len(time))
    steps = ROBUST_STEPS - int(rough)
    for step in range(steps):
        inverse = _inverse(_with_noise(prior, noise * widening[:, None, None]))
        if step == steps - 1:
            break
        widening = widening * _contradiction(inverse, wind)
    weights = (inverse @ wind.ravel()).reshape(-1, 2)
    return WindField(
        time_s=frozen_floats(time),
        altitude_m=frozen_floats(altitude),
        weights=frozen_floats(weights),
        inverse=frozen_floats((inverse[0::2, 0::2] + inverse[1::2, 1::2]) / 2.0),
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
    gain = kernel @ field.inverse
    variance = _prior_variance(field) - (gain * kernel).sum(axis=1)
    return wind[:, 0], wind[:, 1], np.sqrt(np.maximum(variance, 1e-6))


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
    time, altitude = field.node_time_s, field.node_altitude_m
    if low_m is not None:
        inside &= altitude >= low_m
    if high_m is not None:
        inside &= altitude < high_m
    if not inside.any():
        middle = 0.5 * (start_s + end_s)
        if low_m is not None or high_m is not None or not time[0] <= middle <= time[-1]:
            return None
        time, altitude = np.array([middle]), np.array([np.interp(middle, time, altitude)])
    else:
        time, altitude = time[inside], altitude[inside]
    settings = field.settings
    stride = 1 + len(time) // MOST_MEAN_NODES
    time, altitude = time[::stride], altitude[::stride]
    cross = _kernel(time, altitude, field.time_s, field.altitude_m, field.change, settings).mean(axis=0)
    within = float(_kernel(time, altitude, time, altitude, field.change, settings).mean())
    east, north = cross @ field.weights
    variance = within - float(cross @ field.inverse @ cross)
    se = float(np.sqrt(max(variance, 1e-6) + settings.wind_common_sd_mps**2))
    if not np.isfinite(se) or se > settings.wind_sd_limit_mps:
        return None
    circles = _circles(field.circles, start_s, end_s, low_m, high_m)
    return wind_from_vector(float(east), float(north), se, circles)


def _likely_change(time: Floats, altitude: Floats, wind: Floats, noise: Floats, settings: Settings) -> WindChange:
    """How far the wind strays on this flight: the likeliest of a few values, drawn to the usual ones.

    A flight with a handful of windows does not tell and keeps about the usual values.
    """
    usual = WindChange(settings.wind_change_sd_mps, settings.wind_local_sd_mps)
    best, best_score = usual, -np.inf
    some = slice(None, None, 1 + len(time) // MOST_LIKELIHOOD_SITES)
    time, altitude, values = time[some], altitude[some], wind[some].ravel()
    parts = _correlations(time, altitude, time, altitude, settings)
    slow_part, local_part = (_for_both_components(part) for part in parts)
    always = _for_both_components(np.full_like(parts[0], settings.wind_prior_sd_mps**2))
    always = _with_noise(always, noise[some])
    for slow in SLOW_STEPS:
        for local in LOCAL_STEPS:
            change = WindChange(usual.slow_sd_mps * slow, usual.local_sd_mps * local)
            whole = always + change.slow_sd_mps**2 * slow_part + change.local_sd_mps**2 * local_part
            unusual = (np.log(slow) ** 2 + np.log(local) ** 2) / (2.0 * CHANGE_LOG_SD**2)
            score = _log_likelihood(whole, values) - unusual
            if score > best_score:
                best, best_score = change, score
    return best


def _log_likelihood(covariance: Floats, values: Floats) -> float:
    """Logarithm of the normal density of the values, less its constant."""
    lower = np.linalg.cholesky(covariance)
    white, _ = lapack.dtrtrs(lower.T, values, lower=0, trans=1)  # the transpose has LAPACK's order of columns
    return float(-0.5 * (white @ white) - np.log(np.diag(lower)).sum())


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
    slow, local = _correlations(time_a, altitude_a, time_b, altitude_b, settings)
    slow *= change.slow_sd_mps**2
    local *= change.local_sd_mps**2
    slow += local
    slow += settings.wind_prior_sd_mps**2
    return slow


def _correlations(
    time_a: Floats, altitude_a: Floats, time_b: Floats, altitude_b: Floats, settings: Settings
) -> tuple[Floats, Floats]:
    """How alike the slow and the local part of the wind are between places a and b of time and height."""
    later = np.abs(time_a[:, None] - time_b[None, :])
    higher = np.abs(altitude_a[:, None] - altitude_b[None, :]) / settings.wind_change_height_m
    slow = np.exp(-later / settings.wind_change_time_s - higher)
    return slow, np.exp(-later / settings.wind_local_time_s - higher)


def _for_both_components(covariance: Floats) -> Floats:
    """The covariance (m, m) for east and north, which do not hang together, side by side: (2m, 2m)."""
    both = np.zeros((2 * len(covariance), 2 * len(covariance)))
    both[0::2, 0::2] = both[1::2, 1::2] = covariance
    return both


def _with_noise(prior: Floats, noise: Floats) -> Floats:
    """Covariance (2m, 2m) of all measured components: that of the wind, and the noise (m, 2, 2) of each site."""
    whole = prior.copy()
    site = np.arange(len(noise))
    for a in range(2):
        for b in range(2):
            whole[2 * site + a, 2 * site + b] += noise[:, a, b]
    return whole


def _inverse(covariance: Floats) -> Floats:
    """Inverse of a symmetric positive definite matrix by Cholesky's factors, a third of the general one's cost."""
    factor, failed = lapack.dpotrf(covariance.T, lower=1)
    if failed:
        return np.asarray(np.linalg.inv(covariance), dtype=np.float64)
    lower, _ = lapack.dpotri(factor, lower=1)
    lower = np.tril(lower)
    return np.asarray(lower + np.tril(lower, -1).T)


def _contradiction(inverse: Floats, wind: Floats) -> Floats:
    """How much each site's covariance must grow for its neighbours to foretell it: 1 where they agree."""
    site = np.arange(len(wind))
    block = np.empty((len(wind), 2, 2))
    for a in range(2):
        for b in range(2):
            block[:, a, b] = inverse[2 * site + a, 2 * site + b]
    solved = (inverse @ wind.ravel()).reshape(-1, 2)
    miss = np.linalg.solve(block, solved[:, :, None])[:, :, 0]  # leave-one-out residual
    distance = (miss * solved).sum(axis=1)  # its squared Mahalanobis length
    return np.asarray(np.maximum(1.0, distance / EXPECTED_99))


def _groups(windows: WindWindows, most: int) -> Ints:
    """Which site each window goes to: neighbours in time are pooled once there are too many for one solve."""
    k = windows.start_s.size
    return np.arange(k) * min(k, most) // k


def _pooled(windows: WindWindows, group: Ints) -> tuple[Floats, Floats, Floats, Floats]:
    """Time, height, wind (m, 2) and noise (m, 2, 2) of each site, overlap of windows taken into account."""
    information = np.linalg.inv(windows.covariance_mps2 * _overlap(windows)[:, None, None])
    wind = np.stack([windows.east_mps, windows.north_mps], axis=1)
    sites = int(group[-1]) + 1
    count = np.bincount(group, minlength=sites)
    middle = np.bincount(group, (windows.start_s + windows.end_s) / 2.0 - windows.start_s[0]) / count
    altitude = np.bincount(group, windows.altitude_m) / count
    total = np.zeros((sites, 2, 2))
    np.add.at(total, group, information)
    weighted = np.zeros((sites, 2))
    np.add.at(weighted, group, np.einsum("kij,kj->ki", information, wind))
    noise = np.asarray(np.linalg.inv(total), dtype=np.float64)
    pooled = np.asarray(np.einsum("kij,kj->ki", noise, weighted))
    return np.asarray(middle + windows.start_s[0]), np.asarray(altitude), pooled, noise


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
    begin = np.clip((start_s - runs.start_s) / duration, 0.0, 1.0)
    finish = np.clip((end_s - runs.start_s) / duration, 0.0, 1.0)
    gain = runs.end_altitude_m - runs.start_altitude_m
    gain = np.where(np.abs(gain) < 1e-3, 1e-3, gain)
    low_share = ((-np.inf if low_m is None else low_m) - runs.start_altitude_m) / gain
    high_share = ((np.inf if high_m is None else high_m) - runs.start_altitude_m) / gain
    begin = np.maximum(begin, np.minimum(low_share, high_share))
    finish = np.minimum(finish, np.maximum(low_share, high_share))
    return float(round(float((np.maximum(finish - begin, 0.0) * runs.turned_deg).sum()) / 360.0, 1))
