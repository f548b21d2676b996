"""The whole analysis of five hours of cross-country at a fix a second, and its wind field, keep to their time.

Processor seconds, the best of several runs: other work on the machine only makes a run longer. No run follows
one that kept to its time, so that this costs little where all is well.
"""

from __future__ import annotations

from collections.abc import Callable
from time import process_time

import pytest

import flightlog
from flightlog.air.estimating import estimate_air
from flightlog.motion.cleaning import clean_motion
from flightlog.motion.spells import find_spells
from flightlog.settings import UNKNOWN_WING
from flightlog.tracks.igc import parse_igc
from flightlog.tracks.track import Track
from tests.truth.simulator import Scenario, simulate

ANALYSIS_S, WIND_FIELD_S = 0.5, 0.2
"""Of 18 000 fixes: the whole from the track to the results, and of it the wind field."""
FIXES = 18_000
RUNS = 12


@pytest.fixture(scope="module")
def five_hours() -> Track:
    """One simulated flight of climbs and glides in turn; the log ends in the air."""
    scenario = Scenario(
        "five hours",
        kind="polar",
        wind_mps=2.0,
        thermal_mps=3.5,
        general_air_mps=0.4,
        flight_minutes=330,
        glides=66,
    )
    lines = simulate(scenario, 20250801).igc.splitlines(keepends=True)
    fixes = [number for number, line in enumerate(lines) if line.startswith("B")]
    text = "".join(lines[: fixes[FIXES]])
    track = parse_igc(text.encode("ascii"), file="five-hours.igc")
    assert len(track.time_s) == FIXES
    return track


def best_s(run: Callable[[], object], limit_s: float) -> float:
    """Processor seconds of the first run that keeps to its limit, else of the best of all."""
    best = float("inf")
    for _ in range(RUNS):
        before = process_time()
        run()
        best = min(best, process_time() - before)
        if best <= limit_s:
            break
    return best


def test_the_whole_analysis_of_five_hours_takes_half_a_second(five_hours: Track) -> None:
    (flight,) = flightlog.debrief(five_hours).flights
    assert len(flight.climbs) > 20
    assert len(flight.glides) > 20
    assert flight.wind.profile
    assert flight.performance.polar is not None
    taken = best_s(lambda: flightlog.debrief(five_hours), ANALYSIS_S)
    print(f"\nanalysis of {len(five_hours.time_s)} fixes: {taken:.3f} s")
    assert taken <= ANALYSIS_S


def test_the_wind_field_of_five_hours_takes_a_fifth_of_a_second(five_hours: Track) -> None:
    motion = clean_motion(five_hours, UNKNOWN_WING)
    spells = find_spells(motion, UNKNOWN_WING)
    assert len(estimate_air(motion, spells, UNKNOWN_WING).airspeed_mps) == len(motion.time_s)
    taken = best_s(lambda: estimate_air(motion, spells, UNKNOWN_WING), WIND_FIELD_S)
    print(f"\nwind field of {len(five_hours.time_s)} fixes: {taken:.3f} s")
    assert taken <= WIND_FIELD_S
