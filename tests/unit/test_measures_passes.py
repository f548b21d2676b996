"""Figures of passes and of the approach to the landing, on hand-built flights."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from flightlog.air.surface import GROUND_WIND_SHARE
from flightlog.arrays import frozen_floats
from flightlog.measures.approach import heading_swings_deg, low_turns_deg, measure_approach
from flightlog.measures.passes import measure_passes
from flightlog.phases.approaches import find_passes
from flightlog.phases.grounds import Ground
from flightlog.phases.phases import FlightSpan
from flightlog.settings import PARAGLIDER
from tests.unit.synthetic_motion import EPOCH_S, Leg, fly, observed

WIND = (0.0, -5.0)


def flown(last_legs, height_m, *, landed, wind=WIND, heading_deg=None):
    """Downwind, round, final (and what follows): motion, air, span and the ground under the lowest point."""
    legs = [
        Leg(40, 10.2, 0.0, heading_deg=90.0), Leg(12, 10.2, -1.2, heading_deg=180.0),
        Leg(12, 10.2, -1.2, turn_degps=15.0), *last_legs,
    ]  # fmt: skip
    path = fly(legs, wind=wind, altitude_m=1000.0 + height_m)
    at = int(np.argmin(path.altitude_m))
    motion, air = observed(path, wind=wind)
    last = float(motion.time_s[-1])
    span = FlightSpan(1, EPOCH_S, EPOCH_S, last, False, not landed, 0.5, 0.5, 0, len(motion.time_s))
    ground = Ground(
        "Top", float(path.east_m[at]), float(path.north_m[at]), 40.0, ("top_landing",), heading_deg,
        frozen_floats([EPOCH_S]), frozen_floats([1000.0]), 1.0, frozen_floats([]), frozen_floats([]),
        (1,) if landed else (),
    )  # fmt: skip
    return motion, air, span, ground


GO_AROUND = [Leg(35, 9.5, -1.2, heading_deg=0.0), Leg(8, 11.5, 0.8, turn_degps=10.0), Leg(60, 10.2, 1.2)]


def test_figures_of_a_go_around():
    motion, air, span, ground = flown(GO_AROUND, 75.8, landed=False)
    passes = find_passes(motion, air, span, (ground,), PARAGLIDER)
    (one,) = measure_passes(motion, air, passes, PARAGLIDER)
    assert (one.number, one.place, one.outcome, one.certainty) == (1, "Top", "go_around", "sure")
    assert one.lowest_height_m == pytest.approx(5.0, abs=1.0)
    assert one.ground_speed_mps == pytest.approx(4.5, abs=0.4)
    assert one.headwind_mps.value == pytest.approx(5.0, abs=0.2)
    assert one.sink_mps == pytest.approx(1.2, abs=0.15)
    assert one.line_up_deg == pytest.approx(0.0, abs=3.0)
    assert one.height_regained_m == pytest.approx(0.8 * 8 + 1.2 * 60, abs=3.0)
    assert one.decision.height_m == pytest.approx(5.0, abs=2.5)
    assert one.decision.distance_m < 20.0
    assert one.path_deviation_m < 4.0


def test_line_up_is_taken_from_the_fields_own_course():
    motion, air, span, ground = flown(GO_AROUND, 75.8, landed=False, heading_deg=20.0)
    passes = find_passes(motion, air, span, (ground,), PARAGLIDER)
    (one,) = measure_passes(motion, air, passes, PARAGLIDER)
    assert one.line_up_deg == pytest.approx(20.0, abs=3.0)


def test_a_straight_descent_leaves_no_deviation_and_a_landing_no_decision():
    motion, air, span, ground = flown([Leg(35, 9.5, -1.2, heading_deg=0.0)], 70.8, landed=True)
    passes = find_passes(motion, air, span, (ground,), PARAGLIDER)
    (one,) = measure_passes(motion, air, passes, PARAGLIDER)
    assert one.outcome == "landed"
    assert one.decision is None
    assert one.height_regained_m is None
    assert one.path_deviation_m < 1.0


def test_unknown_wind_gives_no_headwind():
    motion, air, span, ground = flown(GO_AROUND, 75.8, landed=False)
    passes = find_passes(motion, air, span, (ground,), PARAGLIDER)
    blind = air.__class__(**{**air.__dict__, "wind_east_mps": frozen_floats(np.full(len(motion.time_s), np.nan))})
    (one,) = measure_passes(motion, blind, passes, PARAGLIDER)
    assert one.headwind_mps is None


def test_a_circuit_with_its_final():
    motion, air, span, ground = flown([Leg(35, 9.5, -1.2, heading_deg=0.0)], 70.8, landed=True)
    approach = measure_approach(motion, air, span, (ground,), PARAGLIDER)
    assert approach.pattern == "circuit"
    assert approach.final_length_m == pytest.approx(35 * 4.5, abs=25.0)
    assert approach.final_sink_mps == pytest.approx(1.2, abs=0.1)
    assert approach.ground_speed_at_touchdown_mps == pytest.approx(4.5, abs=0.5)
    assert approach.headwind_mps.value == pytest.approx(GROUND_WIND_SHARE * 5.0, abs=0.2)
    assert approach.headwind_mps.low < 5.0 < approach.headwind_mps.high
    assert approach.unsteady == ()


def test_an_eight_and_a_straight_final():
    sides = [Leg(9, 9.5, -1.2, turn_degps=turn) for turn in (-16.0, 16.0, -16.0, 16.0, -8.0)]
    eight = [Leg(4, 9.5, -1.2, heading_deg=70.0), *sides, Leg(12, 9.5, -1.2, heading_deg=0.0)]
    motion, air, span, ground = flown(eight, 101.0, landed=True)
    assert measure_approach(motion, air, span, (ground,), PARAGLIDER).pattern == "figure_of_eight"
    motion, air, span, ground = flown([Leg(110, 9.5, -0.9, heading_deg=0.0)], 128.0, landed=True)
    assert measure_approach(motion, air, span, (ground,), PARAGLIDER).pattern == "straight_in"


def test_unsteady_approaches_are_told_apart():
    late = [Leg(30, 9.5, -1.2, heading_deg=0.0), Leg(6, 9.5, -3.6, turn_degps=20.0), Leg(3, 9.5, -3.6)]
    motion, air, span, ground = flown(late, 97.0, landed=True)
    said = " ".join(measure_approach(motion, air, span, (ground,), PARAGLIDER).unsteady)
    assert "sank" in said
    assert "turned" in said
    assert "final of only" in said
    motion, air, span, ground = flown([Leg(35, 9.5, -1.2, heading_deg=180.0)], 70.8, landed=True)
    said = " ".join(measure_approach(motion, air, span, (ground,), PARAGLIDER).unsteady)
    assert "from behind" in said


def test_no_approach_without_a_landing():
    motion, air, span, ground = flown(GO_AROUND, 75.8, landed=False)
    assert measure_approach(motion, air, span, (ground,), PARAGLIDER) is None


def test_swings_ignore_wobbles():
    assert heading_swings_deg(np.array([0.0, 10, -10, 10, 0]), 45.0) == []
    assert heading_swings_deg(np.array([0.0, 180, 170, 190, 20]), 45.0) == [190.0, -170.0]


@pytest.mark.parametrize("interval_s", [1.0, 2.0, 4.0])
def test_speed_at_touchdown_is_that_of_flying_in_not_of_standing(interval_s):
    """Down the final at 9.5 m/s against 5 m/s of wind, then standing: not the mean of both."""
    stand = Leg(40, 0.0, on_foot=True)
    path = fly([Leg(60, 9.5, -1.2), stand], wind=WIND, altitude_m=1072.0)
    motion, air = observed(path, wind=WIND, interval_s=interval_s)
    touch = path.leg_starts_s[1]
    span = FlightSpan(1, EPOCH_S, EPOCH_S, touch, False, False, 0.5, 0.5, 0, int(60 / interval_s))
    approach = measure_approach(motion, air, span, (), PARAGLIDER)
    assert approach.ground_speed_at_touchdown_mps == pytest.approx(4.5, abs=0.3)


def pattern_of(legs, *, altitude_m):
    """The pattern of an approach made of these legs in still air."""
    path = fly(legs, altitude_m=altitude_m)
    motion, air = observed(path, wind=(0.0, 0.0))
    last = float(motion.time_s[-1])
    span = FlightSpan(1, EPOCH_S, EPOCH_S, last, False, False, 0.5, 0.5, 0, len(motion.time_s))
    return measure_approach(motion, air, span, (), PARAGLIDER).pattern


def test_circling_down_to_the_final_is_no_circuit():
    legs = [Leg(60, 10.0), Leg(60, 10.0, -1.2, turn_degps=18.0), Leg(10, 10.0, -1.2)]
    assert pattern_of(legs, altitude_m=1084.0) == "other"


def test_circling_before_the_downwind_leg_does_not_hide_the_circuit():
    circuit = [Leg(15, 10.0, -1.0), Leg(10, 10.0, -1.2, turn_degps=18.0), Leg(18, 10.0, -1.0)]
    legs = [Leg(60, 10.0), Leg(40, 10.0, -1.0, turn_degps=18.0), *circuit]
    assert pattern_of(legs, altitude_m=1085.0) == "circuit"


def test_a_long_straight_final_is_straight_in_whatever_came_before():
    legs = [Leg(60, 10.0), Leg(40, 10.0, -1.0, turn_degps=18.0), Leg(45, 10.0, -1.0)]
    assert pattern_of(legs, altitude_m=1085.0) == "straight_in"


def test_a_pass_whose_end_lies_in_a_gap_is_measured_where_it_was_recorded():
    """No warning of an empty mean and no NaN: the last 8 s that the log holds stand for the last 8 s."""
    motion, air, span, ground = flown(GO_AROUND, 75.8, landed=False)
    (one,) = find_passes(motion, air, span, (ground,), PARAGLIDER)
    gap = (motion.time_s < one.end_s - 12.0) | (motion.time_s > one.end_s + 12.0)
    fields = {name: value[gap] if isinstance(value, np.ndarray) else value for name, value in vars(motion).items()}
    after = np.flatnonzero(np.diff(fields["time_s"]) > 20.0)[0] + 1
    fields["piece"] = (np.arange(len(fields["time_s"])) >= after).astype(np.int64)
    broken, holed = type(motion)(**fields), replace(air, wind_east_mps=air.wind_east_mps[gap],
        wind_north_mps=air.wind_north_mps[gap], wind_sd_mps=air.wind_sd_mps[gap])  # fmt: skip
    for start_s in (one.start_s, one.end_s - 6.0):  # some of it recorded, none of it recorded
        (measured,) = measure_passes(broken, holed, (replace(one, start_s=start_s),), PARAGLIDER)
        assert measured.ground_speed_mps == pytest.approx(4.5, abs=1.5)
        assert measured.sink_mps == pytest.approx(1.2, abs=0.5)


def test_turns_near_the_ground_count_below_their_height_only():
    time_s = np.arange(0.0, 40.0, 0.5)
    height_m = np.linspace(40.0, 0.0, len(time_s))
    heading_rad = np.radians(
        np.interp(time_s, [0.0, 10.0, 14.0, 30.0, 34.0, 40.0], [0.0, 0.0, 90.0, 90.0, 30.0, 30.0])
    )
    (turn,) = low_turns_deg(heading_rad, height_m, time_s, PARAGLIDER)
    assert turn == pytest.approx(60.0, abs=1.0)  # the first one, at 28 m, does not count
    assert low_turns_deg(np.zeros(len(time_s)), height_m, time_s, PARAGLIDER) == ()


def test_figures_of_the_last_seconds_of_a_landing():
    motion, air, span, ground = flown([Leg(35, 9.5, -1.2, heading_deg=0.0)], 70.8, landed=True)
    beside = replace(ground, east_m=ground.east_m + 12.0)
    approach = measure_approach(motion, air, span, (beside,), PARAGLIDER)
    assert approach.low_turns == 0
    assert approach.low_turn_deg == 0.0
    assert approach.final_speed_spread_mps < 0.3
    assert approach.final_path_deviation_m < 0.5
    assert approach.sink_at_touchdown_mps == pytest.approx(1.2, abs=0.2)
    assert approach.touchdown_distance_m == pytest.approx(12.0, abs=1.0)
    assert approach.wind_from_deg == pytest.approx(0.0, abs=2.0)
    assert approach.wind_speed_mps == pytest.approx(GROUND_WIND_SHARE * 5.0, abs=0.1)
    nameless = replace(beside, name=None)
    assert measure_approach(motion, air, span, (nameless,), PARAGLIDER).touchdown_distance_m is None


def test_lowest_heights_are_less_sure_without_a_barometer():
    motion, air, span, ground = flown(GO_AROUND, 75.8, landed=False)
    passes = find_passes(motion, air, span, (ground,), PARAGLIDER)
    (pressure,) = measure_passes(motion, air, passes, PARAGLIDER)
    (gnss,) = measure_passes(replace(motion, altitude_source="gnss"), air, passes, PARAGLIDER)
    assert 1.0 < pressure.lowest_height_sd_m < 1.5
    assert 4.0 < gnss.lowest_height_sd_m < 6.0
    assert "satellites alone" in gnss.note
    assert pressure.seconds_to_next_s is None


def test_time_to_the_next_try_skips_what_is_not_sure():
    motion, air, span, ground = flown(GO_AROUND, 75.8, landed=False)
    (one,) = find_passes(motion, air, span, (ground,), PARAGLIDER)
    later = [replace(one, end_s=one.end_s + 60.0, certainty="possible"), replace(one, end_s=one.end_s + 90.0)]
    first, between, last = measure_passes(motion, air, (one, *later), PARAGLIDER)
    assert (first.seconds_to_next_s, between.seconds_to_next_s, last.seconds_to_next_s) == (90.0, 30.0, None)


def test_lowest_heights_beside_known_ground_are_less_sure_without_a_places_file():
    motion, air, span, ground = flown(GO_AROUND, 75.8, landed=False)
    beside = replace(ground, north_m=ground.north_m + 40.0)
    sds = []
    for place in (ground, beside, replace(ground, name=None), replace(beside, name=None)):
        (one,) = measure_passes(motion, air, find_passes(motion, air, span, (place,), PARAGLIDER), PARAGLIDER)
        sds.append(one.lowest_height_sd_m)
    assert sds[0] == pytest.approx(sds[1], abs=0.1)
    assert sds[2] == pytest.approx(sds[0], abs=0.3)
    assert sds[3] > sds[0] + 1.5
