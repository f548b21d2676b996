"""Centring, drift and source of simulated thermals against what they were."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import pytest

from flightlog.measures.results import Climb

from .air_scores import climb_at
from .cases import analysed
from .circle_truth import true_circle
from .flight_scores import interval_error
from .simulator import Scenario, SimulatedLog, simulate
from .simulator.world import Thermal
from .thermal_scores import (
    CORE_LOOKED_AT_S,
    away_m,
    true_centred_share,
    true_ends,
    true_places,
    true_radius_m,
    true_shift_m,
)

CASES = (
    (Scenario("light wind", wind_mps=2.5, flight_minutes=45.0, gust_mps=0.4, thermal_mps=3.0), 61),
    (Scenario("windy", wind_mps=6.0, flight_minutes=45.0, gust_mps=0.6, thermal_mps=3.2), 62),
    (Scenario("slow recorder", wind_mps=4.0, flight_minutes=45.0, interval_s=4.0, thermal_mps=2.8), 63),
    (Scenario("rough", wind_mps=5.0, flight_minutes=45.0, gust_mps=0.9, interval_s=2.0), 64),
)


@dataclass
class Compared:
    """Found beside true, of all climbs."""

    centred: list[tuple[float, float, float, float]] = field(default_factory=list)  # value, low, high, true
    drift: list[tuple[float, float, float, float]] = field(default_factory=list)
    circles: list[tuple[float, bool, float]] = field(
        default_factory=list
    )  # bank and radius: error, held, half width
    ends: list[tuple[float, bool, float]] = field(default_factory=list)  # ways in and out
    source: list[tuple[float, float, float]] = field(default_factory=list)  # error, radius, core's own way off


@pytest.fixture(scope="module")
def compared() -> Compared:
    """All climbs of the cases."""
    found = Compared()
    for scenario, seed in CASES:
        log = simulate(scenario, seed)
        for flight in analysed(log).flights:
            for climb in flight.climbs:
                match = climb_at(log, climb.start.timestamp(), climb.end.timestamp())
                thermal = None if match is None else log.truth.thermal_of(match)
                if match is not None:
                    _compare_circles(found, log, climb)
                if climb.detail is not None and thermal is not None:
                    _compare(found, log, climb, thermal)
    return found


def _compare(found: Compared, log: SimulatedLog, climb: Climb, thermal: Thermal) -> None:
    """One climb."""
    detail = climb.detail
    start, end = climb.start.timestamp(), climb.end.timestamp()
    assert detail is not None
    if detail.centred_share is not None and detail.entry_s is not None and detail.leaving_s is not None:
        share = detail.centred_share
        until = min(end - detail.leaving_s, start + CORE_LOOKED_AT_S)
        true = true_centred_share(log, thermal, start + detail.entry_s, until, true_radius_m(log, start, end))
        found.centred.append((share.value, share.low, share.high, true))
    if detail.lean is not None:
        true = true_shift_m(log, thermal, start, end)[0] / (end - start)
        drift = detail.lean.drift_mps
        found.drift.append((drift.value, drift.low, drift.high, true))
    if detail.source is not None:
        _compare_source(found, log, climb, thermal)


def _compare_circles(found: Compared, log: SimulatedLog, climb: Climb) -> None:
    """The mean circle and both ends of the climb."""
    start, end = climb.start.timestamp(), climb.end.timestamp()
    circle = true_circle(log, start, end)
    if circle is not None and climb.bank_interval_deg is not None and climb.circle_radius_interval_m is not None:
        found.circles.append(interval_error(climb.bank_interval_deg, circle.bank_deg))
        found.circles.append(interval_error(climb.circle_radius_interval_m, circle.radius_m))
    ends, detail = true_ends(log, start, end), climb.detail
    if ends is not None and detail is not None and detail.entry_interval_s is not None:
        found.ends.append(interval_error(detail.entry_interval_s, ends.entry_s))
        found.ends.append(interval_error(detail.entry_loss_interval_m, ends.entry_loss_m))
        found.ends.append(interval_error(detail.leaving_interval_s, ends.leaving_s))
        found.ends.append(interval_error(detail.leaving_loss_interval_m, ends.leaving_loss_m))


def _compare_source(found: Compared, log: SimulatedLog, climb: Climb, thermal: Thermal) -> None:
    """Where the air met in the middle of the climb left the ground."""
    assert climb.detail is not None
    assert climb.detail.source is not None
    source = climb.detail.source
    left, met = true_places(log, thermal, climb.start.timestamp(), climb.end.timestamp())
    here = (source.lat_deg, source.lon_deg)
    found.source.append((away_m(here, left), source.radius_m, away_m(met, left)))


def test_centring_is_told_with_an_honest_interval(compared: Compared) -> None:
    value, low, high, true = np.array(compared.centred).T
    assert len(value) >= 10
    assert np.mean((low <= true) & (true <= high)) >= 0.8
    assert np.median(np.abs(value - true)) < 0.12
    assert abs(np.median(value - true)) < 0.05  # 0.00 on 184 climbs when written


def test_bank_and_radius_of_the_circles_are_told_with_an_honest_interval(compared: Compared) -> None:
    error, held, half_width = np.array(compared.circles).T
    assert len(error) >= 30
    assert np.mean(held) >= 0.9
    assert np.median(half_width[::2]) < 2.5  # degrees of bank; 1.7 on 60 flights
    assert np.median(half_width[1::2]) < 4.5  # m of radius; 3.4 there
    assert np.median(np.abs(error[::2])) < 0.8


def test_ways_in_and_out_are_told_with_an_honest_interval(compared: Compared) -> None:
    error, held, half_width = np.array(compared.ends).T
    assert len(error) >= 40
    assert np.mean(held) >= 0.9
    assert np.median(half_width[1::4]) < 4.0  # m of height on the way in; 1.7 on 60 flights
    assert np.median(half_width[3::4]) < 10.0  # m on the way out; 6.6 there


def test_drift_of_the_circles_is_that_of_the_thermal(compared: Compared) -> None:
    value, low, high, true = np.array(compared.drift).T
    assert len(value) >= 10
    assert np.mean((low <= true) & (true <= high)) >= 0.8
    assert np.median(np.abs(value - true)) < 0.3


def test_source_lies_within_its_radius_and_nearer_than_the_thermal_itself(compared: Compared) -> None:
    error, radius, met = np.array(compared.source).T
    assert len(error) >= 5
    assert np.mean(error <= radius) >= 0.8
    assert np.median(error) < np.median(met)
