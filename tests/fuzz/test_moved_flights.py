"""Flights turned, mirrored, moved and thinned: the results change as physics says, and in no other way."""

import math
from datetime import datetime, timedelta
from pathlib import Path

import pytest

import flightlog
from tests.fuzz.moved_tracks import delayed, document_of, moved, numbers_in, raised, thinned

SAMPLES = Path(__file__).parents[2] / "sample_tracks"
NAMES = ("top-landing-day.igc", "cross-country.igc")
OTHER_SIDE = {"left": "right", "right": "left", "mixed": "mixed", None: None}
FIRST_TURN_DEG = 11.0
LONG_GLIDE_M = 700.0
HIGH_CLIMB_M = 40.0
"""Shorter glides and lower climbs come and go where the wind, found from another side, differs by its error."""


@pytest.fixture(scope="module", params=NAMES)
def track(request):
    return flightlog.read_track(SAMPLES / request.param)


@pytest.fixture(scope="module")
def plain(track):
    """Results of the flight, turned a little: off the grid of the recorder's rounding, as all its images are."""
    return document_of(moved(track, turn_deg=FIRST_TURN_DEG))


def instant(text):
    return datetime.fromisoformat(text)


def seconds_apart(one, other):
    return abs((instant(one) - instant(other)).total_seconds())


def turned_by(deg, one, other):
    """How far `other` is from `one` turned by so many degrees."""
    return abs((other - one - deg + 180.0) % 360.0 - 180.0)


def inside(value, estimate, slack=0.0):
    return estimate["low"] - slack <= value <= estimate["high"] + slack


def pairs(before, after):
    """Flights side by side."""
    assert len(before["flights"]) == len(after["flights"])
    return zip(before["flights"], after["flights"], strict=True)


def check_same_story(before, after, within_s):
    """Flights, their ends, passes, high climbs and long glides are the same, at the same times."""
    for one, other in pairs(before, after):
        for end in ("takeoff", "landing"):
            assert seconds_apart(one[end]["time"], other[end]["time"]) <= within_s
            assert one[end]["kind"] == other[end]["kind"]
        assert [p["outcome"] for p in one["passes"]] == [p["outcome"] for p in other["passes"]]
        for a, b in counterparts(one["climbs"], other["climbs"], "gain_m", HIGH_CLIMB_M):
            assert abs(a["mean_climb_mps"]["value"] - b["mean_climb_mps"]["value"]) < 0.1
        for a, b in counterparts(one["glides"], other["glides"], "distance_m", LONG_GLIDE_M):
            if a["glide_ratio_ground"] and same_ends(a, b):
                assert inside(b["glide_ratio_ground"]["value"], a["glide_ratio_ground"])


def counterparts(ones, others, key, least):
    """The larger ones of these stretches, each beside the one of the others that shares most of its time.

    Others must fill most of that time; a short climb may part a glide in two.
    """
    found = []
    for one in ones:
        if one[key] < least:
            continue
        best = max(others, key=lambda other, one=one: shared(one, other))
        together = sum((max(shared(one, other), timedelta()) for other in others), timedelta())
        assert together > 0.8 * (instant(one["end"]) - instant(one["start"])), one["start"]
        found.append((one, best))
    return found


def shared(one, other):
    """Time that two stretches have in common; negative where they lie apart."""
    return min(instant(one["end"]), instant(other["end"])) - max(instant(one["start"]), instant(other["start"]))


def same_ends(one, other, within_s=4.0):
    return all(seconds_apart(one[end], other[end]) <= within_s for end in ("start", "end"))


def check_winds(before, after, image):
    """Mean winds are the images of those before (east, north), within a half of their standard errors."""
    for one, other in pairs(before, after):
        a, b = one["wind"]["mean"], other["wind"]["mean"]
        assert (a is None) == (b is None)
        if a is not None:
            east, north = image(a["east_mps"], a["north_mps"])
            apart = math.hypot(b["east_mps"] - east, b["north_mps"] - north)
            assert apart < max(0.1, 0.5 * math.hypot(a["se_mps"], b["se_mps"]))


def unchanged(east, north):
    return east, north


def turned(deg):
    """Turns a vector clockwise."""
    cosine, sine = math.cos(math.radians(deg)), math.sin(math.radians(deg))
    return lambda east, north: (east * cosine + north * sine, north * cosine - east * sine)


def mirrored(east, north):
    """East for west before the turn that both flights begin with."""
    return turned(2.0 * FIRST_TURN_DEG)(-east, north)


@pytest.mark.parametrize("turn_deg", [37.0, 180.0, 271.0])
def test_a_turned_flight_has_turned_winds_and_courses(track, plain, turn_deg):
    after = document_of(moved(track, turn_deg=FIRST_TURN_DEG + turn_deg))
    check_same_story(plain, after, 1.0)
    check_winds(plain, after, turned(turn_deg))
    for one, other in pairs(plain, after):
        for a, b in counterparts(one["climbs"], other["climbs"], "gain_m", HIGH_CLIMB_M):
            assert a["turn_direction"] == b["turn_direction"]
        for a, b in counterparts(one["glides"], other["glides"], "distance_m", LONG_GLIDE_M):
            assert not same_ends(a, b) or turned_by(turn_deg, a["track_deg"], b["track_deg"]) < 2.0


def test_a_mirrored_flight_turns_the_other_way(track, plain):
    after = document_of(moved(track, mirror=True, turn_deg=FIRST_TURN_DEG))
    check_same_story(plain, after, 1.0)
    check_winds(plain, after, mirrored)
    for one, other in pairs(plain, after):
        for a, b in counterparts(one["climbs"], other["climbs"], "gain_m", HIGH_CLIMB_M):
            assert OTHER_SIDE[a["turn_direction"]] == b["turn_direction"]
        for a, b in counterparts(one["glides"], other["glides"], "distance_m", LONG_GLIDE_M):
            image_deg = 2.0 * FIRST_TURN_DEG - a["track_deg"]
            assert not same_ends(a, b) or turned_by(0.0, image_deg, b["track_deg"]) < 2.0


@pytest.mark.parametrize("place", ["date line", "equator", "south", "north"])
def test_a_flight_elsewhere_on_earth_is_the_same_flight(track, plain, place):
    to = {"date line": (46.0, 179.99), "equator": (0.0, 0.05), "south": (-33.5, -70.4), "north": (71.0, -179.995)}
    there = document_of(moved(track, to=to[place], turn_deg=FIRST_TURN_DEG))
    check_same_story(plain, there, 1.0)
    check_winds(plain, there, unchanged)
    for one, other in pairs(plain, there):
        assert abs(one["track_length_m"] / other["track_length_m"] - 1.0) < 2e-3


def test_along_the_parallel_nothing_changes_but_longitudes(track, plain):
    there = moved(track, turn_deg=FIRST_TURN_DEG, to=(track.latitude_deg[0], track.longitude_deg[0] + 100.0))
    before, after = numbers_in(plain["flights"]), numbers_in(document_of(there)["flights"])
    assert before.keys() == after.keys()
    for path, value in before.items():
        if isinstance(value, float) and not path.endswith("lon_deg"):
            assert after[path] == pytest.approx(value, rel=1e-3, abs=0.02), path


DELAYS = [timedelta(days=1), timedelta(hours=-3, minutes=7), timedelta(days=-9131, seconds=1)]


@pytest.mark.parametrize("delay", DELAYS)
def test_times_shift_exactly(track, plain, delay):
    later = document_of(delayed(moved(track, turn_deg=FIRST_TURN_DEG), delay.total_seconds()))
    before, after = numbers_in(plain["flights"]), numbers_in(later["flights"])
    assert before.keys() == after.keys()
    for path, value in before.items():
        if isinstance(value, str) and value.endswith("Z"):
            assert instant(after[path]) - instant(value) == delay, path
        elif isinstance(value, float):
            assert after[path] == pytest.approx(value, rel=1e-3, abs=0.011), path


def test_a_flight_higher_up_differs_by_the_density_alone(track, plain):
    higher = document_of(raised(moved(track, turn_deg=FIRST_TURN_DEG), 300.0))
    for one, other in pairs(plain, higher):
        assert other["max_altitude_m"] - one["max_altitude_m"] == pytest.approx(300.0, abs=0.5)
        assert seconds_apart(one["takeoff"]["time"], other["takeoff"]["time"]) <= 1.0
        for a, b in counterparts(one["climbs"], other["climbs"], "gain_m", HIGH_CLIMB_M):
            if same_ends(a, b, 0.0):
                assert b["base_altitude_m"] - a["base_altitude_m"] == pytest.approx(300.0, abs=1.0)
                assert b["gain_m"] == pytest.approx(a["gain_m"], abs=1.0)


def test_half_the_fixes_tell_the_same_within_the_intervals(track, plain):
    half = document_of(thinned(moved(track, turn_deg=FIRST_TURN_DEG), 2))
    for one, other in pairs(plain, half):
        for end in ("takeoff", "landing"):
            assert seconds_apart(one[end]["time"], other[end]["time"]) <= 4.0
        assert abs(one["altitude_gain_m"] - other["altitude_gain_m"]) < 0.05 * one["altitude_gain_m"] + 5.0
        a, b = one["wind"]["mean"], other["wind"]["mean"]
        if a and b:
            apart = math.hypot(a["east_mps"] - b["east_mps"], a["north_mps"] - b["north_mps"])
            assert apart < 2.5 * math.hypot(a["se_mps"], b["se_mps"])
        for name in ("glide_ratio_ground", "glide_ratio_air"):
            ratio, thin = one["performance"][name], other["performance"][name]
            if ratio and thin:
                assert ratio["low"] <= thin["high"], name
                assert thin["low"] <= ratio["high"], name
        for climb, thin in counterparts(one["climbs"], other["climbs"], "gain_m", 100.0):
            if same_ends(climb, thin, 5.0):
                assert inside(thin["mean_climb_mps"]["value"], climb["mean_climb_mps"], slack=0.05)
