"""Which facts of a flight are worth telling, from results made by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest

from flightlog.estimates import Estimate, wind_from_vector
from flightlog.measures import findings as facts
from flightlog.measures.results import ANY_WING, AbortedRun, PolarBasis, SpeedCost, WindBand, WindSample
from flightlog.measures.tellings import PLAIN
from flightlog.settings import PARAGLIDER
from flightlog.wings import Wing
from tests.unit.made_debrief import about, made_flight, moment
from tests.unit.synthetic_motion import Leg
from tests.unit.test_measures_time_budgets import flown

FLIGHT = made_flight()
NONE = about(0.0, 3.0)


def launched(**changes):
    return replace(FLIGHT, launch=replace(FLIGHT.launch, **changes))


def test_go_arounds_stake_the_time_to_the_next_try():
    found = facts.go_arounds(FLIGHT)
    assert [one.number for one in found.passes] == [1]  # the possible one does not count
    assert found.telling == pytest.approx(0.3)
    one = replace(FLIGHT.passes[0], seconds_to_next_s=0.1 * FLIGHT.duration_s, lowest_height_sd_m=2.0)
    late = facts.go_arounds(replace(FLIGHT, passes=(one,)))
    assert late.telling == pytest.approx(0.4)
    assert late.height_sd_m == 2.0
    assert facts.go_arounds(replace(FLIGHT, passes=FLIGHT.passes[1:])) is None


def test_a_launch_is_odd_only_where_that_is_clear():
    assert facts.odd_launch(FLIGHT) is None
    assert facts.odd_launch(launched(headwind_mps=about(-1.0, 1.1))) is None  # may be no wind at all
    behind = facts.odd_launch(launched(headwind_mps=about(-2.0, 1.0)))
    assert behind.tailwind_mps == Estimate(2.0, 1.0, 3.0)
    assert behind.telling == pytest.approx(0.3)
    across = facts.odd_launch(launched(headwind_mps=about(1.0, 2.0), crosswind_mps=about(-3.0, 2.0)))
    assert across.crosswind_mps == about(-3.0, 2.0)
    assert facts.odd_launch(launched(headwind_mps=about(5.0, 1.0), crosswind_mps=about(3.0, 1.0))) is None
    aborted = facts.odd_launch(launched(aborted_runs=(AbortedRun(moment(0), 2.0, 5.0, 2.5),)))
    assert (aborted.aborted, aborted.telling) == (1, pytest.approx(0.075))
    assert facts.odd_launch(launched(aborted_runs=(AbortedRun(moment(0), 2.0, 5.0, 2.4),))) is None
    assert facts.odd_launch(replace(FLIGHT, launch=None)) is None


def test_the_wind_on_the_glides_is_told_only_where_the_ratios_are_apart():
    def rated(ground, air):
        performance = replace(FLIGHT.performance, glide_ratio_ground=ground, glide_ratio_air=air)
        return facts.glides_in_wind(replace(FLIGHT, performance=performance))

    near = rated(about(8.0, 0.2), about(7.7, 0.5))
    assert not near.is_clear
    assert near.telling == PLAIN
    apart = rated(about(8.0, 0.2), about(10.0, 0.5))
    assert apart.is_clear
    assert apart.telling == pytest.approx(310.0 / 919.0 * 0.2)  # a fifth of the glides' share of the flight
    assert rated(None, about(7.7)) is None
    assert not rated(about(8.0), None).is_clear


def winds_at(altitude_m, times_s):
    """Estimates of the wind at that height."""
    return tuple(WindSample(moment(s), altitude_m, wind_from_vector(0.0, 0.0, 0.5, 1.0)) for s in times_s)


def windy(profile, estimates):
    return replace(FLIGHT, wind=replace(FLIGHT.wind, profile=profile, estimates=estimates))


def test_the_wind_changes_with_height_only_beyond_its_error():
    met = winds_at(1100.0, (100, 200, 300)) + winds_at(1500.0, (400, 500, 600))

    def profile(east, se_mps=0.4):
        low = WindBand(1000.0, 1200.0, wind_from_vector(3.0, 0.0, se_mps, 5.0))
        middle = WindBand(1200.0, 1400.0, wind_from_vector(-20.0, 0.0, 0.1, 5.0))
        high = WindBand(1400.0, 1600.0, wind_from_vector(east, 0.0, se_mps, 5.0))
        return facts.wind_change(windy((low, middle, high), met))

    assert profile(4.0) is None  # 1.0 m/s, and 2.45 x 0.57 m/s hold it
    found = profile(7.0)
    assert (found.low.altitude_low_m, found.high.altitude_low_m) == (1000.0, 1400.0)
    assert found.change_mps.value == pytest.approx(4.0)
    assert found.change_mps.high - 4.0 == pytest.approx(1.96 * 0.4 * 2**0.5, abs=0.01)
    assert found.telling == pytest.approx(4.0 / 2.0 / 10.0)  # half of it over the 10 m/s of the glide
    assert profile(7.0, se_mps=1.6) is None
    assert found.apart_s == pytest.approx(300.0)
    assert facts.wind_change(windy(FLIGHT.wind.profile[:1], met)) is None


def test_winds_of_other_hours_or_of_next_to_no_estimates_are_not_held_against_each_other():
    low, middle, high = (
        WindBand(altitude_m, altitude_m + 250.0, wind_from_vector(east, 0.0, 0.4, 5.0))
        for altitude_m, east in ((750.0, 6.0), (1000.0, 0.0), (1250.0, -6.0))
    )

    def compared(low_s, middle_s, high_s):
        met = winds_at(800.0, low_s) + winds_at(1100.0, middle_s) + winds_at(1300.0, high_s)
        found = facts.wind_change(windy((low, middle, high), met))
        return found and (found.low.altitude_low_m, found.high.altitude_low_m)

    early, late = (0, 60, 120), (5 * 3600, 5 * 3600 + 60, 5 * 3600 + 120)
    assert compared(early, early, early) == (750.0, 1250.0)
    assert compared(early, early, late) == (750.0, 1000.0)  # the highest was met five hours later
    assert compared(early[:2], late, late) == (1000.0, 1250.0)  # two estimates from two minutes
    assert compared(early, (), late) is None


def test_searching_is_told_from_a_tenth_of_the_flight_on():
    assert facts.searching(FLIGHT) == pytest.approx(260.0 / 921.25 * 0.83)
    budget = FLIGHT.time_budget
    little = tuple(replace(part, share=0.05) if part.kind == "search" else part for part in budget.parts)
    assert facts.searching(replace(FLIGHT, time_budget=replace(budget, parts=little))) is None
    assert facts.searching(replace(FLIGHT, time_budget=None)) is None


def test_the_speed_to_fly_is_told_where_the_whole_cost_is_clear_of_nought():
    (one,) = FLIGHT.speed_to_fly
    clear = replace(one, number=2, cost_s=Estimate(40.0, 20.0, 90.0))
    open_ = replace(one, number=3, cost_s=Estimate(50.0, 0.0, 99.0))
    final = replace(one, number=4, cost_s=None, cost_m=Estimate(40.0, 10.0, 70.0))
    costs = (
        SpeedCost("next_climb", (1, 2), 3, Estimate(61.0, 32.0, 120.0), None),
        SpeedCost("best_glide_over_ground", (4,), 1, None, Estimate(40.0, 10.0, 70.0)),
    )
    flight = replace(FLIGHT, speed_to_fly=(one, clear, open_, final), speed_costs=costs)
    time = facts.speed_cost(flight, "time")
    assert (time.glides, time.of, time.most.number) == (2, 3, 2)
    assert time.cost == Estimate(61.0, 32.0, 120.0)
    assert time.telling == pytest.approx(61.0 / 919.0)  # 61 lies more than two half widths of 29 off
    height = facts.speed_cost(flight, "height")
    assert (height.glides, height.most.number) == (1, 4)
    assert height.telling == pytest.approx(40.0 / 30.0 / 2.0 * 40.0 / 402.0)
    assert facts.speed_cost(replace(flight, speed_costs=costs[1:]), "time") is None
    vague = replace(costs[0], cost_s=Estimate(61.0, 0.0, 120.0))
    assert facts.speed_cost(replace(flight, speed_costs=(vague,)), "time") is None
    polar = replace(flight.performance.polar, basis=PolarBasis(8.0, 12.0, ANY_WING, None, 0.0))
    of_any_wing = replace(flight, performance=replace(flight.performance, polar=polar))
    assert facts.speed_cost(of_any_wing, "time") is None


def test_silence_is_told_from_two_hundredths_of_the_flight_on():
    assert facts.silence(FLIGHT) == pytest.approx(30.0 / 921.25)
    heard = replace(FLIGHT, time_budget=replace(FLIGHT.time_budget, silent_s=10.0))
    assert facts.silence(heard) is None


def makers(best, at_mps):
    """A maker's polar with this best glide at this airspeed: sink = V / E at V, flatter and steeper around it."""
    a = 1.0 / (2.0 * best * at_mps * 0.2)  # least sink at 0.8 of it
    polar = tuple((v, a * v * v - 1.6 * a * at_mps * v + a * at_mps**2) for v in (8.0, 9.0, 10.0, 12.0, 14.0))
    return Wing("made up", "paraglider", 5.0, 90.0, polar=polar)


@pytest.mark.parametrize(("best", "tells_apart"), [(9.0, False), (25.0, True)])
def test_glides_are_told_from_a_makers_polar_only_where_it_is_far_off(best, tells_apart):
    legs = [("glide", None, Leg(300, 10, -10.0 / 9.0)), ("glide", None, Leg(300, 9, -1.0))] * 2
    motion, air, span = flown(legs, shake_mps=0.3)
    polar = FLIGHT.performance.polar
    flight = replace(FLIGHT, performance=replace(FLIGHT.performance, polar=polar))
    claim = facts.beside_the_maker(motion, air, span, flight, PARAGLIDER, makers(best, 10.0))
    assert claim.difference.tells_apart is tells_apart
    assert claim.telling >= facts.ASKED_STAKE
    if claim.difference.figure == "best_glide_ratio":
        assert claim.makers == pytest.approx(
            best, rel=0.01
        )  # between points a curve is drawn, which is not the parabola
    if tells_apart:
        assert claim.difference.figure != "best_glide_ratio" or claim.difference.difference.high < 0.0
    assert facts.beside_the_maker(motion, air, span, flight, PARAGLIDER, None) is None
    bare = replace(makers(best, 10.0), polar=())
    assert facts.beside_the_maker(motion, air, span, flight, PARAGLIDER, bare) is None
