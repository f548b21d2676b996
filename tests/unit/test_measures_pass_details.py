"""Passes in the terms of a stabilised approach, on hand-built flights whose path is known."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from flightlog.arrays import frozen_floats, frozen_ints
from flightlog.measures.pass_details import TO_GO_M, add_details, pass_detail
from flightlog.measures.passes import measure_passes
from flightlog.phases.approaches import PassSpan
from flightlog.phases.grounds import Ground
from flightlog.settings import PARAGLIDER
from tests.unit.synthetic_motion import EPOCH_S, Leg, fly, observed

SECONDS = 60
HEADWIND = (0.0, -5.0)


def final(sink_mps=1.0, airspeed_mps=10.0, wind=HEADWIND, above_m=0.0, legs=None):
    """A flight of a minute due north (or other legs) that ends `above_m` above the middle of a place."""
    legs = legs or [Leg(SECONDS, airspeed_mps, -sink_mps, heading_deg=0.0)]
    path = fly(legs, wind=wind, altitude_m=1100.0)
    motion, air = observed(path, wind=wind)
    ground = Ground(
        "Top", float(path.east_m[-1]), float(path.north_m[-1]), 40.0, ("top_landing",), None,
        frozen_floats([EPOCH_S]), frozen_floats([float(path.altitude_m[-1]) - above_m]), 1.0,
        frozen_floats([]), frozen_floats([]),
    )  # fmt: skip
    return motion, air, ground


def span_of(motion, ground, *, landed=False, start_s=2.0):
    end = float(motion.time_s[-1])
    return PassSpan(
        ground, EPOCH_S + start_s, end, "landed" if landed else "go_around", "sure",
        None if landed else end, end, 0.0, 0.0, end, 5.0,
    )  # fmt: skip


def detail_of(landed=False, **flight):
    motion, air, ground = final(**flight)
    return pass_detail(motion, air, span_of(motion, ground, landed=landed))


def test_a_straight_descent_onto_the_place_is_on_its_path():
    detail = detail_of(landed=True)
    assert [point.to_go_m for point in detail.points] == list(TO_GO_M)
    for point in detail.points:
        assert point.height_m == pytest.approx(point.to_go_m / 5.0, abs=0.5)  # 1 m down for 5 m over the ground
        assert point.ground_speed_mps == pytest.approx(5.0, abs=0.2)
        assert point.sink_mps == pytest.approx(1.0, abs=0.1)
        assert point.off_path_m.value == pytest.approx(0.0, abs=0.8)
        assert point.off_path_m.low < 0.0 < point.off_path_m.high


def test_too_high_is_above_the_path_by_as_much():
    for point in detail_of(above_m=12.0).points:
        assert point.off_path_m.value == pytest.approx(12.0, abs=0.8)
        assert point.off_path_m.low > 0.0


def test_too_low_is_below_it():
    assert detail_of(above_m=-9.0).points[-1].off_path_m.value == pytest.approx(-9.0, abs=0.8)


def test_the_interval_grows_with_the_way_to_go():
    far, _, near = detail_of().points
    assert far.off_path_m.high - far.off_path_m.low > near.off_path_m.high - near.off_path_m.low


@pytest.mark.parametrize(("wind", "cross"), [((4.0, 0.0), -4.0), ((-4.0, 0.0), 4.0)])
def test_crosswind_is_positive_from_the_right(wind, cross):
    """The course is north: a wind that goes east comes from the left."""
    path_course_offset = 0.5  # the track drifts by 22 degrees: part of the wind is along it
    detail = detail_of(wind=wind)
    assert detail.crosswind_mps.value == pytest.approx(
        cross * np.cos(np.arctan2(4.0, 10.0)), abs=path_course_offset
    )
    assert detail.wind_speed_mps == pytest.approx(4.0, abs=0.1)
    assert detail.wind_from_deg == pytest.approx(270.0 if wind[0] > 0 else 90.0, abs=1.0)


def test_steady_flight_shows_no_changes():
    detail = detail_of()
    assert detail.course_change_deg < 3.0
    assert detail.speed_spread_mps < 0.2
    assert detail.greatest_sink_mps == pytest.approx(1.0, abs=0.1)


def test_turns_and_sink_near_the_end_are_seen():
    detail = detail_of(legs=[Leg(50, 10.0, -1.0, heading_deg=0.0), Leg(8, 10.0, -3.0, turn_degps=10.0)])
    assert detail.course_change_deg > 60.0
    assert detail.greatest_sink_mps == pytest.approx(3.0, abs=0.3)


def test_a_flare_is_no_change_of_speed():
    legs = [Leg(58, 10.0, -1.0, heading_deg=0.0), Leg(2, 6.0, 0.0)]
    assert detail_of(landed=True, legs=legs, wind=(0.0, -3.0)).speed_spread_mps < 0.5


def test_a_pass_that_began_nearer_has_no_points_farther_off():
    motion, air, ground = final()
    detail = pass_detail(motion, air, span_of(motion, ground, start_s=SECONDS - 14.0))  # 70 m before the end
    assert [point.to_go_m for point in detail.points] == [50.0, 25.0]


def test_a_pass_broken_off_far_out_has_no_points_nearer():
    motion, air, ground = final()
    away = replace(ground, north_m=ground.north_m + 60.0)
    assert [point.to_go_m for point in pass_detail(motion, air, span_of(motion, away)).points] == [100.0]


def test_no_way_on_gives_no_height_off_the_path():
    """Parked into the wind: the angle over the ground has no meaning."""
    motion, air, ground = final(airspeed_mps=10.0, wind=(0.0, -9.9))
    away = replace(ground, north_m=ground.north_m + 24.0)
    points = pass_detail(motion, air, span_of(motion, away)).points
    assert points
    assert all(point.off_path_m is None for point in points)


def test_unknown_wind_is_said():
    motion, air, ground = final()
    blind = replace(air, wind_east_mps=frozen_floats(np.full(len(motion.time_s), np.nan)))
    detail = pass_detail(motion, blind, span_of(motion, ground))
    assert detail.wind_speed_mps is detail.wind_from_deg is detail.wind_se_mps is detail.crosswind_mps is None
    assert detail.note == "the wind of this pass is not known"
    assert detail.points


def test_silence_throughout_the_pass_is_said_and_nothing_else():
    motion, air, ground = final()
    ends = np.searchsorted(motion.time_s, [EPOCH_S + 10, EPOCH_S + 40])
    kept = np.r_[0 : ends[0], ends[1] : len(motion.time_s)]
    columns = {
        name: (frozen_ints if name in ("fix", "piece") else frozen_floats)(value[kept])
        for name, value in vars(motion).items()
        if isinstance(value, np.ndarray)
    }
    torn = replace(motion, **columns)
    torn = replace(torn, piece=frozen_ints((np.arange(len(kept)) >= ends[0]).astype(int)))
    silent = replace(span_of(motion, ground), start_s=EPOCH_S + 15, end_s=EPOCH_S + 35, decision_s=EPOCH_S + 35)
    detail = pass_detail(torn, air, silent)
    assert detail.points == ()
    assert detail.note == "the recorder was silent in this pass"


def test_every_pass_gets_its_detail():
    motion, air, ground = final()
    spans = (span_of(motion, ground),)
    (one,) = add_details(motion, air, spans, measure_passes(motion, air, spans, PARAGLIDER))
    assert one.detail == pass_detail(motion, air, spans[0])
    assert one.number == 1
