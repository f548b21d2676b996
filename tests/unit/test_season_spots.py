"""Votes of days, chance maps, and the places of spots, on climbs made by hand."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import UTC

import numpy as np
import pytest
from scipy.stats import lognorm

from flightlog.arrays import Floats
from flightlog.earth.geodesy import LocalPlane
from flightlog.measures.thermal_sources import CIRCLES_PLACE_SD_M, CORE_PLACE_SD_M, PARCEL_SHARE_SD
from flightlog.season.drifts import likely_drifts
from flightlog.season.meetings import meetings_of
from flightlog.season.spot_places import LOWEST_LAYER_SD_M, SEASON_SHARE_SD, place_spots, season_drift
from flightlog.season.traces import DRIFT_PARTS, SPOT_WIDTH_M, Traces, kernel_of
from flightlog.season.traffic import TRAFFIC_WIDTH_M, traffic_of
from flightlog.season.votes import days_of_flights, votes_of
from tests.unit.made_season import LAT, LON, SPOTS_M, made_flight

DRIFT_M, HEIGHT_M, GROUND_SD_M, ACROSS_SD_M = 1000.0, 1000.0, 200.0, 60.0


def traces(directions_rad: Floats, drifted: float = 1.0) -> Traces:
    """Climbs of a spot at (0, 0), each drifted by `drifted` of what was reckoned with."""
    count = len(directions_rad)
    lean = DRIFT_M / HEIGHT_M
    along = math.sqrt(ACROSS_SD_M**2 + (PARCEL_SHARE_SD * DRIFT_M) ** 2 + (lean * GROUND_SD_M) ** 2)
    off = (drifted - 1.0) * DRIFT_M
    return Traces(
        off * np.sin(directions_rad), off * np.cos(directions_rad), np.full(count, along),
        np.full(count, ACROSS_SD_M), directions_rad, np.full(count, DRIFT_M), np.full(count, HEIGHT_M),
        np.full(count, 500.0),
    )  # fmt: skip


def test_errors_that_climbs_share_are_not_averaged_out_down_one_wind() -> None:
    (place,) = place_spots(traces(np.zeros(100)), np.ones((1, 100)))
    shared = math.hypot(SEASON_SHARE_SD * DRIFT_M, GROUND_SD_M * DRIFT_M / HEIGHT_M, LOWEST_LAYER_SD_M)
    own = math.sqrt(PARCEL_SHARE_SD**2 - SEASON_SHARE_SD**2) * DRIFT_M
    narrow = math.hypot(ACROSS_SD_M, SPOT_WIDTH_M) / 10.0
    wide = math.sqrt(shared**2 + (own**2 + ACROSS_SD_M**2 + SPOT_WIDTH_M**2) / 100.0)
    # 95 % of a round normal distribution lie within 2.448 standard deviations, of a line within 1.960
    assert place.radius_m == pytest.approx(
        math.hypot(2.448 * narrow, 1.960 * math.sqrt(wide**2 - narrow**2)), rel=0.01
    )
    (crossed,) = place_spots(traces(np.linspace(0.0, 2.0 * np.pi, 100, endpoint=False)), np.ones((1, 100)))
    assert crossed.radius_m < 0.2 * place.radius_m


def test_winds_from_many_sides_tell_how_far_climbs_drifted() -> None:
    around = np.linspace(0.0, 2.0 * np.pi, 40, endpoint=False)
    # traces that fall short by 300 m each: drift 0.3 longer, less what the ground may explain
    told = season_drift(traces(around, 1.3), np.ones((1, 40)))
    assert 0.1 < told < 0.3
    (place,) = place_spots(traces(around, 1.3), np.ones((1, 40)))
    assert math.hypot(place.east_m, place.north_m) < 1.0


def test_drifts_are_drawn_toward_the_season_as_far_as_their_errors_tell() -> None:
    # regression dilution: drifts told with an error of variance e, of a season's variance v, are in the mean
    # v / (v + e) as far from its mean as told (Fuller 1987, Measurement Error Models, section 1.1; from memory)
    chance = np.random.default_rng(5)
    true = chance.normal([600.0, 200.0], 150.0, (4000, 2))
    told = true + chance.normal(0.0, 90.0, (4000, 2))
    across = np.full(4000, math.sqrt(90.0**2 + 0.5 * (CORE_PLACE_SD_M**2 + CIRCLES_PLACE_SD_M**2)))
    heights = np.full(4000, HEIGHT_M)
    made = Traces(
        *-told.T, np.hypot(across, 300.0), across, np.arctan2(*told.T), np.hypot(*told.T), heights, heights
    )  # fmt: skip
    likely = likely_drifts(made)
    drift = likely.drift_m * np.stack([np.sin(likely.drift_to_rad), np.cos(likely.drift_to_rad)])
    share = 150.0**2 / (150.0**2 + 90.0**2)
    assert np.polyfit(told[:, 0], drift[0], 1)[0] == pytest.approx(share, abs=0.03)
    assert np.hypot(*(drift.T - true).T).std() < 0.95 * np.hypot(*(told - true).T).std()
    met = drift + np.stack([likely.east_m, likely.north_m])  # stays where it was
    assert np.abs(met).max() < 1e-9
    # what was truly drifted, over what is now reckoned with: no longer longer for the short ones
    short = drift[0] < 500.0
    assert (true[short, 0] - drift[0][short]).mean() == pytest.approx(0.0, abs=10.0)
    assert (true[:, 0] - told[:, 0])[told[:, 0] < 500.0].mean() > 30.0


def test_few_drifts_and_calm_ones_are_left_as_they_are() -> None:
    made = traces(np.linspace(0.0, 1.0, 5))
    assert likely_drifts(made) is made
    calm = replace(traces(np.zeros(12)), drift_m=np.zeros(12), height_m=np.zeros(12))
    assert likely_drifts(calm).drift_m == pytest.approx(np.zeros(12))
    (place,) = place_spots(calm, np.ones((1, 12)))
    assert np.isfinite([place.east_m, place.north_m, place.radius_m]).all()


def test_a_spot_whose_traces_miss_each_other_has_a_wider_radius() -> None:
    made = traces(np.linspace(0.0, 2.0 * np.pi, 12, endpoint=False))
    scattered = made.placed(*np.random.default_rng(1).normal(0.0, 900.0, (2, 12)))
    (alike,), (apart,) = (place_spots(one, np.ones((1, 12))) for one in (made, scattered))
    assert apart.radius_m > 1.5 * alike.radius_m


def test_drift_has_the_mean_and_variance_of_a_log_normal() -> None:
    mean = sum(weight * middle for weight, middle, _ in DRIFT_PARTS)
    variance = sum(weight * (sd**2 + (middle - mean) ** 2) for weight, middle, sd in DRIFT_PARTS)
    whole = lognorm(PARCEL_SHARE_SD)  # median 1
    assert mean == pytest.approx(whole.mean(), rel=0.01)
    assert math.sqrt(variance) == pytest.approx(whole.std(), rel=0.03)
    kernel = kernel_of(traces(np.array([0.0])))
    steps = 40.0 * np.arange(-100, 101)
    grid = np.stack(np.meshgrid(steps, steps), axis=-1).reshape(-1, 2)
    density = kernel.summed(kernel.densities(grid))[:, 0]
    assert density.sum() * 40.0**2 == pytest.approx(1.0, abs=1e-3)
    # the wind goes north: the source lies south of the trace where the drift was longer
    assert density @ grid[:, 1] / density.sum() == pytest.approx(-(mean - 1.0) * DRIFT_M, abs=5.0)


def test_one_day_gives_a_spot_one_vote_however_many_pilots_meet_it() -> None:
    plane = LocalPlane(LAT, LON)
    same_day = [replace(made_flight(1), sha256=f"{pilot}" * 64) for pilot in range(4)]
    days = days_of_flights(same_day, UTC)
    votes = votes_of(same_day, days, plane)
    assert days.tolist() == [0, 0, 0, 0]
    assert [sorted(vote.flights) for vote in votes] == [[0, 1, 2, 3]] * len(SPOTS_M)
    four_days = [made_flight(day) for day in range(1, 5)]
    assert len(votes_of(four_days, days_of_flights(four_days, UTC), plane)) == 4 * len(SPOTS_M)
    undated = [replace(flight, has_date=False) for flight in same_day]
    assert days_of_flights(undated, UTC).tolist() == [0, 1, 2, 3]


def test_chance_maps_keep_climbs_on_the_ways_of_their_days() -> None:
    east = np.concatenate([np.linspace(0.0, 4000.0, 200), np.linspace(20_000.0, 24_000.0, 200)])
    way = (east, np.zeros(400), np.full(400, 0.01), np.repeat([0, 1], 200))
    day = np.repeat([0, 1, 2], 4)
    met = (np.repeat([1000.0, 22_000.0, 50_000.0], 4) + 900.0 * np.tile(np.arange(4), 3), np.zeros(12))
    moved = (np.zeros(12), np.full(12, -500.0))
    made = replace(traces(np.zeros(12)), east_m=met[0], north_m=met[1] - 500.0)
    meetings = meetings_of(met, moved, day, way, traffic_of(way[:3], met))
    chance = np.random.default_rng(3)
    drawn = [meetings.drawn(made, chance)[0] for _ in range(50)]
    for number, (low, high) in enumerate(((0.0, 4000.0), (20_000.0, 24_000.0), (50_000.0, 52_700.0))):
        own = np.concatenate([one.east_m[day == number] for one in drawn])
        assert own.min() > low - 5.0 * TRAFFIC_WIDTH_M
        assert own.max() < high + 5.0 * TRAFFIC_WIDTH_M  # a day without a way: where its climbs were met
    assert np.mean([one.north_m.mean() for one in drawn]) == pytest.approx(-500.0, abs=50.0)
