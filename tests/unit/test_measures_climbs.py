"""Climbs whose gain, circles and air are known."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from flightlog.air.air import Air
from flightlog.air.cores import RiseSamples, fit_cores
from flightlog.measures.climbs import measure_climbs
from flightlog.measures.results import Climb
from flightlog.motion.motion import Motion, Turning
from flightlog.phases.phases import FlightSpan, Phase
from flightlog.settings import UNKNOWN_WING
from flightlog.wings import Wing
from tests.unit.synthetic_motion import Leg, fly, observed

WIND = (4.0, -2.0)
MAKERS_WING = Wing(
    "Invented",
    "paraglider",
    5.0,
    95.0,
    polar=tuple((v, 0.01 * v * v - 0.16 * v + 1.64) for v in (8.0, 10.0, 12.0, 14.0)),
)  # least sink 1.000 at 8 m/s


def circling(
    *, turn_degps: float = 20.45, speed_mps: float = 10.0, climb_mps: float = 2.0, interval_s: float = 1.0,
    source: str = "pressure", legs: list[Leg] | None = None,
) -> tuple[Motion, Air, FlightSpan]:  # fmt: skip
    """Straight on, circles for three minutes, straight on; the turning legs are the turnings and the climb."""
    middle = legs or [Leg(180, speed_mps, climb_mps, turn_degps=turn_degps)]
    path = fly([Leg(60, speed_mps, -1.0), *middle, Leg(60, speed_mps, -1.0)], wind=WIND, altitude_m=1000.0)
    motion, air = observed(path, wind=WIND, interval_s=interval_s, source=source)
    starts = (*path.leg_starts_s[1:], path.leg_starts_s[-1])
    turnings = []
    for start_s, leg in zip(starts, middle, strict=False):
        first, stop = np.searchsorted(motion.time_s, [start_s, start_s + leg.seconds])
        direction = "right" if leg.turn_degps > 0 else "left"
        turnings.append(Turning(int(first), int(stop), direction, abs(leg.turn_degps) * leg.seconds))
    phase = Phase("climb", "circling", starts[0], path.leg_starts_s[-1])
    first_s, last_s = float(motion.time_s[0]), float(motion.time_s[-1])
    span = FlightSpan(1, first_s, first_s, last_s, True, True, 0.5, 0.5, 0, motion.time_s.size, (phase,))
    return motion, replace(air, turnings=tuple(turnings)), span


def climb_of(wing: Wing | None = None, **how: object) -> Climb:
    """The one climb of such a flight."""
    motion, air, span = circling(**how)  # type: ignore[arg-type]
    (climb,) = measure_climbs(motion, air, span, UNKNOWN_WING, wing)
    return climb


def test_ends_of_a_climb_are_where_it_was_flown() -> None:
    motion, air, span = circling()
    (climb,) = measure_climbs(motion, air, span, UNKNOWN_WING)
    east, north = motion.plane.to_plane(
        [climb.start_lat_deg, climb.end_lat_deg], [climb.start_lon_deg, climb.end_lon_deg]
    )
    at = np.searchsorted(motion.time_s, [span.phases[0].start_s, span.phases[0].end_s])
    assert east == pytest.approx(motion.east_m[at], abs=15.0)  # within a second or so of flying
    assert north == pytest.approx(motion.north_m[at], abs=15.0)
    drift_m = (float(east[1] - east[0]), float(north[1] - north[0]))
    assert drift_m == pytest.approx((180.0 * WIND[0], 180.0 * WIND[1]), abs=80.0)  # but for part of a circle


def test_gain_is_height_gained_and_mean_climb_is_gain_over_time() -> None:
    climb = climb_of()
    assert climb.gain_m == pytest.approx(360.0, abs=2)  # the ends ease over one second
    assert climb.top_altitude_m - climb.base_altitude_m == pytest.approx(climb.gain_m)
    assert climb.mean_climb_mps.value == pytest.approx(climb.gain_m / 180.0)
    assert climb.mean_climb_mps.low < 2.0 < climb.mean_climb_mps.high
    assert climb.best_30s_climb_mps == pytest.approx(2.0, abs=0.02)


def test_the_top_is_the_highest_point_and_the_gain_runs_from_start_to_end() -> None:
    legs = [Leg(120, 10.0, 2.0, turn_degps=20.0), Leg(60, 10.0, -1.0, turn_degps=20.0)]
    climb = climb_of(legs=legs)
    assert climb.gain_m == pytest.approx(180.0, abs=3)
    assert climb.top_altitude_m - climb.base_altitude_m == pytest.approx(240.0, abs=3)


def test_circles_of_twenty_degrees_of_bank() -> None:
    # 10 m/s at 20 degrees: radius 28.02 m, period 17.60 s (R = V^2 / (g tan phi), FAA-H-8083-25 ch. 5)
    climb = climb_of()
    assert climb.circle_period_s == pytest.approx(17.60, abs=0.1)
    assert climb.circle_radius_m == pytest.approx(28.02, abs=0.4)
    assert climb.bank_deg == pytest.approx(20.0, abs=0.3)
    assert climb.turns == pytest.approx(180.0 / 17.60, abs=0.15)


@pytest.mark.parametrize("interval_s", [1.0, 4.0])
def test_the_circles_stand_with_their_intervals(interval_s: float) -> None:
    climb = climb_of(interval_s=interval_s)
    for value, interval, true in (
        (climb.circle_period_s, climb.circle_period_interval_s, 17.60),
        (climb.circle_radius_m, climb.circle_radius_interval_m, 28.02),
        (climb.bank_deg, climb.bank_interval_deg, 20.0),
    ):
        assert interval is not None
        assert interval.value == value
        assert interval.low < true < interval.high
        assert interval.high - interval.low < 0.2 * true


def test_without_a_circle_there_is_no_interval_of_one() -> None:
    climb = climb_of(legs=[Leg(180, 10.0, 2.0)])
    assert climb.bank_deg is None
    assert climb.bank_interval_deg is None
    assert climb.circle_radius_interval_m is None
    assert climb.circle_period_interval_s is None


@pytest.mark.parametrize("interval_s", [0.5, 2.0, 4.0, 5.0])
@pytest.mark.parametrize("turn_degps", [25.0, -32.0])
def test_turns_are_counted_right_at_every_interval(interval_s: float, turn_degps: float) -> None:
    climb = climb_of(interval_s=interval_s, turn_degps=turn_degps)
    assert climb.turns == pytest.approx(180.0 * abs(turn_degps) / 360.0, rel=0.03)
    assert climb.turn_direction == ("right" if turn_degps > 0 else "left")


def test_half_to_the_left_and_half_to_the_right_is_mixed() -> None:
    legs = [Leg(90, 10.0, 2.0, turn_degps=20.0), Leg(90, 10.0, 2.0, turn_degps=-20.0)]
    assert climb_of(legs=legs).turn_direction == "mixed"


def test_a_sixth_of_the_turning_the_other_way_is_not_mixed() -> None:
    legs = [Leg(150, 10.0, 2.0, turn_degps=20.0), Leg(30, 10.0, 2.0, turn_degps=-20.0)]
    assert climb_of(legs=legs).turn_direction == "right"


def test_an_end_in_a_gap_of_the_recording_makes_the_mean_climb_unsure() -> None:
    motion, air, span = circling()
    start_s = span.phases[0].start_s
    kept = np.abs(motion.time_s - start_s) > 20.0
    pieces = np.where(motion.time_s > start_s, motion.piece + 1, motion.piece)
    heard = {
        name: np.asarray(value)[kept]
        for name, value in (vars(motion) | {"piece": pieces}).items()
        if isinstance(value, np.ndarray) and value.shape == motion.time_s.shape
    }
    about = {
        name: value[kept]
        for name, value in vars(air).items()
        if isinstance(value, np.ndarray) and value.shape == motion.time_s.shape
    }
    silent, moved = replace(motion, **heard), replace(air, **about, turnings=())
    (whole,) = measure_climbs(motion, air, span, UNKNOWN_WING)
    (climb,) = measure_climbs(silent, moved, span, UNKNOWN_WING)
    assert climb.mean_climb_mps.low < 2.0 < climb.mean_climb_mps.high
    assert climb.mean_climb_mps.high - climb.mean_climb_mps.low > 4 * (
        whole.mean_climb_mps.high - whole.mean_climb_mps.low
    )


def test_the_wind_of_a_long_climb_is_surer_than_that_of_a_short_one_but_never_sure() -> None:
    times = (60, 600, 6000)
    winds = [climb_of(legs=[Leg(seconds, 10.0, 0.5, turn_degps=20.0)]).wind for seconds in times]
    errors = [wind.se_mps for wind in winds if wind is not None]
    assert errors[0] > errors[1] >= errors[2] >= min(errors[0], UNKNOWN_WING.wind_least_sd_mps)


def test_sparse_fixes_in_tight_circles_leave_the_wind_of_a_long_climb_unsure() -> None:
    # what an uneven bank costs between fixes 5 s apart is alike in every circle: fifty do not level it out
    tight = [Leg(700, 10.0, 0.5, turn_degps=27.0)]
    often, seldom = (climb_of(legs=tight, interval_s=interval_s).wind for interval_s in (1.0, 5.0))
    assert often is not None
    assert seldom is not None
    assert often.se_mps < 0.3
    assert seldom.se_mps > 0.35


def test_the_air_rises_faster_than_the_wing_by_its_sink_in_the_turn() -> None:
    climb = climb_of(MAKERS_WING)
    root = np.sqrt(1.11 / 1.225)  # density of the synthetic air
    load = 1.0 / np.cos(np.radians(20.0))
    speed = 10.0 * root / np.sqrt(load)
    own_sink = load**1.5 * (0.01 * speed**2 - 0.16 * speed + 1.64) / root
    assert climb.airmass_mps is not None
    assert climb.airmass_mps.value == pytest.approx(2.0 + own_sink, abs=0.08)
    assert climb.airmass_mps.low < 2.0 + own_sink < climb.airmass_mps.high


def test_an_unknown_wing_makes_the_air_less_sure() -> None:
    known, unknown = climb_of(MAKERS_WING).airmass_mps, climb_of().airmass_mps
    assert known is not None
    assert unknown is not None
    assert unknown.high - unknown.low > known.high - known.low


def test_gnss_altitude_alone_widens_the_interval() -> None:
    pressure, gnss = climb_of().mean_climb_mps, climb_of(source="gnss").mean_climb_mps
    assert gnss.high - gnss.low > 3 * (pressure.high - pressure.low)


def test_without_wind_nothing_is_said_of_the_way_through_the_air() -> None:
    motion, air, span = circling()
    unknown = np.full(motion.time_s.size, np.nan)
    blind = replace(air, wind_east_mps=unknown, wind_north_mps=unknown, wind_sd_mps=unknown, airspeed_mps=unknown)
    (climb,) = measure_climbs(motion, blind, span, UNKNOWN_WING)
    assert climb.circle_radius_m is None
    assert climb.bank_deg is None
    assert climb.airmass_mps is None
    assert climb.core is None
    assert climb.wind is None


def test_a_climb_shorter_than_thirty_seconds_has_no_best_thirty() -> None:
    motion, air, span = circling()
    phase = span.phases[0]
    short = replace(span, phases=(replace(phase, end_s=phase.start_s + 20.0),))
    assert measure_climbs(motion, air, short, UNKNOWN_WING)[0].best_30s_climb_mps is None


def hill(offset_m: float, *, noise_mps: float = 0.0, seed: int = 1) -> RiseSamples:
    """Flown straight in, then circles of 30 m radius beside the core of 3 m/s and 80 m that stands at (20, 0)."""
    time = np.arange(0.0, 105.0, 2.0)
    angle = np.maximum(time - 15.0, 0.0) * 2 * np.pi / 16.0
    east = np.where(time < 15.0, 30.0, 30.0 * np.cos(angle)) + offset_m
    north = np.where(time < 15.0, (time - 15.0) * 10.0, 30.0 * np.sin(angle))
    rise = 3.0 * np.exp(-((east - 20.0) ** 2 + north**2) / 80.0**2)
    rise = rise + noise_mps * np.random.default_rng(seed).standard_normal(time.size)
    return RiseSamples(time - time.mean(), east, north, np.zeros(time.size), rise)


@pytest.mark.parametrize("offset_m", [0.0, 30.0, 60.0])
def test_the_core_is_found_from_the_way_through_it(offset_m: float) -> None:
    (core,) = fit_cores([hill(offset_m)])
    assert core is not None
    assert core.strength_mps == pytest.approx(3.0, abs=0.15)
    assert core.radius_m == pytest.approx(80.0, rel=0.1)
    assert np.hypot(core.east_m - 20.0, core.north_m) < 6.0


def test_where_thermals_meet_the_core_is_as_strong_as_what_they_lift_together() -> None:
    alone = hill(0.0)
    beside = 2.0 * np.exp(-((alone.east_m - 20.0) ** 2 + (alone.north_m - 90.0) ** 2) / 80.0**2)
    (core,) = fit_cores([replace(alone, rise_mps=alone.rise_mps + beside)])
    north = np.linspace(-50.0, 90.0, 141)
    strongest = (3.0 * np.exp(-(north**2) / 80.0**2) + 2.0 * np.exp(-((north - 90.0) ** 2) / 80.0**2)).max()
    assert strongest > 3.7
    assert core is not None
    assert core.strength_mps == pytest.approx(strongest, rel=0.06)


def test_the_cores_interval_holds_the_truth_in_rough_air() -> None:
    cores = fit_cores([hill(30.0, noise_mps=0.5, seed=seed) for seed in range(40)])
    inside = [abs(c.strength_mps - 3.0) < 1.96 * 1.5 * c.strength_sd_mps for c in cores if c is not None]
    assert len(inside) == 40
    assert np.mean(inside) >= 0.9


def test_fits_do_not_depend_on_what_is_fitted_beside_them() -> None:
    alone = fit_cores([hill(30.0)])[0]
    beside = fit_cores([hill(0.0), hill(30.0), hill(60.0)])[1]
    assert alone is not None
    assert beside is not None
    assert alone.strength_mps == pytest.approx(beside.strength_mps, rel=1e-3)


def test_no_samples_no_cores() -> None:
    assert fit_cores([]) == []


def test_a_cores_strength_is_never_surer_than_the_air_around_it_lets_it_be() -> None:
    path = fly([Leg(40, 10.0, 0.5), Leg(180, 10.0, 2.0, turn_degps=20.0)], wind=WIND, altitude_m=1000.0)
    motion, air = observed(path, wind=WIND)
    first = int(np.searchsorted(motion.time_s, path.leg_starts_s[1]))
    turning = Turning(first, motion.time_s.size, "right", 3600.0)
    first_s, last_s = float(motion.time_s[0]), float(motion.time_s[-1])
    phase = Phase("climb", "circling", path.leg_starts_s[1], last_s)
    span = FlightSpan(1, first_s, first_s, last_s, True, True, 0.5, 0.5, 0, motion.time_s.size, (phase,))
    loose = replace(UNKNOWN_WING, core_place_sd_m=500.0, core_greatest_radius_m=2000.0)
    (climb,) = measure_climbs(motion, replace(air, turnings=(turning,)), span, loose, MAKERS_WING)
    assert climb.core is not None
    strength = climb.core.strength_mps
    assert strength.high - strength.low > 2 * 1.96 * 0.3
