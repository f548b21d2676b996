"""How well the thermal map tells simulated seasons: `python -m tests.truth.season_study` flies them and prints.

Seasons over different countries, and seasons over none whose thermals last: there every spot is false.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from functools import lru_cache

import numpy as np

from flightlog.arrays import frozen_floats
from flightlog.earth.geodesy import LocalPlane
from flightlog.measures.results import Event
from flightlog.season.records import ClimbStart, SeasonFlight, TracedSource, Way
from flightlog.season.results import ThermalRegion
from flightlog.season.thermal_map import thermal_regions
from tests.truth.season_truth import Country, TrueClimb, TrueFlight, TrueSeason, fly_season

PLANE = LocalPlane(46.0, 8.0)
FOUND_M = 400.0
"""A spot this near is a source's: they stand 800 m apart and more."""
NEIGHBOUR_M = 800.0
"""A spot with a source this near should hold it within its radius; else it comes from none."""
WORST_RADIUS_M = 3000.0
"""As in the debrief: a trace that is worse is not told."""
COUNTRIES = {
    "rolling": Country(),
    "hills": Country(relief_m=250.0, day_sources=4),
    "one wind": Country(wind_spread_deg=15.0, parcel_share=0.65, relief_m=200.0),
    "club": Country(pilots_a_day=4, day_sources=6),
    "nothing lasts": Country(sources=0, day_sources=30),
    "nothing lasts, club": Country(sources=0, day_sources=30, pilots_a_day=4),
    "nothing lasts, meet": Country(sources=0, day_sources=15, pilots_a_day=8),
    "nothing lasts, one wind": Country(sources=0, day_sources=30, wind_spread_deg=15.0, relief_m=200.0),
    "thrown on ways": Country(),  # `by_chance`
}
"""Kinds of seasons. Club: four pilots a day, who share its thermals; meet: eight, who share few; one wind:
prevailing, and parcels rise slower on their way than is reckoned with."""
STUDY = (
    ("rolling", 15, 12), ("rolling", 30, 24), ("rolling", 100, 8), ("hills", 100, 5), ("one wind", 30, 16),
    ("club", 100, 5), ("nothing lasts", 30, 20),
    ("nothing lasts, club", 100, 8), ("nothing lasts, one wind", 30, 16),
    ("thrown on ways", 30, 24),
)  # fmt: skip
"""Kind, flights, seasons."""

HEAD = (
    f"{'season':24} {'flights':>7} {'seasons':>7} {'used 3+':>8} {'found':>6} {'used 5+':>8} {'found':>6}"
    f" {'sure':>6} {'false':>6} {'possible':>9} {'false':>6} {'radii hold':>10} {'off m':>6}"
)


@dataclass
class Score:
    """Counts over seasons, and how far spots lie off the source next to them, with their radii.

    `counts`: `maps`; `used 3`, `used 5`: sources climbed from on so many days, `found 3`, `found 5` of them;
    `sure`, `possible`: spots, `false sure`, `false possible` of them.
    """

    counts: Counter[str] = field(default_factory=Counter)
    off_m: list[float] = field(default_factory=list)
    radius_m: list[float] = field(default_factory=list)

    def add(self, other: Score) -> None:
        """Join other seasons'."""
        self.counts += other.counts
        self.off_m += other.off_m
        self.radius_m += other.radius_m

    def share(self, part: str, whole: str) -> float:
        """One count over another."""
        return self.counts[part] / self.counts[whole] if self.counts[whole] else math.nan

    @property
    def held(self) -> float:
        """The share of radii that hold the source, of spots that have one within `NEIGHBOUR_M`."""
        return float(np.mean(np.array(self.off_m) <= self.radius_m)) if self.off_m else math.nan


def score(season: TrueSeason, region: ThermalRegion) -> Score:
    """One season's map against its sources; those nobody climbed from are none."""
    days = season.days_used()
    sources = season.sources_m[days > 0]
    east, north = PLANE.to_plane([s.lat_deg for s in region.spots], [s.lon_deg for s in region.spots])
    apart = np.hypot(east[:, None] - sources[:, 0], north[:, None] - sources[:, 1])
    nearest = apart.min(axis=1, initial=math.inf)
    is_found = apart.min(axis=0, initial=math.inf) < FOUND_M
    counts = Counter(maps=1)
    for least in (3, 5):
        used = days[days > 0] >= least
        counts[f"used {least}"] = int(used.sum())
        counts[f"found {least}"] = int(is_found[used].sum())
    told = Score(counts)
    for spot, off in zip(region.spots, nearest.tolist(), strict=True):
        counts[spot.grade] += 1
        counts[f"false {spot.grade}"] += int(off > max(FOUND_M, spot.radius_m))
        if off < NEIGHBOUR_M:
            told.off_m.append(off)
            told.radius_m.append(spot.radius_m)
    return told


def score_of(job: tuple[str, int, int]) -> Score:
    """The score of one season: its kind, flights and seed."""
    kind, flights, seed = job
    season = _flown(flights, seed, COUNTRIES[kind])
    if kind == "thrown on ways":
        season = by_chance(season, seed)
    (region,) = thermal_regions(as_season(season), UTC)
    return score(season, region)


_flown = lru_cache(maxsize=4)(fly_season)


def scores_of(kind: str, flights: int, seeds: Iterable[int]) -> Score:
    """The score of several seasons of a kind."""
    total = Score()
    for seed in seeds:
        total.add(score_of((kind, flights, seed)))
    return total


def as_season(season: TrueSeason) -> list[SeasonFlight]:
    """The flights as the program keeps them."""
    return [_flight(number, flight) for number, flight in enumerate(season.flights)]


def _flight(number: int, flight: TrueFlight) -> SeasonFlight:
    """One flight as the program keeps it."""
    start, end = (datetime.fromtimestamp(t, tz=UTC) for t in (flight.start_s, flight.start_s + flight.duration_s))
    lat, lon = PLANE.to_degrees(flight.way_m[:, 0], flight.way_m[:, 1])
    seconds = np.full(len(lat), 100.0 / 10.5)
    return SeasonFlight(
        file=f"{number}.igc", sha256=f"{number:064x}", has_date=True, pilot=None, wing=None, number=1,
        takeoff=Event(start, float(lat[0]), float(lon[0]), 1000.0, None, "foot_launch"),
        landing=Event(end, float(lat[-1]), float(lon[-1]), 500.0, None, "landing"),
        duration_s=flight.duration_s, altitude_gain_m=None, glide_ratio_ground=None, glide_ratio_air=None,
        best_glide_ratio=None, mean_climb_mps=None, centred_share=None, go_arounds=0, reviewed_landings=0,
        launch_run_s=None, launch_headwind_mps=None, aborted_runs=None,
        climbs=tuple(_climb(climb) for climb in flight.climbs),
        way=Way(frozen_floats(lat), frozen_floats(lon), frozen_floats(seconds), True),
    )  # fmt: skip


def _climb(climb: TrueClimb) -> ClimbStart:
    """A climb as the program keeps it."""
    lat, lon = PLANE.to_degrees(*np.transpose([climb.met_m, climb.traced_m]))
    (met_lat, traced_lat), (met_lon, traced_lon) = lat.tolist(), lon.tolist()
    longer = math.sqrt(max(climb.along_sd_m**2 - climb.across_sd_m**2, 0.0))
    is_told = math.hypot(2.448 * climb.across_sd_m, 1.96 * longer) <= WORST_RADIUS_M
    source = TracedSource(
        traced_lat, traced_lon, climb.ground_altitude_m, climb.along_sd_m, climb.across_sd_m, climb.drift_to_deg,
        met_lat, met_lon, climb.met_altitude_m,
    )  # fmt: skip
    return ClimbStart(
        climb.time_s,
        met_lat,
        met_lon,
        climb.met_altitude_m,
        climb.strength_mps,
        400.0,
        source if is_told else None,
    )


def by_chance(season: TrueSeason, seed: int) -> TrueSeason:
    """The same flights with each climb met anywhere on any way, traced down by its own drift."""
    chance = np.random.default_rng(seed)
    way = np.concatenate([flight.way_m for flight in season.flights])

    def moved(climb: TrueClimb) -> TrueClimb:
        met = way[chance.integers(len(way))]
        traced = met - np.subtract(climb.met_m, climb.traced_m)
        return replace(
            climb, source=-1, traced_m=(float(traced[0]), float(traced[1])), met_m=(float(met[0]), float(met[1]))
        )

    flights = [replace(flight, climbs=tuple(moved(climb) for climb in flight.climbs)) for flight in season.flights]
    return replace(season, flights=tuple(flights))


def table() -> Iterable[str]:
    """The study, a line a kind and number of flights."""
    yield HEAD
    with ProcessPoolExecutor(2) as pool:
        for row, (kind, flights, seasons) in enumerate(STUDY):
            total = Score()
            for one in pool.map(score_of, [(kind, flights, 100_000 + 1000 * row + n) for n in range(seasons)]):
                total.add(one)
            yield told(kind, flights, total)


def told(kind: str, flights: int, total: Score) -> str:
    """One line of the table."""
    counts = total.counts
    return (
        f"{kind:24} {flights:7} {counts['maps']:7} {counts['used 3']:8} {total.share('found 3', 'used 3'):6.2f}"
        f" {counts['used 5']:8} {total.share('found 5', 'used 5'):6.2f}"
        f" {counts['sure']:6} {counts['false sure']:6} {counts['possible']:9} {counts['false possible']:6}"
        f" {total.held:10.3f} {float(np.median(total.off_m or [math.nan])):6.0f}"
    )


if __name__ == "__main__":
    for line in table():
        print(line, flush=True)
