"""Seasons of flights over ground whose thermal sources are known: entries of climbs with drift, noise and traffic.

Nothing here is taken from the analysis. Pilots fly legs from two launches, now to ground they know, now anywhere;
where a leg passes a column that rises from a source, or a stray one from anywhere, they may climb. Each day has
its wind. What a flight measures of a climb is where the air was met, with its error, and the trace down to the
ground with a wind, a rise and a ground height that are each somewhat wrong.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
WIDTH_M, DEPTH_M = 22_000.0, 12_000.0
GLIDE_RATIO, GLIDE_MPS, STEP_M = 8.0, 10.5, 100.0
MEET_M = 350.0  # so near a leg passes a column that is met
PILOT_SINK_MPS = 1.2


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

    def visits(self) -> npt.NDArray[np.int64]:
        """In how many flights each source was climbed from."""
        found = [{climb.source for climb in flight.climbs} for flight in self.flights]
        return np.array([sum(number in one for one in found) for number in range(len(self.sources_m))])


@dataclass
class _Land:
    """The ground and its sources."""

    rng: np.random.Generator
    sources: Floats
    strengths: Floats
    busy: Floats  # how often each is active
    waves: Floats = field(init=False)

    def __post_init__(self) -> None:
        self.waves = self.rng.uniform([-1.2e-3, -1.2e-3, 0.0], [1.2e-3, 1.2e-3, 6.3], (5, 3))

    def height_m(self, east: Floats, north: Floats) -> Floats:
        """Rolling country, 200 m between valley and hill."""
        phase = self.waves[:, 0] * east[..., None] + self.waves[:, 1] * north[..., None] + self.waves[:, 2]
        return 500.0 + 50.0 * np.asarray(np.sin(phase)).sum(axis=-1)


def fly_season(flights: int, seed: int, *, sources: int = 30, stray_share: float = 0.2) -> TrueSeason:
    """A season of so many flights; about this share of the climbs come from no lasting source."""
    rng = np.random.default_rng(seed)
    land = _Land(
        rng,
        _scattered(rng, sources),
        rng.uniform(1.2, 3.2, sources),
        np.clip(rng.lognormal(math.log(0.6), 0.4, sources), 0.1, 0.95),
    )
    season = [_fly(rng, land, number, stray_share) for number in range(flights)]
    return TrueSeason(land.sources, land.strengths, tuple(season))


def _scattered(rng: np.random.Generator, count: int) -> Floats:
    """Places at least 800 m apart."""
    kept: list[Floats] = []
    while len(kept) < count:
        place = rng.uniform([0.0, 0.0], [WIDTH_M, DEPTH_M])
        if all(np.hypot(*(place - other)) >= 800.0 for other in kept):
            kept.append(place)
    return np.array(kept)


def _fly(rng: np.random.Generator, land: _Land, number: int, stray_share: float) -> TrueFlight:
    """One flight from one of two launches until it comes down, four hours at most."""
    toward, speed = rng.normal(math.radians(70.0), math.radians(50.0)), rng.uniform(0.5, 5.5)
    wind = speed * np.array([math.sin(toward), math.cos(toward)])
    active = 1.0 * (rng.uniform(size=len(land.sources)) < land.busy)
    strays = stray_share / (1.0 - stray_share) * 0.020  # columns of sources are met every 5 km or so
    launch = np.array([[5000.0, 6000.0], [14000.0, 5000.0]])[rng.integers(2)]
    here, altitude = launch.copy(), float(land.height_m(*launch)) + 700.0
    start_s = 1.78e9 + 86400.0 * number + rng.uniform(10.0, 13.0) * 3600.0
    time_s, points, climbs = start_s, [here.copy()], []
    ceiling_m = 500.0 + rng.uniform(1000.0, 1800.0)
    lowest_m = float(land.height_m(*launch)) - 100.0
    goal, left = _goal(rng, land, launch, here, wind, active)
    used: dict[int, float] = {}
    while time_s - start_s < 4 * 3600.0:
        step = goal - here
        here = here + step / max(np.hypot(*step), 1.0) * STEP_M
        time_s, altitude, left = time_s + STEP_M / GLIDE_MPS, altitude - STEP_M / GLIDE_RATIO, left - STEP_M
        points.append(here.copy())
        height = altitude - float(land.height_m(*here))
        if height < 60.0:
            break
        if left <= 0.0:
            goal, left = _goal(rng, land, launch, here, wind, active)
        met = (
            None
            if altitude > ceiling_m - 200.0
            else _met(rng, land, here, height, wind, active, used, time_s, strays)
        )
        if met is None:
            continue
        source, parcel_mps, strength = met
        climb = _measured(rng, land, source, here, altitude, wind, parcel_mps, strength, time_s, lowest_m)
        climbs.append(climb)
        gain = min(rng.uniform(300.0, 1000.0), ceiling_m - altitude)
        time_s, altitude = time_s + gain / strength, altitude + gain
        here = here + wind * gain / strength
        used[source] = time_s
        goal, left = _goal(rng, land, launch, here, wind, active)
    return TrueFlight(start_s, time_s - start_s, np.array(points), tuple(climbs))


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
    rng: np.random.Generator, land: _Land, here: Floats, height: float, wind: Floats, active: Floats,
    used: dict[int, float], time_s: float, strays: float,
) -> tuple[int, float, float] | None:  # fmt: skip
    """The column met here, if any: its source, how fast its parcels rose, and the climb it gives."""
    strength = np.maximum(land.strengths * rng.lognormal(0.0, 0.25, len(land.strengths)), 0.6)
    parcel = (strength + PILOT_SINK_MPS) * np.clip(rng.normal(0.8, 0.28, len(strength)), 0.35, 1.5)
    columns = land.sources + wind * (height / parcel)[:, None] + rng.normal(0.0, 50.0, land.sources.shape)
    away = np.hypot(*(columns - here).T)
    fresh = np.array([time_s - used.get(number, -1e9) > 900.0 for number in range(len(away))])
    near = np.flatnonzero((away < MEET_M) & (active > 0) & fresh & (rng.uniform(size=len(away)) < 0.9))
    if near.size:
        chosen = int(near[np.argmin(away[near])])
        return chosen, float(parcel[chosen]), float(strength[chosen])
    if rng.uniform() < strays:
        strength_mps = float(rng.uniform(0.8, 2.5))
        return -1, (strength_mps + PILOT_SINK_MPS) * float(np.clip(rng.normal(0.8, 0.28), 0.35, 1.5)), strength_mps
    return None


def _measured(
    rng: np.random.Generator, land: _Land, source: int, here: Floats, altitude: float, wind: Floats,
    parcel_mps: float, strength: float, time_s: float, lowest_m: float,
) -> TrueClimb:  # fmt: skip
    """What the flight tells: the column's place, and its trace down with a wind, rise and ground all wrong."""
    if source >= 0:
        origin = land.sources[source] + rng.normal(0.0, 50.0, 2)
        ground = float(land.height_m(*origin))
        column = origin + wind * max(altitude - ground, 0.0) / parcel_mps
    else:
        column = here
    place_sd = 35.0 if rng.uniform() < 0.6 else 60.0
    met = column + rng.normal(0.0, place_sd, 2)
    told_wind = wind + rng.normal(0.0, 0.4, 2)
    told_rise = 0.8 * (strength + PILOT_SINK_MPS + rng.normal(0.0, 0.15))
    below = max(altitude - lowest_m, 50.0)
    age = below / told_rise
    ground_sd = math.hypot(0.35 * below, 150.0)
    speed = float(np.hypot(*told_wind))
    across = math.hypot(place_sd, 0.4 * age)
    along = math.hypot(across, speed * math.hypot(0.35 * age, ground_sd / told_rise))
    traced = met - told_wind * age
    return TrueClimb(
        source, time_s, strength, (float(met[0]), float(met[1])), altitude, (float(traced[0]), float(traced[1])),
        lowest_m, along, across, math.degrees(math.atan2(told_wind[0], told_wind[1])) % 360.0,
    )  # fmt: skip
