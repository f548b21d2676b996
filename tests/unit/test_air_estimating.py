"""The whole air layer: wind, airspeed, heading, circles and their notes on small flights with a known answer."""

from dataclasses import replace

import numpy as np
import pytest

from flightlog.air.estimating import estimate_air
from flightlog.air.field import wind_at
from flightlog.air.recorder_check import check_against_recorder, constant_columns
from flightlog.air.windows import mean_wind
from flightlog.motion.motion import Motion, Spell
from flightlog.settings import UNKNOWN_WING
from flightlog.tracks.track import Header, Track
from tests.unit.air_flights import Flown, fly, joined, recorded, steady

DAY = joined(
    steady(0.0, 120.0), steady(22.0, 240.0), steady(0.0, 200.0), steady(-24.0, 200.0), steady(0.0, 150.0)
)  # glide, right-hand climb, glide, left-hand climb, glide


def in_air(motion: Motion) -> tuple[Spell, ...]:
    return (Spell("air", float(motion.time_s[0]), float(motion.time_s[-1])),)


def day(wind=(5.0, -3.0), interval_s: float = 1.0, **options) -> tuple[Flown, Motion]:
    flown = fly(DAY, wind=wind, seed=7, **options)
    return flown, recorded(flown, interval_s, seed=8)


@pytest.mark.parametrize("interval_s", [1.0, 2.0, 4.0, 5.0])
def test_wind_airspeed_and_circles_of_a_small_day(interval_s):
    flown, motion = day(interval_s=interval_s)
    air = estimate_air(motion, in_air(motion), UNKNOWN_WING)
    truth = np.searchsorted(flown.time_s, motion.time_s - motion.time_s[0])
    miss = np.hypot(air.wind_east_mps - 5.0, air.wind_north_mps + 3.0)
    assert np.sqrt((miss**2).mean()) < 0.8
    inside = np.abs(air.wind_east_mps - 5.0) < 1.96 * air.wind_sd_mps
    assert inside.mean() > 0.85
    true_speed = np.hypot(flown.air_east_mps, flown.air_north_mps)[truth]
    assert abs(np.mean(air.airspeed_mps - true_speed)) < 0.4
    assert [turning.direction for turning in air.turnings] == ["right", "left"]
    assert [round(turning.turned_deg / 360.0) for turning in air.turnings] == pytest.approx([14.7, 13.3], abs=1.5)
    seconds = motion.time_s - motion.time_s[0]
    assert (air.circling[(seconds > 150) & (seconds < 340)] == 1).all()
    assert (air.circling[(seconds > 590) & (seconds < 740)] == -1).all()
    assert (air.circling[(seconds > 400) & (seconds < 540)] == 0).all()
    assert np.median(air.turn_rate_degps[air.circling == 1]) == pytest.approx(22.0, abs=1.5)
    assert np.median(air.turn_rate_degps[air.circling == -1]) == pytest.approx(-24.0, abs=1.5)
    assert air.notes == ()


def test_heading_is_where_the_nose_points_not_the_track():
    flown, motion = day(wind=(8.0, 0.0))
    air = estimate_air(motion, in_air(motion), UNKNOWN_WING)
    truth = np.searchsorted(flown.time_s, motion.time_s - motion.time_s[0])
    heading = np.degrees(np.arctan2(flown.air_east_mps, flown.air_north_mps))[truth]
    off = (air.heading_deg - heading + 180.0) % 360.0 - 180.0
    assert np.sqrt((off**2).mean()) < 6.0


def test_circles_in_a_wind_near_the_airspeed_are_found_through_the_air():
    _, motion = day(wind=(9.0, 0.0))  # over the ground these are loops and cusps
    air = estimate_air(motion, in_air(motion), UNKNOWN_WING)
    assert [turning.direction for turning in air.turnings] == ["right", "left"]
    assert air.mean_wind.speed_mps == pytest.approx(9.0, abs=0.8)
    assert air.mean_wind.from_deg == pytest.approx(270.0, abs=6.0)


def test_mean_wind_of_a_climb_and_of_a_band_follow_the_shear():
    def wind(_time, altitude):
        return 2.0 + 4.0 * (altitude - 1000.0) / 1000.0, 0.0 * altitude

    _, motion = day(wind=wind, climb_mps=1.2)
    air = estimate_air(motion, in_air(motion), UNKNOWN_WING)
    begin = float(motion.time_s[0])
    low = mean_wind(air, begin + 120.0, begin + 360.0)
    high = mean_wind(air, begin + 560.0, begin + 760.0)
    assert low.east_mps == pytest.approx(3.15, abs=1.96 * low.se_mps + 0.2)
    assert high.east_mps == pytest.approx(5.17, abs=1.96 * high.se_mps + 0.2)
    assert high.east_mps > low.east_mps
    assert low.circles == pytest.approx(14.7, abs=1.5)
    band = mean_wind(air, begin, float(motion.time_s[-1]), 1200.0, 1400.0)
    assert band.east_mps == pytest.approx(3.2, abs=1.96 * band.se_mps + 0.2)
    assert mean_wind(air, begin, float(motion.time_s[-1]), 5000.0, 5200.0) is None


def test_wind_far_from_the_flight_is_not_stated():
    _, motion = day()
    air = estimate_air(motion, in_air(motion), UNKNOWN_WING)
    middle = float(motion.time_s[300])
    east, north, sd = wind_at(air, np.array([middle, middle]), np.array([1400.0, 30000.0]))
    assert east[0] == pytest.approx(5.0, abs=1.2)
    assert np.isfinite(sd[0])
    strict = replace(air, field=replace(air.field, settings=replace(UNKNOWN_WING, wind_sd_limit_mps=0.8)))
    assert np.isnan(wind_at(strict, np.array([middle + 86400.0]), 1400.0)[0]).all()
    assert np.isfinite(north[0])


def test_straight_flight_on_one_heading_leaves_the_wind_open():
    flown = fly(steady(0.0, 600.0), turn_wander_degps=0.5)
    motion = recorded(flown, 1.0)
    air = estimate_air(motion, in_air(motion), UNKNOWN_WING)
    assert np.isnan(air.wind_east_mps).all()
    assert np.isnan(air.airspeed_mps).all()
    assert np.isnan(air.heading_deg).all()
    assert np.isfinite(air.turn_rate_degps).all()  # over the ground
    assert air.mean_wind is None
    assert mean_wind(air, 0.0, 2e9) is None
    assert np.isnan(wind_at(air, 1.7e9, 1000.0)[0]).all()
    assert [note.code for note in air.notes] == ["no_wind"]


def test_slow_recorder_says_so():
    _, motion = day(interval_s=10.0)
    air = estimate_air(motion, in_air(motion), UNKNOWN_WING)
    assert np.isnan(air.wind_east_mps).all()
    assert [note.code for note in air.notes] == ["slow_recorder"]


def test_time_on_the_ground_gives_no_wind():
    _, motion = day()
    air = estimate_air(motion, (Spell("ground", float(motion.time_s[0]), float(motion.time_s[-1])),), UNKNOWN_WING)
    assert air.windows.start_s.size == 0
    assert air.turnings == ()


def test_log_of_two_fixes_without_altitude():
    _, motion = day()
    columns = {
        name: getattr(motion, name)[:2]
        for name in Motion.__dataclass_fields__
        if isinstance(getattr(motion, name), np.ndarray)
    }
    columns["altitude_m"] = np.array([np.nan, np.nan])
    short = replace(motion, **columns)
    air = estimate_air(short, in_air(short), UNKNOWN_WING)
    assert np.isnan(air.wind_east_mps).all()
    assert np.isnan(air.density_kgm3).all()


def test_turned_flight_turns_the_wind_and_nothing_else():
    quarter = fly(DAY, wind=(3.0, 4.0), seed=7, gust_mps=0.0)
    motion = recorded(quarter, 1.0, noise=False)
    turned = replace(
        motion,
        measured_east_m=motion.measured_north_m,
        measured_north_m=-motion.measured_east_m,
        east_m=motion.north_m,
        north_m=-motion.east_m,
        velocity_east_mps=motion.velocity_north_mps,
        velocity_north_mps=-motion.velocity_east_mps,
        acceleration_east_mps2=motion.acceleration_north_mps2,
        acceleration_north_mps2=-motion.acceleration_east_mps2,
    )
    first, second = (estimate_air(each, in_air(each), UNKNOWN_WING) for each in (motion, turned))
    assert second.wind_east_mps == pytest.approx(first.wind_north_mps, abs=0.05)  # meridians converge a little
    assert second.wind_north_mps == pytest.approx(-first.wind_east_mps, abs=0.05)
    assert second.airspeed_mps == pytest.approx(first.airspeed_mps, abs=0.05)
    assert len(second.turnings) == len(first.turnings)


def test_wind_direction_is_true_far_east_of_the_planes_meridian():
    flown, motion = day(wind=(0.0, -6.0), gust_mps=0.2)
    shift_m = 150000.0  # there the plane's north lies 1.4 degrees east of true north
    latitude, longitude = motion.plane.to_degrees(np.array([shift_m]), np.array([0.0]))
    gamma = np.radians(motion.plane.convergence_deg(latitude, longitude))[0]
    assert abs(np.degrees(gamma)) > 1.0
    east, north = motion.measured_east_m, motion.measured_north_m
    moved = replace(
        motion,
        measured_east_m=shift_m + east * np.cos(gamma) - north * np.sin(gamma),
        measured_north_m=east * np.sin(gamma) + north * np.cos(gamma),
        east_m=motion.east_m + shift_m,
    )
    here, there = (estimate_air(each, in_air(each), UNKNOWN_WING).mean_wind for each in (motion, moved))
    assert there.from_deg == pytest.approx(here.from_deg, abs=0.15)
    assert flown.time_s.size > 0


def track_with(motion: Motion, **recorded_columns: np.ndarray) -> Track:
    n = motion.time_s.size
    return Track(
        time_s=motion.time_s,
        latitude_deg=np.zeros(n),
        longitude_deg=np.zeros(n),
        pressure_altitude_m=None,
        gnss_altitude_m=None,
        line=np.arange(n),
        segment=np.zeros(n, dtype=np.int64),
        gnss_datum="geoid",
        header=Header(),
        file="x.igc",
        format="igc",
        sha256="",
        records_read=n,
        recorded=recorded_columns,
    )


def test_recorded_airspeed_and_wind_are_compared_and_not_used():
    flown, motion = day()
    truth = np.searchsorted(flown.time_s, motion.time_s - motion.time_s[0])
    sensed = 1.05 * np.hypot(flown.air_east_mps, flown.air_north_mps)[truth]  # a sensor that reads 5 % high
    wind_from = np.full(sensed.size, np.degrees(np.arctan2(-5.0, 3.0)) % 360.0)
    wind_from[::2] += 1.0  # whole degrees go to and fro
    wind = np.full(sensed.size, np.hypot(5.0, 3.0))
    wind[::3] += 0.2
    track = track_with(motion, airspeed_mps=sensed, wind_from_deg=wind_from, wind_mps=wind)
    air = estimate_air(motion, in_air(motion), UNKNOWN_WING)
    checks = {check.quantity: check for check in check_against_recorder(track, motion, air)}
    assert checks["airspeed"].ratio == pytest.approx(1.0 / 1.05, abs=0.03)
    assert checks["airspeed"].bias_mps == pytest.approx(-0.5, abs=0.3)
    assert checks["airspeed"].count == motion.time_s.size
    assert checks["wind"].rms_mps < 0.8
    assert f"Over {checks['wind'].count} fixes the wind" in checks["wind"].sentence
    assert "lower than the recorder's" in checks["airspeed"].sentence
    assert checks["airspeed"].rms_mps == pytest.approx(
        np.hypot(checks["airspeed"].bias_mps, checks["airspeed"].scatter_mps)
    )


def test_a_column_that_never_changes_is_no_sensor_and_says_so():
    _, motion = day()
    n = motion.time_s.size
    air = estimate_air(motion, in_air(motion), UNKNOWN_WING)
    track = track_with(
        motion, airspeed_mps=np.full(n, 12.0), wind_from_deg=np.full(n, 270.0), wind_mps=np.linspace(3.0, 5.0, n)
    )
    assert check_against_recorder(track, motion, air) == ()
    notes = constant_columns(track)
    assert [note.code for note in notes] == ["column_constant", "column_constant"]
    assert "true airspeed" in notes[0].message
    assert "wind direction" in notes[1].message
    assert constant_columns(track_with(motion)) == ()


def test_columns_of_zeros_and_logs_without_columns_give_no_check():
    _, motion = day()
    air = estimate_air(motion, in_air(motion), UNKNOWN_WING)
    assert check_against_recorder(track_with(motion), motion, air) == ()
    assert check_against_recorder(track_with(motion, airspeed_mps=np.zeros(motion.time_s.size)), motion, air) == ()
