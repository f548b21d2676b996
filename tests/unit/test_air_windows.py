"""Wind windows and the wind field on small flights with a known wind."""

from dataclasses import replace

import numpy as np
import pytest

from flightlog.air.air import CircleRuns, WindWindows
from flightlog.air.chords import find_chords
from flightlog.air.field import average_wind, evaluate_field, fit_field
from flightlog.air.straight_windows import straight_windows
from flightlog.air.windows import circling_windows, join_windows, search_windows
from flightlog.motion.motion import Motion, Spell, Turning
from flightlog.settings import UNKNOWN_WING
from tests.unit.air_flights import fly, joined, recorded, steady

TRIM = (UNKNOWN_WING.trim_airspeed_mps, UNKNOWN_WING.trim_airspeed_sd_mps)


def all_circling(motion: Motion) -> WindWindows:
    turning = Turning(0, motion.time_s.size, "right", 999.0)
    return circling_windows(motion, find_chords(motion, UNKNOWN_WING), [turning], UNKNOWN_WING)


def all_straight(motion: Motion) -> WindWindows:
    run = (float(motion.time_s[0]), float(motion.time_s[-1]))
    return straight_windows(motion, find_chords(motion, UNKNOWN_WING), [run], TRIM, UNKNOWN_WING)


def errors(windows: WindWindows, wind) -> np.ndarray:
    return np.stack([windows.east_mps - wind[0], windows.north_mps - wind[1]], axis=1)


def inside_95(windows: WindWindows, wind) -> np.ndarray:
    miss = errors(windows, wind)
    return np.einsum("ki,kij,kj->k", miss, np.linalg.inv(windows.covariance_mps2), miss) < 5.99


def vector(speed: float, towards_deg: float) -> tuple[float, float]:
    return speed * np.sin(np.radians(towards_deg)), speed * np.cos(np.radians(towards_deg))


def ridge_beats(wind_mps: float, airspeed_mps: float = 10.0, beats: int = 8) -> tuple[np.ndarray, float]:
    """Turn rates of beats across a wind towards north, always turning into it, and the first heading."""
    crab = np.degrees(np.arcsin(wind_mps / airspeed_mps))
    turn = 180.0 - 2.0 * crab
    parts = []
    for beat in range(beats):
        parts += [steady(0.0, 40.0), steady(18.0 if beat % 2 == 0 else -18.0, turn / 18.0)]
    return joined(*parts), 90.0 + crab


@pytest.mark.parametrize("interval_s", [0.2, 1.0, 2.0, 3.0, 4.0, 5.0])
@pytest.mark.parametrize("wind_mps", [0.0, 5.0, 10.0])
def test_perfect_circles_give_back_the_wind_exactly(interval_s, wind_mps):
    wind = vector(wind_mps, 110.0)
    flown = fly(steady(22.0, 120.0), wind=wind, gust_mps=0, airspeed_wander_mps=0, turn_wander_degps=0)
    windows = all_circling(recorded(flown, interval_s, noise=False))
    assert windows.start_s.size >= 3
    assert np.abs(errors(windows, wind)).max() < 0.02  # the chords of a steady circle are exact
    assert windows.airspeed_mps == pytest.approx(10.0, abs=0.03)


@pytest.mark.parametrize(
    ("interval_s", "limit_mps"),
    [(0.2, 0.45), (1.0, 0.45), (2.0, 0.45), (4.0, 0.5), (5.0, 0.55)],  # 0.36 to 0.38 m/s of it is the mean gust
)
def test_wind_of_a_climb_in_gusty_air(interval_s, limit_mps):
    misses, hits = [], []
    for seed in range(12):
        wind = vector(5.0, 37.0 * seed)
        rates = steady(23.0 * (-1) ** seed, 150.0)
        flown = fly(rates, wind=wind, heading_deg=50.0 * seed, seed=seed)
        motion = recorded(flown, interval_s, seed=100 + seed)
        windows = all_circling(motion)
        field = fit_field(windows, motion.time_s, motion.altitude_m, UNKNOWN_WING)
        mean = average_wind(field, -np.inf, np.inf, None, None)
        miss = np.array([mean.east_mps - wind[0], mean.north_mps - wind[1]])
        misses.append(miss)
        hits.append(np.abs(miss) < 1.96 * mean.se_mps)
    assert np.sqrt((np.array(misses) ** 2).sum(axis=1).mean()) < limit_mps
    assert 0.85 <= np.mean(hits) <= 1.0  # 24 components: 95 % less two standard errors


@pytest.mark.parametrize(("airspeed_mps", "wind_mps", "rate"), [(8.0, 9.0, 30.0), (18.0, 10.0, 15.0)])
def test_slow_and_fast_wings_in_strong_wind(airspeed_mps, wind_mps, rate):
    wind = vector(wind_mps, 250.0)
    windows = all_circling(recorded(fly(steady(rate, 200.0), airspeed_mps=airspeed_mps, wind=wind), 1.0))
    assert np.sqrt((errors(windows, wind) ** 2).sum(axis=1).mean()) < 1.0
    assert windows.airspeed_mps.mean() == pytest.approx(airspeed_mps, abs=0.4)
    assert inside_95(windows, wind).mean() > 0.7


def test_uneven_bank_and_recentring_do_not_bias_the_wind():
    wind = (4.0, -3.0)
    seconds = np.arange(0.0, 300.0, 0.1)
    rates = 23.0 + 9.0 * np.sin(2.0 * np.pi * seconds / 16.0)  # tighter on one side of every circle
    rates[1500:1540] = 0.0  # straightens for 4 s to move the circle
    windows = all_circling(recorded(fly(rates, wind=wind, turn_wander_degps=3.0), 1.0))
    assert np.linalg.norm(errors(windows, wind).mean(axis=0)) < 0.5


def test_ten_seconds_between_fixes_give_nothing():
    windows = all_circling(recorded(fly(steady(23.0, 400.0)), 10.0))
    assert windows.start_s.size == 0


def test_irregular_intervals_and_lost_fixes():
    wind = (3.0, 5.0)
    motion = recorded(fly(steady(22.0, 200.0), wind=wind), 1.0)
    kept = np.sort(np.random.default_rng(3).permutation(motion.time_s.size)[: int(0.6 * motion.time_s.size)])
    columns = {
        name: getattr(motion, name)[kept]
        for name in Motion.__dataclass_fields__
        if isinstance(getattr(motion, name), np.ndarray)
    }
    windows = all_circling(replace(motion, **columns))
    assert windows.start_s.size >= 5
    assert np.sqrt((errors(windows, wind) ** 2).sum(axis=1).mean()) < 1.0


def test_no_chord_crosses_a_gap():
    motion = recorded(fly(steady(22.0, 60.0)), 1.0)
    motion = replace(motion, piece=np.where(np.arange(motion.time_s.size) < 30, 0, 1))
    chords = find_chords(motion, UNKNOWN_WING)
    assert (motion.piece[chords.start] == motion.piece[chords.stop]).all()
    assert chords.start.size > 40


def test_search_windows_need_no_circles_and_ignore_straight_flight():
    wind = (7.0, 0.0)
    rates = joined(steady(0.0, 300.0), steady(22.0, 120.0), steady(0.0, 300.0))
    motion = recorded(fly(rates, wind=wind), 1.0)
    spell = Spell("air", float(motion.time_s[0]), float(motion.time_s[-1]))
    windows = search_windows(motion, find_chords(motion, UNKNOWN_WING), [spell], UNKNOWN_WING)
    assert windows.start_s.size >= 2
    assert (windows.end_s - motion.time_s[0] > 300.0).all()
    assert (windows.start_s - motion.time_s[0] < 420.0).all()
    assert np.sqrt((errors(windows, wind) ** 2).sum(axis=1).mean()) < 1.2


@pytest.mark.parametrize("wind_mps", [0.0, 3.0, 6.0, 8.0])
@pytest.mark.parametrize("interval_s", [1.0, 4.0])
def test_beats_along_a_ridge_give_an_honest_wind(wind_mps, interval_s):
    rates, heading = ridge_beats(wind_mps)
    hits, misses = [], []
    for seed in range(4):
        wind = vector(wind_mps, 70.0 * seed)
        flown = fly(
            rates, wind=wind, heading_deg=heading + 70.0 * seed, climb_mps=0.0, turn_wander_degps=1.5, seed=seed
        )
        windows = all_straight(recorded(flown, interval_s, seed=50 + seed))
        assert windows.start_s.size >= 1
        assert (windows.straight == 1).all()
        hits.extend(inside_95(windows, wind))
        misses.extend(np.linalg.norm(errors(windows, wind), axis=1))
    assert np.mean(hits) >= 0.85
    assert np.sqrt(np.mean(np.square(misses))) < 1.4


def test_two_or_three_legs_fit_a_wind_whatever_their_speeds_and_the_interval_knows():
    """A pilot flies each leg at a speed of his own, here 1 m/s apart: no residual of so few legs shows it."""
    inside = []
    for seed in range(60):
        random = np.random.default_rng(900 + seed)
        legs = 2 + seed % 2
        rates = joined(steady(0.0, 70.0), *[steady(12.0, 10.0), steady(0.0, 70.0)] * (legs - 1))
        speed = np.repeat(10.5 + random.normal(0.0, 1.0, legs), 800)[: len(rates)]
        wind = vector(random.uniform(0.0, 5.0), random.uniform(0.0, 360.0))
        flown = fly(rates, airspeed_mps=speed, wind=wind, heading_deg=random.uniform(0.0, 360.0), seed=seed)
        windows = all_straight(recorded(flown, 1.0, seed=seed))
        inside += inside_95(windows, wind).tolist()
    assert len(inside) > 30
    assert np.mean(inside) >= 0.93


def test_straight_flight_on_one_heading_gives_no_wind():
    motion = recorded(fly(steady(0.0, 400.0), turn_wander_degps=1.0), 1.0)
    assert all_straight(motion).start_s.size == 0


def test_to_and_fro_without_a_turn_seen_does_not_guess_the_side():
    # two opposite headings explain two winds, mirrored in the line flown: the turns between are cut out of the log
    east = fly(steady(0.0, 110.0), heading_deg=113.6, wind=(0.0, 4.0), turn_wander_degps=0.5, climb_mps=0.0)
    west = fly(
        steady(0.0, 110.0), heading_deg=246.4, wind=(0.0, 4.0), turn_wander_degps=0.5, climb_mps=0.0, seed=4
    )
    parts = [recorded(east, 1.0), recorded(west, 1.0)]
    columns = {}
    for name in Motion.__dataclass_fields__:
        values = [getattr(part, name) for part in parts]
        if isinstance(values[0], np.ndarray):
            shift = 130.0 if name == "time_s" else 0.0
            columns[name] = np.concatenate([values[0], values[1] + shift])
    columns["piece"] = np.repeat([0, 1], [part.time_s.size for part in parts])
    windows = all_straight(replace(parts[0], **columns))
    for k in range(windows.start_s.size):  # refused, or a covariance that holds the truth
        assert inside_95(windows, (0.0, 4.0))[k]


def make_windows(time_s, altitude_m, east, north, sd=0.5) -> WindWindows:
    k = len(time_s)
    column = np.asarray
    return WindWindows(
        start_s=column(time_s) - 22.0,
        end_s=column(time_s) + 22.0,
        altitude_m=column(altitude_m, dtype=float),
        east_mps=column(east, dtype=float),
        north_mps=column(north, dtype=float),
        covariance_mps2=np.broadcast_to(np.eye(2) * sd**2, (k, 2, 2)).copy(),
        airspeed_mps=np.full(k, 10.0),
        turned_deg=np.full(k, 1000.0),
        straight=np.zeros(k, dtype=np.int64),
        airspeed_sd_mps=np.full(k, 0.3),
    )


def test_field_follows_height_and_time_and_knows_where_it_ends():
    random = np.random.default_rng(8)
    time = np.arange(0.0, 7200.0, 60.0)
    altitude = 1000.0 + 800.0 * (1.0 + np.sin(time / 700.0))
    east, north = 2.0 + 2.0 * (altitude - 1000.0) / 1000.0, 0.0005 * time
    noise = random.normal(0.0, 0.5, (2, time.size))
    windows = make_windows(time, altitude, east + noise[0], north + noise[1])
    field = fit_field(windows, time, altitude, UNKNOWN_WING)
    got_east, got_north, sd = evaluate_field(field, time, altitude)
    assert np.sqrt(((got_east - east) ** 2 + (got_north - north) ** 2).mean()) < 0.45
    assert np.mean(np.abs(got_east - east) < 1.96 * sd) > 0.9
    far = evaluate_field(field, np.array([3600.0, 7200.0 + 6 * 3600.0]), np.array([1800.0, 1800.0]))[2]
    assert far[0] < 0.7 < 1.1 < far[1]


def test_one_wild_window_does_not_bend_the_field():
    time = np.arange(0.0, 1200.0, 45.0)
    east = np.full(time.size, 3.0)
    east[12] = 12.0
    windows = make_windows(time, np.full(time.size, 1500.0), east, np.zeros(time.size))
    field = fit_field(windows, time, windows.altitude_m, UNKNOWN_WING)
    got_east, _, _ = evaluate_field(field, time, windows.altitude_m)
    assert np.abs(got_east - 3.0).max() < 1.0


def test_overlapping_windows_do_not_count_twice():
    time = np.arange(0.0, 600.0, 44.0)
    apart = make_windows(time, np.full(time.size, 1000.0), np.full(time.size, 3.0), np.zeros(time.size))
    half = np.arange(0.0, 600.0, 22.0)
    overlapping = make_windows(half, np.full(half.size, 1000.0), np.full(half.size, 3.0), np.zeros(half.size))
    means = [
        average_wind(fit_field(w, w.start_s, w.altitude_m, UNKNOWN_WING), -np.inf, np.inf, None, None)
        for w in (apart, overlapping)
    ]
    assert means[1].se_mps == pytest.approx(means[0].se_mps, rel=0.1)


def test_averaging_a_whole_flight_does_not_promise_too_much():
    random = np.random.default_rng(1)
    time = np.arange(0.0, 3600.0, 45.0)
    windows = make_windows(
        time, np.full(time.size, 1000.0), random.normal(3.0, 0.5, time.size), np.zeros(time.size)
    )
    field = fit_field(windows, time, windows.altitude_m, UNKNOWN_WING)
    one = average_wind(field, 1000.0, 1060.0, None, None)
    all_of_it = average_wind(field, -np.inf, np.inf, None, None)
    assert 0.5 / np.sqrt(time.size) * 0.9 < all_of_it.se_mps < one.se_mps


def test_band_without_flight_has_no_wind():
    time = np.arange(0.0, 600.0, 45.0)
    windows = make_windows(time, np.full(time.size, 1000.0), np.full(time.size, 3.0), np.zeros(time.size))
    field = fit_field(windows, time, windows.altitude_m, UNKNOWN_WING)
    assert average_wind(field, -np.inf, np.inf, 2000.0, 2200.0) is None
    assert average_wind(field, -np.inf, np.inf, 900.0, 1100.0).east_mps == pytest.approx(3.0, abs=0.2)


def test_circles_are_counted_by_time_and_by_height():
    one = np.array
    circles = CircleRuns(
        one([0.0, 1000.0]),
        one([360.0, 1180.0]),
        one([1000.0, 1500.0]),
        one([1360.0, 1500.0]),
        one([7200.0, 3600.0]),
    )
    time = np.arange(0.0, 1200.0, 45.0)
    windows = make_windows(time, np.full(time.size, 1200.0), np.full(time.size, 3.0), np.zeros(time.size))
    field = fit_field(windows, time, 1000.0 + 500.0 * time / 1200.0, UNKNOWN_WING, circles=circles)
    assert average_wind(field, -np.inf, np.inf, None, None).circles == 30.0
    assert average_wind(field, 180.0, 1090.0, None, None).circles == 15.0
    assert average_wind(field, -np.inf, np.inf, 1090.0, 1180.0).circles == 5.0
    assert average_wind(field, -np.inf, np.inf, 1400.0, 1600.0).circles == 10.0


def test_no_windows_no_field():
    nothing = make_windows([], [], [], [])
    assert fit_field(nothing, np.array([0.0]), np.array([0.0]), UNKNOWN_WING) is None
    assert join_windows(nothing, nothing).start_s.size == 0


def test_many_days_of_windows_stay_bounded():
    time = np.arange(0.0, 45.0 * 6000, 45.0)
    windows = make_windows(time, np.full(time.size, 1000.0), np.full(time.size, 2.0), np.zeros(time.size))
    field = fit_field(windows, time, windows.altitude_m, UNKNOWN_WING)
    assert field.time_s.size <= 150
    assert average_wind(field, -np.inf, np.inf, None, None).east_mps == pytest.approx(2.0, abs=0.1)
