"""The landing review: rows, places, totals, on landings made by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest

from flightlog.estimates import Estimate
from flightlog.landings.records import landing_log
from flightlog.landings.reviewing import review_landings
from flightlog.landings.totals import mean_direction_deg, spread_of
from flightlog.places import Place
from tests.unit.made_debrief import TOP, made_debrief, without_flights
from tests.unit.made_landings import at, made_log, made_pass, position, valley_log


def test_one_row_a_landing_with_its_tries_in_order_of_time():
    review = review_landings([made_log(3, 0), made_log(1, 2)])
    assert [(row.number, row.date, row.outcome, row.go_arounds) for row in review.rows] == [
        (1, "2026-06-01", "landed", 2),
        (2, "2026-06-03", "landed", 0),
    ]
    first = review.rows[0]
    assert [one.figures.outcome for one in first.tries] == ["go_around", "go_around", "landed"]
    assert [one.since_last_s for one in first.tries] == [None, 600.0, 600.0]
    assert [one.figures.decision.height_m for one in first.tries[:2]] == [7.0, 8.0]
    assert (review.logs, review.flights) == (2, 2)


def test_places_are_found_where_the_logs_touched_the_ground():
    review = review_landings([made_log(1, 1), made_log(2, 0), valley_log(3)])
    assert [place.name for place in review.places] == ["top 1", "field 1"]
    top, field = review.places
    assert (top.takeoffs, top.landings, field.takeoffs, field.landings) == (3, 2, 0, 1)
    assert top.altitude_m == 900.0
    assert top.altitude_spread_m == pytest.approx(2.739, abs=0.001)  # of 900, 900, 905, 905 and 900
    assert field.altitude_spread_m is None  # one contact tells no spread
    assert (top.first_date, top.last_date) == ("2026-06-01", "2026-06-03")


def test_tries_in_vain_are_a_row_of_their_own():
    review = review_landings([valley_log(3, tries=2)])
    landed = {row.place_name: row for row in review.rows}
    assert landed["top 1"].outcome == "landed_elsewhere"
    assert landed["top 1"].go_arounds == 2
    assert landed["top 1"].lat_deg is None
    assert landed["field 1"].outcome == "landed"
    assert landed["field 1"].go_arounds is None  # not looked for, and so not nought
    assert "top-landing places alone" in landed["field 1"].note


def test_a_log_that_ends_in_the_air_is_told_apart():
    log = valley_log(3)
    log = replace(log, contacts=log.contacts[:1], flights=(replace(log.flights[0], ends_in_air=True),))
    assert [row.outcome for row in review_landings([log]).rows] == ["end_of_log"]


def test_totals_of_a_place():
    review = review_landings([made_log(1, 2), made_log(2, 0), made_log(4, 0), valley_log(5)])
    totals = review.places[0].totals
    assert (totals.go_arounds, totals.reviewed_landings, totals.tries_in_vain) == (3, 3, 1)
    assert totals.go_arounds_per_landing.value == 1.0
    assert totals.go_arounds_per_landing.low == pytest.approx(
        0.6187 / 3, abs=1e-4
    )  # Garwood 1936: 3 gives 0.619-8.77
    assert totals.go_arounds_per_landing.high == pytest.approx(8.7673 / 3, abs=1e-4)
    assert totals.first_try_share.value == pytest.approx(2 / 3)
    assert totals.decision_height_m.median == 7.0
    assert (totals.decision_height_m.least, totals.decision_height_m.greatest) == (7.0, 8.0)
    assert totals.go_around_wind_mps.median == 5.0
    assert totals.go_around_wind_from_deg == 180.0
    assert totals.landing_wind_mps.count == 3
    assert [entry.to_go_m for entry in totals.heights] == [100.0, 50.0, 25.0]
    assert totals.heights[0].broken_off_m.count == 3


def test_possible_passes_are_listed_and_not_counted():
    log = made_log(1, 1)
    doubtful = replace(log.passes[0], figures=replace(log.passes[0].figures, certainty="possible"))
    row = review_landings([replace(log, passes=(doubtful, log.passes[1]))]).rows[0]
    assert (row.go_arounds, row.possible_go_arounds, len(row.tries)) == (0, 1, 2)
    assert row.tries[1].since_last_s is None  # nothing sure before it


def test_counts_come_with_the_interval_of_their_doubts():
    log = made_log(1, 2)
    doubts = [
        replace(one, figures=replace(one.figures, probability=probability, certainty=certainty))
        for one, probability, certainty in zip(
            log.passes, (0.999, 0.2, 1.0), ("sure", "possible", "sure"), strict=True
        )
    ]
    review = review_landings([replace(log, passes=tuple(doubts))])
    assert review.rows[0].go_arounds_interval == Estimate(1.0, 1.0, 2.0)
    assert review.places[0].totals.go_arounds_interval == Estimate(1.0, 1.0, 2.0)


def test_no_landing_gives_no_rate_and_no_nought():
    totals = review_landings([valley_log(2)]).places[0].totals
    assert totals.go_arounds == 1
    assert totals.go_arounds_per_landing is None
    assert totals.first_try_share is None


def test_places_of_the_user_keep_their_names_and_the_rest_is_found():
    top = Place("Windy Top", *position(0.0, 0.0), 880.0, 80.0, ("top_landing",), 10.0)
    log = valley_log(1)
    homed = replace(
        log,
        contacts=(replace(log.contacts[0], home=0), log.contacts[1]),
        passes=tuple(replace(one, home=0) for one in log.passes),
    )
    review = review_landings([homed], (top, replace(top, name="Never used")))
    assert [(place.name, place.is_users) for place in review.places] == [("Windy Top", True), ("field 1", False)]
    assert review.places[0].heading_deg == 10.0


def test_a_log_twice_counts_once_and_is_told():
    log = made_log(1, 1)
    review = review_landings([log, replace(log, file="copy.igc")])
    assert len(review.rows) == 1
    assert [problem.code for problem in review.problems] == ["same_log"]


def test_one_flight_recorded_twice_is_told():
    other = replace(made_log(1, 1), file="second-recorder.igc", sha256="ee" * 32)
    codes = [problem.code for problem in review_landings([made_log(1, 1), other]).problems]
    assert codes == ["flown_at_once"]


def test_the_order_of_the_logs_changes_nothing():
    logs = [made_log(1, 2), made_log(2, 0), valley_log(3)]
    forth, back = review_landings(logs), review_landings(logs[::-1])
    assert forth.rows == back.rows
    assert forth.places == back.places


def test_nothing_gives_an_empty_review():
    review = review_landings([])
    assert (review.rows, review.places, review.logs) == ((), (), 0)
    assert review_landings([landing_log(without_flights())]).rows == ()


def test_what_is_kept_of_a_debrief():
    log = landing_log(made_debrief())
    assert [(contact.is_takeoff, contact.flight) for contact in log.contacts] == [(True, 1), (False, 1)]
    assert all(contact.passes_looked_for for contact in log.contacts)
    assert [one.figures.number for one in log.passes] == [1, 2, 3]
    landed = log.passes[2]
    assert landed.flown_until == len(landed.line_lat_deg)  # nothing is shown after the touchdown
    assert log.passes[0].flown_until < len(log.passes[0].line_lat_deg)
    assert review_landings([log]).rows[0].go_arounds == 1
    assert TOP not in review_landings([log]).rows[0].place_name  # a name of its own: no places were given


def test_directions_are_averaged_as_vectors():
    assert mean_direction_deg([350.0, 20.0]) == pytest.approx(5.0)
    assert mean_direction_deg([0.0, 180.0]) is None
    assert mean_direction_deg([None]) is None


def test_spread_leaves_out_the_unknown():
    assert spread_of([None, float("nan")]) is None
    assert spread_of([4.0, None, 8.0]).median == 6.0


def test_a_landed_pass_belongs_to_the_place_of_the_touchdown():
    """Even where another place lies nearer to the middle of the pass's ground."""
    log, other = made_log(1, 0), valley_log(2)
    astray = replace(
        log.passes[0], lat_deg=position(3000.0, 0.0)[0], lon_deg=position(3000.0, 0.0)[1], altitude_m=400.0
    )
    rows = review_landings([replace(log, passes=(astray,)), other]).rows
    assert [(row.place_name, len(row.tries)) for row in rows if row.file == "day-1.igc"] == [("top 1", 1)]


def test_the_time_between_tries_ends_with_each_try():
    log = made_log(1, 0)
    tries = (made_pass(1, at(1, 12.0)), made_pass(2, at(1, 14.5)), log.passes[0])
    row = review_landings([replace(log, passes=tries)]).rows[0]
    assert [one.since_last_s for one in row.tries] == [None, 150.0, 930.0]


def test_tries_beside_the_take_off_count_to_the_landing_on_the_same_top():
    log = made_log(1, 1)
    apart = replace(
        log,
        contacts=(log.contacts[0], replace(log.contacts[1], lat_deg=position(0.0, 160.0)[0])),
        passes=(log.passes[0], replace(log.passes[1], lat_deg=position(0.0, 160.0)[0])),
    )
    review = review_landings([apart])
    assert [(row.place_name, row.go_arounds, len(row.tries)) for row in review.rows] == [("top 2", 1, 2)]
    assert "measured from there" in review.rows[0].note


def test_tries_at_another_level_stay_apart():
    log = made_log(1, 1)
    north = position(0.0, 160.0)[0]
    apart = replace(
        log,
        contacts=(log.contacts[0], replace(log.contacts[1], lat_deg=north, altitude_m=870.0)),
        passes=(log.passes[0], replace(log.passes[1], lat_deg=north, altitude_m=870.0)),
    )
    assert {row.place_name: row.go_arounds for row in review_landings([apart]).rows} == {"top 1": 1, "top 2": 0}


def test_share_of_tries_broken_off_counts_tries_in_vain():
    """Score interval (Wilson 1927): 3 of 5 tries gives 0.23 to 0.88."""
    review = review_landings([made_log(1, 1), made_log(2, 0), valley_log(3, 2)])
    shares = [place.totals.broken_off_share for place in review.places if place.totals.broken_off_share]
    assert [round(share.value, 2) for share in shares] == [0.6]
    assert (round(shares[0].low, 2), round(shares[0].high, 2)) == (0.23, 0.88)
