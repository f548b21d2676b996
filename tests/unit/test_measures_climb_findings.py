"""Which facts of a flight's climbs are worth telling, from results made by hand."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from flightlog.measures import climb_findings as facts
from tests.unit.made_debrief import about, made_detail, made_flight, moment

FLIGHT = made_flight()


def with_climbs(*climbs):
    return replace(FLIGHT, climbs=climbs)


def climb(number, mean_mps, seconds, *, mode="circling", detail=None):
    return replace(
        FLIGHT.climbs[0],
        number=number,
        mode=mode,
        start=moment(0),
        end=moment(seconds),
        gain_m=mean_mps * seconds,
        mean_climb_mps=about(mean_mps, 0.02),
        detail=detail,
    )


def test_weak_climbing_adds_up_the_climbs_that_tell():
    weak = replace(made_detail(), weak_s=30.0)
    found = facts.weak_climbing(
        with_climbs(climb(1, 2.0, 100, detail=weak), climb(2, 2.0, 60, detail=weak), climb(3, 1.0, 50))
    )
    assert (found.climbs, found.weak_s, found.circling_s) == (2, 60.0, 160.0)
    assert found.telling == pytest.approx(30.0 / 919.0)
    assert facts.weak_climbing(with_climbs(climb(3, 1.0, 50))) is None


def test_ways_in_and_out_are_counted_as_time_at_the_steady_climb():
    found = facts.ways_in_and_out(FLIGHT)
    assert (found.climbs, found.seconds_s, found.cost.value) == (1, 50.0, pytest.approx(44.6))
    assert found.telling == pytest.approx(44.6 / 1.9 / 919.0)  # clear: nought lies far outside
    small = replace(made_detail(), entry_loss_interval_m=about(5.0, 1.0), leaving_loss_interval_m=about(4.0, 1.0))
    assert facts.ways_in_and_out(with_climbs(climb(1, 2.0, 100, detail=small))) is None


def test_what_ways_in_and_out_cost_together_is_surer_than_each_of_them():
    detail = replace(
        made_detail(), entry_loss_interval_m=about(50.0, 30.0), leaving_loss_interval_m=about(0.0, 40.0)
    )
    one, four = (
        facts.ways_in_and_out(with_climbs(*(climb(n, 2.0, 100, detail=detail) for n in range(count))))
        for count in (1, 4)
    )
    assert (one.cost.high - one.cost.value) == pytest.approx(math.sqrt(0.7 * 50.0**2 + 0.3 * 70.0**2))
    assert one.cost.low < 0.0 < four.cost.low
    assert four.cost.high - four.cost.value < 4.0 * (one.cost.high - one.cost.value)
    assert one.telling == 0.0  # the interval holds nought: not worth a sentence
    assert four.telling > 0.0


def test_off_centre_takes_the_climb_that_lost_most_time_and_only_where_sure():
    assert facts.off_centre(FLIGHT) is None  # 86 (56 to 116) %
    short, long = (replace(made_detail(), centred_share=about(0.6, 0.2)) for _ in range(2))
    found = facts.off_centre(with_climbs(climb(1, 2.0, 100, detail=short), climb(2, 2.0, 200, detail=long)))
    assert found.number == 2
    assert found.telling == pytest.approx(200.0 * 0.4 / 919.0)


def test_the_best_climb_is_the_one_that_saved_most_time():
    flight = with_climbs(climb(1, 1.0, 100), climb(2, 4.0, 50), climb(3, 1.0, 300, mode="ridge"))
    found = facts.best_climb(flight)
    assert (found.climb.number, found.others, found.others_mps) == (2, 1, pytest.approx(1.0))
    assert found.telling == pytest.approx((200.0 - 50.0) / 919.0)  # 200 m at 1 m/s, less the 50 s they took
    assert facts.best_climb(with_climbs(climb(1, 1.0, 100), climb(2, 1.0, 50))) is None
    assert facts.best_climb(with_climbs(climb(1, 1.0, 100))) is None
