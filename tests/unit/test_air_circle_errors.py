"""How far the mean circle of a climb may be off, by the turns flown, the breaks, the wind and the recorder."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from flightlog.air.circle_errors import circle_intervals
from flightlog.air.circles_flown import CirclesFlown
from flightlog.estimates import Estimate

TEN_TURNS = CirclesFlown("left", 10.0, 17.60, 28.02, 20.0, airspeed_mps=10.0, turnings=1)
"""10 m/s at 20 degrees of bank: R = V^2 / (g tan phi), FAA-H-8083-25 ch. 5."""


def widths(circles: CirclesFlown, wind_sd_mps: float | None = 0.3, interval_s: float = 1.0) -> tuple[float, float]:
    """Half widths of radius (m) and bank (degrees)."""
    found = circle_intervals(circles, wind_sd_mps, interval_s)
    assert found.radius_m is not None
    assert found.bank_deg is not None
    return half(found.radius_m), half(found.bank_deg)


def half(interval: Estimate) -> float:
    assert interval.low < interval.value < interval.high
    return (interval.high - interval.low) / 2.0


def test_more_turns_tell_more_and_never_all() -> None:
    two, ten, hundred = (widths(replace(TEN_TURNS, turns=turns)) for turns in (2.0, 10.0, 100.0))
    assert two > ten > hundred
    assert two[1] > ten[1] > hundred[1] > 0.2


def test_a_circling_broken_off_and_begun_again_is_less_sure() -> None:
    assert widths(replace(TEN_TURNS, turnings=3)) > widths(TEN_TURNS)
    assert widths(replace(TEN_TURNS, aside_s=15.0)) > widths(TEN_TURNS)


def test_the_wind_cancels_round_full_circles() -> None:
    """A wind that is wrong by 1 m/s moves the airspeed of a single circle by up to 1 m/s, of ten by a tenth."""
    one, ten = replace(TEN_TURNS, turns=1.0), TEN_TURNS
    grown = [widths(circles, 1.0)[0] ** 2 - widths(circles, 0.0)[0] ** 2 for circles in (one, ten)]
    assert grown[0] > 80.0 * grown[1] > 0.0
    assert widths(TEN_TURNS, None) == pytest.approx(widths(TEN_TURNS, 0.0))


def test_sparse_fixes_cost_the_bank_more_than_the_radius() -> None:
    dense, sparse = widths(TEN_TURNS, interval_s=1.0), widths(TEN_TURNS, interval_s=5.0)
    assert sparse[1] / dense[1] > sparse[0] / dense[0] > 1.0


def test_bank_stays_between_level_and_upright() -> None:
    steep = CirclesFlown("right", 0.8, 2.0, 4.0, 80.0, airspeed_mps=12.0, turnings=1, aside_s=60.0)
    bank = circle_intervals(steep, 3.0, 5.0).bank_deg
    assert bank is not None
    assert 0.0 < bank.low < 80.0 < bank.high < 90.0


def test_what_is_not_known_has_no_interval() -> None:
    none = circle_intervals(CirclesFlown(None, 0.3, None, None, None), 0.3, 1.0)
    assert (none.period_s, none.radius_m, none.bank_deg) == (None, None, None)
    windless = circle_intervals(CirclesFlown("left", 4.0, 17.6, None, None, turnings=1), None, 1.0)
    assert windless.period_s is not None
    assert math.isclose(windless.period_s.value, 17.6)
    assert windless.radius_m is None
