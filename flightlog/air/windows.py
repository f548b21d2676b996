"""Wind windows: the short stretches of flight whose turning gives the wind away.

Three kinds. *Search windows* cover all time in the air and keep what turned a circle through the air: they need no
circles found beforehand. *Circling windows* lie inside circling runs. *Straight windows* hold straight flight on
several headings (ridge beats, figures of eight, searching), where the airspeed expected of the wing must help.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import numpy as np

from flightlog.air.air import Air, WindWindows
from flightlog.air.chords import Chords, thinned
from flightlog.air.field import average_wind
from flightlog.air.window_fits import (
    BLOCK_WINDOWS,
    OUTER_STEPS,
    AirspeedPrior,
    Padded,
    WindowFits,
    airspeed_in_wind,
    fit_windows,
    pad_chords,
    taubin_start,
)
from flightlog.arrays import Bools, Floats, Ints, frozen_floats, frozen_ints
from flightlog.earth.atmosphere import SEA_LEVEL_DENSITY_KGM3, density_kgm3
from flightlog.estimates import Wind
from flightlog.motion.motion import Motion, Spell, Turning
from flightlog.settings import Settings

LEAST_CHORDS = 6
LONGEST_RUN_CHORDS = 600
GRID_REACH_MPS = 14.0
GRID_STEP_MPS = 2.5
GRID_CHORDS = 24
RIVAL_STEPS = 2
SEARCH_STEPS = 2
GRID_RIVAL_MPS = 5.0
LEAST_LEARNED = 3
LONGEST_SILENCE_S = 3600.0
"""No window is laid over a longer one: there are no chords in it."""


def search_windows(motion: Motion, chords: Chords, spells: Iterable[Spell], settings: Settings) -> WindWindows:
    """Windows anywhere in the air that turned most of a circle through the air."""
    runs = [(spell.start_s, spell.end_s) for spell in spells if spell.kind == "air"]
    start, end = _spread(motion, runs, settings.wind_window_s, settings.wind_window_least_s, overlap=0.25)
    first, stop = _chord_range(motion, chords, start, end)
    promising = _turns_enough(chords, first, stop, settings.wind_search_turn_deg)
    start, end = start[promising], end[promising]
    gust_s = settings.gust_correlation_s
    fits = _fit(chords, first[promising], stop[promising], None, gust_s, settings, steps=SEARCH_STEPS)
    fits = _with_gusts(fits, settings.wind_gust_mean_sd_mps)
    good = _trusted(fits, settings) & (np.abs(fits.turned_deg) >= settings.wind_search_turn_deg)
    return _gather(motion, fits, start, end, good, straight=False)


def circling_windows(
    motion: Motion, chords: Chords, turnings: Iterable[Turning], settings: Settings
) -> WindWindows:
    """Windows inside circling runs."""
    runs = [(float(motion.time_s[turn.start]), float(motion.time_s[turn.stop - 1])) for turn in turnings]
    start, end = _spread(motion, runs, settings.wind_window_s, settings.wind_window_least_s)
    first, stop = _chord_range(motion, chords, start, end)
    fits = _fit(chords, first, stop, None, settings.gust_correlation_s, settings)
    fits = _with_gusts(fits, settings.wind_gust_mean_sd_mps)
    good = _trusted(fits, settings) & (np.abs(fits.turned_deg) >= settings.wind_window_turn_deg)
    return _gather(motion, fits, start, end, good, straight=False)


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
    start, end = _spread(motion, runs, settings.straight_window_s, settings.straight_window_least_s)
    first, stop = _chord_range(motion, chords, start, end)
    altitude = _mean_altitude(motion, start, end)
    ratio = np.sqrt(SEA_LEVEL_DENSITY_KGM3 / density_kgm3(altitude))
    ratio = np.where(np.isfinite(ratio), ratio, 1.0)
    for _ in range(2):  # the second time with the airspeed that all windows of the flight share
        prior = AirspeedPrior(airspeed[0] * ratio, airspeed[1] * ratio)
        fits = _by_legs(_fit(chords, first, stop, prior, settings.straight_gust_correlation_s, settings), settings)
        airspeed = _shared_airspeed(fits, ratio, airspeed, settings)
    fits = _with_gusts(fits, settings.straight_gust_mean_sd_mps)
    wide = (fits.arc_deg >= settings.straight_arc_deg) | (fits.headings >= settings.straight_headings)
    trusted = (fits.chords >= LEAST_CHORDS) & (_component_sd(fits) <= settings.straight_wind_sd_limit_mps)
    plausible = fits.airspeed_mps < settings.fastest_airspeed_mps
    return _gather(motion, fits, start, end, wide & trusted & plausible, straight=True)


def turning_airspeed(
    motion: Motion, chords: Chords, turnings: Iterable[Turning], wind: tuple[Floats, Floats], settings: Settings
) -> Floats:
    """True airspeed of each circling run from the wind at its fixes (n,), (n,); NaN with under 3 chords."""
    runs = list(turnings)
    start = np.array([motion.time_s[turn.start] for turn in runs])
    end = np.array([motion.time_s[turn.stop - 1] for turn in runs])
    airspeed = np.full(len(runs), np.nan)
    first, stop = _chord_range(motion, chords, start, end)
    stop = np.minimum(stop, first + LONGEST_RUN_CHORDS)
    some = np.flatnonzero(stop - first >= 3)
    if some.size:
        middle = np.searchsorted(motion.time_s, (start + end)[some] / 2.0).clip(0, motion.time_s.size - 1)
        padded = pad_chords(chords, first[some], stop[some])
        airspeed[some] = airspeed_in_wind(padded, wind[0][middle], wind[1][middle], settings)
    return airspeed


def learned_airspeed(windows: WindWindows, settings: Settings) -> tuple[float, float]:
    """Equivalent airspeed to expect in straight flight, and its sd.

    From the circling airspeeds of this very flight where there are some, else what the settings expect.
    """
    if windows.airspeed_mps.size < LEAST_LEARNED:
        return settings.trim_airspeed_mps, settings.trim_airspeed_sd_mps
    density = density_kgm3(windows.altitude_m)
    ratio = np.sqrt(np.where(np.isfinite(density), density, SEA_LEVEL_DENSITY_KGM3) / SEA_LEVEL_DENSITY_KGM3)
    circling = float(np.median(windows.airspeed_mps * ratio))
    straight = settings.straight_to_circling_airspeed * circling
    return straight, settings.learned_airspeed_sd_share * straight


def join_windows(*parts: WindWindows) -> WindWindows:
    """All windows of several kinds, in order of time."""
    order = np.argsort(np.concatenate([part.start_s for part in parts]), kind="stable")

    def joined(name: str) -> Floats:
        return frozen_floats(np.concatenate([getattr(part, name) for part in parts])[order])

    return WindWindows(
        start_s=joined("start_s"),
        end_s=joined("end_s"),
        altitude_m=joined("altitude_m"),
        east_mps=joined("east_mps"),
        north_mps=joined("north_mps"),
        covariance_mps2=joined("covariance_mps2"),
        airspeed_mps=joined("airspeed_mps"),
        turned_deg=joined("turned_deg"),
        straight=frozen_ints(np.concatenate([part.straight for part in parts])[order]),
        airspeed_sd_mps=joined("airspeed_sd_mps"),
    )


def mean_wind(
    air: Air, start_s: float, end_s: float, low_m: float | None = None, high_m: float | None = None
) -> Wind | None:
    """Mean wind of a stretch of the flight, or of the time it spent in a band of height.

    None where the flight has no wind there, or where its standard error would exceed the limit of the settings.
    The standard error counts that all windows share one field: averaging over ten windows of one hour does not
    make the wind ten times as sure.
    """
    if air.field is None:
        return None
    return average_wind(air.field, start_s, end_s, low_m, high_m)


def _without_silence(motion: Motion, runs: Iterable[tuple[float, float]]) -> list[tuple[float, float]]:
    """The runs cut where no fix was recorded for hours: a clock set wrongly leaves years of nothing."""
    gaps = np.flatnonzero(np.diff(motion.time_s) > LONGEST_SILENCE_S)
    leave, back = motion.time_s[gaps], motion.time_s[gaps + 1]
    parts: list[tuple[float, float]] = []
    for start_s, end_s in runs:
        inside = (leave > start_s) & (back < end_s)
        parts += zip([start_s, *back[inside].tolist()], [*leave[inside].tolist(), end_s], strict=True)
    return parts


def _spread(
    motion: Motion, runs: Iterable[tuple[float, float]], length_s: float, least_s: float, overlap: float = 0.5
) -> tuple[Floats, Floats]:
    """Windows of this length and overlap over each run; a shorter run is one window if long enough."""
    starts, ends = [np.empty(0)], [np.empty(0)]
    for run_start, run_end in _without_silence(motion, runs):
        duration = run_end - run_start
        if duration < least_s:
            continue
        length = min(length_s, duration)
        count = 1 + round((duration - length) / ((1.0 - overlap) * length_s))
        begin = run_start + np.linspace(0.0, duration - length, count)
        starts.append(begin)
        ends.append(begin + length)
    return np.concatenate(starts), np.concatenate(ends)


def _chord_range(motion: Motion, chords: Chords, start_s: Floats, end_s: Floats) -> tuple[Ints, Ints]:
    """First and one past the last chord wholly inside each window."""
    first = np.searchsorted(motion.time_s[chords.start], start_s - 1e-6, side="left")
    stop = np.searchsorted(motion.time_s[chords.stop], end_s + 1e-6, side="right")
    return first, np.maximum(stop, first)


def _turns_enough(chords: Chords, first: Ints, stop: Ints, least_deg: float) -> Bools:
    """Windows whose chords go round the centre of their Taubin circle far enough: cheap, before the real fit."""
    enough = np.zeros(len(first), dtype=np.bool_)
    for block in _blocks(first, stop):
        padded = pad_chords(chords, first[block], stop[block])
        state = taubin_start(padded)
        angle = np.arctan2(padded.east - state[:, :1], padded.north - state[:, 1:2])
        turn = np.diff(angle, axis=1)
        turn = (turn - 2.0 * np.pi * np.round(turn / (2.0 * np.pi))) * padded.used[:, 1:]
        enough[block] = np.abs(np.degrees(turn.sum(axis=1))) >= 0.9 * least_deg
    return enough


def _blocks(first: Ints, stop: Ints) -> list[Ints]:
    """Windows with enough chords, in blocks of bounded memory."""
    worth = np.flatnonzero(stop - first >= LEAST_CHORDS)
    return [worth[k : k + BLOCK_WINDOWS] for k in range(0, len(worth), BLOCK_WINDOWS)]


def _fit(
    chords: Chords,
    first: Ints,
    stop: Ints,
    prior: AirspeedPrior | None,
    gust_s: float,
    settings: Settings,
    steps: int = OUTER_STEPS,
) -> WindowFits:
    """Fit all windows; those with too few chords come back as NaN."""
    k = len(first)
    names = [name for name in WindowFits.__dataclass_fields__ if name not in ("covariance", "chords")]
    columns = {name: np.full(k, np.nan) for name in names}
    columns["chords"] = (stop - first).astype(np.float64)
    covariance = np.full((k, 3, 3), np.nan)
    for block in _blocks(first, stop):
        padded = pad_chords(chords, first[block], stop[block])
        if prior is None:
            none = AirspeedPrior(np.zeros(len(block)), np.full(len(block), np.inf))
            fits = fit_windows(padded, taubin_start(padded), none, gust_s, settings, steps)
        else:
            expected = AirspeedPrior(prior.mean_mps[block], prior.sd_mps[block])
            fits = _fit_with_rivals(padded, expected, gust_s, settings)
        for name in names:
            columns[name][block] = getattr(fits, name)
        covariance[block] = fits.covariance
    return WindowFits(covariance=covariance, **columns)


def _fit_with_rivals(padded: Padded, prior: AirspeedPrior, gust_s: float, settings: Settings) -> WindowFits:
    """Fit from the two most likely winds of a grid; the better one, with the rival's chance in its covariance."""
    best_start, rival_start = _grid_starts(padded, prior)
    one = fit_windows(padded, best_start, prior, gust_s, settings)
    two = fit_windows(padded, rival_start, prior, gust_s, settings, steps=RIVAL_STEPS)
    swap = two.cost < one.cost
    names = tuple(WindowFits.__dataclass_fields__)
    picked = {}
    for name in names:
        a, b = getattr(one, name), getattr(two, name)
        picked[name] = np.where(swap.reshape((-1,) + (1,) * (a.ndim - 1)), b, a)
    chance = np.exp(-0.5 * np.minimum(np.abs(one.cost - two.cost), 60.0))
    chance = chance / (1.0 + chance)
    apart = np.stack([getattr(one, name) - getattr(two, name) for name in names[:3]], axis=1)
    picked["covariance"] += chance[:, None, None] * apart[:, :, None] * apart[:, None, :]
    return WindowFits(**picked)


def _by_legs(fits: WindowFits, settings: Settings) -> WindowFits:
    """The fits with covariances no smaller than the legs flown allow: a pilot chooses one speed a leg."""
    independent = fits.span_s / (2.0 * settings.straight_gust_correlation_s)
    widening = np.maximum(1.0, independent / fits.legs)
    return replace(fits, covariance=fits.covariance * widening[:, None, None])


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


def _with_gusts(fits: WindowFits, mean_sd_mps: float) -> WindowFits:
    """The fits with the gusts' own mean in the covariance: no circle shows it, for it shifts all chords alike."""
    covariance = fits.covariance.copy()
    covariance[:, [0, 1], [0, 1]] += mean_sd_mps**2
    return replace(fits, covariance=covariance)


def _grid_starts(padded: Padded, prior: AirspeedPrior) -> tuple[Floats, Floats]:
    """The best wind of a coarse grid, and the best one well away from it, with airspeeds (k, 3)."""
    axis = np.arange(-GRID_REACH_MPS, GRID_REACH_MPS + 0.1, GRID_STEP_MPS)
    east, north = (grid.ravel() for grid in np.meshgrid(axis, axis))
    inside = np.hypot(east, north) <= GRID_REACH_MPS
    east, north = east[inside], north[inside]
    stride = max(1, padded.east.shape[1] // GRID_CHORDS)
    fe, fn, used = padded.east[:, ::stride], padded.north[:, ::stride], padded.used[:, ::stride]
    share = used / np.maximum(used.sum(axis=1), 1)[:, None]
    square = (fe[:, None, :] - east[None, :, None]) ** 2 + (fn[:, None, :] - north[None, :, None]) ** 2
    speed = np.einsum("kgm,km->kg", np.sqrt(square), share)
    spread = np.einsum("kgm,km->kg", square, share) - speed**2
    cost = 4.0 * spread + ((speed - prior.mean_mps[:, None]) / prior.sd_mps[:, None]) ** 2
    best = cost.argmin(axis=1)
    far = np.hypot(east[None, :] - east[best][:, None], north[None, :] - north[best][:, None]) >= GRID_RIVAL_MPS
    rival = np.where(far, cost, np.inf).argmin(axis=1)
    row = np.arange(len(fe))
    starts = [np.stack([east[k], north[k], speed[row, k]], axis=1) for k in (best, rival)]
    return starts[0], starts[1]


def _component_sd(fits: WindowFits) -> Floats:
    """Standard error of one component of the wind, the mean of both."""
    return np.sqrt((fits.covariance[:, 0, 0] + fits.covariance[:, 1, 1]) / 2.0)


def _trusted(fits: WindowFits, settings: Settings) -> Bools:
    """Fits sure enough, with an airspeed a soaring wing can have."""
    sure = (fits.chords >= LEAST_CHORDS) & (_component_sd(fits) <= settings.wind_window_sd_limit_mps)
    speed = fits.airspeed_mps
    return np.asarray(sure & (speed > settings.slowest_airspeed_mps) & (speed < settings.fastest_airspeed_mps))


def _mean_altitude(motion: Motion, start_s: Floats, end_s: Floats) -> Floats:
    """Mean smoothed altitude of the fixes in each window."""
    total = np.concatenate([[0.0], np.cumsum(motion.altitude_m)])
    first = np.searchsorted(motion.time_s, start_s - 1e-6)
    stop = np.maximum(np.searchsorted(motion.time_s, end_s + 1e-6, side="right"), first + 1)
    stop = np.minimum(stop, motion.time_s.size)
    first = np.minimum(first, stop - 1)
    return np.asarray((total[stop] - total[first]) / (stop - first))


def _gather(
    motion: Motion, fits: WindowFits, start_s: Floats, end_s: Floats, good: Bools, *, straight: bool
) -> WindWindows:
    """The good fits as windows; the turn between their chords is stretched over their whole time."""
    start, end = start_s[good], end_s[good]
    turned = np.abs(fits.turned_deg[good]) * (end - start) / np.maximum(fits.span_s[good], 1e-9)
    return WindWindows(
        start_s=frozen_floats(start),
        end_s=frozen_floats(end),
        altitude_m=frozen_floats(_mean_altitude(motion, start, end)),
        east_mps=frozen_floats(fits.east_mps[good]),
        north_mps=frozen_floats(fits.north_mps[good]),
        covariance_mps2=frozen_floats(fits.covariance[good][:, :2, :2]),
        airspeed_mps=frozen_floats(fits.airspeed_mps[good]),
        turned_deg=frozen_floats(turned),
        straight=frozen_ints(np.full(int(good.sum()), int(straight))),
        airspeed_sd_mps=frozen_floats(np.sqrt(fits.covariance[good][:, 2, 2])),
    )
