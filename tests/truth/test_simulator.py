"""The simulator itself: does it obey the physics and the file formats that the truth tests lean on?

Sources: TRN-11 (R = V^2/(g tan phi), T = 2 pi V/(g tan phi): 10 m/s at 20/30/45 degrees, 28.02/17.66/10.20 m,
17.60/11.10/6.41 s, tolerance 0.01; printed for g = 9.80665, the simulator uses 9.81); GLD-06 (typical wings);
WND-08 (a steady circle drifts with the wind); IGC-2008 section 4.1 (B record of 35 bytes); GPX 1.1 (namespace).
Sizes of recorder noise are those the simulator claims to have: common practice, no source.
"""

from __future__ import annotations

import json
import math
import random
import re
import tomllib
import xml.etree.ElementTree as ElementTree
from dataclasses import replace
from datetime import datetime
from itertools import pairwise

import numpy as np
import pytest

from tests.truth.simulator import Scenario, SimulatedLog, simulate
from tests.truth.simulator.craft import Craft
from tests.truth.simulator.scenarios import calm_suite, polar_suite, top_landing_suite, wind_and_glide_suite
from tests.truth.simulator.sensors import correlated
from tests.truth.simulator.soaring import glide
from tests.truth.simulator.terrain import SITES, Hill, to_latitude_longitude
from tests.truth.simulator.truth import COLUMN
from tests.truth.simulator.wing import density_speed_factor, draw_wing, turn_rate_rad
from tests.truth.simulator.world import AirSettings, LiftLine, Thermal, World

QUIET = AirSettings(
    wind_mps=0.0, wind_from_deg=270.0, shear_per_km=0.0, veer_deg_per_km=0.0, wander_share=0.0, wander_deg=0.0,
    gust_mps=0.0, gust_length_m=150.0, general_mps=0.0, thermal_mps=0.0, anabatic_mps=0.0,
)  # fmt: skip


def craft_in(air: AirSettings, altitude_m: float = 2500.0, wing_class: str = "paraglider") -> Craft:
    """A wing high above an even valley, far from the hill."""
    world = World(air, Hill(random.Random(1), 270.0), random.Random(2))
    craft = Craft(draw_wing(wing_class, random.Random(3)), world, random.Random(4), 0.0, 4000.0)
    craft.x, craft.y, craft.z, craft.v = 20000.0, 20000.0, altitude_m, 10.0
    return craft


@pytest.fixture(scope="module")
def cross_country_day() -> SimulatedLog:
    scenario = Scenario("test", wing_class="hang_glider", wind_mps=5.0, flight_minutes=45.0, aborted_runs=1)
    return simulate(scenario, 8)


@pytest.fixture(scope="module")
def top_landing_days() -> list[SimulatedLog]:
    return [simulate(*case) for case in top_landing_suite()[6:12]]


@pytest.mark.parametrize(
    ("bank_deg", "radius_m", "period_s"), [(20, 28.02, 17.60), (30, 17.66, 11.10), (45, 10.20, 6.41)]
)
def test_turns_obey_bank_and_speed(bank_deg: float, radius_m: float, period_s: float):
    craft = craft_in(QUIET)
    bank = math.radians(bank_deg)
    factor = density_speed_factor(craft.z)
    for _ in range(200):  # settle at 10 m/s true airspeed
        craft.step(bank, 10.0 / factor * math.sqrt(math.cos(bank)))
        craft.z = 2500.0
    assert craft.v == pytest.approx(10.0, abs=0.02)
    assert 2 * math.pi / turn_rate_rad(10.0, bank) == pytest.approx(period_s, abs=0.01)
    begin = craft.psi
    xs, ys, start = [], [], craft.t
    while craft.psi - begin < 2 * math.pi:
        craft.step(bank, 10.0 / factor * math.sqrt(math.cos(bank)))
        craft.z = 2500.0
        xs.append(craft.x)
        ys.append(craft.y)
    assert craft.t - start == pytest.approx(period_s, abs=0.25)  # one step
    assert (max(xs) - min(xs)) / 2 == pytest.approx(radius_m, rel=0.02)
    assert (max(ys) - min(ys)) / 2 == pytest.approx(radius_m, rel=0.02)


@pytest.mark.parametrize("wing_class", ["paraglider", "hang_glider", "rigid_wing"])
def test_straight_glides_give_the_polar_at_every_height(wing_class: str):
    for altitude in (1500.0, 4000.0):
        for share in (0.95, 1.0, 1.3):
            craft = craft_in(QUIET, altitude, wing_class)
            speed = craft.wing.trim_mps * share
            for _ in range(150):
                craft.step(0.0, speed)
            factor = density_speed_factor(craft.z)
            assert craft.v == pytest.approx(speed * factor, rel=1e-3)
            assert craft.v / -craft.climb == pytest.approx(speed / craft.wing.sink_mps(speed), rel=5e-3)


def test_sink_in_a_turn_grows_with_load_to_the_power_of_three_halves():
    craft = craft_in(QUIET)
    bank = math.radians(40)
    for _ in range(300):
        craft.step(bank, craft.wing.trim_mps)
    load = 1 / math.cos(craft.bank)
    level = craft.wing.sink_mps(craft.wing.trim_mps) * density_speed_factor(craft.z)
    assert -craft.climb / level == pytest.approx(load**1.5, rel=5e-3)


def test_wings_lie_in_the_range_of_their_class():
    ranges = {
        "paraglider": (8, 10.5, 9.3, 11),
        "hang_glider": (11, 15, 10.9, 13),
        "rigid_wing": (16, 19, 12.1, 14.1),
    }
    for wing_class, (low, high, slow, fast) in ranges.items():
        for seed in range(40):
            wing = draw_wing(wing_class, random.Random(seed))
            speeds = np.linspace(0.7 * wing.trim_mps, wing.top_mps, 400)
            ratios = speeds / np.array([wing.sink_mps(v) for v in speeds])
            assert low <= ratios.max() <= high + 1e-6
            assert ratios.max() == pytest.approx(wing.best_ratio, rel=1e-3)
            assert slow <= wing.trim_mps <= fast
            assert 0.5 < wing.min_sink_mps < 1.35
            assert wing.lift_off_mps < wing.trim_mps


def test_circles_drift_with_the_wind():
    craft = craft_in(replace(QUIET, wind_mps=6.0, wind_from_deg=240.0))
    for _ in range(100):
        craft.step(0.5, 10.0)
    begin, x, y, t = craft.psi, craft.x, craft.y, craft.t
    while craft.psi - begin < 10 * math.pi:
        craft.step(0.5, 10.0)
    speed = math.hypot(craft.x - x, craft.y - y) / (craft.t - t)
    towards = math.degrees(math.atan2(craft.x - x, craft.y - y)) % 360
    assert speed == pytest.approx(6.0, abs=0.15)
    assert towards == pytest.approx(60.0, abs=2.0)


def test_wind_grows_and_turns_with_height():
    world = World(
        replace(QUIET, wind_mps=5.0, wind_from_deg=180.0, shear_per_km=0.4, veer_deg_per_km=30.0),
        Hill(random.Random(1), 180.0), random.Random(2),
    )  # fmt: skip
    low, high = (world.mean_wind(100.0, world.hill.crest_m + up) for up in (0.0, 1000.0))
    assert math.hypot(*low) == pytest.approx(5.0)
    assert math.hypot(*high) == pytest.approx(7.0)
    turned = math.degrees(math.atan2(*high) - math.atan2(*low)) % 360
    assert turned == pytest.approx(30.0)


def test_thermal_falls_to_one_over_e_at_its_radius_and_has_sink_around_it():
    thermal = Thermal(0, 0, 0, 2000, 0, 1000, 3.0, 80, 0.5, 0, 0, 0, ring=0.0)
    x, y = thermal.core(500, 1000)
    assert (x, y) == pytest.approx((500, 0))
    core = thermal.rise(500, x, y, 1000)
    assert core == pytest.approx(3.0)
    assert thermal.rise(500, x + 80, y, 1000) == pytest.approx(core / math.e)
    ringed = replace(thermal, ring=0.15)
    assert min(ringed.rise(500, x + r, y, 1000) for r in range(0, 400, 5)) < -0.3


def test_slope_lift_grows_with_the_wind_and_lies_in_front_of_the_hill():
    world = World(
        replace(QUIET, wind_mps=8.0, wind_from_deg=200.0), Hill(random.Random(5), 200.0), random.Random(2)
    )
    z = world.hill.crest_m + 20
    lifts = [world.slope_rise(*world.hill.point(0, 28), z, world_wind(u)) for u in (3.0, 6.0, 9.0)]
    assert lifts[0] < lifts[1] < lifts[2]
    assert lifts[2] == pytest.approx(3 * lifts[0], rel=0.05)
    assert world.slope_rise(*world.hill.point(0, -120), z, world_wind(8.0)) < 0.1
    assert world.slope_rise(*world.hill.point(0, 28), z + 400, world_wind(8.0)) < 0.2 * lifts[2]


def world_wind(speed_mps: float) -> tuple[float, float]:
    """A wind from 200 degrees."""
    return speed_mps * math.sin(math.radians(20)), speed_mps * math.cos(math.radians(20))


def test_energy_is_what_the_air_gives_and_the_polar_takes(cross_country_day: SimulatedLog):
    truth = cross_country_day.truth
    flight = truth.flights[-1]
    rows = truth.rows(flight.liftoff_s + 15, flight.touchdown_s - 1)
    a, b, c = truth.wing.polar
    speed, bank, z = (rows[:, COLUMN[k]] for k in ("airspeed_mps", "bank_rad", "altitude_m"))
    load, factor = 1 / np.cos(bank), (1 - 2.25577e-5 * z) ** -2.12794
    level = speed / factor / np.sqrt(load)
    sink = (a * level**2 + b * level + c) * load**1.5 * factor * rows[:, COLUMN["drag_share"]]
    energy = z + speed**2 / (2 * 9.81)
    given = np.cumsum((rows[:, COLUMN["airmass_mps"]] - sink) * 0.2)
    change = (energy - energy[0]) - (given - given[0])
    assert np.abs(change).max() < 0.004 * np.abs(np.diff(z)).sum() + 2


def test_ground_velocity_is_air_velocity_plus_wind(cross_country_day: SimulatedLog):
    rows = cross_country_day.truth.rows(
        *(cross_country_day.truth.flights[-1].liftoff_s + t for t in (30.0, 900.0))
    )
    east = np.diff(rows[:, 1]) / 0.2
    air = rows[:, COLUMN["airspeed_mps"]] * np.sin(rows[:, COLUMN["heading_rad"]])
    wind = rows[:, COLUMN["wind_east_mps"]] + rows[:, COLUMN["gust_east_mps"]]
    assert np.abs(east - (air + wind)[1:]).max() < 0.01


def test_noise_has_the_size_it_claims():
    log = simulate(Scenario("noise", kind="polar", glides=2, flight_minutes=20.0, wind_mps=2.0), 5)
    truth, fixes, errors = log.truth, log.fixes, log.truth.sensors
    times = fixes.time_s + truth.epoch_s
    off = fixes.east_m - truth.at(times, "east_m")
    assert 0.4 * errors.horizontal_m < off.std() < 2.0 * errors.horizontal_m + 0.8
    short = np.diff(off)
    assert 0.3 < short.std() < 1.2  # correlated over 80 s: neighbours share most of it
    up = fixes.pressure_m - truth.at(times, "altitude_m") * (1 + errors.pressure_scale) - errors.pressure_offset_m
    drift = errors.pressure_drift_m_per_h * (times - times[0]) / 3600
    assert (up - drift).std() == pytest.approx(errors.pressure_noise_m, rel=0.15)


def test_correlated_noise_keeps_spread_and_memory():
    times = np.arange(0.0, 40000.0, 1.0)
    values = correlated(random.Random(1), times, 2.0, 80.0)
    assert values.std() == pytest.approx(2.0, rel=0.12)
    memory = np.corrcoef(values[:-80], values[80:])[0, 1]
    assert memory == pytest.approx(math.exp(-1), abs=0.12)


def test_no_noise_leaves_only_rounding():
    log = simulate(calm_suite()[0][0], 3)
    times = log.fixes.time_s + log.truth.epoch_s
    assert np.abs(log.fixes.east_m - log.truth.at(times, "east_m")).max() < 1e-6
    assert np.abs(log.fixes.pressure_m - log.truth.at(times, "altitude_m")).max() < 1e-6


def test_latitude_and_longitude_are_those_of_the_ellipsoid():
    from geographiclib.geodesic import Geodesic

    for site in SITES:
        for east, north in ((3000.0, 4000.0), (-20000.0, 15000.0)):
            latitude, longitude = to_latitude_longitude(site, east, north)
            line = Geodesic.WGS84.Inverse(site.latitude_deg, site.longitude_deg, latitude, longitude)
            assert line["s12"] == pytest.approx(math.hypot(east, north), rel=2e-3)


def check_phases(log: SimulatedLog) -> None:
    """Phases lie end to end from the run to touchdown; the wing is in the air from lift-off to touchdown only."""
    truth = log.truth
    flying = np.zeros(len(truth.time_s))
    for flight in truth.flights:
        end = flight.touchdown_s if flight.touchdown_s is not None else truth.time_s[-1]
        flying[(truth.time_s > flight.liftoff_s + 0.05) & (truth.time_s <= end + 0.05)] = 1
        phases = flight.phases
        assert phases[0].kind == "launch_run"
        assert phases[0].start_s == pytest.approx(flight.run_start_s)
        assert phases[0].end_s == pytest.approx(flight.liftoff_s)
        assert phases[-1].end_s == pytest.approx(end, abs=1.1)
        for one, next_one in pairwise(phases):
            assert one.end_s == pytest.approx(next_one.start_s, abs=1e-6)
        assert {p.kind for p in phases} <= {"launch_run", "climb", "glide", "search", "approach"}
        assert {p.mode for p in phases if p.kind == "climb"} <= {"circling", "ridge", "straight"}
        assert all(p.mode is None for p in phases if p.kind != "climb")
        assert flight.landing_kind == "end_of_day" or phases[-1].kind == "approach"
    assert (flying == truth.column("in_air")).all()
    assert truth.column("altitude_m")[1:] == pytest.approx(truth.column("altitude_m")[:-1], abs=3.0)


def test_phases_of_a_cross_country_day_lie_end_to_end(cross_country_day: SimulatedLog):
    check_phases(cross_country_day)
    kinds = {p.kind for f in cross_country_day.truth.flights for p in f.phases}
    assert kinds >= {"launch_run", "climb", "glide", "approach"}
    assert len(cross_country_day.truth.aborted_runs) == 1


def test_lift_off_comes_when_the_wing_carries(cross_country_day: SimulatedLog):
    for flight in cross_country_day.truth.flights:
        wing = cross_country_day.wing
        assert 0.95 * wing.lift_off_mps < flight.liftoff_airspeed_mps < 1.35 * wing.lift_off_mps
        assert flight.run_length_m < 60
        together = flight.ground_speed_at_liftoff_mps + flight.headwind_at_liftoff_mps
        assert together == pytest.approx(flight.liftoff_airspeed_mps, abs=0.05)


def test_circling_climbs_are_climbs_in_rising_air(cross_country_day: SimulatedLog):
    climbs = [c for c in cross_country_day.truth.climbs if c.mode == "circling" and c.end_s - c.start_s > 120]
    assert climbs
    for climb in climbs:
        period = (climb.end_s - climb.start_s) / climb.turns
        assert 9 < period < 45
        assert 10 < climb.mean_bank_deg < 40
        assert climb.airmass_mps > climb.mean_climb_mps > 0
        assert climb.airmass_mps <= climb.core_strength_mps * 1.5 + 0.5


def test_passes_of_top_landing_days(top_landing_days: list[SimulatedLog]):
    passes = [p for log in top_landing_days for p in log.truth.passes if p.on_top]
    outcomes = [p.outcome for p in passes]
    assert outcomes.count("landed") >= 6
    assert outcomes.count("go_around") >= 10
    for log in top_landing_days:
        check_phases(log)
        for one in log.truth.passes:
            assert one.start_s <= one.end_s
            assert one.end_s - one.start_s <= 60.01
            flight = next(f for f in log.truth.flights if f.liftoff_s < one.end_s <= (f.touchdown_s or 1e12) + 0.1)
            if one.outcome == "landed":
                assert one.end_s == pytest.approx(flight.touchdown_s)
            else:
                before, after = log.truth.phase_at(one.end_s - 0.3), log.truth.phase_at(one.end_s + 0.3)
                assert (before.kind, after.kind) != ("approach", "ground")
                assert after.kind in ("climb", "approach")
                assert one.decision_height_m is not None
    heights = [p.decision_height_m for p in passes if p.reason == "planned"]
    assert heights
    assert 2 < min(heights) < 20
    assert max(heights) < 35


def test_pilots_break_off_near_the_meadow_and_land_on_it(top_landing_days: list[SimulatedLog]):
    for log in top_landing_days:
        truth = log.truth
        pad = truth.world.hill.pad
        for flight in truth.flights:
            passes = [
                p for p in truth.passes if p.on_top and flight.liftoff_s < p.end_s <= (flight.touchdown_s or 0)
            ]
            assert sum(p.outcome == "go_around" for p in passes) <= 6
            if flight.landing_kind == "top_landing":
                x, y = (float(truth.at(flight.touchdown_s, k)) for k in ("east_m", "north_m"))
                assert math.hypot(x - pad.x_m, y - pad.y_m) < pad.radius_m + 10
        for one in truth.passes:
            if one.outcome == "go_around" and one.on_top:
                assert one.decision_distance_m < 100.1
                assert one.lowest_height_m > 0
                assert one.decision_height_m - one.lowest_height_m < 9


def test_nobody_flies_through_the_hill_or_stalls(
    top_landing_days: list[SimulatedLog], cross_country_day: SimulatedLog
):
    for log in (*top_landing_days, cross_country_day):
        truth = log.truth
        flying = truth.states[truth.column("in_air") > 0]
        x, y, z, speed = (flying[:, COLUMN[k]] for k in ("east_m", "north_m", "altitude_m", "airspeed_mps"))
        ground = np.array([truth.world.hill.height(a, b) for a, b in zip(x, y, strict=True)])
        height = z - ground - truth.carry_height_m
        assert height.min() > -0.5  # one step of 0.2 s into it
        factor = np.array([density_speed_factor(a) for a in z])
        assert (speed / factor)[height > 4].min() > 0.7 * log.wing.min_sink_speed_mps


def test_time_taken_back_leaves_no_trace():
    craft = craft_in(replace(QUIET, wind_mps=3.0))
    for _ in range(50):
        craft.step(0.3, 10.0)
    before, state = craft.checkpoint(), (craft.t, craft.x, craft.y, craft.z, craft.v, craft.psi, craft.bank)
    craft.phase("glide")
    craft.world.make_thermal(0, 0, 0, random.Random(1))
    for _ in range(50):
        craft.step(-0.3, 12.0)
    craft.rewind(before)
    assert (craft.t, craft.x, craft.y, craft.z, craft.v, craft.psi, craft.bank) == state
    assert len(craft.rows) == 50
    assert not craft.marks.phases
    assert not craft.world.thermals


def test_a_line_of_lift_is_followed_to_its_end():
    craft = craft_in(QUIET)
    craft.z = craft.world.hill.valley_m + 500
    line = LiftLine(20000.0, 20300.0, 0.0, 2000.0, 120.0, 2.5)
    craft.world.lines.append(line)
    begin = craft.z
    glide(craft, 20000.0, 26000.0, craft.wing.trim_mps, lambda c: c.t > 400)
    kinds = [(kind, mode) for _, kind, mode, _ in craft.marks.phases]
    assert kinds == [("glide", None), ("climb", "straight"), ("glide", None)]
    start, end = (craft.marks.phases[k][0] for k in (1, 2))
    assert end - start > 120
    tops = [row[3] for row in craft.rows if start < row[0] < end]
    assert tops[-1] - tops[0] > 100
    assert craft.z < tops[-1] < begin + 600


def test_two_thermals_that_meet_do_not_add_up():
    world = World(replace(QUIET, thermal_mps=3.0), Hill(random.Random(1), 270.0), random.Random(2))
    first = Thermal(20000, 20000, 0, 2000, 0, 1000, 3.0, 80, 0, 0, 0, 0)
    world.thermals += [first, replace(first, strength_mps=2.0)]
    assert world.rise(500, 20000, 20000, 1000, (0, 0)) == pytest.approx(first.rise(500, 20000, 20000, 1000))


def test_circles_are_as_wide_as_pilots_fly_them():
    scenario = Scenario("circles", wing_class="paraglider", wind_mps=2.0, flight_minutes=60.0, gust_mps=0.3)
    climbs = [c for seed in range(3) for c in simulate(scenario, seed).truth.climbs if c.turns > 4]
    rates = [360 * c.turns / (c.end_s - c.start_s) for c in climbs]
    assert 14 < np.median(rates) < 19  # degrees a second: common practice, no source


def test_cars_drive_on_roads():
    steep = []
    for seed, valley in ((1, True), (2, True), (3, False), (4, False)):
        scenario = Scenario("car", kind="top_landing", wind_mps=5.0, flight_minutes=5.0, go_arounds=(0,),
                            ends_in_valley=valley, drives_home=True)  # fmt: skip
        truth = simulate(scenario, seed).truth
        car = truth.all_phases[-1]
        assert car.behaviour == "vehicle"
        rows = truth.rows(car.start_s + 0.3, car.end_s)
        way = np.hypot(np.diff(rows[:, 1]), np.diff(rows[:, 2]))
        assert (way / 0.2).max() < 20.5
        assert np.percentile(way / 0.2, 75) > 5
        steep += (np.abs(np.diff(rows[:, 3]))[way > 0.2] / way[way > 0.2] > 0.12).tolist()
    assert np.mean(steep) < 0.02  # a few steps on the verge


def test_top_landing_touches_down_slowly_and_on_the_ground(top_landing_days: list[SimulatedLog]):
    for log in top_landing_days:
        for flight in log.truth.flights:
            if flight.touchdown_s is None:
                continue
            assert flight.touchdown_ground_speed_mps < 13
            z = float(log.truth.at(flight.touchdown_s + 5, "altitude_m"))
            x, y = (float(log.truth.at(flight.touchdown_s + 5, k)) for k in ("east_m", "north_m"))
            assert z == pytest.approx(log.truth.world.hill.height(x, y) + log.truth.carry_height_m, abs=0.3)


def test_same_seed_same_bytes_other_seed_other_bytes():
    scenario = Scenario("again", wind_mps=3.0, flight_minutes=12.0)
    assert simulate(scenario, 1).text == simulate(scenario, 1).text
    assert simulate(scenario, 1).text != simulate(scenario, 2).text


B_RECORD = re.compile(r"B\d{6}\d{7}[NS]\d{8}[EW][AV](\d{5}|-\d{4})(\d{5}|-\d{4})")


def test_igc_lines_have_the_form_of_the_specification(top_landing_days: list[SimulatedLog]):
    for log in top_landing_days:
        lines = log.igc.split("\r\n")
        assert lines[0].startswith("A")
        records = [line for line in lines if line.startswith("B")]
        assert len(records) == len(log.fixes.time_s)
        assert all(len(line) == 35 and B_RECORD.fullmatch(line) for line in records)
        assert any(re.fullmatch(r"HFDTE(DATE:)?\d{6}(,\d\d)?", line) for line in lines)
        assert lines[-2].startswith("G")
        assert "\n" not in log.igc.replace("\r\n", "")


def test_gpx_is_well_formed_and_carries_fractions():
    log = simulate(Scenario("gpx", wind_mps=2.0, flight_minutes=6.0, form="gpx", interval_s=0.2), 4)
    root = ElementTree.fromstring(log.text)  # noqa: S314 (our own text)
    points = root.findall(".//{http://www.topografix.com/GPX/1/1}trkpt")
    assert len(points) == len(log.fixes.time_s)
    times = [p.find("{http://www.topografix.com/GPX/1/1}time").text for p in points]
    seconds = [datetime.fromisoformat(time).timestamp() for time in times]
    assert np.diff(seconds) == pytest.approx(0.2, abs=1e-3)
    assert any("." in t for t in times)
    assert np.diff(log.fixes.time_s) == pytest.approx(0.2)


def test_recorder_faults_are_there_when_asked_for():
    scenario = Scenario(
        "faults", wind_mps=3.0, flight_minutes=20.0, spikes=3, duplicates=5, stale_spells=3, drop_outs=2,
        pressure=False, over_midnight=True, start_in_air=True,
    )  # fmt: skip
    log = simulate(scenario, 12)
    gaps = np.diff(log.fixes.time_s)
    assert (gaps == 0).sum() >= 4
    assert (gaps > 4).sum() >= 1
    assert log.fixes.pressure_m is None
    assert all(line[25:30] == "00000" for line in log.igc.split("\r\n") if line.startswith("B"))
    clocks = [line[1:7] for line in log.igc.split("\r\n") if line.startswith("B")]
    assert sum(b < a for a, b in pairwise(clocks)) == 1  # midnight
    assert not log.truth.flights[0].liftoff_recorded
    times = log.fixes.time_s + log.truth.epoch_s
    far = np.hypot(
        log.fixes.east_m - log.truth.at(times, "east_m"), log.fixes.north_m - log.truth.at(times, "north_m")
    )
    assert (far > 20).sum() >= 3


def test_places_and_wing_files_hold_the_truth(top_landing_days: list[SimulatedLog]):
    log = top_landing_days[0]
    features = json.loads(log.places_geojson)["features"]
    assert {tuple(f["properties"]["use"]) for f in features} == {("launch",), ("top_landing",), ("landing",)}
    assert features[1]["properties"]["elevation_m"] == pytest.approx(
        log.truth.world.hill.pad.elevation_m, abs=0.06
    )
    wing = tomllib.loads(log.wing_toml)
    assert wing["class"] == log.wing.wing_class
    for point in wing["polar"]:
        assert point["sink_mps"] == pytest.approx(log.wing.sink_mps(point["airspeed_mps"]), abs=0.01)


def test_suites_spread_over_what_they_promise():
    cross, top, calm, polar = wind_and_glide_suite(), top_landing_suite(), calm_suite(), polar_suite()
    assert len(cross) >= 60
    assert len(top) >= 100
    assert len(calm) >= 9
    assert len(polar) == 162
    assert polar[:54] == polar_suite(rounds=1)
    assert len({wing for _, wing in polar}) == len(polar)
    assert len({seed for cases, _ in polar for _, seed in cases}) == sum(len(cases) for cases, _ in polar)
    assert sum(cases[0][0].best_ratio is not None for cases, _ in polar) == 36
    for suite, strongest in ((cross, 10.0), (top, 9.0)):
        winds = [scenario.wind_mps for scenario, _ in suite]
        assert min(winds) < 0.6
        assert 0.93 * strongest < max(winds) <= strongest
        assert {s.wing_class for s, _ in suite} == {"paraglider", "hang_glider", "rigid_wing"}
        assert {s.interval_s for s, _ in suite} == {1.0, 2.0, 3.0, 4.0, 5.0}
        assert len({seed for _, seed in suite}) == len(suite)
    assert {n for s, _ in top for n in s.go_arounds} == set(range(7))


def test_one_polar_entry_is_one_wing():
    cases, _ = polar_suite()[1]
    logs = [simulate(*case) for case in cases[:2]]
    assert logs[0].wing == logs[1].wing
    for log in logs:
        minutes = sum(g.end_s - g.start_s for g in log.truth.glides) / 60
        assert minutes > 8


def test_two_pilots_can_share_a_sky():
    scenario = Scenario("sky", wind_mps=3.0, flight_minutes=5.0, world_seed=77)
    one, other = simulate(scenario, 1), simulate(scenario, 2)
    assert one.truth.epoch_s == other.truth.epoch_s
    assert one.truth.wind(one.truth.epoch_s + 600, 1500.0) == other.truth.wind(one.truth.epoch_s + 600, 1500.0)
    assert one.truth.world.thermals[:50] == other.truth.world.thermals[:50]
    assert one.text != other.text
