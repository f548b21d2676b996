"""What every climb was worth: gain, mean and best climb, the circles, the air's own rise, the core, the wind."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import TypedDict

import numpy as np

from flightlog.air.air import Air
from flightlog.air.circle_errors import circle_intervals
from flightlog.air.circles_flown import CirclesFlown, circles_flown
from flightlog.air.cores import AMBIENT_MPS, AMBIENT_SD_MPS, CoreFit, RiseSamples, fit_cores
from flightlog.air.stretches import Stretch
from flightlog.air.turns import load_factor
from flightlog.air.window_fits import uneven_turn_sd_mps
from flightlog.air.wing_polars import (
    COARSE_SHAPE,
    PolarCandidates,
    WingExpectation,
    candidates,
    expectations,
    sinks_in_turn_mps,
    thinned,
)
from flightlog.arrays import Bools, Floats
from flightlog.earth.atmosphere import SEA_LEVEL_DENSITY_KGM3
from flightlog.estimates import NORMAL_95, Estimate, Wind, known, known_estimate, normal_estimate, wind_from_vector
from flightlog.measures.overview import instant
from flightlog.measures.phases_flown import PhasesFlown, phases_flown
from flightlog.measures.results import Climb, Core
from flightlog.measures.thermals import HALF_MINUTE_S
from flightlog.motion.interpolation import motion_at
from flightlog.motion.motion import Motion
from flightlog.phases.phases import FlightSpan, Phase
from flightlog.settings import Settings
from flightlog.wings import Wing

GRID_S = 3.0
"""Step at which the rise of the air is sampled for the core: a fifth of a circle."""
MODEL_SHARE = 0.1
"""Error of the core's strength from what is no Gaussian hill: rising air around it, gusts (simulated flights)."""
LEAST_KNOWN_SHARE = 0.8
SINK_DRAWS = 250
"""So many polars are enough for the mean and the spread of a sink."""
STRENGTH_FACTOR, COVERAGE_FACTOR = 1.25, 1.5
"""The fit's own standard deviations are too small by this much, that of the strength and the others: nature's
cores are not Gaussian (M 5)."""


class _Own(TypedDict):
    """Fields of a climb that the way alone tells."""

    start_lat_deg: float | None
    start_lon_deg: float | None
    end_lat_deg: float | None
    end_lon_deg: float | None
    best_30s_climb_mps: float | None


def measure_climbs(
    motion: Motion,
    air: Air,
    span: FlightSpan,
    settings: Settings,
    wing: Wing | None = None,
    draws: PolarCandidates | None = None,
    flown: PhasesFlown | None = None,
) -> tuple[Climb, ...]:
    """Every climb phase of the flight, in order of time.

    `top_altitude_m` is the highest point: that of soaring at one level need not be its end. `mean_climb_mps` is
    height gained over time taken, from start to end; its interval holds the error of the two end heights and of
    the height scale (M 5; wider where only GNSS altitude is there). `airmass_mps` adds the wing's own sink at the
    bank flown: from the polars that fit the flight's own glides (`draws`, from `draw_polars`), else from the
    maker's polar or the class; their uncertainty is part of the interval. `core` is None where the way flown does
    not tell it. `flown` are the flight's `phases_flown`, where they are at hand.
    """
    flown = phases_flown(motion, air, span, settings) if flown is None else flown
    phases = [phase for phase, _ in flown if phase.kind == "climb"]
    parts = [part for phase, part in flown if phase.kind == "climb"]
    if not phases:
        return ()
    polars = _polars_of(expectations(settings.wing_class, wing)) if draws is None else thinned(draws, SINK_DRAWS)
    circles = [circles_flown(motion, air, phase.start_s, phase.end_s) for phase in phases]
    sinks = _own_sinks(parts, circles, polars)
    fitted = _cores(motion, phases, parts, circles, sinks, settings)
    figures = _figures_of_ways(motion, phases, fitted)
    return tuple(
        _climb(number, motion, phase, part, (round_, sink, core), own, settings)
        for number, (phase, part, round_, sink, (own, core)) in enumerate(
            zip(phases, parts, circles, sinks, figures, strict=True), start=1
        )
    )


@lru_cache(maxsize=4)  # the same for all flights of a wing that say nothing of their own
def _polars_of(expected: tuple[WingExpectation, ...]) -> PolarCandidates:
    """The polars of a class of wing, or of a maker's."""
    return candidates(expected, COARSE_SHAPE)


def _figures_of_ways(
    motion: Motion, phases: Sequence[Phase], cores: Sequence[_FittedCore | None]
) -> list[tuple[_Own, Core | None]]:
    """The places where climbs start and end, the best climb and the core of each, all looked up at once."""
    times = np.array([(phase.start_s, phase.end_s) for phase in phases])
    ends = np.stack([np.interp(times, motion.time_s, column) for column in (motion.east_m, motion.north_m)], -1)
    found = [fitted.place if fitted else (0.0, 0.0) for fitted in cores]
    places = np.concatenate([ends, np.array(found)[:, None]], axis=1)  # of starts, ends and cores
    lat, lon = (column.tolist() for column in motion.plane.to_degrees(places[..., 0], places[..., 1]))
    return [
        (
            {
                "start_lat_deg": known(y[0]),
                "start_lon_deg": known(x[0]),
                "end_lat_deg": known(y[1]),
                "end_lon_deg": known(x[1]),
                "best_30s_climb_mps": best,
            },
            fitted.core((y[2], x[2])) if fitted else None,
        )
        for y, x, best, fitted in zip(lat, lon, _best_climbs_mps(motion, phases), cores, strict=True)
    ]


def _climb(
    number: int,
    motion: Motion,
    phase: Phase,
    flown: Stretch,
    parts: tuple[CirclesFlown, tuple[float, float] | None, Core | None],
    own: _Own,
    settings: Settings,
) -> Climb:
    """One climb from its parts: its circles, the wing's own sink in them with its error, the core, more fields."""
    circles, own_sink, core = parts
    mean_mps, sd_mps = flown.gain_m / flown.duration_s, flown.gain_sd_m / flown.duration_s
    airmass = None
    if own_sink is not None:
        airmass = normal_estimate(mean_mps + own_sink[0], math.hypot(sd_mps, own_sink[1]))
    around = circle_intervals(circles, flown.along_sd_mps, motion.interval_s)
    notes = []
    if flown.silent_s > 0:
        notes.append(f"{flown.silent_s:.0f} s of it are missing in the recording")
    if phase.mode == "circling" and core is None:
        notes.append("the way flown does not tell the core")
    return Climb(
        number=number,
        start=instant(phase.start_s, motion),
        end=instant(phase.end_s, motion),
        mode=phase.mode or "straight",
        gain_m=known(flown.gain_m),
        base_altitude_m=known(flown.start_altitude_m),
        top_altitude_m=known(flown.top_altitude_m),
        mean_climb_mps=known_estimate(mean_mps, sd_mps),
        turn_direction=circles.direction,
        turns=circles.turns,
        circle_period_s=circles.period_s,
        circle_radius_m=circles.radius_m,
        bank_deg=circles.bank_deg,
        airmass_mps=airmass,
        core=core,
        wind=_wind(flown, circles, motion.interval_s, settings),
        note="; ".join(notes) or None,
        circle_period_interval_s=around.period_s,
        circle_radius_interval_m=around.radius_m,
        bank_interval_deg=around.bank_deg,
        **own,
    )


def _wind(flown: Stretch, circles: CirclesFlown, interval_s: float, settings: Settings) -> Wind | None:
    """Mean wind of the climb; None where it is not known.

    The wind is told by the climb's own circles, window by window, each with gusts of its own: over a long climb
    those average out as errors of a correlation time do (variance of the mean of a first-order process). What the
    pilot does once in every circle does not: the error never falls below `wind_least_sd_mps`, nor below what an
    uneven bank between sparse fixes costs (`uneven_turn_sd_mps`: as much in every circle of a climb).
    """
    if flown.wind_east_mps is None or flown.wind_north_mps is None or flown.along_sd_mps is None:
        return None
    sd_mps = flown.along_sd_mps
    if circles.turns >= settings.core_least_turns:
        long = flown.duration_s / settings.wind_error_time_s
        kept = 2.0 * (long - 1.0 + math.exp(-long)) / long**2
        least_mps = math.hypot(settings.wind_least_sd_mps, _uneven_mps(flown, circles, interval_s, settings))
        sd_mps = max(sd_mps * math.sqrt(kept), min(sd_mps, least_mps))
    return wind_from_vector(flown.wind_east_mps, flown.wind_north_mps, sd_mps, circles.turns)


def _uneven_mps(flown: Stretch, circles: CirclesFlown, interval_s: float, settings: Settings) -> float:
    """Error of the wind from uneven bank between fixes, one standard deviation; 0 where no circle is known."""
    if not circles.period_s or not flown.air_way_m:
        return 0.0
    half_angle = np.array(math.pi * interval_s / circles.period_s)
    airspeed = np.array(flown.air_way_m / flown.duration_s)
    return float(uneven_turn_sd_mps(airspeed, half_angle, settings))


def _best_climbs_mps(motion: Motion, phases: Sequence[Phase]) -> list[float | None]:
    """Highest mean climb over 30 s inside every climb; None in a shorter one."""
    best: list[float | None] = [None] * len(phases)
    long = [i for i, phase in enumerate(phases) if phase.end_s - phase.start_s >= HALF_MINUTE_S]
    if not long:
        return best
    last_s = [phases[i].end_s - HALF_MINUTE_S for i in long]
    starts = [
        np.append(np.arange(phases[i].start_s, end_s, 1.0), end_s) for i, end_s in zip(long, last_s, strict=True)
    ]
    every = np.concatenate(starts)
    low, high = np.interp(np.stack([every, every + HALF_MINUTE_S]), motion.time_s, motion.altitude_m)
    firsts = np.cumsum([0, *(one.size for one in starts[:-1])])
    for i, gain_m in zip(long, np.maximum.reduceat(high - low, firsts).tolist(), strict=True):
        best[i] = gain_m / HALF_MINUTE_S
    return best


def _own_sinks(
    flown: list[Stretch], circles: list[CirclesFlown], polars: PolarCandidates
) -> list[tuple[float, float] | None]:
    """The wing's own sink at the speed and bank of every climb, and its sd; None where no airspeed is known."""
    known = [i for i, part in enumerate(flown) if part.air_way_m is not None and part.air_way_m > 0]
    speed = np.array([(flown[i].air_way_m or 0.0) / flown[i].duration_s for i in known])
    load = np.array([float(load_factor(circles[i].bank_deg or 0.0)) for i in known])
    density = np.array([flown[i].density_kgm3 / SEA_LEVEL_DENSITY_KGM3 for i in known])
    sinks: list[tuple[float, float] | None] = [None] * len(flown)
    for i, mean, spread in zip(known, *sinks_in_turn_mps(polars, speed, load, density), strict=True):
        sinks[i] = (float(mean), float(spread))
    return sinks


def _cores(
    motion: Motion,
    phases: list[Phase],
    flown: list[Stretch],
    circles: list[CirclesFlown],
    sinks: list[tuple[float, float] | None],
    settings: Settings,
) -> list[_FittedCore | None]:
    """Core of every climb that circled long enough, None for the others."""
    cores: list[_FittedCore | None] = [None] * len(phases)
    if motion.interval_s > settings.core_longest_interval_s:
        return cores
    wanted = [
        i
        for i, phase in enumerate(phases)
        if phase.mode == "circling"
        and sinks[i] is not None
        and circles[i].turns >= settings.core_least_turns
        and phase.end_s - phase.start_s >= settings.core_least_s
        and flown[i].wind_east_mps is not None
    ]
    windows = dict(
        zip(wanted, _core_windows(motion, [(phases[i], flown[i]) for i in wanted], settings), strict=True)
    )
    chosen = [(i, window, sinks[i]) for i, window in windows.items() if window.is_whole]
    fits = fit_cores([window.samples(sink[0]) for _, window, sink in chosen if sink is not None])
    for (i, window, sink), fit in zip(chosen, fits, strict=True):
        if fit is not None and sink is not None and _identified(fit, settings):
            cores[i] = _FittedCore(window, fit, sink[1])
    return cores


def _core_windows(motion: Motion, parts: list[tuple[Phase, Stretch]], settings: Settings) -> list[_CoreWindow]:
    """The window of every climb, all moments looked up at once."""
    times = []
    for phase, _ in parts:
        start_s = max(phase.start_s - settings.core_entry_s, float(motion.time_s[0]))
        times.append(np.arange(start_s, min(phase.end_s, start_s + settings.core_window_s), GRID_S))
    if not times:
        return []
    at = motion_at(motion, np.concatenate(times))
    columns = np.stack([at.east_m, at.north_m, at.altitude_m, at.climb_mps])
    known: Bools = np.asarray(np.isfinite(columns).all(axis=0))
    stops = np.cumsum([one.size for one in times]).tolist()
    return [
        _CoreWindow(
            one,
            columns[:, start:stop],
            known[start:stop],
            phase.start_s,
            (part.wind_east_mps or 0.0, part.wind_north_mps or 0.0),
        )
        for one, start, stop, (phase, part) in zip(times, [0, *stops[:-1]], stops, parts, strict=True)
    ]


def _identified(fit: CoreFit, settings: Settings) -> bool:
    """Whether the way flown tells where the core is, and the radius is one that thermals have (M 5)."""
    return (
        fit.place_sd_m < settings.core_place_sd_m
        and settings.core_least_radius_m < fit.radius_m < settings.core_greatest_radius_m
        and fit.strength_mps > 0
    )


class _CoreWindow:
    """The part of a climb that tells its core: the way in and the first circles."""

    def __init__(self, times: Floats, columns: Floats, known: Bools, start_s: float, wind: tuple[float, float]):
        self.middle_s = float(np.add.reduce(times)) / times.size
        self.is_whole = np.count_nonzero(known) > LEAST_KNOWN_SHARE * known.size
        if not known.all():
            times, columns = times[known], columns[:, known]
        self.time_s = times
        self.east_m, self.north_m, self.altitude_m, self.climb_mps = columns
        since = self.time_s - self.middle_s
        self.east_m = self.east_m - wind[0] * since
        self.north_m = self.north_m - wind[1] * since
        first = int(self.time_s.searchsorted(start_s))
        count = self.time_s.size - first
        if self.is_whole and count:
            east_m, north_m = (float(np.add.reduce(column[first:])) for column in (self.east_m, self.north_m))
            self.centre = (east_m / count, north_m / count)
            self.mean_altitude_m = float(np.add.reduce(self.altitude_m)) / times.size

    def samples(self, own_sink_mps: float) -> RiseSamples:
        """The rise of the air along the way."""
        return RiseSamples(
            self.time_s - self.middle_s,
            self.east_m - self.centre[0],
            self.north_m - self.centre[1],
            self.altitude_m - self.mean_altitude_m,
            self.climb_mps + own_sink_mps,
        )


@dataclass(frozen=True)
class _FittedCore:
    """A core as the way flown tells it."""

    window: _CoreWindow
    fit: CoreFit
    own_sink_sd_mps: float  # of the wing

    @property
    def place(self) -> tuple[float, float]:
        """East and north of the core."""
        return self.window.centre[0] + self.fit.east_m, self.window.centre[1] + self.fit.north_m

    def core(self, place_deg: tuple[float, float]) -> Core:
        """The core with honest intervals."""
        fit = self.fit
        model_mps = MODEL_SHARE * fit.strength_mps
        sd_mps = math.hypot(STRENGTH_FACTOR * fit.strength_sd_mps, self.own_sink_sd_mps, model_mps, AMBIENT_SD_MPS)
        spread = math.exp(NORMAL_95 * COVERAGE_FACTOR * fit.log_radius_sd)
        return Core(
            strength_mps=normal_estimate(max(fit.strength_mps - AMBIENT_MPS, 0.1), sd_mps),
            radius_m=Estimate(fit.radius_m, fit.radius_m / spread, fit.radius_m * spread),
            lat_deg=place_deg[0],
            lon_deg=place_deg[1],
            altitude_m=self.window.mean_altitude_m,
        )
