"""Straight windows: flight on several headings (ridge beats, figures of eight, searching) that tells the wind.

The airspeed expected of the wing must help. Where two winds explain the chords, both are fitted.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from flightlog.air.air import WindWindows
from flightlog.air.chords import Chords, thinned
from flightlog.air.padded_chords import Padded, headings_flown, pad_chords
from flightlog.air.window_fits import AirspeedPrior, WindowFits, fit_windows
from flightlog.air.windows import (
    LEAST_CHORDS,
    chord_range,
    component_sd_mps,
    gathered,
    joined_fits,
    mean_altitude_m,
    spread_windows,
    window_blocks,
    with_gusts,
)
from flightlog.arrays import Bools, Floats, Ints, lengths
from flightlog.earth.atmosphere import SEA_LEVEL_DENSITY_KGM3, density_kgm3
from flightlog.motion.motion import Motion
from flightlog.settings import Settings

GRID_REACH_MPS = 14.0
GRID_STEP_MPS = 2.5
GRID_CHORDS = 24
NO_RIVAL_COST = 40.0
"""A wind whose chi-square is so much worse is none to reckon with: its chance is 2 in a thousand million."""
SAME_WIND_MPS = 0.2
"""Two starts that came as near each other have found the same wind."""
STRAIGHT_STEPS = (5, 8)
"""Of the first fits, from a coarse grid, and of the second ones, from the first."""


@dataclass(frozen=True, eq=False)
class _Grid:
    """What k windows look like from each of g winds on a grid."""

    east_mps: Floats  # (g,)
    north_mps: Floats
    speed_mps: Floats  # (g, k) mean airspeed
    spread_mps2: Floats  # (g, k) its variance
    neighbours: Ints  # (8, g) which winds lie about each one
    is_rim: Bools  # (g,)

    def starts(self, wind: Ints, window: Ints) -> Floats:
        """One wind each of some windows, with its airspeed, (r, 3)."""
        return np.stack([self.east_mps[wind], self.north_mps[wind], self.speed_mps[wind, window]], axis=1)


@dataclass(frozen=True, eq=False)
class _Pair:
    """Two winds, with their airspeeds, that may explain the chords of each of k windows."""

    best: Floats  # (k, 3) east, north, airspeed
    rivals: Ints  # (r,) the windows that have a rival
    rival: Floats  # (r, 3)


def straight_windows(
    motion: Motion,
    chords: Chords,
    runs: Iterable[tuple[float, float]],
    airspeed: tuple[float, float],
    settings: Settings,
) -> WindWindows:
    """Windows of straight flight on several headings, in `runs` (start, end) of flight without circles.

    `airspeed` is the equivalent airspeed expected and its sd. Where two winds explain the chords (a wing that only
    flew to and fro does not tell left from right) the window's covariance holds both, or it is refused.
    """
    chords = thinned(chords, settings.straight_chord_step_s)
    start, end = spread_windows(motion, runs, settings.straight_window_s, settings.straight_window_least_s)
    first, stop = chord_range(motion, chords, start, end)
    altitude = mean_altitude_m(motion, start, end)
    ratio = np.sqrt(SEA_LEVEL_DENSITY_KGM3 / density_kgm3(altitude))
    ratio = np.where(np.isfinite(ratio), ratio, 1.0)
    blocks = [(rows, pad_chords(chords, first[rows], stop[rows])) for rows in window_blocks(first, stop)]
    prior = AirspeedPrior(airspeed[0] * ratio, airspeed[1] * ratio)
    pairs = [_grid_pair(_grid(padded), prior.of(rows)) for rows, padded in blocks]
    for steps in STRAIGHT_STEPS:  # the second time with the airspeed that all windows of the flight share
        prior = AirspeedPrior(airspeed[0] * ratio, airspeed[1] * ratio)
        told = [
            _fit_with_rivals(padded, pair, prior.of(rows), settings, steps)
            for (rows, padded), pair in zip(blocks, pairs, strict=True)
        ]
        pairs = [pair for _, pair in told]
        parts = [(rows, part) for (rows, _), (part, _) in zip(blocks, told, strict=True)]
        fits = _by_legs(joined_fits(parts, first, stop), settings)
        together = _errors_together(fits, prior, airspeed, ratio, settings)
        airspeed = _shared_airspeed(fits, ratio, airspeed, settings)
    wide = np.zeros(len(first), dtype=np.bool_)
    for (rows, padded), (_, part) in zip(blocks, parts, strict=True):
        arc_deg, headings = headings_flown(padded, part.east_mps, part.north_mps)
        wide[rows] = (arc_deg >= settings.straight_arc_deg) | (headings >= settings.straight_headings)
    fits = with_gusts(fits, settings.straight_gust_mean_sd_mps)
    trusted = (fits.chords >= LEAST_CHORDS) & (component_sd_mps(fits) <= settings.straight_wind_sd_limit_mps)
    plausible = fits.airspeed_mps < settings.fastest_airspeed_mps
    return gathered(motion, fits, start, end, wide & trusted & plausible, straight=True, together_mps=together)


def _fit_with_rivals(
    padded: Padded, pair: _Pair, prior: AirspeedPrior, settings: Settings, steps: int
) -> tuple[WindowFits, _Pair]:
    """Fit from both winds of a pair; the better one, with the rival's chance in its covariance.

    Returns the pair as fitted too, to start again from: without the rivals that have no chance.
    """
    k, rivals = len(pair.best), pair.rivals
    both = np.concatenate([np.arange(k), rivals])
    starts = np.concatenate([pair.best, pair.rival])
    gust_s = settings.straight_gust_correlation_s
    fits = fit_windows(padded.of(both), starts, prior.of(both), gust_s, settings, steps, circling=False)
    one, two = fits.of(np.arange(k)), fits.of(np.arange(k, len(both)))
    own = one.of(rivals)
    swap = two.cost < own.cost
    behind = np.abs(own.cost - two.cost)
    chance = np.exp(-0.5 * np.minimum(behind, 60.0))
    chance = chance / (1.0 + chance)
    apart = own.state - two.state
    picked = one.with_rows(rivals[swap], two.of(swap))
    picked.covariance[rivals] += chance[:, None, None] * apart[:, :, None] * apart[:, None, :]
    near = (behind < NO_RIVAL_COST) & (lengths(apart[:, 0], apart[:, 1]) > SAME_WIND_MPS)
    other = np.where(swap[:, None], own.state, two.state)
    return picked, _Pair(picked.state, rivals[near], other[near])


def _by_legs(fits: WindowFits, settings: Settings) -> WindowFits:
    """The fits with covariances no smaller than the legs flown allow: a pilot chooses one speed a leg.

    Three unknowns fit any two or three legs, whatever their speeds: how far those lay apart shows in the residuals
    of many legs only. So the variance of the legs' speeds is that usual between legs, counted as one leg, and that
    of the residuals, counted as the others.
    """
    independent = fits.span_s / (2.0 * settings.straight_gust_correlation_s)
    variance = fits.residual_mps**2
    usual = settings.straight_leg_airspeed_sd_mps**2
    of_legs = variance + np.maximum(usual - variance, 0.0) / fits.legs
    widening = np.maximum(1.0, independent / fits.legs * of_legs / variance)
    return replace(fits, covariance=fits.covariance * widening[:, None, None])


def _errors_together(
    fits: WindowFits, prior: AirspeedPrior, airspeed: tuple[float, float], ratio: Floats, settings: Settings
) -> Floats:
    """The wind's error (k, 2) where the airspeed expected of all windows errs by one standard deviation.

    The airspeed of one window lies about the flight's; what of its sd is not that spread is the flight's own.
    """
    flight_sd = np.sqrt(max(airspeed[1] ** 2 - settings.straight_airspeed_spread_mps**2, 0.0)) * ratio
    known = np.maximum(prior.sd_mps**2, fits.covariance[:, 2, 2])
    return np.asarray(fits.covariance[:, :2, 2] * (flight_sd / known)[:, None])


def _shared_airspeed(
    fits: WindowFits, ratio: Floats, prior: tuple[float, float], settings: Settings
) -> tuple[float, float]:
    """Equivalent airspeed of any one window, and its sd, from what all windows say beyond the prior.

    A pilot flies one wing: each window's airspeed lies about one of the flight, which is drawn from all of them.
    Windows overlap by half, so two count as one.
    """
    variance = fits.covariance[:, 2, 2] / ratio**2
    own = 1.0 / variance - 1.0 / prior[1] ** 2  # what the window's chords alone tell
    told = np.isfinite(own) & (own > 1e-3)
    own, variance = own[told], variance[told]
    airspeed = ((fits.airspeed_mps / ratio)[told] / variance - prior[0] / prior[1] ** 2) / own
    spread = settings.straight_airspeed_spread_mps**2
    weight = 0.5 / (1.0 / own + spread)
    total = 1.0 / prior[1] ** 2 + float(weight.sum())
    mean = (prior[0] / prior[1] ** 2 + float((weight * airspeed).sum())) / total
    return mean, float(np.sqrt(1.0 / total + spread))


def _grid(padded: Padded) -> _Grid:
    """Mean and spread of the lengths of some chords of each window, seen from every wind of a coarse grid."""
    axis, east_at, north_at, neighbours = _grid_winds()
    rim = (neighbours == np.arange(len(east_at))).any(axis=0)
    stride = max(1, padded.east.shape[1] // GRID_CHORDS)
    weight, east, north = (  # single precision: half the time, and the grid is coarse
        values[:, ::stride].astype(np.float32) for values in (padded.weight, padded.east, padded.north)
    )
    share = weight / np.maximum(weight.sum(axis=1), 1.0)[:, None]
    east_square, north_square = (
        (values - axis.astype(np.float32)[:, None, None]) ** 2 for values in (east, north)
    )
    distance = np.sqrt(east_square[east_at] + north_square[north_at])
    mean_square = [(square * share).sum(axis=2) for square in (east_square, north_square)]
    speed = np.einsum("gkm,km->gk", distance, share)
    spread = mean_square[0][east_at] + mean_square[1][north_at] - speed**2
    return _Grid(
        axis[east_at], axis[north_at], speed.astype(np.float64), spread.astype(np.float64), neighbours, rim
    )


@lru_cache(maxsize=1)
def _grid_winds() -> tuple[Floats, Ints, Ints, Ints]:
    """The grid's speeds along one axis; of its g winds which they have to east and to north, (g,) each.

    Last, which winds lie about each of them, (8, g); at the rim itself stands for those beyond.
    """
    axis = np.arange(-GRID_REACH_MPS, GRID_REACH_MPS + 0.1, GRID_STEP_MPS)
    north_at, east_at = np.nonzero(np.hypot(axis[:, None], axis) <= GRID_REACH_MPS)
    east_apart, north_apart = (np.subtract.outer(at, at) for at in (east_at, north_at))
    about = []
    for east, north in ((-1, -1), (-1, 0), (-1, 1), (0, -1), (0, 1), (1, -1), (1, 0), (1, 1)):
        there = (east_apart == -east) & (north_apart == -north)
        about.append(np.where(there.any(axis=1), there.argmax(axis=1), np.arange(len(there))))
    return axis, east_at, north_at, np.stack(about)


def _grid_pair(grid: _Grid, prior: AirspeedPrior) -> _Pair:
    """The best wind of the grid, and as its rival the lowest point of the next best valley, where there is one.

    A point on the slopes of the best wind's own valley is no rival: its fit ends where the best one's does.
    """
    cost = 4.0 * grid.spread_mps2 + ((grid.speed_mps - prior.mean_mps) / prior.sd_mps) ** 2
    best, window = cost.argmin(axis=0), np.arange(cost.shape[1])
    lone = np.where(cost <= cost[grid.neighbours].min(axis=0), cost, np.inf)  # better than all winds about it
    lone[grid.is_rim] = np.inf  # what falls on outwards has its lowest point in no wind that anybody flies in
    lone[best, window] = np.inf
    rival = lone.argmin(axis=0)
    rivals = np.flatnonzero(lone[rival, window] < cost[best, window] + NO_RIVAL_COST)
    return _Pair(grid.starts(best, window), rivals, grid.starts(rival[rivals], rivals))
