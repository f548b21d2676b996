"""Turns and glide over ground against published worked examples and tables."""

import numpy as np
import pytest

from flightlog.air import turns

KNOT_MPS = 1852.0 / 3600.0
FEET_M = 0.3048
MPH_MPS = 0.44704


def test_hundred_knots_at_45_degrees():
    # Aviation Formulary, turns: 891 ft and 10.9 degrees a second
    assert turns.turn_radius_m(100 * KNOT_MPS, 45.0) / FEET_M == pytest.approx(891.0, rel=0.01)
    assert turns.turn_rate_degps(100 * KNOT_MPS, 45.0) == pytest.approx(10.9, rel=0.01)


@pytest.mark.parametrize(("speed_kt", "bank_deg"), [(100, 15.4), (120, 18.24)])
def test_bank_of_a_rate_one_turn(speed_kt, bank_deg):
    # Aviation Formulary: bank of a 3-degree-a-second turn
    assert turns.bank_from_turn_deg(speed_kt * KNOT_MPS, 3.0) == pytest.approx(bank_deg, abs=0.1)


def test_sixty_knots_at_20_degrees():
    # a gliding instructor's worked example: 54.3 s for a full circle, 6.63 degrees a second
    assert turns.circle_period_s(60 * KNOT_MPS, 20.0) == pytest.approx(54.3, abs=0.1)
    assert turns.turn_rate_degps(60 * KNOT_MPS, 20.0) == pytest.approx(6.63, abs=0.1)


def test_hundred_and_twenty_knots_at_60_degrees():
    # EASA examination answer: 220 m, computed there with g = 10
    assert turns.turn_radius_m(120 * KNOT_MPS, 60.0) * turns.STANDARD_GRAVITY_MPS2 / 10.0 == pytest.approx(
        220, abs=0.5
    )


@pytest.mark.parametrize(("speed_kt", "radius_ft", "rate_degps"), [(120, 2215, 5.25), (240, 8861, 2.62)])
def test_handbook_turns_at_30_degrees(speed_kt, radius_ft, rate_degps):
    # FAA-H-8083-25, ch. 5 (from memory): R = V^2 / (11.26 tan bank), rate = 1091 tan bank / V
    assert turns.turn_radius_m(speed_kt * KNOT_MPS, 30.0) / FEET_M == pytest.approx(radius_ft, rel=0.005)
    assert turns.turn_rate_degps(speed_kt * KNOT_MPS, 30.0) == pytest.approx(rate_degps, rel=0.005)


def test_load_and_stall_factors():
    # R. Hanson (St Olaf College, 2002) after Welch & Irving; load chart of FAA-H-8083-25
    bank_deg = np.array([30.0, 45.0, 60.0, 70.0, 80.0])
    assert turns.load_factor(bank_deg) == pytest.approx([1.15, 1.41, 2.00, 2.92, 5.76], abs=0.005)
    assert np.sqrt(turns.load_factor([30.0, 45.0, 60.0, 80.0])) == pytest.approx(
        [1.07, 1.19, 1.41, 2.40], abs=0.005
    )


# R. Hanson (St Olaf College, rev. 4/19/02) after A. & L. Welch and F. Irving, The Complete Soaring Pilot's
# Handbook. Bank, load, root of load, airspeed mph, sink m/s, radius ft, period s, height lost a circle ft
TABLE = [
    (10, 1.02, 1.01, 46, 0.8, 815, 75, 200),
    (20, 1.06, 1.03, 47, 0.9, 414, 37, 106),
    (30, 1.15, 1.07, 49, 1.0, 283, 25, 79),
    (40, 1.31, 1.14, 53, 1.2, 220, 18, 69),
    (45, 1.41, 1.19, 55, 1.3, 200, 16, 68),
    (50, 1.56, 1.25, 57, 1.5, 185, 14, 69),
    (60, 2.00, 1.41, 65, 2.2, 163, 11, 79),
    (70, 2.92, 1.71, 79, 4.0, 151, 8, 106),
    (80, 5.76, 2.40, 110, 10.9, 144, 6, 200),
]
BEST_GLIDE_MPS = 46 * MPH_MPS
LEVEL_SINK_MPS = BEST_GLIDE_MPS / 26.0


@pytest.mark.parametrize(("bank", "load", "root", "speed_mph", "sink", "radius_ft", "period", "loss_ft"), TABLE)
def test_table_of_circling_flight(bank, load, root, speed_mph, sink, radius_ft, period, loss_ft):
    n = turns.load_factor(bank)
    speed_mps = BEST_GLIDE_MPS * np.sqrt(n)
    sink_mps = LEVEL_SINK_MPS * turns.sink_factor(bank)
    period_s = turns.circle_period_s(speed_mps, bank)
    assert n == pytest.approx(load, abs=0.006)
    assert np.sqrt(n) == pytest.approx(root, abs=0.006)
    assert speed_mps / MPH_MPS == pytest.approx(speed_mph, abs=0.6)
    assert sink_mps == pytest.approx(sink, abs=0.051)
    assert turns.turn_radius_m(speed_mps, bank) / FEET_M == pytest.approx(radius_ft, abs=1.0)
    assert period_s == pytest.approx(period, abs=0.55)
    assert sink_mps * period_s / FEET_M == pytest.approx(loss_ft, abs=0.6)


def test_least_height_lost_in_a_circle_is_at_45_degrees():
    # same table: the published optimum, symmetric about 45 degrees
    bank_deg = np.arange(5.0, 86.0)
    speed_mps = BEST_GLIDE_MPS * np.sqrt(turns.load_factor(bank_deg))
    loss_m = LEVEL_SINK_MPS * turns.sink_factor(bank_deg) * turns.circle_period_s(speed_mps, bank_deg)
    assert bank_deg[np.argmin(loss_m)] == 45.0
    assert loss_m == pytest.approx(loss_m[::-1], rel=1e-9)


def test_turns_of_foot_launched_size():
    # derived from the formulas of a steady turn
    bank_deg = np.array([20.0, 30.0, 45.0])
    assert turns.turn_radius_m(10.0, bank_deg) == pytest.approx([28.02, 17.66, 10.20], abs=0.01)
    assert turns.circle_period_s(10.0, bank_deg) == pytest.approx([17.60, 11.10, 6.41], abs=0.01)
    assert turns.sink_factor(bank_deg) == pytest.approx([1.0978, 1.2408, 1.6818], abs=1e-4)
    assert turns.bank_from_turn_deg(10.0, turns.turn_rate_degps(10.0, bank_deg)) == pytest.approx(bank_deg)


def test_glide_over_ground_in_head_and_tail_wind():
    # derived: 10:1 at 10 m/s
    assert turns.glide_ratio_over_ground(10.0, 10.0, [-5.0, 0.0, 5.0]) == pytest.approx([5.0, 10.0, 15.0])


def test_left_turns_bank_left():
    assert turns.bank_from_turn_deg(10.0, -20.0) == -turns.bank_from_turn_deg(10.0, 20.0) < 0.0
