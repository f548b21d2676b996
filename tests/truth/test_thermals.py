"""Centring, drift and source of simulated thermals against what they were."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
import pytest

from flightlog.measures.results import Climb

from .cases import analysed
from .simulator import Scenario, SimulatedLog, simulate
from .simulator.world import Thermal

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
    source: list[tuple[float, float, float]] = field(default_factory=list)  # error, radius, core's own way off


@pytest.fixture(scope="module")
def compared() -> Compared:
    """All climbs of the cases."""
    found = Compared()
    for scenario, seed in CASES:
        log = simulate(scenario, seed)
        for flight in analysed(log).flights:
            for climb in flight.climbs:
                thermal = _thermal(log, climb)
                if climb.detail is not None and thermal is not None:
                    _compare(found, log, climb, thermal)
    return found


def _thermal(log: SimulatedLog, climb: Climb) -> Thermal | None:
    """The thermal of the world whose core passed nearest to the middle of the climb."""
    middle = 0.5 * (climb.start.timestamp() + climb.end.timestamp())
    true = [
        c for c in log.truth.climbs
        if c.mode == "circling" and c.core_radius_m is not None and c.start_s <= middle <= c.end_s
    ]  # fmt: skip
    if not true:
        return None
    t, z = 0.5 * (true[0].start_s + true[0].end_s) - log.truth.epoch_s, true[0].core_altitude_m or 0.0
    east, north = true[0].core_east_m or 0.0, true[0].core_north_m or 0.0
    return min(
        log.truth.world.thermals,
        key=lambda one: math.hypot(one.core(t, z)[0] - east, one.core(t, z)[1] - north),
    )


def _compare(found: Compared, log: SimulatedLog, climb: Climb, thermal: Thermal) -> None:
    """One climb."""
    detail, truth = climb.detail, log.truth
    start, end = climb.start.timestamp(), climb.end.timestamp()
    assert detail is not None
    if detail.centred_share is not None and detail.entry_s is not None and detail.leaving_s is not None:
        share = detail.centred_share
        true = _true_share(log, climb, thermal, start + detail.entry_s, min(end - detail.leaving_s, start + 90))
        found.centred.append((share.value, share.low, share.high, true))
    if detail.lean is not None:
        heights = truth.at(np.array([start, end]), "altitude_m")
        first = thermal.core(start - truth.epoch_s, float(heights[0]))
        last = thermal.core(end - truth.epoch_s, float(heights[1]))
        true = math.hypot(last[0] - first[0], last[1] - first[1]) / (end - start)
        drift = detail.lean.drift_mps
        found.drift.append((drift.value, drift.low, drift.high, true))
    if detail.source is not None:
        _compare_source(found, log, climb, thermal)


def _true_share(log: SimulatedLog, climb: Climb, thermal: Thermal, start: float, end: float) -> float:
    """Climb in this thermal along the way flown, over that on circles of the same radius about its core."""
    times = np.arange(start, end, 1.0)
    east, north, z, air = (log.truth.at(times, n) for n in ("east_m", "north_m", "altitude_m", "airmass_mps"))
    since = times - log.truth.epoch_s
    radius = climb.circle_radius_m or 0.0
    flown, centred = [], []
    for t, x, y, height in zip(since, east, north, z, strict=True):
        core = thermal.core(t, height)
        flown.append(thermal.rise(t, x, y, height))
        centred.append(thermal.rise(t, core[0] + radius, core[1], height))
    sink = float(air.mean()) - float(z[-1] - z[0]) / float(times[-1] - times[0])
    return (float(np.mean(flown)) - sink) / (float(np.mean(centred)) - sink)


def _compare_source(found: Compared, log: SimulatedLog, climb: Climb, thermal: Thermal) -> None:
    """Where the air met in the middle of the climb left the ground."""
    assert climb.detail is not None
    assert climb.detail.source is not None
    source = climb.detail.source
    middle = 0.5 * (climb.start.timestamp() + climb.end.timestamp())
    z = float(log.truth.at(middle, "altitude_m"))
    since = middle - log.truth.epoch_s
    age = (z - thermal.base_m) / max(0.8 * thermal.strength_mps, 1.5)  # the rise of its air in the simulator
    true = log.latitude_longitude(*thermal.core(since - age, thermal.base_m))
    met = log.latitude_longitude(*thermal.core(since, z))
    found.source.append((
        _away_m((source.lat_deg, source.lon_deg), true), source.radius_m, _away_m(met, true),
    ))  # fmt: skip


def _away_m(one: tuple[float, float], other: tuple[float, float]) -> float:
    """Distance between two near points."""
    east = (one[1] - other[1]) * math.cos(math.radians(one[0]))
    return math.hypot(one[0] - other[0], east) * 111_195.0


def test_centring_is_told_with_an_honest_interval(compared: Compared) -> None:
    value, low, high, true = np.array(compared.centred).T
    assert len(value) >= 10
    assert np.mean((low <= true) & (true <= high)) >= 0.8
    assert np.median(np.abs(value - true)) < 0.12
    assert abs(np.median(value - true)) < 0.05  # 0.00 on 184 climbs when written


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
