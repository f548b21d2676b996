"""Thermals against published shapes and plain kinematics; ids as in the list of references."""

from __future__ import annotations

import math

import numpy as np
import pytest

from flightlog.air.cores import RiseSamples, fit_cores
from flightlog.measures.thermal_leans import lean_deg
from flightlog.measures.thermals import centred_share


def gedeon(share: float) -> float:
    """Rise over the core's at this share of the radius of no rise: exp(-x^2)(1 - x^2)."""
    return math.exp(-(share**2)) * (1.0 - share**2)


@pytest.mark.parametrize(
    ("share", "rise"),
    [(0.0, 1.0), (0.5, 0.584101), (1.0, 0.0), (1.5, -0.131749), (math.sqrt(2.0), -math.exp(-2.0))],
)
def test_thm_05_gedeon_shape(share: float, rise: float) -> None:
    # Gedeon 1973, OSTIV: form from memory, values recomputed; guards the shape the next test flies through
    assert gedeon(share) == pytest.approx(rise, abs=1e-6)


def test_thm_05_centring_in_a_gedeon_thermal() -> None:
    """Fitted to a Gedeon thermal flown off its centre, the core tells the rise on centred circles to 10 %."""
    radius, strength, circle, off = 130.0, 3.0, 35.0, 25.0
    time = np.arange(-52.0, 53.0, 3.0)
    angle = 2.0 * np.pi * time / 17.0
    east, north = circle * np.sin(angle) + off, circle * np.cos(angle)
    way_in = time < -37.0  # straight through the core, 10 m/s
    east = np.where(way_in, off + 35.0 + (time + 37.0) * 10.0, east)
    north = np.where(way_in, 0.0, north)
    rise = np.array([strength * gedeon(math.hypot(x, y) / radius) for x, y in zip(east, north, strict=True)])
    centre = (float(east[~way_in].mean()), float(north[~way_in].mean()))
    (core,) = fit_cores([RiseSamples(time, east - centre[0], north - centre[1], 0.0 * time, rise)])
    assert core is not None
    centred = strength * gedeon(circle / radius)
    assert core.strength_mps * math.exp(-((circle / core.radius_m) ** 2)) == pytest.approx(centred, rel=0.1)
    flown = float(rise[~way_in].mean())
    share = centred_share(flown - 1.0, (1.0, 0.0), core.strength_mps, (core.radius_m, core.log_radius_sd), circle)
    assert share is not None
    assert share.low <= (flown - 1.0) / (centred - 1.0) <= share.high


@pytest.mark.parametrize(("wind", "rise", "lean"), [(3.0, 3.0, 45.0), (2.0, 4.0, 26.565), (5.0, 2.0, 68.199)])
def test_thm_09_lean_of_a_drifting_thermal(wind: float, rise: float, lean: float) -> None:
    # kinematics: atan(wind / climb of the air), within 0.001 degrees
    assert lean_deg(wind, 0.1, rise, 0.1).value == pytest.approx(lean, abs=1e-3)


def test_thm_09_the_track_of_a_circling_wing_leans_more_than_its_thermal() -> None:
    air_rise, own_sink, wind = 3.0, 1.0, 3.0
    thermal, track = lean_deg(wind, 0.0, air_rise, 0.0), lean_deg(wind, 0.0, air_rise - own_sink, 0.0)
    assert track.value > thermal.value
    assert track.value == pytest.approx(56.310, abs=1e-3)


def test_lean_interval_holds_both_errors() -> None:
    level, both = lean_deg(4.0, 0.4, 2.0, 0.0), lean_deg(4.0, 0.4, 2.0, 0.3)
    assert both.low < level.low < level.value < level.high < both.high
    assert lean_deg(0.2, 1.0, 2.0, 0.1).low == 0.0
