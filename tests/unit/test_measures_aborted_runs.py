"""Runs given up at the launch, on hand-built days."""

from __future__ import annotations

from dataclasses import replace

import pytest

from flightlog.measures.aborted_runs import find_aborted_runs
from flightlog.phases.phases import FlightSpan
from flightlog.settings import PARAGLIDER
from tests.unit.synthetic_motion import EPOCH_S, Leg, fly, observed

STILL = Leg(30, 0.0, on_foot=True)
BACK = Leg(14, 0.9, on_foot=True, heading_deg=180.0)


def run(heading_deg=0.0, fastest_mps=4.5):
    """Speeding up for three seconds and stopping in two."""
    paces = (0.35, 0.7, 1.0, 0.6, 0.1)
    return [Leg(1.0, share * fastest_mps, on_foot=True, heading_deg=heading_deg) for share in paces]


def drift(fastest_mps=2.8):
    """To a pace along the launch and back, as a pilot goes who is pulled by the wing: without haste."""
    return [Leg(2.5, share * fastest_mps, on_foot=True, heading_deg=0.0) for share in (0.3, 0.65, 1.0, 0.65, 0.3)]


def found(before, interval_s=1.0, earliest_s=EPOCH_S, settings=PARAGLIDER):
    """Runs given up before a launch to the north that follows these legs."""
    launch = [Leg(1.0, s, on_foot=True, heading_deg=0.0) for s in (1.5, 3.0, 4.5)]
    path = fly([STILL, *before, STILL, *launch, Leg(60, 10.2, -1.0, heading_deg=0.0)])
    motion, _ = observed(path, interval_s=interval_s)
    liftoff = float(path.leg_starts_s[-1])
    span = FlightSpan(1, liftoff - 3.0, liftoff, float(motion.time_s[-1]), False, True, 0.5, 0.5, 0, 1)
    return find_aborted_runs(motion, span, earliest_s, (0.0, 1.0), settings), path


def test_a_run_given_up_is_found_with_its_figures():
    (one,), path = found([*run(), STILL, BACK])
    assert one.start.timestamp() == pytest.approx(float(path.leg_starts_s[1]), abs=1.5)
    assert one.duration_s == pytest.approx(5.0, abs=2.0)
    assert one.length_m == pytest.approx(4.5 * 2.75, rel=0.25)
    assert one.top_speed_mps == pytest.approx(4.2, abs=1.0)


def test_two_runs_are_two():
    runs, _ = found([*run(), STILL, BACK, STILL, *run(), STILL, BACK])
    assert len(runs) == 2


@pytest.mark.parametrize(
    "before",
    [[], [Leg(20, 1.3, on_foot=True, heading_deg=0.0)], run(fastest_mps=1.5), run(heading_deg=90.0), drift()],
    ids=["standing", "walking", "handling the wing", "across the launch", "pulled by the wing"],
)
def test_what_is_no_run(before):
    assert found([*before, STILL])[0] == ()


def test_without_the_least_haste_the_pull_of_the_wing_would_count():
    assert len(found([*drift(), STILL], settings=replace(PARAGLIDER, aborted_least_mps2=0.0))[0]) == 1


def test_a_landing_run_of_the_flight_before_does_not_count():
    (_, path) = found([*run(), STILL, BACK])
    runs, _ = found([*run(), STILL, BACK], earliest_s=float(path.leg_starts_s[6]))
    assert runs == ()


def test_fixes_far_apart_tell_nothing():
    assert found([*run(), STILL, BACK], interval_s=5.0)[0] is None
