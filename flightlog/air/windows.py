"""Wind windows: the short stretches of flight whose turning gives the wind away.

Three kinds. *Search windows* cover all time in the air and keep what turned a circle through the air: they need no
circles found beforehand. *Circling windows* lie inside circling runs. *Straight windows* hold straight flight on
several headings (ridge beats, figures of eight, searching), where the airspeed expected of the wing must help.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from functools import lru_cache

import numpy as np

from flightlog.air.air import Air, WindWindows
from flightlog.air.chords import Chords
from flightlog.air.field import average_wind
from flightlog.air.padded_chords import pad_chords, turned_about_rad
from flightlog.air.window_fits import (
    BLOCK_WINDOWS,
    MOST_STEPS,
    AirspeedPrior,
    WindowFits,
    airspeed_in_wind,
    fit_windows,
    taubin_starts,
)
from flightlog.arrays import Bools, Floats, Ints, frozen_floats, frozen_ints
from flightlog.earth.atmosphere import SEA_LEVEL_DENSITY_KGM3, density_kgm3
from flightlog.estimates import Wind
from flightlog.motion.motion import Motion, Spell, Turning
from flightlog.settings import Settings

LEAST_CHORDS = 6
LONGEST_RUN_CHORDS = 600
SEARCH_STEPS = 2
LEAST_LEARNED = 3
LONGEST_SILENCE_S = 3600.0
"""No window is laid over a longer one: there are no chords in it."""


def search_windows(motion: Motion, chords: Chords, spells: Iterable[Spell], settings: Settings) -> WindWindows:
    """Windows anywhere in the air that turned most of a circle through the air."""
    runs = [(spell.start_s, spell.end_s) for spell in spells if spell.kind == "air"]
    start, end = spread_windows(motion, runs, settings.wind_window_s, settings.wind_window_least_s, overlap=0.25)
    first, stop = chord_range(motion, chords, start, end)
    circles = taubin_starts(chords, first, stop)
    promising = np.flatnonzero(_promising(chords, first, stop, circles, settings.wind_search_turn_deg))
    start, end, first, stop = start[promising], end[promising], first[promising], stop[promising]
    fits = _circle_fits(chords, first, stop, circles[promising], settings, SEARCH_STEPS)
    fits = with_gusts(fits, settings.wind_gust_mean_sd_mps)
    good = _trusted(fits, settings) & (np.abs(fits.turned_deg) >= settings.wind_search_turn_deg)
    return gathered(motion, fits, start, end, good, straight=False)


def circling_windows(
    motion: Motion, chords: Chords, turnings: Iterable[Turning], settings: Settings
) -> WindWindows:
    """Windows inside circling runs."""
    runs = [(float(motion.time_s[turn.start]), float(motion.time_s[turn.stop - 1])) for turn in turnings]
    start, end = spread_windows(motion, runs, settings.wind_window_s, settings.wind_window_least_s)
    first, stop = chord_range(motion, chords, start, end)
    fits = _circle_fits(chords, first, stop, taubin_starts(chords, first, stop), settings)
    fits = with_gusts(fits, settings.wind_gust_mean_sd_mps)
    good = _trusted(fits, settings) & (np.abs(fits.turned_deg) >= settings.wind_window_turn_deg)
    return gathered(motion, fits, start, end, good, straight=False)


def turning_airspeed(
    motion: Motion, chords: Chords, turnings: Iterable[Turning], wind: tuple[Floats, Floats], settings: Settings
) -> Floats:
    """True airspeed of each circling run from the wind at its fixes (n,), (n,); NaN with under 3 chords."""
    runs = list(turnings)
    start = np.array([motion.time_s[turn.start] for turn in runs])
    end = np.array([motion.time_s[turn.stop - 1] for turn in runs])
    airspeed = np.full(len(runs), np.nan)
    first, stop = chord_range(motion, chords, start, end)
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
        together_mps=joined("together_mps"),
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


def _without_silence(motion: Motion, runs: Iterable[tuple[float, float]]) -> Floats:
    """The runs (r, 2) cut where no fix was recorded for hours: a clock set wrongly leaves years of nothing."""
    gaps = np.flatnonzero(motion.time_s[1:] - motion.time_s[:-1] > LONGEST_SILENCE_S)
    leave, back = motion.time_s[gaps], motion.time_s[gaps + 1]
    parts: list[tuple[float, float]] = []
    for start_s, end_s in runs:
        inside = (leave > start_s) & (back < end_s) if gaps.size else gaps
        parts += zip([start_s, *back[inside].tolist()], [*leave[inside].tolist(), end_s], strict=True)
    return np.array(parts, dtype=np.float64).reshape(-1, 2)


def spread_windows(
    motion: Motion, runs: Iterable[tuple[float, float]], length_s: float, least_s: float, overlap: float = 0.5
) -> tuple[Floats, Floats]:
    """Windows of this length and overlap over each run; a shorter run is one window if long enough."""
    run_start, run_end = _without_silence(motion, runs).T
    worth = run_end - run_start >= least_s
    run_start, duration = run_start[worth], (run_end - run_start)[worth]
    length = np.minimum(length_s, duration)
    count = 1 + np.round((duration - length) / ((1.0 - overlap) * length_s)).astype(np.int64)
    number = np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count)  # within its run
    apart = (duration - length) / np.maximum(count - 1, 1)
    start = np.repeat(run_start, count) + number * np.repeat(apart, count)
    return start, start + np.repeat(length, count)


def chord_range(motion: Motion, chords: Chords, start_s: Floats, end_s: Floats) -> tuple[Ints, Ints]:
    """First and one past the last chord wholly inside each window."""
    first = np.searchsorted(motion.time_s[chords.start], start_s - 1e-6, side="left")
    stop = np.searchsorted(motion.time_s[chords.stop], end_s + 1e-6, side="right")
    return first, np.maximum(stop, first)


def _promising(chords: Chords, first: Ints, stop: Ints, circles: Floats, least_deg: float) -> Bools:
    """Which windows turn far enough about the centres of their first circles (k, 3), before the real fit."""
    enough = np.zeros(len(first), dtype=np.bool_)
    for block in window_blocks(first, stop):
        turn = turned_about_rad(chords, first[block], stop[block], circles[block])
        enough[block] = np.abs(np.degrees(turn)) >= 0.9 * least_deg
    return enough


def window_blocks(first: Ints, stop: Ints) -> list[Ints]:
    """Windows with enough chords, in blocks of bounded memory."""
    worth = np.flatnonzero(stop - first >= LEAST_CHORDS)
    return [worth[k : k + BLOCK_WINDOWS] for k in range(0, len(worth), BLOCK_WINDOWS)]


def _circle_fits(
    chords: Chords, first: Ints, stop: Ints, circles: Floats, settings: Settings, steps: int = MOST_STEPS
) -> WindowFits:
    """Fits to windows of circling, from `circles` (k, 3); nothing is known of the airspeed."""
    parts = []
    for rows in window_blocks(first, stop):
        padded = pad_chords(chords, first[rows], stop[rows])
        nothing = AirspeedPrior(np.zeros(len(rows)), np.full(len(rows), np.inf))
        fits = fit_windows(padded, circles[rows], nothing, settings.gust_correlation_s, settings, steps)
        parts.append((rows, fits))
    return joined_fits(parts, first, stop)


def joined_fits(parts: list[tuple[Ints, WindowFits]], first: Ints, stop: Ints) -> WindowFits:
    """The fits of all windows from those of some each; windows with too few chords come back as NaN."""
    columns = {name: np.full(len(first), np.nan) for name in WindowFits.__dataclass_fields__}
    columns["covariance"] = np.full((len(first), 3, 3), np.nan)
    for rows, fits in parts:
        for name, column in columns.items():
            column[rows] = getattr(fits, name)
    columns["chords"] = (stop - first).astype(np.float64)
    return WindowFits(**columns)


def with_gusts(fits: WindowFits, mean_sd_mps: float) -> WindowFits:
    """The fits with the gusts' own mean in the covariance: no circle shows it, for it shifts all chords alike."""
    covariance = fits.covariance.copy()
    covariance[:, [0, 1], [0, 1]] += mean_sd_mps**2
    return replace(fits, covariance=covariance)


def component_sd_mps(fits: WindowFits) -> Floats:
    """Standard error of one component of the wind, the mean of both."""
    return np.sqrt((fits.covariance[:, 0, 0] + fits.covariance[:, 1, 1]) / 2.0)


def _trusted(fits: WindowFits, settings: Settings) -> Bools:
    """Fits sure enough, with an airspeed a soaring wing can have."""
    sure = (fits.chords >= LEAST_CHORDS) & (component_sd_mps(fits) <= settings.wind_window_sd_limit_mps)
    speed = fits.airspeed_mps
    return np.asarray(sure & (speed > settings.slowest_airspeed_mps) & (speed < settings.fastest_airspeed_mps))


def mean_altitude_m(motion: Motion, start_s: Floats, end_s: Floats) -> Floats:
    """Mean smoothed altitude of the fixes in each window."""
    total = _altitude_sums(motion)
    first = np.searchsorted(motion.time_s, start_s - 1e-6)
    stop = np.maximum(np.searchsorted(motion.time_s, end_s + 1e-6, side="right"), first + 1)
    stop = np.minimum(stop, motion.time_s.size)
    first = np.minimum(first, stop - 1)
    return np.asarray((total[stop] - total[first]) / (stop - first))


@lru_cache(maxsize=1)  # asked for by every kind of window of a log
def _altitude_sums(motion: Motion) -> Floats:
    """Sum of the altitudes before each fix, and of all of them, (n + 1,)."""
    return np.concatenate([[0.0], np.cumsum(motion.altitude_m)])


def gathered(
    motion: Motion,
    fits: WindowFits,
    start_s: Floats,
    end_s: Floats,
    good: Bools,
    *,
    straight: bool,
    together_mps: Floats | None = None,
) -> WindWindows:
    """The good fits as windows; the turn between their chords is stretched over their whole time."""
    together = np.zeros((len(good), 2)) if together_mps is None else together_mps
    start, end = start_s[good], end_s[good]
    turned = np.abs(fits.turned_deg[good]) * (end - start) / np.maximum(fits.span_s[good], 1e-9)
    return WindWindows(
        start_s=frozen_floats(start),
        end_s=frozen_floats(end),
        altitude_m=frozen_floats(mean_altitude_m(motion, start, end)),
        east_mps=frozen_floats(fits.east_mps[good]),
        north_mps=frozen_floats(fits.north_mps[good]),
        covariance_mps2=frozen_floats(fits.covariance[good][:, :2, :2]),
        airspeed_mps=frozen_floats(fits.airspeed_mps[good]),
        turned_deg=frozen_floats(turned),
        straight=frozen_ints(np.full(int(good.sum()), int(straight))),
        airspeed_sd_mps=frozen_floats(np.sqrt(fits.covariance[good][:, 2, 2])),
        together_mps=frozen_floats(together[good]),
    )
