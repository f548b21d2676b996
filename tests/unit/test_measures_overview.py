"""Headline figures of a flight on small flights built by hand."""

from datetime import UTC, datetime

import numpy as np
import pytest

from flightlog.measures.overview import instant, measure_overview, phase_rows
from flightlog.phases.phases import FlightSpan, Phase
from tests.unit.synthetic_motion import EPOCH_S, Leg, fly, observed


def flight(legs, **options):
    motion, _ = observed(fly(legs), **options)
    end = float(motion.time_s[-1])
    return motion, FlightSpan(1, EPOCH_S, EPOCH_S, end, False, False, 0.5, 0.5, 0, len(motion.time_s))


def straight_way(motion):
    return np.hypot(np.diff(motion.east_m), np.diff(motion.north_m))


def test_gain_is_the_largest_rise_after_a_low_point():
    motion, span = flight([Leg(60, 10, -1.0), Leg(100, 10, 2.0), Leg(30, 10, -1.0), Leg(40, 10, 1.0)])
    overview = measure_overview(motion, span, straight_way(motion))
    assert overview.altitude_gain_m == pytest.approx(210, abs=2)  # 200 up, 30 down, 40 up
    assert overview.max_altitude_m == pytest.approx(1000 - 60 + 210, abs=2)
    assert overview.duration_s == pytest.approx(229, abs=1)
    assert overview.track_length_m == pytest.approx(2290, abs=15)


def test_strongest_climb_and_sink_are_means_of_five_seconds():
    motion, span = flight([Leg(60, 10, -1.0), Leg(3, 10, 6.0), Leg(60, 10, -1.0), Leg(20, 10, -3.0)])
    overview = measure_overview(motion, span, straight_way(motion))
    assert overview.max_climb_mps == pytest.approx((3 * 6.0 - 2 * 1.0) / 5, abs=0.3)
    assert overview.max_sink_mps == pytest.approx(3.0, abs=0.05)


def test_a_hop_too_short_for_a_mean_has_none():
    motion, span = flight([Leg(4, 10, -1.0)])
    overview = measure_overview(motion, span, straight_way(motion))
    assert overview.max_climb_mps is None
    assert overview.max_sink_mps is None


def test_phases_shorter_than_the_clocks_step_are_left_out_and_the_rest_lie_end_to_end():
    motion, span = flight([Leg(100, 10, -1.0)])
    times = (EPOCH_S, EPOCH_S + 0.4, EPOCH_S + 50.3, EPOCH_S + 99.0)
    kinds = ("launch_run", "glide", "approach")
    phases = tuple(Phase(k, None, a, b) for k, a, b in zip(kinds, times, times[1:], strict=False))
    rows = phase_rows(FlightSpan(**{**vars(span), "phases": phases}), motion)
    assert [row.kind for row in rows] == ["glide", "approach"]
    assert rows[0].end == rows[1].start
    assert rows[0].start == datetime.fromtimestamp(EPOCH_S, tz=UTC)


@pytest.mark.parametrize(("interval_s", "micro"), [(1.0, 0), (0.2, 400_000)])
def test_times_are_as_fine_as_the_recorders_clock(interval_s, micro):
    motion, _ = flight([Leg(20, 10)], interval_s=interval_s)
    assert instant(EPOCH_S + 3.42, motion).microsecond == micro
