"""The truth itself: what the scores take for true, on ways and glides whose answer can be had by hand."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import UTC, datetime
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from .circle_truth import true_circle
from .simulator.truth import COLUMN
from .simulator.wing import Wing
from .simulator.world import Thermal
from .speed_scores import true_cost_m, true_cost_s
from .thermal_scores import true_centred_share, true_ends, true_radius_m, true_shift_m

WING = Wing("made", "paraglider", 10.4031242, 12.8062485, 8.0, 10.0, 30.0, 8.0, 1.0, 1.0, 1.0, 5.0, 90.0)
"""Sinks 0.01 V^2 - 0.16 V + 1.64 (references GLD-02)."""
STEP_S = 0.2
STANDING = Thermal(0.0, 0.0, 0.0, 4000.0, -5000.0, 10_000.0, 4.0, 80.0, 0.0, 0.0, 0.0, 0.0)


@dataclass
class MadeTruth:
    """States (n, 15) at even steps from 0."""

    states: np.ndarray
    epoch_s: float = 0.0

    def rows(self, start_s: float, end_s: float) -> np.ndarray:
        first, last = np.searchsorted(self.states[:, 0], (start_s, end_s))
        return self.states[first:last]

    def at(self, time_s: Any, name: str) -> Any:
        return np.interp(time_s, self.states[:, 0], self.states[:, COLUMN[name]])


def made(duration_s: float, **columns: Any) -> Any:
    """A log that was so; columns that are not named are 0."""
    time = np.arange(round(duration_s / STEP_S) + 1) * STEP_S
    states = np.zeros((len(time), len(COLUMN)))
    states[:, 0] = time
    for name, values in columns.items():
        states[:, COLUMN[name]] = values(time) if callable(values) else values
    return SimpleNamespace(truth=MadeTruth(states), wing=WING)


def circling(offset_m: float = 0.0, duration_s: float = 180.0) -> Any:
    """Circles of 28 m at 10 m/s beside the core, climbing at what the air gives less 1 m/s."""
    rate = 10.0 / 28.0
    log = made(
        duration_s,
        heading_rad=lambda t: rate * t,
        airspeed_mps=10.0,
        east_m=lambda t: offset_m + 28.0 * np.cos(rate * t),
        north_m=lambda t: 28.0 * np.sin(rate * t),
        altitude_m=2000.0,
    )
    states = log.truth.states
    rise = np.array([STANDING.rise(*row[:4]) for row in states])
    states[:, COLUMN["airmass_mps"]] = rise
    states[:, COLUMN["altitude_m"]] = 2000.0 + np.concatenate([[0.0], np.cumsum((rise - 1.0)[1:] * STEP_S)])
    return log


def glide(speed_mps: float, air_mps: float = 0.0, wind_mps: float = 0.0) -> tuple[Any, Any]:
    """Ten minutes at sea level at one speed."""
    east = lambda t: (speed_mps + wind_mps) * t  # noqa: E731
    log = made(600.0, airspeed_mps=speed_mps, airmass_mps=air_mps, east_m=east)
    start, end = (datetime.fromtimestamp(s, UTC) for s in (0.0, 600.1))
    return log, SimpleNamespace(start=start, end=end)


def test_radius_is_that_of_the_turn_flown() -> None:
    """References TRN-11: 10 m/s at 20 degrees of bank turn on 28.0 m."""
    assert true_radius_m(circling(), 0.0, 170.0) == pytest.approx(28.0, abs=0.1)


@pytest.mark.parametrize(("bank_deg", "radius_m", "period_s"), [(20, 28.02, 17.60), (45, 10.20, 6.41)])
def test_the_mean_circle_is_that_flown_and_not_the_straight_ways_to_and_from_it(
    bank_deg: float, radius_m: float, period_s: float
) -> None:
    """R = V^2 / (g tan phi) at 10 m/s, FAA-H-8083-25 ch. 5; with a minute straight on before it and one after."""
    log = made(
        300.0, airspeed_mps=10.0, heading_rad=lambda t: -2.0 * math.pi / period_s * np.clip(t - 60.0, 0.0, 180.0)
    )
    circle = true_circle(log, 45.0, 255.0)
    assert circle is not None
    assert circle.bank_deg == pytest.approx(bank_deg, abs=0.1)
    assert circle.radius_m == pytest.approx(radius_m, rel=0.005)
    assert circle.period_s == pytest.approx(period_s, rel=0.005)
    assert true_circle(log, 0.0, 50.0) is None


def test_circles_about_the_core_are_wholly_centred_and_others_less() -> None:
    assert true_centred_share(circling(), STANDING, 10.0, 100.0, 28.0) == pytest.approx(1.0, abs=0.01)
    shares = [true_centred_share(circling(off), STANDING, 10.0, 98.0, 28.0) for off in (20.0, 40.0, 60.0)]
    assert 1.0 > shares[0] > shares[1] > shares[2] > 0.0


def test_a_minute_without_climb_costs_what_steady_climbing_would_have_given() -> None:
    """At 2 m/s, with a level minute before and half a minute after.

    Circles of 20 s: the first steady one (1.6 m/s and more) holds 4 s of the level minute, the last 4 s of the
    level half; from 56 to 244 s the climb gains 360 m.
    """
    heading = lambda t: 2.0 * math.pi * t / 20.0  # noqa: E731
    log = made(270.0, heading_rad=heading, altitude_m=lambda t: 2.0 * np.clip(t - 60.0, 0.0, 180.0))
    ends = true_ends(log, 0.0, 270.1)
    assert ends is not None
    assert (ends.entry_s, ends.leaving_s) == pytest.approx((56.0, 26.0), abs=0.5)
    assert ends.steady_climb_mps == pytest.approx(360.0 / 188.0, abs=0.01)
    assert ends.entry_loss_m == pytest.approx(56.0 * 360.0 / 188.0, abs=0.5)
    assert ends.leaving_loss_m == pytest.approx(26.0 * 360.0 / 188.0, abs=0.5)


def test_shift_of_a_leaning_thermal_that_drifts() -> None:
    thermal = Thermal(
        0.0, 0.0, 0.0, 4000.0, 0.0, 1e4, 4.0, 80.0, lean_x=0.6, lean_y=0.8, drift_x_mps=0.3, drift_y_mps=0.4
    )
    log = made(100.0, altitude_m=lambda t: 1000.0 + 2.0 * t)
    shift, gain = true_shift_m(log, thermal, 0.0, 100.0)
    assert gain == pytest.approx(200.0)
    assert shift == pytest.approx(200.0 + 50.0)


def test_the_best_speed_to_the_next_climb_costs_nothing_and_others_do() -> None:
    """References GLD-03: 16.24808 m/s for a climb of 1 m/s, 6.06202 m/s across country.

    Ten minutes at another speed take w(V) / M as long again to win back; the best goes their way at 6.06202.
    """
    assert true_cost_s(*glide(16.24808), 1.0) == pytest.approx(0.0, abs=0.01)
    for speed in (13.0, 19.0):
        taken = 600.0 * (1.0 + 0.01 * speed**2 - 0.16 * speed + 1.64)
        assert true_cost_s(*glide(speed), 1.0) == pytest.approx(taken - 600.0 * speed / 6.06202, abs=0.5)
    assert true_cost_s(*glide(16.24808, air_mps=-1.0), 1.0) > 1.0  # sinking air wants more speed


def test_the_flattest_speed_over_the_ground_costs_no_height_and_others_do() -> None:
    """In a headwind of 4 m/s: (V - 4) w'(V) = w(V), the tangent from the wind on the axis of speeds."""
    a, b, c = WING.polar
    best = 4.0 + math.sqrt(16.0 + (c + 4.0 * b) / a)
    assert true_cost_m(*glide(best, wind_mps=-4.0)) == pytest.approx(0.0, abs=0.01)
    assert true_cost_m(*glide(best - 3.0, wind_mps=-4.0)) > 10.0
    assert true_cost_m(*glide(best + 3.0, wind_mps=-4.0)) > 10.0
