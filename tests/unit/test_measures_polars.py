"""Blocks of glide, pooling, and what the polar says of itself."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from flightlog.air.wing_polars import expectations
from flightlog.arrays import frozen_ints
from flightlog.measures.polars import GlideBlocks, fit_polar, glide_blocks, pool_blocks
from flightlog.phases.phases import FlightSpan, Phase
from flightlog.settings import PARAGLIDER, UNKNOWN_WING
from tests.unit.synthetic_motion import Leg, fly, observed

DENSITY_ROOT = np.sqrt(1.11 / 1.225)  # of the synthetic air


def blocks_of(legs: list[Leg], phases: list[tuple[str, str | None]] | None = None, **how: object) -> GlideBlocks:
    """Blocks of a flight whose legs are these phases; glides where none are named. Fast turning is circling."""
    path = fly(legs, altitude_m=2000.0)
    motion, air = observed(path, **how)  # type: ignore[arg-type]
    air = replace(air, circling=frozen_ints(np.where(np.abs(air.turn_rate_degps) > 15.0, 1, 0)))
    edges = [*path.leg_starts_s, float(motion.time_s[-1])]
    named = phases or [("glide", None)] * len(legs)
    made = tuple(Phase(kind, mode, edges[i], edges[i + 1]) for i, (kind, mode) in enumerate(named))
    span = FlightSpan(1, edges[0], edges[0], edges[-1], True, True, 0.5, 0.5, 0, motion.time_s.size, made)
    return glide_blocks(motion, air, span, UNKNOWN_WING)


def test_blocks_are_twenty_seconds_of_equivalent_speed_and_sink() -> None:
    blocks = blocks_of([Leg(200, 11.0, -1.2)])
    assert blocks.glide_time_s == 180.0  # without the first and last seconds
    assert blocks.pieces.airspeed_mps == pytest.approx(np.full(9, 11.0 * DENSITY_ROOT))
    assert blocks.pieces.sink_mps == pytest.approx(np.full(9, 1.2 * DENSITY_ROOT), rel=1e-3)
    assert np.diff(blocks.pieces.time_s) == pytest.approx(np.full(8, 20.0))


def test_height_gained_by_slowing_down_is_no_lift() -> None:
    # from 16 to 10 m/s within the block gives (16^2 - 10^2) / 2g = 7.95 m, or 0.40 m/s over 20 s
    slowing = [Leg(2, 16.0 - 0.3 * k, -1.0 + 0.398 / 20 * 20) for k in range(21)]
    blocks = blocks_of([Leg(30, 16.0, -1.0), *slowing, Leg(30, 10.0, -1.0)], [("glide", None)] * 23)
    assert blocks.pieces.sink_mps.mean() == pytest.approx(1.0 * DENSITY_ROOT, abs=0.15)


def test_turns_gaps_and_climbs_are_left_out() -> None:
    assert blocks_of([Leg(100, 10.0, -1.5, turn_degps=18.0)]).glide_time_s == 0.0
    assert blocks_of([Leg(100, 10.0, 1.0)], [("climb", "straight")]).glide_time_s == 0.0
    assert blocks_of([Leg(100, 10.0, -1.0)], [("search", None)]).glide_time_s == 0.0
    assert blocks_of([Leg(100, 10.0, -1.0)], wind=None).glide_time_s == 0.0


def test_lift_flown_straight_through_stays_in() -> None:
    legs = [Leg(100, 10.0, -1.0), Leg(30, 10.0, 1.0), Leg(100, 10.0, -1.0)]
    blocks = blocks_of(legs, [("glide", None), ("climb", "straight"), ("glide", None)])
    assert blocks.pieces.glide.max() == 0
    assert blocks.pieces.sink_mps.min() < 0.0
    assert blocks.lift_share == pytest.approx(30.0 / 230.0, abs=0.01)


def test_pooled_flights_keep_their_glides_apart() -> None:
    one = blocks_of([Leg(200, 11.0, -1.2)])
    both = pool_blocks([one, one])
    assert both.glide_time_s == 2 * one.glide_time_s
    assert sorted(set(both.pieces.glide.tolist())) == [0, 1]
    assert both.straight_s == 2 * one.straight_s
    assert pool_blocks([]).glide_time_s == 0.0


def test_too_little_glide_gives_no_polar() -> None:
    assert fit_polar(blocks_of([Leg(100, 11.0, -1.2)]), expectations("unknown")) is None


def test_the_polar_says_what_it_rests_on() -> None:
    polar = fit_polar(blocks_of([Leg(700, 11.0, -1.2)]), expectations("paraglider"))
    assert polar is not None
    assert polar.note is not None
    assert "11 minutes" in polar.note
    assert "paraglider" in polar.note
    assert polar.density_reference_kgm3 == 1.225


def test_the_polar_is_a_polar() -> None:
    polar = fit_polar(blocks_of([Leg(300, 10.0, -1.1), Leg(300, 13.0, -1.7)]), expectations("unknown"))
    assert polar is not None
    curves = (polar.sink_low_mps, polar.sink_mps, polar.sink_high_mps)
    assert all(len(curve) == len(polar.airspeed_mps) for curve in curves)
    assert all(low <= middle <= high for low, middle, high in zip(*curves, strict=True))
    assert all(sink > 0 for sink in polar.sink_mps)
    for estimate in (polar.best_glide_ratio, polar.best_glide_airspeed_mps, polar.min_sink_mps):
        assert estimate.low <= estimate.value <= estimate.high
    assert polar.min_sink_airspeed_mps.value < polar.best_glide_airspeed_mps.value


def test_naming_the_class_narrows_the_interval() -> None:
    blocks = blocks_of([Leg(200, 10.0, -1.1)])
    known = fit_polar(blocks, expectations(PARAGLIDER.wing_class))
    unknown = fit_polar(blocks, expectations("unknown"))
    assert known is not None
    assert unknown is not None
    assert (
        known.best_glide_ratio.high - known.best_glide_ratio.low
        < unknown.best_glide_ratio.high - unknown.best_glide_ratio.low
    )


def test_much_climbing_straight_on_is_said() -> None:
    blocks = replace(blocks_of([Leg(300, 10.0, -0.8)]), straight_s=1000.0, straight_climb_s=150.0)
    polar = fit_polar(blocks, expectations("paraglider"))
    assert polar is not None
    assert polar.note is not None
    assert "15 % of the straight flight climbed" in polar.note


def test_lift_met_by_chance_does_not_widen_the_polar_but_chosen_lift_does() -> None:
    glide = blocks_of([Leg(1500, 10.0, -1.0), Leg(1500, 12.0, -1.4)])
    polars = [
        fit_polar(replace(glide, straight_s=1000.0, straight_climb_s=climb_s), expectations("paraglider"))
        for climb_s in (0.0, 25.0, 150.0)
    ]
    widths = [p.best_glide_ratio.high - p.best_glide_ratio.low for p in polars if p is not None]
    assert widths[1] == pytest.approx(widths[0], rel=1e-9)
    assert widths[2] > 1.3 * widths[0]


@pytest.mark.parametrize("speed_mps", [35.0, 5.5])
def test_speeds_that_no_wing_flies_give_no_polar(speed_mps: float) -> None:
    assert fit_polar(blocks_of([Leg(700, speed_mps, -1.2)]), expectations("unknown")) is None


def test_circles_of_climbs_tell_the_speed_at_which_the_pilot_circles() -> None:
    # 11 m/s at 20 degrees a second is a bank of 21.4 degrees, load 1.0738 (references TRN-11): 11 / sqrt(1.0738)
    legs = [Leg(200, 12.0, -1.2), Leg(150, 11.0, 1.5, turn_degps=20.0), Leg(100, 11.0, -3.0, turn_degps=20.0)]
    blocks = blocks_of(legs, [("glide", None), ("climb", "circling"), ("search", None)])
    assert blocks.circling_mps == pytest.approx(11.0 / np.sqrt(1.0738) * DENSITY_ROOT, rel=0.01)
    assert blocks.circling_s == pytest.approx(150.0, abs=5.0)  # circles of a search, or in sink, do not count
    pooled = pool_blocks([blocks, blocks_of(legs[:1])])
    assert pooled.circling_mps == pytest.approx(blocks.circling_mps)


def test_a_turn_that_is_not_known_leaves_the_other_circles() -> None:
    legs = [Leg(200, 12.0, -1.2), Leg(300, 11.0, 1.5, turn_degps=20.0)]
    path = fly(legs, altitude_m=2000.0)
    motion, air = observed(path)
    start_s, middle_s, end_s = *path.leg_starts_s, float(motion.time_s[-1])
    turn, speed = air.turn_rate_degps.copy(), air.airspeed_mps.copy()
    turn[250], speed[300] = np.nan, np.nan
    air = replace(air, turn_rate_degps=turn, airspeed_mps=speed, circling=frozen_ints(motion.time_s >= middle_s))
    phases = (Phase("glide", None, start_s, middle_s), Phase("climb", "circling", middle_s, end_s))
    span = FlightSpan(1, start_s, start_s, end_s, True, True, 0.5, 0.5, 0, motion.time_s.size, phases)
    blocks = glide_blocks(motion, air, span, UNKNOWN_WING)
    assert blocks.circling_mps == pytest.approx(11.0 / np.sqrt(1.0738) * DENSITY_ROOT, rel=0.01)


def test_too_little_circling_tells_nothing() -> None:
    legs = [Leg(200, 12.0, -1.2), Leg(100, 11.0, 1.5, turn_degps=20.0)]
    blocks = blocks_of(legs, [("glide", None), ("climb", "circling")])
    assert blocks.circling_s > 90.0
    assert blocks.circling_mps is None
    polar = fit_polar(blocks, expectations("paraglider"))
    assert polar is not None
    assert "circling" not in str(polar.note)


def test_circling_moves_the_speed_of_least_sink_as_little_as_habit_is_sure() -> None:
    plain = blocks_of([Leg(700, 11.0, -1.2)])
    told = {}
    for speed in (None, 8.0, 9.2, 10.5, 14.0):
        circling_s = 0.0 if speed is None else 600.0
        blocks = replace(plain, circling_s=circling_s, circling_way_m=circling_s * (speed or 0.0))
        polar = fit_polar(blocks, expectations("paraglider"))
        assert polar is not None
        told[speed] = polar.min_sink_airspeed_mps
    assert told[8.0].value < told[9.2].value < told[10.5].value
    assert told[9.2].high - told[9.2].low < told[None].high - told[None].low
    # 1.05 times least sink is usual: a pilot 12 % faster or slower is followed less than half of the way
    assert 0.0 < told[10.5].value - told[9.2].value < (10.5 - 9.2) / 1.05 / 2
    # one who circles half as fast again does otherwise than pilots do, and is followed less still
    assert told[14.0].value - told[9.2].value < (14.0 - 9.2) / 1.05 / 5
