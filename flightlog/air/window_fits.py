"""Wind and airspeed from the chords of many stretches of flight at once.

In still air a wing at constant airspeed V draws chord velocities of length V s, whatever it turns; the wind shifts
them all alike. So the wind is the centre, and V the radius, of the circle

    minimise  sum rho(|f - W| - V s),   s = sin(x)/x,  x = turn rate x baseline / 2,

with Huber's rho, the turn rate taken from the chords themselves about the current W. All windows are solved
together in padded arrays (k windows, m chords). What no method can tell: an airspeed that varies once a circle (a
pilot who speeds up upwind by a) shifts the wind by exactly a.

References
----------
Taubin 1991 (start); Huber 1964, Ann. Math. Statist. 35, 73-101; Weinzierl et al. 2016, Ecol. Evol. 6, 8706-8718
(wind from the turning flight of birds); M 4 for the sinc correction and the effective number of gusts.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from flightlog.air.chords import Chords
from flightlog.air.circle_fits import fit_taubin
from flightlog.arrays import Bools, Floats, Ints, lengths
from flightlog.settings import Settings

OUTER_STEPS = 4
INNER_STEPS = 2
LONGEST_STEP_MPS = 3.0
HUBER_LIMIT = 2.0
MAD_TO_SD = 1.4826
HEADING_BIN_DEG = 30.0
STEADY_TURN = 0.5
LEG_TURN_DEG = 150.0
LEG_LOOK_S = 20.0
SMALLEST_SPEED_MPS = 0.1
SMALLEST_ANGLE = 1e-20
RIDGE = 1e-6 * np.eye(3)
"""Keeps windows without any turn solvable; their standard deviation is then huge."""
BLOCK_WINDOWS = 256


@dataclass(frozen=True, eq=False)
class AirspeedPrior:
    """What is known of the true airspeed before the fit, a window each; an infinite sd says nothing."""

    mean_mps: Floats  # (k,)
    sd_mps: Floats  # (k,)

    def of(self, rows: Ints) -> AirspeedPrior:
        """That of some of the windows."""
        return AirspeedPrior(self.mean_mps[rows], self.sd_mps[rows])


@dataclass(frozen=True, eq=False)
class WindowFits:
    """Fitted wind, airspeed and turn of k windows."""

    east_mps: Floats  # (k,)
    north_mps: Floats  # (k,)
    airspeed_mps: Floats  # (k,)
    covariance: Floats  # (k, 3, 3) of (east, north, airspeed), (m/s)^2
    residual_mps: Floats  # (k,) robust sd of the airspeed about its mean
    cost: Floats  # (k,) chi-square of residuals and prior, by the effective number of gusts
    turned_deg: Floats  # (k,) net turn through the air from first to last chord, right positive
    span_s: Floats  # (k,) from first to last chord
    legs: Floats  # (k,) stretches between clear turns: the headings a pilot chose, and an airspeed for each
    chords: Floats  # (k,) number of chords used


@dataclass(frozen=True, eq=False)
class Padded:
    """Chords of k windows side by side: (k, m) arrays, `used` marks the real ones."""

    east: Floats
    north: Floats
    mid_s: Floats
    baseline_s: Floats
    used: Bools
    weight: Floats  # 1 where used, else 0
    beyond: Floats  # 0 where used, else infinite
    count: Floats  # (k,)
    spacing_s: float  # usual time from one chord to the next, over all windows


@dataclass(frozen=True, eq=False)
class _Slopes:
    """How the turn around each chord makes the chord shorter than its arc: the same in every step of a fit."""

    reach: int  # the turn is taken from so many chords behind to so many ahead
    quarter: Floats  # (k, m) a quarter of the angle turned along a chord, for each radian of that turn
    most_rad: Floats  # (k, m) greatest quarter of an angle that counts


@dataclass(frozen=True, eq=False)
class _Seen:
    """The chords as seen from a wind: (k, m) arrays."""

    east: Floats
    north: Floats
    distance: Floats


def pad_chords(chords: Chords, first: Ints, stop: Ints) -> Padded:
    """Gather chords first..stop-1 of each window into padded arrays."""
    width = max(1, int((stop - first).max(initial=1)))
    index = first[:, None] + np.arange(width)
    used = index < stop[:, None]
    index = np.minimum(index, np.maximum(stop - 1, 0)[:, None])  # padding repeats the last chord of the window
    mid_s = chords.mid_s[index]
    gaps = (mid_s[:, 1:] - mid_s[:, :-1])[used[:, 1:]]
    return Padded(
        east=chords.east_mps[index],
        north=chords.north_mps[index],
        mid_s=mid_s,
        baseline_s=chords.baseline_s[index],
        used=used,
        weight=used.astype(np.float64),
        beyond=np.where(used, 0.0, np.inf),
        count=used.sum(axis=1).astype(np.float64),
        spacing_s=float(np.median(gaps)) if gaps.size else 1.0,
    )


def taubin_start(padded: Padded) -> Floats:
    """First guess (east, north, airspeed) (k, 3): the circle through the chords; still air where there is none."""
    circle = fit_taubin(padded.east, padded.north, padded.weight)
    start = np.stack([circle.x, circle.y, circle.radius], axis=1)
    usable = np.isfinite(start).all(axis=1) & (np.abs(start).max(axis=1) < 60.0)
    speed = lengths(padded.east, padded.north)
    mean_speed = _sums(speed, padded.weight) / np.maximum(padded.count, 1.0)
    still = np.stack([np.zeros_like(mean_speed), np.zeros_like(mean_speed), mean_speed], axis=1)
    return np.where(usable[:, None], start, still)


def fit_windows(
    padded: Padded,
    start: Floats,
    prior: AirspeedPrior,
    gust_correlation_s: float,
    settings: Settings,
    steps: int = OUTER_STEPS,
) -> WindowFits:
    """Fit wind and airspeed to every window, from `start` (k, 3), with so many updates of the turn rates."""
    state = start
    slopes = _slopes(padded, settings)
    effective = _effective_share(padded, gust_correlation_s)
    equations = np.empty((4, *padded.east.shape))  # filled anew in each step
    seen = _seen(padded, state)
    for _ in range(steps):
        equations[2] = _shrinkage(padded, seen, slopes)
        _linearised(seen, state, equations)
        sigma = _residual_sd(padded, equations[3], settings)
        for _ in range(INNER_STEPS):
            normal, step = _newton_step(padded, equations, state, sigma, effective, prior)
            length = np.sqrt((step**2).sum(axis=1))
            state = state + step * np.minimum(1.0, LONGEST_STEP_MPS / np.maximum(length, 1e-12))[:, None]
            seen = _seen(padded, state)
            _linearised(seen, state, equations)
    cost = _cost(padded, equations[3], state, sigma, effective, prior)
    return _describe(padded, seen, state, sigma, normal, cost, settings)


def airspeed_in_wind(padded: Padded, wind_east_mps: Floats, wind_north_mps: Floats, settings: Settings) -> Floats:
    """True airspeed (k,) of windows whose wind (k,) is known: the mean length of their chords in the air."""
    seen = _seen(padded, np.stack([wind_east_mps, wind_north_mps], axis=1))
    shrink = _shrinkage(padded, seen, _slopes(padded, settings))
    return np.asarray(_sums(seen.distance, padded.weight) / np.maximum(_sums(shrink, padded.weight), 1e-9))


def turns_rad(east: Floats, north: Floats) -> Floats:
    """Turn from each vector to the next in its row (k, m), right positive, half a turn at most; 0 at the end."""
    return np.asarray(np.arctan2(*_cross_and_along(east, north)))


def headings_flown(padded: Padded, fits: WindowFits) -> tuple[Floats, Floats]:
    """Arc of headings covered (360 less the widest gap) and how many steps of 30 degrees were flown, (k,) each."""
    bins = int(360.0 / HEADING_BIN_DEG)
    angle = np.degrees(np.arctan2(padded.east - fits.east_mps[:, None], padded.north - fits.north_mps[:, None]))
    angle += 360.0 * (angle < 0.0)
    step = np.minimum((angle / HEADING_BIN_DEG).astype(np.int64), bins - 1)
    step += bins * np.arange(len(angle))[:, None]
    flown = np.bincount(step[padded.used], minlength=bins * len(angle)).reshape(-1, bins) >= 2
    ordered = np.sort(angle, axis=1)  # padding repeats the last chord, which opens no gap
    widest = np.maximum(
        (ordered[:, 1:] - ordered[:, :-1]).max(axis=1, initial=0.0), ordered[:, 0] + 360.0 - ordered[:, -1]
    )
    return np.asarray(360.0 - widest), flown.sum(axis=1).astype(np.float64)


def _sums(values: Floats, weight: Floats) -> Floats:
    """Weighted sum of each row."""
    return np.asarray(np.einsum("km,km->k", values, weight))


def _seen(padded: Padded, wind: Floats) -> _Seen:
    """The chords from these winds (k, 2 or more)."""
    east, north = padded.east - wind[:, :1], padded.north - wind[:, 1:2]
    return _Seen(east, north, np.maximum(lengths(east, north), SMALLEST_SPEED_MPS))


def _slopes(padded: Padded, settings: Settings) -> _Slopes:
    """Turns are taken from `turn_slope_half_width_s` behind to as much ahead, within the window."""
    reach = max(1, int(settings.turn_slope_half_width_s / padded.spacing_s + 0.5))
    column = np.arange(padded.mid_s.shape[1])
    ahead, behind = np.minimum(column + reach, column[-1]), np.maximum(column - reach, 0)
    time = padded.mid_s[:, ahead] - padded.mid_s[:, behind]
    quarter = padded.baseline_s / 4.0
    fastest = np.radians(settings.fastest_turn_degps)
    return _Slopes(reach, np.divide(quarter, time, out=np.zeros_like(time), where=time > 0.0), fastest * quarter)


def _shrinkage(padded: Padded, seen: _Seen, slopes: _Slopes) -> Floats:
    """How much each chord is shorter than the arc it cuts off: sin(x)/x of half the angle turned, by tan(x/2)."""
    turn = _steady_turns_rad(padded, seen)
    quarter = turn.copy()
    for shift in range(1, slopes.reach):
        quarter[:, :-shift] += turn[:, shift:]
    for shift in range(1, slopes.reach + 1):
        quarter[:, shift:] += turn[:, :-shift]
    quarter *= slopes.quarter
    np.abs(quarter, out=quarter)
    np.minimum(quarter, slopes.most_rad, out=quarter)
    np.maximum(quarter, SMALLEST_ANGLE, out=quarter)  # sin(x)/x is 1 there
    tangent = np.tan(quarter)
    quarter += quarter * tangent * tangent
    return np.asarray(tangent / quarter)


def _cross_and_along(east: Floats, north: Floats) -> tuple[Floats, Floats]:
    """Cross and inner product of each vector and the next in its row (k, m), from the last one 0 and 1."""
    cross, along = np.empty_like(east), np.empty_like(east)
    e, n, c, a = (array.reshape(-1) for array in (east, north, cross, along))  # across the ends of rows: faster
    np.multiply(e[1:], n[:-1], out=c[:-1])
    c[:-1] -= n[1:] * e[:-1]
    np.multiply(e[1:], e[:-1], out=a[:-1])
    a[:-1] += n[1:] * n[:-1]
    cross[:, -1], along[:, -1] = 0.0, 1.0
    return cross, along


def _steady_turns_rad(padded: Padded, seen: _Seen) -> Floats:
    """Turns from chord to chord (k, m), each within half a turn of the window's usual one; 0 in the padding.

    At 5 s a tight circle turns 140 degrees from chord to chord: taken about 0, noise would flip its direction.
    """
    cross, along = _cross_and_along(seen.east, seen.north)
    turn = np.asarray(np.arctan2(cross, along))
    # Where no turn exceeds a right angle, the usual one does not either: nothing lies beyond half a turn from it.
    wide = np.flatnonzero((along < 0.0).any(axis=1))
    if wide.size:
        some, cross, along = turn[wide, :-1], cross[wide, :-1], along[wide, :-1]
        share = padded.weight[wide, 1:] / np.maximum(lengths(cross, along), SMALLEST_ANGLE)
        east, north = _sums(cross, share), _sums(along, share)  # of the turns as unit vectors
        steps = np.maximum(padded.count[wide] - 1.0, 1.0)
        usual = np.where(lengths(east, north) > STEADY_TURN * steps, np.arctan2(east, north), 0.0)[:, None]
        turn[wide, :-1] -= 2.0 * np.pi * np.round((some - usual) / (2.0 * np.pi))
    return turn


def _residual_sd(padded: Padded, residual: Floats, settings: Settings) -> Floats:
    """Robust sd of the residuals of each window, not below the floor."""
    ordered = np.abs(residual)
    ordered += padded.beyond
    ordered.sort(axis=1)
    middle = np.maximum((padded.count - 1.0) / 2.0, 0.0).astype(np.int64)
    median = ordered[np.arange(len(ordered)), middle]
    freedom = np.sqrt(padded.count / np.maximum(padded.count - 3.0, 0.5))  # three numbers were fitted
    sd = np.where(np.isfinite(median), MAD_TO_SD * median, 1.0) * freedom
    return np.asarray(np.maximum(sd, settings.wind_residual_floor_mps))


def _effective_share(padded: Padded, gust_correlation_s: float) -> Floats:
    """Independent gusts a chord stands for: chords overlap, and gusts last `gust_correlation_s`."""
    span = _span_s(padded) + padded.baseline_s.mean(axis=1)
    independent = np.minimum(span / (2.0 * gust_correlation_s), padded.count)
    return np.asarray(independent / np.maximum(padded.count, 1.0))


def _linearised(seen: _Seen, state: Floats, equations: Floats) -> None:
    """Fill the equations (4, k, m) of the chords: by east, by north, by airspeed (as it is) and residuals."""
    np.divide(seen.east, seen.distance, out=equations[0])
    np.divide(seen.north, seen.distance, out=equations[1])
    np.multiply(state[:, 2:3], equations[2], out=equations[3])
    np.subtract(seen.distance, equations[3], out=equations[3])


def _newton_step(
    padded: Padded, equations: Floats, state: Floats, sigma: Floats, effective: Floats, prior: AirspeedPrior
) -> tuple[Floats, Floats]:
    """Information matrix (k, 3, 3) of a window and its Gauss-Newton step (k, 3)."""
    limit = HUBER_LIMIT * sigma[:, None]
    weight = np.abs(equations[3])
    np.maximum(weight, limit, out=weight)
    np.divide(limit, weight, out=weight)
    weight *= padded.weight
    sums = (equations[:3] * weight).transpose(1, 0, 2) @ equations.transpose(1, 2, 0)
    sums *= (effective / sigma**2)[:, None, None]
    normal, gradient = sums[:, :, :3], sums[:, :, 3]
    known = 1.0 / prior.sd_mps**2
    normal[:, 2, 2] += known
    gradient[:, 2] += known * (prior.mean_mps - state[:, 2])
    normal += RIDGE
    return normal, _solved(normal, gradient)


def _solved(matrix: Floats, right: Floats) -> Floats:
    """Solutions (k, 3) of k symmetric positive definite systems (k, 3, 3), by elimination of all at once."""
    a, b, c = matrix[:, 0, 0], matrix[:, 0, 1], matrix[:, 0, 2]
    by_a, c_by_a = b / a, c / a
    d, e = matrix[:, 1, 1] - by_a * b, matrix[:, 1, 2] - by_a * c
    by_d = e / d
    second = right[:, 1] - by_a * right[:, 0]
    solution = np.empty((len(right), 3))
    solution[:, 2] = (right[:, 2] - c_by_a * right[:, 0] - by_d * second) / (
        matrix[:, 2, 2] - c_by_a * c - by_d * e
    )
    solution[:, 1] = second / d - by_d * solution[:, 2]
    solution[:, 0] = right[:, 0] / a - by_a * solution[:, 1] - c_by_a * solution[:, 2]
    return solution


def _cost(
    padded: Padded, residual: Floats, state: Floats, sigma: Floats, effective: Floats, prior: AirspeedPrior
) -> Floats:
    """Chi-square (k,) of the residuals, gross ones cut off, and of the airspeed against what was expected."""
    scaled = np.minimum(np.abs(residual) / sigma[:, None], 10.0)
    inner = np.minimum(scaled, HUBER_LIMIT)
    rho = inner * (2.0 * scaled - inner)
    return np.asarray(_sums(rho, padded.weight) * effective + ((state[:, 2] - prior.mean_mps) / prior.sd_mps) ** 2)


def _describe(
    padded: Padded,
    seen: _Seen,
    state: Floats,
    sigma: Floats,
    normal: Floats,
    cost: Floats,
    settings: Settings,
) -> WindowFits:
    """Gather the fit, its covariance and how the window turned."""
    turn = _steady_turns_rad(padded, seen)
    covariance = np.asarray(np.linalg.inv(normal), dtype=np.float64)
    covariance[:, [0, 1], [0, 1]] += _uneven_turn_variance(padded, turn, state[:, 2], settings)[:, None]
    return WindowFits(
        east_mps=state[:, 0],
        north_mps=state[:, 1],
        airspeed_mps=state[:, 2],
        covariance=covariance,
        residual_mps=sigma,
        cost=cost,
        turned_deg=np.degrees(turn.sum(axis=1)),
        span_s=_span_s(padded),
        legs=1.0 + _turning_about_deg(padded, turn) / LEG_TURN_DEG,
        chords=padded.count,
    )


def _turning_about_deg(padded: Padded, turn_rad: Floats) -> Floats:
    """Turns to and fro added up, seen every 20 s so that wandering about one heading does not count."""
    every = max(1, int(LEG_LOOK_S / padded.spacing_s))
    looks = (turn_rad.shape[1] - 1) // every
    looked = turn_rad[:, : looks * every].reshape(len(turn_rad), looks, every).sum(axis=2)
    return np.asarray(np.degrees(np.abs(looked).sum(axis=1)))


def _span_s(padded: Padded) -> Floats:
    """Time from the middle of the first chord to that of the last, which the padding repeats."""
    return np.asarray(padded.mid_s[:, -1] - padded.mid_s[:, 0])


def _uneven_turn_variance(padded: Padded, turn_rad: Floats, airspeed_mps: Floats, settings: Settings) -> Floats:
    """Variance of one wind component from a bank that varies round the circle faster than the fixes tell.

    Its share of the airspeed grows with the cube of half the angle turned between chords: nothing at 1 s, 0.1 m/s
    at 4 s, 0.2 m/s at 5 s in circles of 16 s. Found on simulated flights, no published source.
    """
    steps = np.maximum(padded.count - 1.0, 1.0)
    half_angle = np.minimum(np.abs(turn_rad).sum(axis=1) / steps / 2.0, np.pi / 2.0)
    return np.asarray((settings.uneven_turn_share * airspeed_mps * half_angle**3) ** 2)
