"""Phases of small flights whose legs are known."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pytest

from flightlog.air.air import Air
from flightlog.motion.motion import Motion, Turning
from flightlog.phases.labelling import label_phases
from flightlog.phases.landing import landing_approach_start_s
from flightlog.phases.phases import FlightSpan, Phase
from flightlog.settings import UNKNOWN_WING
from tests.unit.synthetic_motion import EPOCH_S, Leg, fly, observed

SINK = -1.2


@dataclass(frozen=True)
class Pass:
    """What the labelling reads of a pass."""

    start_s: float
    end_s: float
    outcome: str = "go_around"
    certainty: str = "sure"


def world(
    legs: list[Leg], wind: tuple[float, float] = (0.0, 0.0), interval_s: float = 1.0
) -> tuple[Motion, Air, list[float]]:
    """Motion and air of the legs; every leg that turns a full circle or more is a turning."""
    path = fly(legs, wind=wind, altitude_m=2000.0)
    motion, air = observed(path, wind=wind, interval_s=interval_s)
    turnings = []
    for start_s, leg in zip(path.leg_starts_s, legs, strict=True):
        if abs(leg.turn_degps) * leg.seconds >= 330.0:
            first, stop = np.searchsorted(motion.time_s, [start_s, start_s + leg.seconds])
            direction = "right" if leg.turn_degps > 0 else "left"
            turnings.append(Turning(int(first), int(stop), direction, abs(leg.turn_degps) * leg.seconds))
    return motion, replace(air, turnings=tuple(turnings)), list(path.leg_starts_s)


def span_of(motion: Motion, *, ends_in_air: bool = True, run_s: float = 0.0) -> FlightSpan:
    """A flight over all of the motion."""
    start_s, end_s = float(motion.time_s[0]), float(motion.time_s[-1])
    return FlightSpan(1, start_s, start_s + run_s, end_s, run_s == 0, ends_in_air, 0.5, 0.5, 0, motion.time_s.size)


def labels(
    legs: list[Leg], wind: tuple[float, float] = (0.0, 0.0), passes: tuple[Pass, ...] = (), interval_s: float = 1.0
) -> tuple[tuple[Phase, ...], list[float]]:
    """Phases of the legs and when each leg begins."""
    motion, air, starts = world(legs, wind, interval_s)
    return label_phases(motion, air, span_of(motion), passes, UNKNOWN_WING), starts


def kinds(phases: tuple[Phase, ...]) -> list[str]:
    """Kind, and mode where there is one."""
    return [phase.kind if phase.mode is None else f"{phase.kind}/{phase.mode}" for phase in phases]


GLIDE = Leg(120, 10.0, SINK)
CLIMB = Leg(150, 9.5, 2.0, turn_degps=24.0)


@pytest.mark.parametrize("wind", [(0.0, 0.0), (6.0, -3.0)])
@pytest.mark.parametrize("interval_s", [0.5, 1.0, 4.0])
def test_glide_climb_glide(wind: tuple[float, float], interval_s: float) -> None:
    phases, starts = labels([GLIDE, CLIMB, GLIDE], wind, interval_s=interval_s)
    assert kinds(phases) == ["glide", "climb/circling", "glide"]
    margin = 1.5 + interval_s  # half a second of easing, and one fix
    assert [p.start_s for p in phases] == pytest.approx(starts, abs=margin)


def test_phases_lie_end_to_end_from_run_to_touchdown() -> None:
    motion, air, _ = world([GLIDE, CLIMB, GLIDE, Leg(60, 10.0, SINK, heading_deg=200.0), CLIMB, GLIDE])
    span = span_of(motion, run_s=5.0)
    phases = label_phases(motion, air, span, (), UNKNOWN_WING)
    assert phases[0].kind == "launch_run"
    assert phases[0].start_s == span.start_s
    assert phases[-1].end_s == span.touchdown_s
    assert [p.end_s for p in phases[:-1]] == [p.start_s for p in phases[1:]]
    assert all(p.end_s > p.start_s for p in phases)


def test_recentring_and_a_change_of_direction_stay_one_climb() -> None:
    left = replace(CLIMB, turn_degps=-24.0)
    phases, _ = labels([GLIDE, CLIMB, Leg(12, 9.5, 0.0), CLIMB, left, GLIDE])
    assert kinds(phases) == ["glide", "climb/circling", "glide"]


def test_two_thermals_are_two_climbs() -> None:
    phases, _ = labels([GLIDE, CLIMB, GLIDE, CLIMB, GLIDE])
    assert kinds(phases) == ["glide", "climb/circling", "glide", "climb/circling", "glide"]


def test_circles_that_gain_nothing_are_search() -> None:
    phases, _ = labels([GLIDE, replace(CLIMB, seconds=60, climb_mps=-0.8), GLIDE])
    assert kinds(phases) == ["glide", "search", "glide"]


def test_circling_down_after_the_top_is_no_climb() -> None:
    phases, starts = labels([GLIDE, CLIMB, replace(CLIMB, seconds=90, climb_mps=-1.5), GLIDE])
    assert kinds(phases) == ["glide", "climb/circling", "search", "glide"]
    assert phases[2].start_s == pytest.approx(starts[2], abs=3)


def beats(count: int, climb_mps: float) -> list[Leg]:
    """Beats of 40 s to east and west, turning to the north (away from a hill in the south)."""
    legs = []
    for k in range(count):
        side = 1 if k % 2 == 0 else -1
        legs.append(Leg(40, 9.0, climb_mps, heading_deg=90.0 * side))
        legs.append(Leg(9, 9.0, climb_mps, turn_degps=-20.0 * side))
    return legs


@pytest.mark.parametrize("climb_mps", [0.0, 0.5])
def test_beats_that_hold_their_height_are_a_ridge_climb(climb_mps: float) -> None:
    phases, starts = labels(
        [Leg(120, 10.0, SINK, heading_deg=90.0), *beats(8, climb_mps), Leg(120, 10.0, SINK, heading_deg=0.0)]
    )
    assert kinds(phases) == ["glide", "climb/ridge", "glide"]
    assert phases[1].start_s == pytest.approx(starts[1], abs=15)
    assert phases[1].end_s == pytest.approx(starts[-1], abs=15)


def test_beats_that_sink_are_no_climb() -> None:
    phases, _ = labels(beats(8, -1.0))
    assert "climb/ridge" not in kinds(phases)


def test_parked_into_the_wind_at_held_height_is_a_ridge_climb() -> None:
    phases, _ = labels([Leg(240, 9.0, 0.0, heading_deg=270.0)], wind=(8.5, 0.0))
    assert kinds(phases) == ["climb/ridge"]


def test_a_slow_glide_into_the_wind_is_a_glide() -> None:
    phases, _ = labels([Leg(240, 10.0, SINK, heading_deg=270.0)], wind=(8.5, 0.0))
    assert kinds(phases) == ["glide"]


def test_rising_straight_on_is_a_straight_climb() -> None:
    phases, starts = labels([GLIDE, Leg(40, 10.0, 1.0), GLIDE])
    assert kinds(phases) == ["glide", "climb/straight", "glide"]
    assert phases[1].start_s == pytest.approx(starts[1], abs=2)


def test_a_bump_of_ten_seconds_is_part_of_the_glide() -> None:
    phases, _ = labels([GLIDE, Leg(10, 10.0, 1.0), GLIDE])
    assert kinds(phases) == ["glide"]


def test_short_legs_this_way_and_that_are_a_search() -> None:
    turns = [Leg(12, 9.0, -0.9, heading_deg=h) for h in (100.0, 220.0, 340.0, 80.0, 200.0, 310.0)]
    phases, starts = labels([GLIDE, *turns, Leg(120, 10.0, SINK, heading_deg=20.0)])
    assert kinds(phases) == ["glide", "search", "glide"]
    assert phases[1].start_s == pytest.approx(starts[1], abs=10)
    assert phases[1].end_s == pytest.approx(starts[-1], abs=10)


def test_one_turn_between_two_glides_is_no_search() -> None:
    phases, _ = labels([GLIDE, Leg(120, 10.0, SINK, heading_deg=120.0)])
    assert kinds(phases) == ["glide"]


@pytest.mark.parametrize(
    ("made", "expected"),
    [
        (Pass(EPOCH_S + 40, EPOCH_S + 80), ["glide", "approach", "glide"]),
        (Pass(EPOCH_S + 40, EPOCH_S + 80, certainty="possible"), ["glide"]),
        (Pass(EPOCH_S + 40, EPOCH_S + 80, outcome="landed"), ["glide"]),
    ],
)
def test_only_a_pass_surely_broken_off_is_an_approach_in_flight(made: Pass, expected: list[str]) -> None:
    phases, _ = labels([Leg(200, 10.0, SINK)], passes=(made,))
    assert kinds(phases) == expected
    if len(phases) == 3:
        assert (phases[1].start_s, phases[1].end_s) == pytest.approx((made.start_s, made.end_s), abs=1)


LAST_CIRCUIT = [
    Leg(25, 10.0, SINK, heading_deg=180.0),
    Leg(12, 10.0, SINK, heading_deg=90.0),
    Leg(30, 9.0, SINK, heading_deg=0.0),
]


def test_the_approach_begins_near_the_landing_place_below_circuit_height() -> None:
    motion, air, starts = world([Leg(600, 10.0, SINK, heading_deg=0.0), *LAST_CIRCUIT])
    span = span_of(motion, ends_in_air=False)
    start_s = landing_approach_start_s(motion, air, span, UNKNOWN_WING)
    assert start_s is not None
    assert starts[1] - 30 <= start_s <= starts[1] + 10
    phases = label_phases(motion, air, span, (), UNKNOWN_WING)
    assert kinds(phases) == ["glide", "approach"]
    assert phases[-1].start_s == pytest.approx(start_s, abs=1)


def test_a_wing_that_glides_well_circles_down_before_its_long_final() -> None:
    # 14 m/s and 0.7 m/s of sink: the final from 40 m begins 700 m from the touchdown, circles are flown before it
    down = Leg(60, 14.0, -0.7, turn_degps=12.0)
    motion, air, starts = world(
        [Leg(300, 14.0, -0.7, heading_deg=90.0), down, Leg(50, 14.0, -0.7, heading_deg=0.0)]
    )
    start_s = landing_approach_start_s(motion, air, span_of(motion, ends_in_air=False), UNKNOWN_WING)
    assert start_s is not None
    assert start_s <= starts[1] + 10


def test_soaring_beside_the_landing_place_is_not_yet_an_approach() -> None:
    motion, air, starts = world([*beats(8, 0.0), *LAST_CIRCUIT])
    start_s = landing_approach_start_s(motion, air, span_of(motion, ends_in_air=False), UNKNOWN_WING)
    assert start_s == pytest.approx(starts[-3], abs=5)


def test_soaring_that_slowly_loses_height_is_not_yet_an_approach() -> None:
    # no rise ever ends the descent, but what sinks by 0.05 m/s beat after beat is carried by the slope
    motion, air, starts = world([*beats(4, -0.05), *LAST_CIRCUIT])
    span = span_of(motion, ends_in_air=False)
    phases = label_phases(motion, air, span, (), UNKNOWN_WING)
    assert kinds(phases) == ["climb/ridge", "approach"]
    assert phases[-1].start_s == pytest.approx(starts[-3], abs=10)


def test_a_log_that_ends_in_the_air_has_no_approach() -> None:
    motion, air, _ = world([GLIDE, *LAST_CIRCUIT])
    assert landing_approach_start_s(motion, air, span_of(motion), UNKNOWN_WING) is None


def test_without_a_known_wind_the_ground_frame_serves() -> None:
    motion, air, _ = world([GLIDE, CLIMB, GLIDE])
    unknown = np.full(motion.time_s.size, np.nan)
    blind = replace(air, wind_east_mps=unknown, wind_north_mps=unknown, airspeed_mps=unknown)
    assert kinds(label_phases(motion, blind, span_of(motion), (), UNKNOWN_WING)) == [
        "glide",
        "climb/circling",
        "glide",
    ]


def test_a_flight_of_no_length_has_no_phases() -> None:
    motion, air, _ = world([GLIDE])
    span = replace(span_of(motion), touchdown_s=float(motion.time_s[0]))
    assert label_phases(motion, air, span, (), UNKNOWN_WING) == ()


@pytest.mark.parametrize("seed", range(8))
def test_whatever_is_flown_phases_lie_end_to_end_and_are_not_too_short(seed: int) -> None:
    generator = np.random.default_rng(seed)
    legs = [
        Leg(
            float(generator.uniform(3, 90)), float(generator.uniform(7, 14)), float(generator.uniform(-3, 3)),
            turn_degps=float(generator.choice([0.0, 0.0, 20.0, -25.0])),
            heading_deg=float(generator.uniform(0, 360)),
        )
        for _ in range(25)
    ]  # fmt: skip
    phases, _ = labels(legs, wind=(3.0, 2.0))
    assert [p.end_s for p in phases[:-1]] == [p.start_s for p in phases[1:]]
    inner = [p for p in phases[1:-1] if p.kind in ("glide", "search")]
    assert all(p.end_s - p.start_s >= UNKNOWN_WING.phase_least_s - 1 for p in inner)


DOWN = [Leg(25, 10.0, -1.5, heading_deg=h) for h in (60.0, 150.0, 280.0, 20.0)]
"""Height worked off over the slope, after soaring there."""


def test_a_ridge_climb_ends_at_its_top_when_the_height_is_worked_off_over_the_same_slope() -> None:
    phases, starts = labels([*beats(8, 0.5), *DOWN])
    assert kinds(phases)[0] == "climb/ridge"
    assert phases[0].end_s == pytest.approx(starts[16], abs=10)
    assert "climb/ridge" not in kinds(phases)[1:]


def test_a_ridge_climb_begins_where_the_lift_was_found() -> None:
    phases, starts = labels([*beats(4, -1.0), *beats(8, 0.5)])
    assert kinds(phases)[-1] == "climb/ridge"
    assert phases[-1].start_s == pytest.approx(starts[8], abs=10)
    assert "climb/ridge" not in kinds(phases)[:-1]


def test_a_long_descent_between_two_climbs_along_a_ridge_is_no_part_of_either() -> None:
    phases, starts = labels([*beats(6, 0.5), *beats(2, -1.5), *beats(6, 0.5)])
    ridge = [phase for phase in phases if phase.mode == "ridge"]
    assert len(ridge) == 2
    assert (ridge[0].end_s, ridge[1].start_s) == pytest.approx((starts[12], starts[16]), abs=10)


def test_one_beat_through_sink_is_part_of_soaring() -> None:
    sinking = [Leg(25, 9.0, -1.0, heading_deg=90.0), Leg(9, 9.0, 0.0, turn_degps=-20.0)]
    phases, _ = labels([*beats(5, 0.3), *sinking, *beats(5, 0.3)])
    assert kinds(phases) == ["climb/ridge"]


def test_most_of_one_circle_in_lift_is_no_circling_climb() -> None:
    phases, _ = labels([GLIDE, Leg(14, 9.5, 1.0, turn_degps=24.5), GLIDE])
    assert "climb/circling" not in kinds(phases)


@pytest.mark.parametrize("wind", [(0.0, 0.0), (9.0, 0.0), (0.0, -9.0)])
def test_turns_to_and_fro_over_one_field_are_a_search_in_any_wind(wind: tuple[float, float]) -> None:
    upwind = float(np.degrees(np.arctan2(-wind[0], -wind[1])))
    aside = [Leg(25, 10.5, -1.4, heading_deg=upwind + side * 55.0) for side in (1, -1) * 5]
    phases, starts = labels([GLIDE, *aside, GLIDE], wind)
    found = next(phase for phase in phases if phase.kind == "search")
    assert found.start_s == pytest.approx(starts[1], abs=30)
    assert found.end_s == pytest.approx(starts[-1], abs=30)


@pytest.mark.parametrize("turn_degps", [0.3, -0.3])
def test_a_glide_in_a_wide_bow_is_no_search(turn_degps: float) -> None:
    # half a circle in ten minutes: the straight way between its ends is 0.64 of the way flown, and it still got on
    phases, _ = labels([Leg(600, 10.0, -1.0, turn_degps=turn_degps)])
    assert kinds(phases) == ["glide"]


def test_a_glide_held_in_place_by_the_wind_is_no_search() -> None:
    phases, _ = labels([Leg(600, 10.0, -1.5)], (-9.9, 0.3))
    assert kinds(phases) == ["glide"]


def test_straight_on_through_weak_lift_into_the_wind_is_no_beat() -> None:
    # 400 m over the ground in 100 s, a narrow strip held at its height, but never flown back
    legs = [Leg(120, 11.0, -1.2), Leg(100, 11.0, -0.05), Leg(120, 11.0, -1.2)]
    phases, _ = labels(legs, (0.0, -7.0))
    assert kinds(phases) == ["glide"]


def test_turns_to_and_fro_in_lift_beside_circles_are_part_of_the_climb() -> None:
    centring = [Leg(9, 9.5, 1.5, turn_degps=turn) for turn in (24.0, -24.0, 24.0, -24.0)]
    phases, starts = labels([GLIDE, CLIMB, *centring, GLIDE])
    assert kinds(phases) == ["glide", "climb/circling", "glide"]
    assert phases[1].end_s == pytest.approx(starts[-1], abs=8)


def test_circles_across_a_gap_of_the_recording_are_one_climb() -> None:
    motion, air, starts = world([GLIDE, CLIMB, Leg(60, 9.5, 2.0, turn_degps=24.0), CLIMB, GLIDE], (8.0, 4.0))
    silent = (motion.time_s > starts[2]) & (motion.time_s < starts[3])
    turnings = tuple(
        one
        for one in air.turnings
        if one.start < np.flatnonzero(silent)[0] - 1 or one.start >= np.flatnonzero(silent)[-1]
    )
    keep = np.flatnonzero(~silent)
    thinned = {
        name: value[keep]
        for name, value in vars(motion).items()
        if isinstance(value, np.ndarray) and value.shape == motion.time_s.shape
    }
    about = {
        name: value[keep]
        for name, value in vars(air).items()
        if isinstance(value, np.ndarray) and value.shape == motion.time_s.shape
    }
    moved = tuple(
        replace(one, start=int(np.searchsorted(keep, one.start)), stop=int(np.searchsorted(keep, one.stop)))
        for one in turnings
    )
    motion, air = replace(motion, **thinned), replace(air, **about, turnings=moved)
    phases = label_phases(motion, air, span_of(motion), (), UNKNOWN_WING)
    assert kinds(phases) == ["glide", "climb/circling", "glide"]


def test_a_landing_up_the_slope_has_an_approach() -> None:
    motion, air, _ = world([*beats(6, 0.3), Leg(20, 9.0, 0.8, heading_deg=0.0)])
    span = span_of(motion, ends_in_air=False)
    start_s = landing_approach_start_s(motion, air, span, UNKNOWN_WING)
    assert start_s == pytest.approx(span.touchdown_s - UNKNOWN_WING.approach_least_s, abs=1)
