"""Lift shares at rest and limits of launching and landing against outside figures.

Ids LCH-01 to LCH-06 and APP-01 to APP-10 stand for the rows of the project's table of check values. Most of LCH is
derived: lift goes with the square of airspeed at a held angle of attack, so f = (Vw/Vlo)^2 W/w. The rule of thumb
behind LCH-01 ("8 kt carries about a third of a 100 lb wing") is common practice, no source.
"""

from __future__ import annotations

import pytest

from flightlog.measures.launch import lift_share_at_rest
from flightlog.settings import HANG_GLIDER, PARAGLIDER, UNKNOWN_WING

KNOT_MPS = 1852.0 / 3600.0  # exact, by definition of the nautical mile
POUND_KG = 0.45359237  # exact, international pound
MPH_MPS = 0.44704  # exact
FOOT_M = 0.3048  # exact


@pytest.mark.parametrize(
    ("all_up_lb", "liftoff_kt", "liftoff_mps"),
    [(250, 21.9, 11.3), (275, 23.0, 11.8), (300, 24.0, 12.3), (320, 24.8, 12.8), (350, 25.9, 13.3)],
)
def test_eight_knots_carry_a_third_of_a_hundred_pound_wing(all_up_lb, liftoff_kt, liftoff_mps):
    """LCH-01, derived; the rule itself is common practice, no source."""
    share = lift_share_at_rest(8 * KNOT_MPS, liftoff_kt * KNOT_MPS, all_up_lb * POUND_KG, 100 * POUND_KG)
    assert share == pytest.approx(1 / 3, rel=2 * 0.05 / liftoff_kt + 1e-3)  # printed to 0.1 kt, squared
    assert liftoff_kt * KNOT_MPS == pytest.approx(liftoff_mps, abs=0.051)


@pytest.mark.parametrize(("liftoff_kt", "relief_lb"), [(16, 75.0), (18, 59.3), (20, 48.0), (22, 39.7), (24, 33.3)])
def test_relief_at_eight_knots(liftoff_kt, relief_lb):
    """LCH-02, derived: 300 lb all up; the relief of a 100 lb wing in pounds is its share in per cent."""
    share = lift_share_at_rest(8 * KNOT_MPS, liftoff_kt * KNOT_MPS, 300 * POUND_KG, 100 * POUND_KG)
    assert 100 * share == pytest.approx(relief_lb, abs=0.05)


@pytest.mark.parametrize(("wing_lb", "floats_kt"), [(70, 9.66), (100, 11.55)])
def test_wind_that_floats_the_wing_alone(wing_lb, floats_kt):
    """LCH-03, derived: share 1 at 300 lb all up and 20 kt of lift-off airspeed."""
    share = lift_share_at_rest(floats_kt * KNOT_MPS, 20 * KNOT_MPS, 300 * POUND_KG, wing_lb * POUND_KG)
    assert share == pytest.approx(1.0, rel=2 * 0.005 / floats_kt + 1e-4)


def test_at_stall_speed_the_same_wind_would_carry_more():
    """LCH-04, derived: 48 % at 20 kt; 24 kt is 27.6 mph, a trim rather than a stall speed."""
    assert lift_share_at_rest(8.0, 20.0, 300.0, 100.0) == pytest.approx(0.48, abs=0.005)
    assert pytest.approx(27.6, abs=0.05) == 24 * KNOT_MPS / MPH_MPS


def test_expected_liftoff_airspeeds_are_those_of_unpowered_ultralights():
    """LCH-05: stall at most 25 mph at certified loading (hang-glider maker standard, from memory).

    Lift-off happens between stall and trim; a lift-off speed above 1.15 times that stall limit would be wrong.
    """
    for settings in (PARAGLIDER, HANG_GLIDER):
        liftoff = settings.liftoff_speed_share * settings.trim_airspeed_mps
        assert 0.6 * settings.trim_airspeed_mps < liftoff < 1.15 * 25 * MPH_MPS


def test_novice_wind_limit_carries_no_more_than_the_whole_paraglider_wing():
    """LCH-06: USHPA P2 base wind at most 12 mph (5.36 m/s); gust rate at most 5 mph in 5 s (2.24 m/s)."""
    assert pytest.approx(5.36, abs=0.005) == 12 * MPH_MPS
    assert pytest.approx(2.24, abs=0.005) == 5 * MPH_MPS
    assert lift_share_at_rest(12 * MPH_MPS, 8.3, 95.0, 6.0) > 1.0  # a 6 kg wing flies above the pilot in far less


def test_limits_of_steadiness_are_not_looser_than_those_of_airliners():
    """APP-01, APP-02 (Flight Safety Foundation ALAR Briefing Note 7.1): sink up to 1000 ft/min, wings level by
    300 ft, all below 500 ft; scaled down to foot-launched wings, for want of published limits (APP-10).
    """
    assert UNKNOWN_WING.unsteady_sink_mps < 1000 * FOOT_M / 60
    assert UNKNOWN_WING.unsteady_below_m < 300 * FOOT_M
    assert UNKNOWN_WING.pattern_height_m < 500 * FOOT_M
    assert UNKNOWN_WING.unsteady_speed_mps / UNKNOWN_WING.trim_airspeed_mps < 20 / 100  # VREF + 20 kt of 100-140


def test_circuit_heights_are_below_those_of_sailplanes():
    """APP-08: 150-200 m abeam the landing point, about 100 m after the final turn (SPL question bank)."""
    assert 50.0 <= UNKNOWN_WING.pattern_height_m <= 150.0
