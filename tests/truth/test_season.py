"""The thermal map of simulated seasons against the sources they were flown over."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from datetime import UTC, datetime

import numpy as np
import pytest

from flightlog.arrays import frozen_floats
from flightlog.earth.geodesy import LocalPlane
from flightlog.measures.results import Event
from flightlog.season.records import ClimbStart, SeasonFlight, TracedSource, Way
from flightlog.season.results import ThermalRegion
from flightlog.season.thermal_map import thermal_regions
from tests.truth.season_truth import TrueClimb, TrueFlight, TrueSeason, fly_season

PLANE = LocalPlane(46.0, 8.0)
FOUND_M = 300.0  # a spot this near is the source's: they stand 800 m apart and more
WORST_RADIUS_M = 3000.0  # as in the debrief: a trace that is worse is not told
USED_BY = 5  # flights: fewer leave no more of a source than stray climbs do


def as_season(season: TrueSeason) -> list[SeasonFlight]:
    return [_flight(number, flight) for number, flight in enumerate(season.flights)]


def _flight(number: int, flight: TrueFlight) -> SeasonFlight:
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
    met, traced = (tuple(float(x) for x in PLANE.to_degrees(*place)) for place in (climb.met_m, climb.traced_m))
    longer = math.sqrt(max(climb.along_sd_m**2 - climb.across_sd_m**2, 0.0))
    source = TracedSource(
        *traced, climb.ground_altitude_m, climb.along_sd_m, climb.across_sd_m, climb.drift_to_deg, *met,
        climb.met_altitude_m,
    )  # fmt: skip
    is_told = math.hypot(2.448 * climb.across_sd_m, 1.96 * longer) <= WORST_RADIUS_M
    return ClimbStart(
        climb.time_s, *met, climb.met_altitude_m, climb.strength_mps, 400.0, source if is_told else None
    )


@dataclass
class Score:
    """Sources used often enough and how many were found; spots and how many are right; how far off they are."""

    used: int = 0
    found: int = 0
    spots: int = 0
    right: int = 0
    sure: int = 0
    sure_right: int = 0
    within_radius: int = 0
    off_m: list[float] | None = None

    def add(self, season: TrueSeason, region: ThermalRegion) -> None:
        east, north = PLANE.to_plane([s.lat_deg for s in region.spots], [s.lon_deg for s in region.spots])
        apart = np.hypot(east[:, None] - season.sources_m[:, 0], north[:, None] - season.sources_m[:, 1])
        nearest = apart.min(axis=1)
        used = season.visits() >= USED_BY
        is_sure = np.array([spot.grade == "sure" for spot in region.spots])
        self.used += int(used.sum())
        self.found += int((apart.min(axis=0) < FOUND_M)[used].sum())
        self.spots += len(nearest)
        self.right += int((nearest < FOUND_M).sum())
        self.sure += int(is_sure.sum())
        self.sure_right += int((nearest < FOUND_M)[is_sure].sum())
        self.off_m = [*(self.off_m or []), *nearest[nearest < FOUND_M].tolist()]
        radius = np.array([spot.radius_m for spot in region.spots])
        self.within_radius += int((nearest <= radius)[nearest < FOUND_M].sum())


@pytest.fixture(scope="module")
def scores() -> dict[int, Score]:
    found = {30: Score(), 100: Score()}
    for flights, seed in ((30, 41), (30, 42), (30, 43), (30, 44), (100, 45)):
        season = fly_season(flights, seed)
        (region,) = thermal_regions(as_season(season), UTC)
        found[flights].add(season, region)
    return found


def test_thirty_flights_find_nine_of_ten_sources_that_five_flights_used(scores: dict[int, Score]) -> None:
    score = scores[30]
    assert score.found / score.used >= 0.9
    assert score.right / score.spots >= 0.8
    assert score.sure_right == score.sure


def test_a_hundred_flights_find_nearly_all(scores: dict[int, Score]) -> None:
    score = scores[100]
    assert score.found / score.used >= 0.95
    assert score.right / score.spots >= 0.75
    assert score.sure_right / score.sure >= 0.95


def test_spots_lie_within_their_radius_of_a_source(scores: dict[int, Score]) -> None:
    off = [*(scores[30].off_m or []), *(scores[100].off_m or [])]
    assert float(np.median(off)) < 90.0
    within = scores[30].within_radius + scores[100].within_radius
    assert within / len(off) >= 0.85


def test_climbs_by_chance_where_the_flying_was_make_no_spot() -> None:
    spots = []
    for seed in (46, 47, 48, 49):
        (region,) = thermal_regions(as_season(by_chance(fly_season(50, seed), seed)), UTC)
        assert region.traced_climbs > 50
        spots += region.spots
    # of 20 maps one sure spot is promised; 2 in 4 would come by chance in 2 of 100 runs
    assert [spot.grade for spot in spots].count("sure") <= 1
    assert len(spots) <= 4


def by_chance(season: TrueSeason, seed: int) -> TrueSeason:
    """The same flights with each climb met anywhere on any way."""
    chance = np.random.default_rng(seed)
    way = np.concatenate([flight.way_m for flight in season.flights])

    def moved(climb: TrueClimb) -> TrueClimb:
        angle = math.radians(climb.drift_to_deg)
        along, across = chance.normal(0.0, (climb.along_sd_m, climb.across_sd_m))
        x, y = way[chance.integers(len(way))]
        drift = np.subtract(climb.met_m, climb.traced_m)
        east = x - drift[0] + along * math.sin(angle) + across * math.cos(angle)
        north = y - drift[1] + along * math.cos(angle) - across * math.sin(angle)
        return replace(
            climb, source=-1, traced_m=(east, north), met_m=(east + float(drift[0]), north + float(drift[1]))
        )

    flights = [replace(flight, climbs=tuple(moved(climb) for climb in flight.climbs)) for flight in season.flights]
    return replace(season, flights=tuple(flights))
