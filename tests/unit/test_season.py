"""The season review of flights made by hand: days, rates, trends, places, the way flown, the thermal map."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, timedelta, timezone

import numpy as np
import pytest

from flightlog.season.calendar import launch_totals
from flightlog.season.records import mean_climb, season_flights, season_flights_from_results, way_between_corners
from flightlog.season.reviewing import review_season
from flightlog.season.spots import expected_by_chance
from flightlog.season.traffic import traffic_of
from flightlog.season.trends import go_around_change, halves_p_value
from tests.unit.made_debrief import made_debrief
from tests.unit.made_season import LAT, LON, SPOTS_M, about, made_flight, position

RISING = [made_flight(day, ratio=6.0 + 0.05 * day + 0.2 * (-1) ** day) for day in range(1, 41, 3)]


def test_a_figure_that_rose_is_told_and_one_that_did_not_is_not() -> None:
    ratio, _, _, climb, _ = review_season(RISING).trends
    assert (ratio.figure, ratio.verdict) == ("glide_ratio_ground", "higher")
    assert ratio.change is not None
    assert ratio.change.value == pytest.approx(0.05 * 39, abs=0.1)  # 39 days
    assert ratio.change.low > 1.0
    assert (climb.verdict, climb.change and climb.change.low < 0.0) == ("no_change_told", True)
    assert ratio.line[0].time == RISING[0].takeoff.time
    assert ratio.line[-1].figure.value - ratio.line[0].figure.value == pytest.approx(ratio.change.value)


def test_wings_have_levels_of_their_own() -> None:
    # the second wing glides 3 better and came in the second half: within each wing nothing changed
    flights = [made_flight(day, ratio=7.0 if day < 20 else 10.0, wing="old" if day < 20 else "new") for day in
               range(1, 40, 3)]  # fmt: skip
    alone = review_season(flights).trends[0]
    together = review_season([replace(flight, wing="one") for flight in flights]).trends[0]
    assert (alone.groups, alone.verdict) == (2, "no_change_told")
    assert together.verdict == "higher"


def test_too_short_a_season_has_no_line_and_says_why() -> None:
    few = review_season([made_flight(day) for day in (1, 20, 40)]).trends[0]
    assert (few.mean, few.line, few.verdict) == (None, (), None)
    assert "5 days" in (few.note or "")
    week = review_season([made_flight(day) for day in range(1, 8)]).trends[0]
    assert week.mean is not None
    assert week.verdict is None
    assert "within a week" in (week.note or "")


def test_go_arounds_by_month_and_half_with_exact_intervals() -> None:
    flights = [made_flight(day, go_arounds=int(day > 30)) for day in range(1, 61, 2)]
    review = review_season(flights)
    april, may = review.months
    assert (april.month, april.go_arounds, april.reviewed_landings) == ("2026-04", 0, 15)
    # Garwood 1936: none in 15 landings is below 3.689 / 15, from published tables of the exact interval
    assert april.go_arounds_per_landing is not None
    assert april.go_arounds_per_landing.high == pytest.approx(3.689 / 15, abs=1e-4)
    assert may.go_arounds == may.reviewed_landings == 15
    change = review.go_arounds
    assert (change.verdict, change.second_half_from) == ("more", "2026-05-01")
    assert change.p_value == pytest.approx(2 * 0.5**15)  # all fifteen in one of two equal halves
    assert go_around_change([made_flight(1)], UTC).verdict is None
    assert halves_p_value(3, 10, 0, 0) is None


def test_days_follow_the_clock_of_the_review() -> None:
    flights = [made_flight(1), made_flight(2)]
    assert [day.date for day in review_season(flights).days] == ["2026-04-01", "2026-04-02"]
    far_east = review_season(flights, zone=timezone(timedelta(hours=14)), zone_name="UTC+14")
    assert (far_east.days[0].date, far_east.zone) == ("2026-04-02", "UTC+14")
    part = review_season(flights, first_date=date(2026, 4, 2))
    assert (part.flights, part.first_date) == (1, "2026-04-02")


def test_the_same_log_counts_once_and_undated_ones_are_in_no_trend() -> None:
    review = review_season([*RISING, replace(RISING[0], file="again.igc"), made_flight(99, has_date=False)])
    assert review.flights == len(RISING) + 1
    assert {problem.code for problem in review.problems} == {"same_log", "no_date"}
    assert len(review.trends[0].points) == len(RISING)


def test_places_are_those_named_and_those_where_contacts_crowd() -> None:
    unnamed = [made_flight(day, place=None) for day in (1, 2)]
    named = [made_flight(day) for day in (3, 4)]
    ends_in_air = replace(made_flight(5), landing=replace(made_flight(5).landing, kind="end_of_log"))
    places = review_season([*unnamed, *named, ends_in_air]).places
    assert [(place.name, place.is_named, place.takeoffs, place.landings) for place in places] == [
        ("place 1", False, 2, 2),
        ("Hill", True, 3, 2),
    ]
    assert (places[1].lat_deg, places[1].lon_deg) == pytest.approx((LAT, LON), abs=1e-3)
    assert (places[1].first_date, places[1].last_date) == ("2026-04-03", "2026-04-05")


def test_launches_count_runs_given_up() -> None:
    totals = launch_totals([made_flight(day) for day in range(1, 11)])
    assert (totals.foot_launches, totals.reviewed_launches, totals.aborted_runs) == (10, 10, 2)
    assert totals.aborted_per_launch is not None
    assert totals.aborted_per_launch.value == pytest.approx(0.2)


def test_spots_are_found_where_traces_meet_with_their_strength_and_hours() -> None:
    review = review_season([made_flight(day) for day in range(1, 25)])
    (region,) = review.thermals
    assert (region.climbs, region.traced_climbs) == (48, 48)
    assert [spot.grade for spot in region.spots] == ["sure", "sure"]
    for k, (east, north) in enumerate(SPOTS_M):
        lat, lon = position(east, north)
        (spot,) = [spot for spot in region.spots if abs(spot.lat_deg - lat) < 1e-3]
        assert spot.lon_deg == pytest.approx(lon, abs=1e-3)
        assert spot.climbs == pytest.approx(24.0, abs=0.5)
        assert spot.flights == 24
        assert spot.climbs > 5.0 * spot.expected_climbs
        assert spot.strength_mps is not None
        assert spot.strength_mps.median == pytest.approx(1.5 + k)
        assert [count.hour for count in spot.hours] == [11]
    assert sum(cell.climbs for cell in region.cells) == pytest.approx(48.0, abs=1.0)
    assert sum(cell.hours_flown for cell in region.cells) == pytest.approx(
        region.hours_flown, rel=0.15
    )  # less squares hardly flown


def test_regions_far_apart_have_maps_of_their_own() -> None:
    far = [replace(flight, takeoff=replace(flight.takeoff, lat_deg=-30.0), climbs=()) for flight in RISING[:2]]
    assert len(review_season([*RISING, *far]).thermals) == 1  # nobody climbed there
    assert review_season([]).thermals == ()
    assert review_season([]).flights == 0


def test_traffic_expects_as_many_climbs_as_there_are_where_the_flying_was() -> None:
    east = np.concatenate([np.zeros(300), np.full(100, 4000.0)])
    traffic = traffic_of((east, np.zeros(400), np.full(400, 0.01)), (np.array([0.0, 4000.0] * 10), np.zeros(20)))
    assert traffic.expected_per_m2.sum() * traffic.step_m**2 == pytest.approx(20.0)
    assert traffic.hours_per_m2.sum() * traffic.step_m**2 == pytest.approx(4.0, rel=0.01)
    busy, quiet = traffic.hours_at(np.array([0.0, 4000.0]), np.zeros(2))
    assert busy == pytest.approx(3.0 * quiet, rel=0.1)  # between the middles of cells


def test_chance_counts_fall_beyond_what_was_drawn() -> None:
    gains = np.array([1.0, 2.0, 3.0, 4.0])
    assert expected_by_chance(1.5, gains, 3) == pytest.approx(3 / 3)
    assert expected_by_chance(9.0, gains, 4) == pytest.approx(4 / 4 * np.exp(-8.0))


def test_figures_of_a_debrief_and_of_its_results_alone_are_the_same() -> None:
    debrief = made_debrief()
    recorded = season_flights(debrief)
    alone = season_flights_from_results(debrief.log, debrief.flights)
    for one, other in zip(recorded, alone, strict=True):
        assert {k: v for k, v in vars(one).items() if k != "way"} == {
            k: v for k, v in vars(other).items() if k != "way"
        }
        assert one.way.is_recorded
        assert not other.way.is_recorded
    flight = debrief.flights[0]
    known = replace(
        flight.climbs[0],
        start_lat_deg=46.01,
        start_lon_deg=8.0,
        end_lat_deg=46.02,
        end_lon_deg=8.0,
        mode="circling",
    )
    way = way_between_corners(replace(flight, climbs=(known,)))
    outside = flight.duration_s - (known.end - known.start).total_seconds()
    assert way.seconds_s.sum() == pytest.approx(outside, abs=60.0)
    assert not ((way.lat_deg > 46.0101) & (way.lat_deg < 46.0199) & (way.lon_deg == 8.0)).all()


def test_climbs_together_are_gain_over_time() -> None:
    climb = made_debrief().flights[0].climbs[0]
    twice = replace(climb, end=climb.start + 2 * (climb.end - climb.start), mean_climb_mps=about(1.0, 0.1))
    together = mean_climb([replace(climb, mean_climb_mps=about(4.0, 0.1)), twice])
    assert together is not None
    assert together.value == pytest.approx((4.0 + 2 * 1.0) / 3.0)
    assert mean_climb([]) is None
