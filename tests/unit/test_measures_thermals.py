"""Details of thermals whose climb, drift, core and source are known in closed form."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from flightlog.air.air import Air, WindWindows
from flightlog.air.field import fit_field
from flightlog.arrays import frozen_floats, frozen_ints
from flightlog.measures.climbs import measure_climbs
from flightlog.measures.results import Climb
from flightlog.measures.thermal_leans import centre_drift_mps
from flightlog.measures.thermal_sources import Lift, trace_sources
from flightlog.measures.thermals import (
    centred_share,
    time_below_s,
    with_thermal_details,
)
from flightlog.phases.grounds import Ground
from flightlog.settings import UNKNOWN_WING
from tests.unit.synthetic_motion import Leg
from tests.unit.test_measures_climbs import MAKERS_WING, WIND, circling

RATE_DEGPS = 20.45


def detailed(*legs: Leg) -> Climb:
    """One circling climb with its details."""
    motion, air, span = circling(legs=list(legs))
    climbs = measure_climbs(motion, air, span, UNKNOWN_WING, MAKERS_WING)
    (climb,) = with_thermal_details(motion, air, span, climbs, (), UNKNOWN_WING)
    return climb


def circles(seconds: float, climb_mps: float) -> Leg:
    return Leg(seconds, 10.0, climb_mps, turn_degps=RATE_DEGPS)


def test_time_below_a_level_on_a_straight_way_and_through_a_dip() -> None:
    time = np.array([0.0, 10.0, 20.0, 30.0])
    up_down_up = np.array([0.0, 20.0, 10.0, 40.0])
    # below 10: 5 s up; below 20: all but the time above it, 20 s of 30 and 3.33 s of the last climb
    below = time_below_s(time, up_down_up, np.array([0.0, 10.0, 20.0, 40.0]))
    assert below == pytest.approx([0.0, 5.0, 10.0 + 10.0 + 10.0 / 3.0, 30.0])


def test_bands_hold_the_whole_gain_and_the_whole_time() -> None:
    climb = detailed(circles(180, 2.0), circles(180, 1.0))
    detail = climb.detail
    assert detail is not None
    assert len(detail.bands) == math.ceil(climb.gain_m / 100.0)
    widths = [band.altitude_high_m - band.altitude_low_m for band in detail.bands]
    assert all(50.0 <= width <= 100.0 for width in widths)
    assert sum(widths) == pytest.approx(climb.gain_m)
    assert sum(band.seconds_s for band in detail.bands) == pytest.approx(360.0, abs=2.0)


def test_climb_by_height_is_strong_below_and_weak_above() -> None:
    detail = detailed(circles(180, 2.0), circles(180, 1.0)).detail
    assert detail is not None
    first, last = detail.bands[0].climb_mps, detail.bands[-1].climb_mps
    assert first.value == pytest.approx(2.0, abs=0.05)
    assert last.value == pytest.approx(1.0, abs=0.05)
    assert first.low < 2.0 < first.high
    assert last.low < 1.0 < last.high


def test_weak_is_the_time_below_half_of_the_strongest_half_minute() -> None:
    climb = detailed(circles(120, 0.4), circles(180, 2.0))
    assert climb.detail is not None
    assert climb.best_30s_climb_mps == pytest.approx(2.0, abs=0.05)
    # half a minute climbs 1.0 m/s, half of 2.0, where 0.4 x + 2.0 (1 - x) = 1.0: 18.75 s of it are weak, so that
    # its middle lies 18.75 - 15 s before the change
    assert climb.detail.weak_s == pytest.approx(120.0 - 3.75, abs=3.0)
    even = detailed(circles(240, 2.0)).detail
    assert even is not None
    assert even.weak_s == 0.0


def test_even_climb_has_no_way_in_or_out() -> None:
    detail = detailed(circles(240, 2.0)).detail
    assert detail is not None
    assert detail.steady_climb_mps == pytest.approx(2.0, abs=0.03)
    assert detail.entry_s == pytest.approx(0.0, abs=3.0)
    assert detail.leaving_s == pytest.approx(0.0, abs=3.0)
    assert detail.entry_loss_m == pytest.approx(0.0, abs=3.0)
    assert detail.entry_interval_s is not None
    assert detail.entry_interval_s.low == 0.0  # no way takes less than no time


def test_a_way_in_that_climbs_nearly_as_usual_is_open_by_nearly_all_of_it() -> None:
    """A minute at 0.79 of the climb after it: steady or not within the error of one circle's mean climb."""
    detail = detailed(circles(60, 1.58), circles(240, 2.0)).detail
    assert detail is not None
    assert detail.entry_interval_s is not None
    assert detail.entry_interval_s.low == 0.0
    assert detail.entry_interval_s.high >= 60.0 - 0.6 * 17.6  # a circle that is well steady reaches so far into it


def test_slow_way_in_and_out_cost_what_steady_climbing_would_have_given() -> None:
    # 60 s at 0 m/s, 240 s at 2 m/s, 40 s at 0.5 m/s; circles of 17.6 s may reach 20 % into the slow parts
    detail = detailed(circles(60, 0.0), circles(240, 2.0), circles(40, 0.5)).detail
    assert detail is not None
    assert detail.entry_s is not None
    assert 60.0 - 0.2 * 17.6 - 2.0 <= detail.entry_s <= 61.0
    assert detail.entry_loss_m == pytest.approx(2.0 * 60.0, abs=12.0)
    assert detail.leaving_s is not None
    assert 40.0 - 0.3 * 17.6 - 2.0 <= detail.leaving_s <= 41.0
    assert detail.leaving_loss_m == pytest.approx(1.5 * 40.0, abs=10.0)
    for figure, interval in (
        (detail.steady_climb_mps, detail.steady_climb_interval_mps),
        (detail.entry_s, detail.entry_interval_s),
        (detail.entry_loss_m, detail.entry_loss_interval_m),
        (detail.leaving_s, detail.leaving_interval_s),
        (detail.leaving_loss_m, detail.leaving_loss_interval_m),
    ):
        assert interval is not None
        assert interval.value == figure
        assert interval.low < interval.value < interval.high
    assert detail.entry_interval_s is not None
    assert detail.entry_interval_s.high - detail.entry_interval_s.low < 12.0  # both ways are plain to see


def test_too_few_circles_leave_the_ways_in_and_out_open_and_say_so() -> None:
    detail = detailed(circles(40, 2.0)).detail
    assert detail is not None
    assert detail.entry_s is None
    assert detail.entry_interval_s is None
    assert detail.leaving_loss_interval_m is None
    assert detail.lean is None
    assert detail.note is not None
    assert "too few circles" in detail.note


def test_circles_that_drift_with_the_wind_lean_by_wind_over_climb() -> None:
    climb = detailed(circles(300, 2.0))
    assert climb.detail is not None
    assert climb.detail.lean is not None
    lean = climb.detail.lean
    speed = math.hypot(*WIND)
    assert lean.drift_mps.value == pytest.approx(speed, abs=0.1)
    assert lean.drift_mps.low < speed < lean.drift_mps.high
    assert lean.towards_deg == pytest.approx(math.degrees(math.atan2(*WIND)), abs=1.5)
    assert lean.track_lean_deg.value == pytest.approx(math.degrees(math.atan2(speed, 2.0)), abs=1.0)
    assert lean.air_lean_deg is not None
    assert lean.air_lean_deg.value < lean.track_lean_deg.value  # the air climbs faster than the wing in it
    assert lean.upwind_mps is not None
    assert lean.upwind_mps.low < 0.0 < lean.upwind_mps.high


def test_drift_of_whole_circles_is_that_of_their_centres() -> None:
    time = np.linspace(0.0, 160.0, 801)
    angle = 2.0 * np.pi * time / 16.0
    drift = centre_drift_mps(time, 30.0 * np.sin(angle) + 2.0 * time, 30.0 * np.cos(angle) - time, 16.0)
    assert drift is not None
    assert drift[0] == pytest.approx(2.0, abs=0.01)
    assert drift[1] == pytest.approx(-1.0, abs=0.01)
    assert centre_drift_mps(time[:100], time[:100], time[:100], 16.0) is None


def test_centring_of_a_gaussian_core_in_closed_form() -> None:
    # w0 = 3 m/s, R = 80 m, circles of 30 m: centred rise 3 exp(-(30/80)^2) = 2.6065 m/s, less 1 m/s own sink
    best = 3.0 * math.exp(-((30.0 / 80.0) ** 2)) - 1.0
    share = centred_share(0.8 * best, (1.0, 0.1), 3.0, (80.0, 0.2), 30.0)
    assert share is not None
    assert share.value == pytest.approx(0.8)
    assert share.low < 0.8 < share.high
    assert centred_share(0.1, (1.0, 0.1), 1.2, (80.0, 0.2), 30.0) is None  # centred circles hardly climb


def test_vaguer_cores_give_wider_shares() -> None:
    sure = centred_share(1.2, (1.0, 0.05), 3.0, (80.0, 0.1), 30.0)
    vague = centred_share(1.2, (1.0, 0.05), 3.0, (80.0, 0.6), 30.0)
    assert sure is not None
    assert vague is not None
    assert vague.high - vague.low > sure.high - sure.low


def ground(level_m: float) -> Ground:
    here = frozen_floats([0.0])
    return Ground(
        None, 0.0, 0.0, 400.0, ("launch",), None, here, frozen_floats([level_m]), 1.0, here[:0], here[:0]
    )


def in_steady_wind(air: Air, time_s: float) -> Air:
    """The air with a wind field that knows WIND well, at two heights."""
    two = np.ones(2)
    windows = WindWindows(
        start_s=frozen_floats([time_s - 300.0, time_s - 60.0]),
        end_s=frozen_floats([time_s - 240.0, time_s]),
        altitude_m=frozen_floats([600.0, 900.0]),
        east_mps=frozen_floats(WIND[0] * two),
        north_mps=frozen_floats(WIND[1] * two),
        covariance_mps2=frozen_floats(np.stack([0.01 * np.eye(2)] * 2)),
        airspeed_mps=frozen_floats(10.0 * two),
        turned_deg=frozen_floats(900.0 * two),
        straight=frozen_ints([0, 0]),
        airspeed_sd_mps=frozen_floats(0.2 * two),
    )
    nodes = frozen_floats([time_s])
    return replace(air, field=fit_field(windows, nodes, frozen_floats([900.0]), UNKNOWN_WING))


def test_source_lies_upwind_by_wind_times_rising_time() -> None:
    motion, air, _ = circling(legs=[circles(300, 2.0)])
    time_s = float(motion.time_s[-1])
    # 500 m above a ground known near the answer, rising at 2.5 m/s: it came 200 s x (4, -2) m/s downwind
    lift = Lift(time_s, WIND[0] * 200.0, WIND[1] * 200.0, 20.0, 1000.0, 2.5)
    (source,) = trace_sources(motion, in_steady_wind(air, time_s), [lift], (ground(500.0),), UNKNOWN_WING)
    assert source is not None
    east, north = motion.plane.to_plane([source.lat_deg], [source.lon_deg])
    assert math.hypot(float(east[0]), float(north[0])) < 60.0  # the field shrinks the wind by some per cent
    assert source.altitude_m == pytest.approx(500.0)
    # 95 %: 1.96 x 894 m x 0.35 along the wind and more
    assert 1.96 * 0.35 * math.hypot(*WIND) * 200.0 < source.radius_m < 900.0
    assert "known" in source.note
    # traced from where the air was met, against the drift; along it the place is far less sure than across
    assert source.met_altitude_m == pytest.approx(1000.0)
    met = motion.plane.to_plane([source.met_lat_deg], [source.met_lon_deg])
    assert (float(met[0][0]), float(met[1][0])) == pytest.approx((lift.east_m, lift.north_m), abs=0.01)
    assert source.drift_to_deg == pytest.approx(math.degrees(math.atan2(*WIND)), abs=3.0)
    assert source.along_sd_m is not None
    assert source.across_sd_m is not None
    assert source.along_sd_m > 0.35 * 0.9 * math.hypot(*WIND) * 200.0 > source.across_sd_m > 20.0


def test_the_ground_falls_before_a_launch() -> None:
    motion, air, _ = circling(legs=[circles(300, 2.0)])
    time_s = float(motion.time_s[-1])
    # traced to 200 m upwind of the launch if the ground lay as high there
    off = 200.0 / math.hypot(*WIND)
    lift = Lift(time_s, WIND[0] * (200.0 - off), WIND[1] * (200.0 - off), 20.0, 1000.0, 2.5)
    level, launch = ground(500.0), replace(ground(500.0), takeoffs=(1,))
    air = in_steady_wind(air, time_s)
    (flat,), (falling,) = (trace_sources(motion, air, [lift], (one,), UNKNOWN_WING) for one in (level, launch))
    assert flat is not None
    assert falling is not None
    assert flat.altitude_m == pytest.approx(500.0)
    # before a launch it falls, by 20 to 35 degrees as a rule (common practice, no source); the trace goes farther
    assert 500.0 - 200.0 * math.tan(math.radians(35.0)) < falling.altitude_m < 470.0
    assert falling.along_sd_m is not None
    assert flat.along_sd_m is not None
    assert falling.along_sd_m > flat.along_sd_m


def test_only_ground_near_the_track_counts_as_the_lowest() -> None:
    motion, air, _ = circling(legs=[circles(300, 2.0)])
    time_s = float(motion.time_s[-1])
    air = in_steady_wind(air, time_s)
    lift = Lift(time_s, 4000.0, 4000.0, 20.0, float(np.nanmin(motion.altitude_m)) + 300.0, 2.5)
    plain, by_the_sea, in_the_valley = (
        trace_sources(motion, air, [lift], grounds, UNKNOWN_WING)[0]
        for grounds in ((), (replace(ground(0.0), east_m=60_000.0),), (replace(ground(0.0), east_m=-2000.0),))
    )
    assert plain is not None
    assert by_the_sea == plain  # a pilot's places elsewhere change nothing
    assert "lowest height of the log" in plain.note
    assert in_the_valley is not None
    assert in_the_valley.altitude_m == 0.0
    assert "lowest place known near the track" in in_the_valley.note


def test_source_is_not_given_where_its_radius_says_nothing() -> None:
    motion, air, _ = circling(legs=[circles(300, 2.0)])
    lift = Lift(float(motion.time_s[-1]), 0.0, 0.0, 20.0, 4000.0, 0.5)
    air = in_steady_wind(air, lift.time_s)
    assert trace_sources(motion, air, [lift], (), UNKNOWN_WING) == [None]


def test_a_source_too_wide_for_one_flight_is_traced_all_the_same() -> None:
    motion, air, _ = circling(legs=[circles(300, 2.0)])
    time_s = float(motion.time_s[-1])
    # 1000 m above the ground, rising at 1.5 m/s: 95 % of 0.35 x 4.47 m/s x 667 s is 2 km
    lift = Lift(time_s, WIND[0] * 667.0, WIND[1] * 667.0, 20.0, 1500.0, 1.5)
    (source,) = trace_sources(motion, in_steady_wind(air, time_s), [lift], (ground(500.0),), UNKNOWN_WING)
    assert source is not None
    assert UNKNOWN_WING.thermal_source_radius_m < source.radius_m < UNKNOWN_WING.thermal_trace_radius_m


def test_climbs_in_no_circles_have_no_detail() -> None:
    motion, air, span = circling(legs=[circles(300, 2.0)])
    ridge = tuple(replace(phase, mode="ridge") for phase in span.phases)
    span = replace(span, phases=ridge)
    climbs = measure_climbs(motion, air, span, UNKNOWN_WING, MAKERS_WING)
    (climb,) = with_thermal_details(motion, air, span, climbs, (), UNKNOWN_WING)
    assert climb.detail is None
