"""Wind and airspeed from the chords of many stretches of flight at once.

In still air a wing at constant airspeed V draws chord velocities of length V s, whatever it turns; the wind shifts
them all alike. So the wind is the centre, and V the radius, of the circle

    minimise  sum rho(|f - W| - V s),   s = sin(x)/x,  x = turn rate x baseline / 2,

with Huber's rho, the turn rate taken from the chords themselves about the current W. All windows are solved
together in padded arrays (k windows, m chords), by Newton's method on the condition that the residuals hang
together with neither the wind nor the airspeed; how s changes with W counts in its steps, but is no part of the
condition. Windows that have settled drop out. What no method can tell: an airspeed that varies once a circle (a
pilot who speeds up upwind by a) shifts the wind by exactly a.

References
----------
Taubin 1991 (start); Huber 1964, Ann. Math. Statist. 35, 73-101; Weinzierl et al. 2016, Ecol. Evol. 6, 8706-8718
(wind from the turning flight of birds); M 4 for the sinc correction and the effective number of gusts.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from flightlog.air.chords import Chords
from flightlog.air.circle_fits import fit_taubin_to_runs, running_sums
from flightlog.air.padded_chords import Padded, row_sums, span_s, steady_turns_rad
from flightlog.arrays import Bools, Floats, Ints, lengths
from flightlog.settings import Settings

MOST_STEPS = 8
SETTLED_MPS = 0.1
"""A window whose last step was shorter is settled: one more, a fraction of it, is enough."""
MOST_LEFT = 0.7
"""Settled windows are left aside as soon as no more than this share still moves: leaving them costs a copy."""
LONGEST_STEP_MPS = 3.0
HUBER_LIMIT = 2.0
MAD_TO_SD = 1.4826
LEG_TURN_DEG = 150.0
LEG_LOOK_S = 20.0
SMALLEST_SPEED_MPS = 0.1
SMALLEST_ANGLE = 1e-20
RIDGE = 1e-6 * np.eye(3)
"""Keeps windows without any turn solvable; their standard deviation is then huge."""
BLOCK_WINDOWS = 256
FASTEST_START_MPS = 60.0


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

    @property
    def state(self) -> Floats:
        """Wind east and north and airspeed, (k, 3)."""
        return np.stack([self.east_mps, self.north_mps, self.airspeed_mps], axis=1)

    def of(self, rows: Ints | Bools) -> WindowFits:
        """Those of some of the windows."""
        return WindowFits(*(getattr(self, name)[rows] for name in WindowFits.__dataclass_fields__))

    def with_rows(self, rows: Ints, others: WindowFits) -> WindowFits:
        """Copy of the fits with these windows' taken from others."""
        columns = [getattr(self, name).copy() for name in WindowFits.__dataclass_fields__]
        for column, name in zip(columns, WindowFits.__dataclass_fields__, strict=True):
            column[rows] = getattr(others, name)
        return WindowFits(*columns)


@dataclass(frozen=True, eq=False)
class _Slopes:
    """How the turn around each chord makes the chord shorter than its arc: the same in every step of a fit."""

    reach: int  # the turn is taken from so many chords behind to so many ahead
    half: Floats  # (k, m) half the angle turned along a chord, for each radian of that turn
    most_rad: Floats  # (k, m) greatest half of an angle that counts

    def of(self, rows: Ints) -> _Slopes:
        """Those of some of the windows."""
        return _Slopes(self.reach, self.half[rows], self.most_rad[rows])


@dataclass(frozen=True, eq=False)
class _Problem:
    """What stays the same in every step of a fit to k windows."""

    padded: Padded
    slopes: _Slopes
    effective: Floats  # (k,) independent gusts a chord stands for
    prior: AirspeedPrior
    circling: bool

    def of(self, rows: Ints) -> _Problem:
        """That of some of the windows."""
        return _Problem(
            self.padded.of(rows), self.slopes.of(rows), self.effective[rows], self.prior.of(rows), self.circling
        )


@dataclass(frozen=True, eq=False)
class _Look:
    """The chords as seen from a wind and an airspeed V."""

    turn: Floats  # (k, m) rad to the next one
    columns: (
        Floats  # (4 or 6, k, m) `by_state`, the residual; if circling, its derivatives by wind as s changes too
    )
    weighted: Floats  # (3, k, m) `by_state` with Huber's weights
    sigma: Floats  # (k,) robust sd of the residuals

    @property
    def by_state(self) -> Floats:
        """Derivatives of the residual by wind and airspeed, sign changed, with s as it is, (3, k, m)."""
        return np.asarray(self.columns[:3])

    @property
    def residual(self) -> Floats:
        """Airspeed of each chord less V s, (k, m)."""
        return np.asarray(self.columns[3])


def taubin_starts(chords: Chords, first: Ints, stop: Ints) -> Floats:
    """First guess (east, north, airspeed) (k, 3): the circle through the chords first..stop-1 of each window.

    Still air and the mean ground speed where there is no circle.
    """
    sums, way = _sums(chords)
    circle = fit_taubin_to_runs(sums, first, stop)
    start = np.stack([circle.x, circle.y, circle.radius], axis=1)
    usable = np.isfinite(start).all(axis=1) & (np.abs(start).max(axis=1) < FASTEST_START_MPS)
    still = np.zeros_like(start)
    still[:, 2] = (way[stop] - way[first]) / np.maximum(stop - first, 1)
    return np.where(usable[:, None], start, still)


@lru_cache(maxsize=1)  # asked for by both kinds of windows of circling
def _sums(chords: Chords) -> tuple[Floats, Floats]:
    """Running sums of the chords, and of their lengths, (n + 1,)."""
    way = np.concatenate([[0.0], np.cumsum(lengths(chords.east_mps, chords.north_mps))])
    return running_sums(chords.east_mps, chords.north_mps), way


def fit_windows(
    padded: Padded,
    start: Floats,
    prior: AirspeedPrior,
    gust_correlation_s: float,
    settings: Settings,
    steps: int = MOST_STEPS,
    *,
    circling: bool = True,
) -> WindowFits:
    """Fit wind and airspeed to every window, from `start` (k, 3), in so many steps at most.

    In steady `circling` the steps heed how the wind changes the turns; elsewhere that makes them no shorter.
    """
    effective = _effective_share(padded, gust_correlation_s)
    problem = _Problem(padded, _slopes(padded, settings), effective, prior, circling)
    state, rows, rest = start.copy(), np.arange(len(start)), problem
    for _ in range(steps - 1):
        step = _newton_step(rest, _look(rest, state[rows], settings), state[rows])
        state[rows] += step
        moving = np.flatnonzero(np.einsum("ki,ki->k", step, step) > SETTLED_MPS**2)
        if moving.size == 0:
            break
        if moving.size < MOST_LEFT * len(rows):
            rows, rest = rows[moving], rest.of(moving)
    look = _look(problem, state, settings)  # the last step, of all of them, is all but nothing
    return _describe(problem, look, state + _newton_step(problem, look, state), settings)


def airspeed_in_wind(padded: Padded, wind_east_mps: Floats, wind_north_mps: Floats, settings: Settings) -> Floats:
    """True airspeed (k,) of windows whose wind (k,) is known: the mean length of their chords in the air."""
    east, north = padded.east - wind_east_mps[:, None], padded.north - wind_north_mps[:, None]
    distance = np.maximum(lengths(east, north), SMALLEST_SPEED_MPS)
    shrink, _, _ = _shrinkage(steady_turns_rad(padded, east, north), _slopes(padded, settings))
    return np.asarray(row_sums(distance, padded.weight) / np.maximum(row_sums(shrink, padded.weight), 1e-9))


def _slopes(padded: Padded, settings: Settings) -> _Slopes:
    """Turns are taken from `turn_slope_half_width_s` behind to as much ahead, within the window."""
    reach = max(1, int(settings.turn_slope_half_width_s / padded.spacing_s + 0.5))
    time = np.empty_like(padded.mid_s)
    _around(padded.mid_s, reach, out=time)
    half_s = padded.baseline_s / 2.0
    most_rad = np.radians(settings.fastest_turn_degps) * half_s
    return _Slopes(reach, np.divide(half_s, time, out=np.zeros_like(time), where=time > 0.0), most_rad)


def _effective_share(padded: Padded, gust_correlation_s: float) -> Floats:
    """Independent gusts a chord stands for: chords overlap, and gusts last `gust_correlation_s`."""
    span = span_s(padded) + padded.baseline_s.mean(axis=1)
    independent = np.minimum(span / (2.0 * gust_correlation_s), padded.count)
    return np.asarray(independent / np.maximum(padded.count, 1.0))


def _look(problem: _Problem, state: Floats, settings: Settings) -> _Look:
    """The chords from these winds and airspeeds (k, 3)."""
    padded, airspeed = problem.padded, state[:, 2:3]
    columns = np.empty((6 if problem.circling else 4, *padded.east.shape))
    by_state, residual, by_wind = columns[:3], columns[3], columns[4:]
    east = np.subtract(padded.east, state[:, :1], out=by_state[0])
    north = np.subtract(padded.north, state[:, 1:2], out=by_state[1])
    turn = steady_turns_rad(padded, east, north)
    distance = lengths(east, north)
    np.maximum(distance, SMALLEST_SPEED_MPS, out=distance)
    closeness = 1.0 / distance
    by_state[:2] *= closeness
    shrink, half, cosine = _shrinkage(turn, problem.slopes)
    by_state[2] = shrink
    if problem.circling:
        _turns_by_wind(problem.slopes, by_state, closeness, out=by_wind)
        by_wind *= airspeed * problem.slopes.half * (cosine - shrink) / half  # that of s by the turn
        by_wind += by_state[:2]
    np.multiply(airspeed, shrink, out=residual)
    np.subtract(distance, residual, out=residual)
    size = np.abs(residual)
    sigma = _residual_sd(padded, size, settings)
    limit = HUBER_LIMIT * sigma[:, None]
    np.maximum(size, limit, out=size)
    np.divide(limit, size, out=size)
    size *= padded.weight
    return _Look(turn, columns, by_state * size, sigma)


def _turns_by_wind(slopes: _Slopes, by_state: Floats, closeness: Floats, out: Floats) -> None:
    """Fill (2, k, m) with the derivatives of the turn around each chord by the wind's east and north."""
    _around(by_state[1] * -closeness, slopes.reach, out=out[0])
    _around(by_state[0] * closeness, slopes.reach, out=out[1])


def _shrinkage(turn: Floats, slopes: _Slopes) -> tuple[Floats, Floats, Floats]:
    """How much each chord is shorter than the arc it cuts off, half the angle it turned, and its cosine.

    It is sin(x)/x of half the angle x, by the tangent of x/2, which is faster than the sine.
    """
    heading, half = np.zeros_like(turn), np.empty_like(turn)
    np.cumsum(turn[:, :-1], axis=1, out=heading[:, 1:])
    _around(heading, slopes.reach, out=half)
    half *= slopes.half
    np.minimum(half, slopes.most_rad, out=half)
    np.maximum(half, -slopes.most_rad, out=half)
    half += SMALLEST_ANGLE  # sin(x)/x is 1 there
    tangent = np.tan(0.5 * half)
    cosine = tangent * tangent
    cosine += 1.0
    np.divide(2.0, cosine, out=cosine)
    tangent /= half
    tangent *= cosine
    cosine -= 1.0
    return tangent, half, cosine


def _residual_sd(padded: Padded, size: Floats, settings: Settings) -> Floats:
    """Robust sd of the residuals of these sizes of each window, not below the floor."""
    ordered = size + padded.beyond
    ordered.sort(axis=1)
    middle = np.maximum((padded.count - 1.0) / 2.0, 0.0).astype(np.int64)
    median = ordered[np.arange(len(ordered)), middle]
    freedom = np.sqrt(padded.count / np.maximum(padded.count - 3.0, 0.5))  # three numbers were fitted
    sd = np.where(np.isfinite(median), MAD_TO_SD * median, 1.0) * freedom
    return np.asarray(np.maximum(sd, settings.wind_residual_floor_mps))


def _newton_step(problem: _Problem, look: _Look, state: Floats) -> Floats:
    """Newton's step (k, 3) from the state the chords were looked at from."""
    columns = look.columns[2:] if problem.circling else look.columns
    sums = look.weighted.transpose(1, 0, 2) @ columns.transpose(1, 2, 0)
    sums *= (problem.effective / look.sigma**2)[:, None, None]
    east, north, airspeed, residual = (2, 3, 0, 1) if problem.circling else (0, 1, 2, 3)
    matrix, right = sums[:, :, [east, north, airspeed]] + RIDGE, sums[:, :, residual]
    known = 1.0 / problem.prior.sd_mps**2
    matrix[:, 2, 2] += known
    right[:, 2] += known * (problem.prior.mean_mps - state[:, 2])
    step = _solved(matrix, right)
    length = np.sqrt(np.einsum("ki,ki->k", step, step))
    return np.asarray(step * np.minimum(1.0, LONGEST_STEP_MPS / np.maximum(length, 1e-12))[:, None])


def _around(values: Floats, reach: int, out: Floats) -> None:
    """Difference of the values so many columns ahead and behind, at the ends to the last and the first column."""
    reach = min(reach, values.shape[1] // 2)
    flat = values.reshape(-1)
    np.subtract(flat[2 * reach :], flat[: -2 * reach], out=out.reshape(-1)[reach:-reach])  # across rows: faster
    np.subtract(values[:, reach : 2 * reach], values[:, :1], out=out[:, :reach])
    np.subtract(values[:, -1:], values[:, -2 * reach : -reach], out=out[:, -reach:])


def _solved(matrix: Floats, right: Floats) -> Floats:
    """Solutions (k, 3) of k systems (k, 3, 3) of positive pivots, by elimination of all at once."""
    (a, b, c), (d, e, f), (g, h, i) = matrix.transpose(1, 2, 0)
    x, y, z = right.T
    by_a, by_b = d / a, g / a
    e, f, y = e - by_a * b, f - by_a * c, y - by_a * x
    h, i, z = h - by_b * b, i - by_b * c, z - by_b * x
    by_e = h / e
    solution = np.empty((len(right), 3))
    solution[:, 2] = (z - by_e * y) / (i - by_e * f)
    solution[:, 1] = (y - f * solution[:, 2]) / e
    solution[:, 0] = (x - b * solution[:, 1] - c * solution[:, 2]) / a
    return solution


def _inverse(matrix: Floats) -> Floats:
    """Inverses of k symmetric positive definite matrices (k, 3, 3), by elimination of all at once."""
    a, b, c = matrix[:, 0, 0], matrix[:, 0, 1], matrix[:, 0, 2]
    by_a, c_by_a = b / a, c / a
    d, e = matrix[:, 1, 1] - by_a * b, matrix[:, 1, 2] - by_a * c
    by_d = e / d
    inverse = np.empty_like(matrix)
    last = 1.0 / (matrix[:, 2, 2] - c_by_a * c - by_d * e)
    inverse[:, 2, 2] = last
    inverse[:, 1, 2] = inverse[:, 2, 1] = by_last = -by_d * last
    inverse[:, 1, 1] = middle = 1.0 / d - by_d * by_last
    inverse[:, 0, 2] = inverse[:, 2, 0] = first_last = -by_a * by_last - c_by_a * last
    inverse[:, 0, 1] = inverse[:, 1, 0] = first = -by_a * middle - c_by_a * by_last
    inverse[:, 0, 0] = 1.0 / a - by_a * first - c_by_a * first_last
    return inverse


def _covariance(problem: _Problem, look: _Look) -> Floats:
    """Covariance (k, 3, 3) of wind and airspeed from the scatter of the residuals."""
    normal = look.weighted.transpose(1, 0, 2) @ look.by_state.transpose(1, 2, 0)
    normal *= (problem.effective / look.sigma**2)[:, None, None]
    normal[:, 2, 2] += 1.0 / problem.prior.sd_mps**2
    return _inverse(normal + RIDGE)


def _cost(problem: _Problem, look: _Look, state: Floats) -> Floats:
    """Chi-square (k,) of the residuals, gross ones cut off, and of the airspeed against what was expected."""
    scaled = np.minimum(np.abs(look.residual) / look.sigma[:, None], 10.0)
    inner = np.minimum(scaled, HUBER_LIMIT)
    rho = inner * (2.0 * scaled - inner)
    missed = (state[:, 2] - problem.prior.mean_mps) / problem.prior.sd_mps
    return np.asarray(row_sums(rho, problem.padded.weight) * problem.effective + missed**2)


def _describe(problem: _Problem, look: _Look, state: Floats, settings: Settings) -> WindowFits:
    """Gather the fit, its covariance and how the window turned."""
    padded, turn = problem.padded, look.turn
    covariance = _covariance(problem, look)
    covariance[:, [0, 1], [0, 1]] += _uneven_turn_variance(padded, turn, state[:, 2], settings)[:, None]
    return WindowFits(
        east_mps=state[:, 0],
        north_mps=state[:, 1],
        airspeed_mps=state[:, 2],
        covariance=covariance,
        residual_mps=look.sigma,
        cost=_cost(problem, look, state),
        turned_deg=np.degrees(turn.sum(axis=1)),
        span_s=span_s(padded),
        legs=1.0 + _turning_about_deg(padded, turn) / LEG_TURN_DEG,
        chords=padded.count,
    )


def _turning_about_deg(padded: Padded, turn_rad: Floats) -> Floats:
    """Turns to and fro added up, seen every 20 s so that wandering about one heading does not count."""
    every = max(1, int(LEG_LOOK_S / padded.spacing_s))
    looks = (turn_rad.shape[1] - 1) // every
    looked = turn_rad[:, : looks * every].reshape(len(turn_rad), looks, every).sum(axis=2)
    return np.asarray(np.degrees(np.abs(looked).sum(axis=1)))


def _uneven_turn_variance(padded: Padded, turn_rad: Floats, airspeed_mps: Floats, settings: Settings) -> Floats:
    """Variance of one wind component from a bank that varies round the circle faster than the fixes tell.

    Its share of the airspeed grows with the cube of half the angle turned between chords: nothing at 1 s, 0.1 m/s
    at 4 s, 0.2 m/s at 5 s in circles of 16 s. Found on simulated flights, no published source.
    """
    steps = np.maximum(padded.count - 1.0, 1.0)
    half_angle = np.abs(turn_rad).sum(axis=1) / steps / 2.0
    return uneven_turn_sd_mps(airspeed_mps, half_angle, settings) ** 2


def uneven_turn_sd_mps(airspeed_mps: Floats, half_angle_rad: Floats, settings: Settings) -> Floats:
    """Standard deviation of one wind component from a bank that varies round the circle, as in a window."""
    return np.asarray(settings.uneven_turn_share * airspeed_mps * np.minimum(half_angle_rad, np.pi / 2.0) ** 3)
