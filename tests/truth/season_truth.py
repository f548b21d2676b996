"""Seasons of flights over ground whose thermal sources are known: entries of climbs with drift, noise and traffic.

Nothing here is taken from the analysis. Pilots fly legs from two launches, now to ground they know, now anywhere;
where a leg passes a column that rises from a source, or a stray one from anywhere, they may climb. Each day has
its wind. What a flight measures of a climb is where the air was met, with its error, and the trace down to the
ground with a wind, a rise and a ground height that are each somewhat wrong.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
WIDTH_M, DEPTH_M = 22_000.0, 12_000.0
GLIDE_RATIO, GLIDE_MPS, STEP_M = 8.0, 10.5, 100.0
MEET_M = 350.0  # so near a leg passes a column that is met
PILOT_SINK_MPS = 1.2
WEAKEST_MPS, SLOWEST, FASTEST = 0.6, 0.35, 1.5  # climbs, and shares of their rise at which parcels rise
COLUMN_SD_M = 50.0
DAY_WIND_ERROR_MPS, CLIMB_WIND_ERROR_MPS = 0.28, 0.28
"""Of the wind measured: what all climbs of a day share, and what each has of its own; 0.4 together."""


@dataclass(frozen=True)
class TrueClimb:
    """A climb: the source it came from (-1: a stray one), where it was met, and what was measured of it."""

    source: int
    time_s: float
    strength_mps: float
    met_m: tuple[float, float]
    met_altitude_m: float
    traced_m: tuple[float, float]
    ground_altitude_m: float  # assumed
    along_sd_m: float
    across_sd_m: float
    drift_to_deg: float


@dataclass(frozen=True)
class Country:
    """What a season is flown over, and how wrong its flights are about it.

    `sources` last all season; `day_sources` are others each day, shared by the pilots of that day, as are its wind
    and part of the error of the wind measured. `relief_m`: standard deviation of the ground. `wind_spread_deg`: of
    the days' wind directions about the prevailing one. `parcel_share`: rise of parcels on their way up as a share
    of that met, in the mean; what flights reckon with is 0.8.
    """

    sources: int = 30
    day_sources: int = 0
    stray_share: float = 0.2
    pilots_a_day: int = 1
    relief_m: float = 80.0
    wind_spread_deg: float = 50.0
    parcel_share: float = 0.8


ROLLING = Country()


@dataclass(frozen=True)
class TrueFlight:
    """One flight: its climbs, and its way outside them as points 100 m apart."""

    start_s: float
    duration_s: float
    way_m: Floats  # (k, 2)
    climbs: tuple[TrueClimb, ...]


@dataclass(frozen=True)
class TrueSeason:
    """Sources (k, 2), their usual strengths, and the flights."""

    sources_m: Floats
    strengths_mps: Floats
    flights: tuple[TrueFlight, ...]

    def days_used(self) -> npt.NDArray[np.int64]:
        """On how many days each source was climbed from."""
        used = {(climb.source, flight.start_s // 86400.0) for flight in self.flights for climb in flight.climbs}
        days = [source for source, _ in used if source >= 0]
        return np.bincount(np.array(days, dtype=np.int64), minlength=len(self.sources_m))


@dataclass(frozen=True)
class _Upwind:
    """Sources at work in a wind: their numbers, and places along and across it, by a turn of the axes."""

    numbers: npt.NDArray[np.int64]
    along: Floats
    across: Floats
    turn: list[list[float]]
    speed_mps: float

    def in_reach(self, here: Floats, height: float) -> npt.NDArray[np.int64]:
        """Those whose columns may pass here: a drift upwind at most, that of the slowest parcels."""
        (a, b), (c, d) = self.turn
        east, north = here.tolist()
        along, across = a * east + b * north, c * east + d * north
        room = MEET_M + 5.0 * COLUMN_SD_M
        longest = self.speed_mps * height / (SLOWEST * (WEAKEST_MPS + PILOT_SINK_MPS))
        passed = along - self.along
        near = (np.abs(across - self.across) < room) & (passed > -room) & (passed < longest + room)
        return np.asarray(self.numbers[near])


@dataclass
class _Land:
    """The ground and its sources."""

    rng: np.random.Generator
    country: Country
    sources: Floats
    strengths: Floats
    busy: Floats  # how often each is active
    waves: list[tuple[float, float, float]]

    def height_m(self, east_m: float, north_m: float) -> float:
        """Rolling country."""
        each = self.country.relief_m * math.sqrt(2.0 / len(self.waves))
        return 500.0 + each * sum(math.sin(a * east_m + b * north_m + c) for a, b, c in self.waves)

    def in_wind(self, wind: Floats, active: Floats) -> _Upwind:
        """The sources at work, along the wind and across it."""
        numbers, speed = np.flatnonzero(active > 0), float(np.hypot(*wind))
        turn = np.array([[wind[0], wind[1]], [wind[1], -wind[0]]]) / speed
        along, across = turn @ self.sources[numbers].T
        return _Upwind(numbers, along, across, turn.tolist(), speed)

    def on_a_day(self) -> _Land:
        """The same ground with the sources of one day beside those that last."""
        count = self.country.day_sources
        return replace(
            self,
            sources=_scattered(self.rng, count, self.sources),
            strengths=np.concatenate([self.strengths, self.rng.uniform(1.2, 3.2, count)]),
            busy=np.concatenate([self.busy, np.full(count, 0.9)]),
        )


@dataclass(frozen=True)
class _Day:
    """What the pilots of one day share: its wind, how far off it is measured, which sources are active."""

    number: int
    wind: Floats
    wind_error: Floats
    active: Floats


@dataclass(frozen=True)
class _Met:
    """A climb as it was met, before anything is measured: its source, where, and how fast its parcels rose."""

    source: int
    here_m: Floats
    altitude_m: float
    parcel_mps: float
    strength_mps: float
    time_s: float


def fly_season(flights: int, seed: int, country: Country = ROLLING) -> TrueSeason:
    """A season of so many flights; about a fifth of the climbs come from no source that others could meet."""
    rng = np.random.default_rng(seed)
    count = country.sources
    lasting = _Land(
        rng,
        country,
        _scattered(rng, count, np.empty((0, 2))),
        rng.uniform(1.2, 3.2, count),
        np.clip(rng.lognormal(math.log(0.6), 0.4, count), 0.1, 0.95),
        rng.uniform([-1.2e-3, -1.2e-3, 0.0], [1.2e-3, 1.2e-3, 6.3], (5, 3)).tolist(),
    )
    season: list[TrueFlight] = []
    for number in range(math.ceil(flights / country.pilots_a_day)):
        land = lasting.on_a_day()
        toward = rng.normal(math.radians(70.0), math.radians(country.wind_spread_deg))
        day = _Day(
            number,
            rng.uniform(0.5, 5.5) * np.array([math.sin(toward), math.cos(toward)]),
            rng.normal(0.0, DAY_WIND_ERROR_MPS, 2),
            np.where(rng.uniform(size=len(land.sources)) < land.busy, 1.0, 0.0),
        )
        season += [_fly(rng, land, day) for _ in range(min(country.pilots_a_day, flights - len(season)))]
    return TrueSeason(lasting.sources, lasting.strengths, tuple(season))


def _scattered(rng: np.random.Generator, count: int, there: Floats) -> Floats:
    """Places at least 800 m apart, so many more than those that are there."""
    kept: list[Floats] = list(there)
    count += len(kept)
    while len(kept) < count:
        place = rng.uniform([0.0, 0.0], [WIDTH_M, DEPTH_M])
        if all(np.hypot(*(place - other)) >= 800.0 for other in kept):
            kept.append(place)
    return np.array(kept).reshape(-1, 2)


def _fly(rng: np.random.Generator, land: _Land, day: _Day) -> TrueFlight:
    """One flight from one of two launches until it comes down, four hours at most."""
    wind, active, stray_share = day.wind, day.active, land.country.stray_share
    strays = stray_share / (1.0 - stray_share) * 0.020  # columns of sources are met every 5 km or so
    upwind = land.in_wind(wind, active)
    launch = np.array([[5000.0, 6000.0], [14000.0, 5000.0]])[rng.integers(2)]
    here, altitude = launch.copy(), land.height_m(*launch) + 700.0
    start_s = 1.78e9 + 86400.0 * day.number + rng.uniform(10.0, 13.0) * 3600.0
    time_s, points = start_s, [here.copy()]
    met_climbs: list[_Met] = []
    ceiling_m = 500.0 + rng.uniform(1000.0, 1800.0)
    flown_m = [land.height_m(*launch), altitude]
    goal, left = _goal(rng, land, launch, here, wind, active)
    used: dict[int, float] = {}
    while time_s - start_s < 4 * 3600.0:
        step = goal - here
        here = here + step * (STEP_M / max(math.hypot(*step.tolist()), 1.0))
        time_s, altitude, left = time_s + STEP_M / GLIDE_MPS, altitude - STEP_M / GLIDE_RATIO, left - STEP_M
        points.append(here.copy())
        flown_m.append(altitude)
        height = altitude - land.height_m(*here)
        if height < 60.0:
            flown_m.append(altitude - height)
            break
        if left <= 0.0:
            goal, left = _goal(rng, land, launch, here, wind, active)
        met = (
            None
            if altitude > ceiling_m - 200.0
            else _met(rng, land, upwind, here, height, wind, used, time_s, strays)
        )
        if met is None:
            continue
        source, parcel_mps, strength = met
        met_climbs.append(_Met(source, here.copy(), altitude, parcel_mps, strength, time_s))
        gain = min(rng.uniform(300.0, 1000.0), ceiling_m - altitude)
        time_s, altitude = time_s + gain / strength, altitude + gain
        here = here + wind * gain / strength
        used[source] = time_s
        goal, left = _goal(rng, land, launch, here, wind, active)
    climbs = tuple(_measured(rng, land, day, met, min(flown_m)) for met in met_climbs)
    return TrueFlight(start_s, time_s - start_s, np.array(points), climbs)


def _goal(
    rng: np.random.Generator, land: _Land, launch: Floats, here: Floats, wind: Floats, active: Floats
) -> tuple[Floats, float]:
    """Where to next: mostly to where a source that works today may be met, else anywhere near launch."""
    if rng.uniform() < 0.75:
        near = np.exp(-np.hypot(*(land.sources - (launch + 4.0 * here) / 5.0).T) / 1300.0) * (0.1 + active)
        drift = wind * rng.uniform(60.0, 250.0)
        goal = land.sources[rng.choice(len(near), p=near / near.sum())] + drift + rng.normal(0.0, 120.0, 2)
    else:
        goal = launch + rng.normal(0.0, 4000.0, 2)
    goal = np.clip(goal, 0.0, [WIDTH_M, DEPTH_M])
    return goal, float(np.hypot(*(goal - here)))


def _met(
    rng: np.random.Generator, land: _Land, upwind: _Upwind, here: Floats, height: float, wind: Floats,
    used: dict[int, float], time_s: float, strays: float,
) -> tuple[int, float, float] | None:  # fmt: skip
    """The column met here, if any: its source, how fast its parcels rose, and the climb it gives."""
    there = upwind.in_reach(here, height)
    if there.size:
        strength = np.maximum(land.strengths[there] * rng.lognormal(0.0, 0.25, there.size), WEAKEST_MPS)
        parcel = (strength + PILOT_SINK_MPS) * _share(rng, land, there.size)
        columns = land.sources[there] + wind * (height / parcel)[:, None]
        away = np.hypot(*(columns + rng.normal(0.0, COLUMN_SD_M, columns.shape) - here).T)
        is_fresh = np.array([time_s - used.get(number, -1e9) > 900.0 for number in there.tolist()])
        near = np.flatnonzero((away < MEET_M) & is_fresh & (rng.uniform(size=there.size) < 0.9))
        if near.size:
            chosen = int(near[np.argmin(away[near])])
            return int(there[chosen]), float(parcel[chosen]), float(strength[chosen])
    if rng.uniform() < strays:
        strength_mps = float(rng.uniform(0.8, 2.5))
        return -1, (strength_mps + PILOT_SINK_MPS) * float(_share(rng, land, 1)[0]), strength_mps
    return None


def _share(rng: np.random.Generator, land: _Land, count: int) -> Floats:
    """Shares of the rise that is met at which parcels rise on their way up."""
    return np.clip(rng.normal(land.country.parcel_share, 0.28, count), SLOWEST, FASTEST)


def _measured(rng: np.random.Generator, land: _Land, day: _Day, climb: _Met, lowest_m: float) -> TrueClimb:
    """What the flight tells: the column's place, and its trace down with a wind, rise and ground all wrong.

    The ground is taken at the lowest height of the log, launch and landing included, as `trace_sources` takes it
    where it knows none nearer.
    """
    source, here, altitude = climb.source, climb.here_m, climb.altitude_m
    parcel_mps, strength = climb.parcel_mps, climb.strength_mps
    if source >= 0:
        origin = land.sources[source] + rng.normal(0.0, COLUMN_SD_M, 2)
        ground = land.height_m(*origin)
        column = origin + day.wind * max(altitude - ground, 0.0) / parcel_mps
    else:
        column = here
    place_sd = 35.0 if rng.uniform() < 0.6 else 60.0
    met = column + rng.normal(0.0, place_sd, 2)
    told_wind = day.wind + day.wind_error + rng.normal(0.0, CLIMB_WIND_ERROR_MPS, 2)
    told_rise = 0.8 * (strength + PILOT_SINK_MPS + rng.normal(0.0, 0.15))
    below = max(altitude - lowest_m, 50.0)
    age = below / told_rise
    ground_sd = math.hypot(0.35 * below, 150.0)
    speed = float(np.hypot(*told_wind))
    across = math.hypot(place_sd, 0.4 * age)
    along = math.hypot(across, speed * math.hypot(0.35 * age, ground_sd / told_rise))
    traced = met - told_wind * age
    return TrueClimb(
        source if source < land.country.sources else -1, climb.time_s, strength,
        (float(met[0]), float(met[1])), altitude, (float(traced[0]), float(traced[1])), lowest_m,
        along, across, math.degrees(math.atan2(told_wind[0], told_wind[1])) % 360.0,
    )  # fmt: skip
