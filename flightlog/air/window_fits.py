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
BLOCK_WINDOWS = 256


@dataclass(frozen=True, eq=False)
class AirspeedPrior:
    """What is known of the true airspeed before the fit, a window each; an infinite sd says nothing."""

    mean_mps: Floats  # (k,)
    sd_mps: Floats  # (k,)


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
    arc_deg: Floats  # (k,) 360 less the widest gap between headings flown
    headings: Floats  # (k,) headings flown, counted in steps of 30 degrees
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
    count: Floats  # (k,)
    spacing_s: float  # usual time from one chord to the next, over all windows


@dataclass(frozen=True, eq=False)
class _Slopes:
    """Between which chords of the flattened arrays the turn rate at each chord is taken: (k, m) arrays.

    The same in every step of a fit, hence found once.
    """

    ahead: Ints
    behind: Ints
    per_second: Floats  # 1 / the time between them; 0 where there is none
    half_baseline_s: Floats


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
    state = start.copy()
    slopes = _slopes(padded, settings)
    shrink = _shrinkage(padded, slopes, state, settings)
    sigma = _residual_sd(padded, state, shrink, settings)
    effective = _effective_share(padded, gust_correlation_s)
    normal = np.zeros((len(state), 3, 3))
    for outer in range(steps):
        if outer:
            shrink = _shrinkage(padded, slopes, state, settings)
            sigma = _residual_sd(padded, state, shrink, settings)
        for _ in range(INNER_STEPS):
            normal, step = _newton_step(padded, state, shrink, sigma, effective, prior)
            length = np.sqrt((step**2).sum(axis=1))
            state = state + step * np.minimum(1.0, LONGEST_STEP_MPS / np.maximum(length, 1e-12))[:, None]
    return _describe(padded, state, shrink, sigma, effective, normal, prior, settings)


def airspeed_in_wind(padded: Padded, wind_east_mps: Floats, wind_north_mps: Floats, settings: Settings) -> Floats:
    """True airspeed (k,) of windows whose wind (k,) is known: the mean length of their chords in the air."""
    speed = lengths(padded.east - wind_east_mps[:, None], padded.north - wind_north_mps[:, None])
    wind = np.stack([wind_east_mps, wind_north_mps], axis=1)
    shrink = _shrinkage(padded, _slopes(padded, settings), wind, settings)
    return np.asarray(_sums(speed, padded.weight) / np.maximum(_sums(shrink, padded.weight), 1e-9))


def _sums(values: Floats, weight: Floats) -> Floats:
    """Weighted sum of each row."""
    return np.asarray(np.einsum("km,km->k", values, weight))


def _slopes(padded: Padded, settings: Settings) -> _Slopes:
    """The chords between which turn rates are taken: `turn_slope_half_width_s` ahead and behind in the window."""
    reach = max(1, int(settings.turn_slope_half_width_s / padded.spacing_s + 0.5))
    last = np.maximum(padded.count - 1.0, 0.0).astype(np.int64)[:, None]
    rows, columns = padded.mid_s.shape
    column, row = np.arange(columns)[None, :], columns * np.arange(rows)[:, None]
    ahead = np.minimum(column + reach, last) + row
    behind = np.minimum(np.maximum(column - reach, 0), last) + row
    time = np.take(padded.mid_s, ahead) - np.take(padded.mid_s, behind)
    per_second = np.divide(1.0, time, out=np.zeros_like(time), where=time > 0.0)
    return _Slopes(ahead, behind, per_second, padded.baseline_s / 2.0)


def _shrinkage(padded: Padded, slopes: _Slopes, state: Floats, settings: Settings) -> Floats:
    """How much each chord is shorter than the arc it cuts off."""
    heading = _unwrapped(padded, np.arctan2(padded.east - state[:, :1], padded.north - state[:, 1:2]))
    rate = (np.take(heading, slopes.ahead) - np.take(heading, slopes.behind)) * slopes.per_second
    fastest = np.radians(settings.fastest_turn_degps)
    half_angle = np.clip(rate, -fastest, fastest) * slopes.half_baseline_s
    half_angle[np.abs(half_angle) < SMALLEST_ANGLE] = SMALLEST_ANGLE  # sin(x)/x is 1 there
    return np.asarray(np.sin(half_angle) / half_angle)


def _unwrapped(padded: Padded, heading_rad: Floats) -> Floats:
    """Headings without jumps of a full turn, each step within half a turn of the window's usual step.

    At 5 s a tight circle turns 140 degrees from chord to chord: taken about 0, noise would flip its direction.
    """
    turn = heading_rad[:, 1:] - heading_rad[:, :-1]
    steps = np.maximum(padded.count - 1.0, 1.0)
    counted = padded.weight[:, 1:]
    east, north = _sums(np.sin(turn), counted), _sums(np.cos(turn), counted)
    usual = np.where(lengths(east, north) > STEADY_TURN * steps, np.arctan2(east, north), 0.0)[:, None]
    turn -= 2.0 * np.pi * np.round((turn - usual) / (2.0 * np.pi))
    whole = np.zeros_like(heading_rad)
    np.cumsum(turn, axis=1, out=whole[:, 1:])
    return whole


def _residuals(padded: Padded, state: Floats, shrink: Floats) -> tuple[Floats, Floats, Floats, Floats]:
    """Residual of each chord, its distance from the wind, and the unit vector that points to it."""
    east, north = padded.east - state[:, :1], padded.north - state[:, 1:2]
    distance = np.maximum(np.sqrt(east * east + north * north), SMALLEST_SPEED_MPS)
    return distance - state[:, 2:3] * shrink, distance, east / distance, north / distance


def _residual_sd(padded: Padded, state: Floats, shrink: Floats, settings: Settings) -> Floats:
    """Robust sd of the residuals of each window, not below the floor."""
    residual = np.abs(_residuals(padded, state, shrink)[0])
    ordered = np.sort(np.where(padded.used, residual, np.inf), axis=1)
    middle = np.maximum((padded.count - 1.0) / 2.0, 0.0).astype(np.int64)[:, None]
    median = np.take_along_axis(ordered, middle, 1)[:, 0]
    freedom = np.sqrt(padded.count / np.maximum(padded.count - 3.0, 0.5))  # three numbers were fitted
    sd = np.where(np.isfinite(median), MAD_TO_SD * median, 1.0) * freedom
    return np.asarray(np.maximum(sd, settings.wind_residual_floor_mps))


def _effective_share(padded: Padded, gust_correlation_s: float) -> Floats:
    """Independent gusts a chord stands for: chords overlap, and gusts last `gust_correlation_s`."""
    span = _span_s(padded) + padded.baseline_s.mean(axis=1)
    independent = np.minimum(span / (2.0 * gust_correlation_s), padded.count)
    return np.asarray(independent / np.maximum(padded.count, 1.0))


def _newton_step(
    padded: Padded, state: Floats, shrink: Floats, sigma: Floats, effective: Floats, prior: AirspeedPrior
) -> tuple[Floats, Floats]:
    """Information matrix (k, 3, 3) of a window and its Gauss-Newton step (k, 3)."""
    residual, _, ue, un = _residuals(padded, state, shrink)
    limit = HUBER_LIMIT * sigma[:, None]
    weight = np.minimum(1.0, limit / np.maximum(np.abs(residual), 1e-9))
    weight *= padded.weight
    weight *= (effective / sigma**2)[:, None]
    we, wn, ws = weight * ue, weight * un, weight * shrink
    normal = np.empty((len(state), 3, 3))
    normal[:, 0, 0], normal[:, 1, 1] = _sums(we, ue), _sums(wn, un)
    normal[:, 0, 1] = normal[:, 1, 0] = _sums(we, un)
    normal[:, 0, 2] = normal[:, 2, 0] = _sums(ws, ue)
    normal[:, 1, 2] = normal[:, 2, 1] = _sums(ws, un)
    normal[:, 2, 2] = _sums(ws, shrink) + 1.0 / prior.sd_mps**2
    gradient = np.stack([_sums(we, residual), _sums(wn, residual), _sums(ws, residual)], axis=1)
    known = np.isfinite(prior.sd_mps)
    pull = np.where(known, prior.mean_mps - state[:, 2], 0.0) / np.where(known, prior.sd_mps, 1.0) ** 2
    gradient[:, 2] += pull
    normal[:, [0, 1, 2], [0, 1, 2]] += 1e-6  # keeps windows without any turn solvable; their sd is then huge
    return normal, np.asarray(np.linalg.solve(normal, gradient[:, :, None])[:, :, 0], dtype=np.float64)


def _describe(
    padded: Padded,
    state: Floats,
    shrink: Floats,
    sigma: Floats,
    effective: Floats,
    normal: Floats,
    prior: AirspeedPrior,
    settings: Settings,
) -> WindowFits:
    """Gather the fit, its covariance and what headings the window flew."""
    residual, _, ue, un = _residuals(padded, state, shrink)
    scaled = np.minimum(np.abs(residual) / sigma[:, None], 10.0)
    rho = np.where(scaled <= HUBER_LIMIT, scaled**2, 2.0 * HUBER_LIMIT * scaled - HUBER_LIMIT**2)
    cost = _sums(rho, padded.weight) * effective
    known = np.isfinite(prior.sd_mps)
    cost = cost + np.where(known, (state[:, 2] - prior.mean_mps) / np.where(known, prior.sd_mps, 1.0), 0.0) ** 2
    heading = np.arctan2(ue, un)
    arc, headings = _headings_flown(np.degrees(heading), padded.used)
    turn = np.diff(np.degrees(_unwrapped(padded, heading)), axis=1) * padded.weight[:, 1:]
    covariance = np.asarray(np.linalg.inv(normal), dtype=np.float64)
    covariance[:, [0, 1], [0, 1]] += _uneven_turn_variance(padded, turn, state[:, 2], settings)[:, None]
    return WindowFits(
        east_mps=state[:, 0],
        north_mps=state[:, 1],
        airspeed_mps=state[:, 2],
        covariance=covariance,
        residual_mps=sigma,
        cost=cost,
        turned_deg=turn.sum(axis=1),
        span_s=_span_s(padded),
        legs=1.0 + _turning_about_deg(padded, turn) / LEG_TURN_DEG,
        arc_deg=arc,
        headings=headings,
        chords=padded.count,
    )


def _turning_about_deg(padded: Padded, turn_deg: Floats) -> Floats:
    """Turns to and fro added up, seen every 20 s so that wandering about one heading does not count."""
    every = max(1, int(LEG_LOOK_S / padded.spacing_s))
    heading = np.concatenate([np.zeros((len(turn_deg), 1)), np.cumsum(turn_deg, axis=1)], axis=1)
    return np.asarray(np.abs(np.diff(heading[:, ::every], axis=1)).sum(axis=1))


def _span_s(padded: Padded) -> Floats:
    """Time from the middle of the first chord to that of the last."""
    last = np.maximum(padded.count - 1.0, 0.0).astype(np.int64)[:, None]
    return np.asarray(np.take_along_axis(padded.mid_s, last, 1)[:, 0] - padded.mid_s[:, 0])


def _uneven_turn_variance(padded: Padded, turn_deg: Floats, airspeed_mps: Floats, settings: Settings) -> Floats:
    """Variance of one wind component from a bank that varies round the circle faster than the fixes tell.

    Its share of the airspeed grows with the cube of half the angle turned between chords: nothing at 1 s, 0.1 m/s
    at 4 s, 0.2 m/s at 5 s in circles of 16 s. Found on simulated flights, no published source.
    """
    steps = np.maximum(padded.count - 1.0, 1.0)
    half_angle = np.minimum(np.radians(np.abs(turn_deg)).sum(axis=1) / steps / 2.0, np.pi / 2.0)
    return np.asarray((settings.uneven_turn_share * airspeed_mps * half_angle**3) ** 2)


def _headings_flown(heading_deg: Floats, used: Bools) -> tuple[Floats, Floats]:
    """Arc of headings covered (360 less the widest gap) and how many steps of 30 degrees were flown."""
    bins = int(360.0 / HEADING_BIN_DEG)
    angle = np.where(used, heading_deg % 360.0, np.inf)
    ordered = np.sort(angle, axis=1)
    first = ordered[:, :1]
    wrapped = np.concatenate([np.where(np.isfinite(ordered), ordered, first + 360.0), first + 360.0], axis=1)
    widest = np.diff(wrapped, axis=1).max(axis=1)
    rows = np.arange(len(heading_deg))[:, None]
    step = np.minimum((heading_deg % 360.0) // HEADING_BIN_DEG, bins - 1).astype(np.int64) + bins * rows
    flown = np.bincount(step[used], minlength=bins * len(heading_deg)).reshape(-1, bins) >= 2
    return 360.0 - widest, flown.sum(axis=1).astype(np.float64)
