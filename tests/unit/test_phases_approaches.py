"""Passes over a top-landing ground: counted when meant to land, left out when soaring past."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from flightlog.arrays import frozen_floats
from flightlog.phases.approaches import find_passes, turning_points
from flightlog.phases.grounds import Ground
from flightlog.phases.phases import FlightSpan
from flightlog.settings import PARAGLIDER
from tests.unit.synthetic_motion import EPOCH_S, Leg, fly, observed

WIND = (0.0, -5.0)
PAD_M = 1000.0


def pad(path, index=None, **changes):
    """A top-landing ground under the path where it is at its lowest, or at a step."""
    at = int(np.argmin(path.altitude_m)) if index is None else index
    values = {
        "name": "Top", "east_m": float(path.east_m[at]), "north_m": float(path.north_m[at]), "radius_m": 40.0,
        "use": ("top_landing",), "heading_deg": None, "level_time_s": frozen_floats([EPOCH_S]),
        "level_m": frozen_floats([PAD_M]), "level_sd_m": 1.0, "touch_east_m": frozen_floats([]),
        "touch_north_m": frozen_floats([]),
    }  # fmt: skip
    return Ground(**(values | changes))


def whole(motion, landed=False):
    first, last = float(motion.time_s[0]), float(motion.time_s[-1])
    return FlightSpan(1, first, first, last, False, not landed, 0.5, 0.5, 0, len(motion.time_s))


def descent(to_height_m, seconds=35.0):
    """Downwind leg, turn into the wind, final: 1.2 m/s of sink all the way down to a height above the pad."""
    start = PAD_M + to_height_m + 1.2 * (seconds + 12 + 12)
    legs = [
        Leg(40, 10.2, 0.0, heading_deg=90.0),
        Leg(12, 10.2, -1.2, heading_deg=180.0),
        Leg(12, 10.2, -1.2, turn_degps=15.0),
    ]
    return start, [*legs, Leg(seconds, 9.5, -1.2, heading_deg=0.0)]


AWAY = [Leg(8, 11.5, 0.8, turn_degps=10.0), Leg(60, 10.2, 1.2)]


@pytest.mark.parametrize("interval_s", [0.5, 1.0, 2.0, 4.0, 5.0])
@pytest.mark.parametrize("lowest_m", [3.0, 6.0, 10.0])
def test_a_broken_off_final_is_one_sure_go_around(interval_s, lowest_m):
    start, legs = descent(lowest_m)
    path = fly([*legs, *AWAY], wind=WIND, altitude_m=start)
    motion, air = observed(path, interval_s=interval_s, wind=WIND)
    (one,) = find_passes(motion, air, whole(motion), (pad(path),), PARAGLIDER)
    assert (one.outcome, one.certainty) == ("go_around", "sure")
    assert one.decision_s == pytest.approx(path.leg_starts_s[4], abs=2.5)
    assert one.end_s == one.decision_s
    assert one.lowest_height_m == pytest.approx(lowest_m, abs=1.5)
    assert one.start_s < one.end_s <= one.start_s + 62.0
    assert one.closest_m < 12.0


def test_two_go_arounds_and_a_landing_are_three_passes():
    """Round and round in a wind: final to 5 m, climb ahead, back downwind, final again; the third one lands."""
    start, legs = descent(5.0)
    again = [
        Leg(20, 10.2, 1.2, heading_deg=0.0), Leg(12, 10.2, 1.0, turn_degps=15.0),
        Leg(10, 10.2, 1.0, heading_deg=180.0), Leg(12, 10.2, -0.9, turn_degps=15.0),
    ]  # fmt: skip
    final = Leg(37.3, 9.5, -0.944, heading_deg=0.0)  # back over the same spot at the same height
    path = fly([*legs, *again, final, *again, replace(final, climb_mps=-1.078)], wind=WIND, altitude_m=start)
    ends = [path.leg_starts_s[4], path.leg_starts_s[9], path.time_s[-1]]
    steps = np.searchsorted(path.time_s, ends[:2])
    centre = pad(path, int(steps[0]))
    ground = pad(
        path, radius_m=80.0, east_m=centre.east_m, north_m=centre.north_m, landings=(1,),
        level_m=frozen_floats([float(path.altitude_m[-1])]),
    )  # fmt: skip
    assert np.hypot(path.east_m[steps] - ground.east_m, path.north_m[steps] - ground.north_m).max() < 80.0
    motion, air = observed(path, wind=WIND)
    passes = find_passes(motion, air, whole(motion, landed=True), (ground,), PARAGLIDER)
    assert [one.outcome for one in passes] == ["go_around", "go_around", "landed"]
    assert [one.end_s for one in passes] == pytest.approx(ends, abs=3.0)
    assert all(one.certainty == "sure" for one in passes)
    assert all(a.end_s <= b.start_s for a, b in pairwise(passes))


def test_a_landing_is_one_pass_that_ends_at_touchdown():
    start, legs = descent(0.0)
    path = fly(legs, wind=WIND, altitude_m=start)
    motion, air = observed(path, wind=WIND)
    touch = pad(path, landings=(1,))
    (one,) = find_passes(motion, air, whole(motion, landed=True), (touch,), PARAGLIDER)
    assert (one.outcome, one.certainty, one.decision_s) == ("landed", "sure", None)
    assert one.end_s == float(motion.time_s[-1])
    assert one.end_s - one.start_s == pytest.approx(60.0, abs=1.0)  # a minute at most
    assert abs(one.lowest_height_m) < 1.5  # a second of sink before the last fix


def test_a_landing_field_without_top_landing_has_no_passes():
    start, legs = descent(0.0)
    path = fly(legs, wind=WIND, altitude_m=start)
    motion, air = observed(path, wind=WIND)
    field = pad(path, use=("landing",), landings=(1,))
    assert find_passes(motion, air, whole(motion, landed=True), (field,), PARAGLIDER) == ()


@pytest.mark.parametrize("height_m", [12.0, 18.0, 28.0, 40.0])
def test_beats_along_the_edge_are_no_sure_passes(height_m):
    """Soaring across the wind in lift: height wanders by some metres, nobody means to land."""
    beats = []
    for number in range(8):
        beats += [Leg(25, 10.5, 0.25 * (-1) ** number, heading_deg=60.0 if number % 2 else -60.0)]
        beats += [Leg(8, 10.5, -0.3, turn_degps=-15.0 if number % 2 else 15.0)]
    path = fly(beats, wind=WIND, altitude_m=PAD_M + height_m)
    motion, air = observed(path, wind=WIND)
    middle = len(path.time_s) // 2
    found = find_passes(motion, air, whole(motion), (pad(path, middle),), PARAGLIDER)
    assert [one for one in found if one.certainty == "sure"] == []


@pytest.mark.parametrize("interval_s", [1.0, 5.0])
def test_a_descent_past_the_launch_is_no_go_around(interval_s):
    """The same final, but flown on down to the valley with the same sink: nothing is regained, nothing changes."""
    start, legs = descent(4.0)
    path = fly([*legs, Leg(120, 9.5, -1.2, heading_deg=0.0)], wind=WIND, altitude_m=start)
    motion, air = observed(path, interval_s=interval_s, wind=WIND)
    ground = pad(path, int(np.searchsorted(path.time_s, path.leg_starts_s[4])))
    assert find_passes(motion, air, whole(motion), (ground,), PARAGLIDER) == ()


def test_sink_that_ends_without_a_climb_is_possibly_a_go_around():
    start, legs = descent(4.0)
    path = fly([*legs, Leg(120, 9.5, -0.1, heading_deg=0.0)], wind=WIND, altitude_m=start)
    motion, air = observed(path, wind=WIND)
    ground = pad(path, int(np.searchsorted(path.time_s, path.leg_starts_s[4])))
    (one,) = find_passes(motion, air, whole(motion), (ground,), PARAGLIDER)
    assert one.certainty == "possible"


def test_high_over_the_pad_is_no_pass():
    start, legs = descent(60.0)
    path = fly([*legs, *AWAY], wind=WIND, altitude_m=start)
    motion, air = observed(path, wind=WIND)
    assert find_passes(motion, air, whole(motion), (pad(path),), PARAGLIDER) == ()


def test_unknown_wind_still_finds_a_low_go_around():
    start, legs = descent(3.0)
    path = fly([*legs, *AWAY], wind=WIND, altitude_m=start)
    motion, air = observed(path, wind=None)
    (one,) = find_passes(motion, air, whole(motion), (pad(path),), PARAGLIDER)
    assert one.certainty == "sure"


def test_a_pass_between_two_grounds_is_counted_once():
    start, legs = descent(4.0)
    path = fly([*legs, *AWAY], wind=WIND, altitude_m=start)
    motion, air = observed(path, wind=WIND)
    ground = pad(path)
    beside = pad(path, east_m=ground.east_m + 30.0, name="Beside")
    assert len(find_passes(motion, air, whole(motion), (ground, beside), PARAGLIDER)) == 1


def test_bottoms_need_a_rise_on_both_sides():
    wave = np.array([50.0, 40, 30, 33, 29, 45, 44, 47, 20, 10, 12, 60])
    assert turning_points(wave, 4.0).tolist() == [4, 9]
    assert turning_points(np.linspace(100.0, 0.0, 50), 4.0).tolist() == []
    assert turning_points(np.full(10, 3.0), 4.0).tolist() == []
    assert turning_points(np.array([0.0, 10.0, 20.0, 5.0]), 4.0).tolist() == []


def test_in_a_calm_a_high_break_off_is_surer_than_in_unknown_wind():
    """No slope lift carries anybody past in a calm: coming down to 27 m beside the landing ground was meant."""
    start, legs = descent(27.0)
    path = fly([*legs, *AWAY], altitude_m=start)
    motion, air = observed(path, wind=(0.0, 0.0))
    (calm,) = find_passes(motion, air, whole(motion), (pad(path),), PARAGLIDER)
    _, blind = observed(path, wind=None)
    (unknown,) = find_passes(motion, blind, whole(motion), (pad(path),), PARAGLIDER)
    assert calm.certainty == "sure"
    assert unknown.score < calm.score - 0.5


def test_a_final_broken_off_before_the_place_is_only_possible():
    """Given up 110 m short of it, and flown away downwind: the pilot never was over the place."""
    start, legs = descent(12.0)
    turned = [Leg(12, 10.2, 0.8, turn_degps=15.0), Leg(60, 10.2, 1.2)]
    path = fly([*legs, *turned], wind=WIND, altitude_m=start)
    motion, air = observed(path, wind=WIND)
    at = pad(path)
    ground = replace(at, north_m=at.north_m + 110.0)
    (one,) = find_passes(motion, air, whole(motion), (ground,), PARAGLIDER)
    assert one.certainty == "possible"
    assert one.closest_m > 65.0


def test_a_descent_that_stays_above_final_height_is_only_possible():
    start, legs = descent(38.0)
    path = fly([*legs, *AWAY], wind=WIND, altitude_m=start)
    motion, air = observed(path, wind=WIND)
    found = find_passes(motion, air, whole(motion), (pad(path),), PARAGLIDER)
    assert all(one.certainty == "possible" for one in found)


@pytest.mark.parametrize("change", ["level before", "across the wind", "no rise after"])
def test_less_of_an_approach_is_less_evidence(change):
    start, legs = descent(10.0)
    plain = [*legs, *AWAY]
    other = {
        "level before": [Leg(99, 10.2, 0.0, heading_deg=0.0), replace(legs[-1], seconds=6.0), *AWAY],
        "across the wind": [*legs[:-1], replace(legs[-1], heading_deg=70.0), *AWAY],
        "no rise after": [*legs, Leg(60, 10.2, 0.1, heading_deg=0.0)],
    }[change]
    scores = []
    for way, top_m in ((plain, start), (other, PAD_M + 17.2 if change == "level before" else start)):
        path = fly(way, wind=WIND, altitude_m=top_m)
        motion, air = observed(path, wind=WIND)
        found = find_passes(
            motion, air, whole(motion), (pad(path),), replace(PARAGLIDER, attempt_possible_log_odds=-99.0)
        )
        scores.append(found[0].score)
    assert scores[1] < scores[0] - 1.0


def test_a_launch_beside_ground_landed_on_is_the_less_likely_goal():
    """Passed low all day; a place that the pilot's own file names keeps its full evidence."""
    start, legs = descent(10.0)
    path = fly([*legs, *AWAY], wind=WIND, altitude_m=start)
    motion, air = observed(path, wind=WIND)
    launch = replace(pad(path), name=None, takeoffs=(1,))
    meadow = replace(launch, east_m=launch.east_m + 300.0, takeoffs=(), landings=(2,))
    (alone,) = find_passes(motion, air, whole(motion), (launch,), PARAGLIDER)
    (beside,) = find_passes(motion, air, whole(motion), (launch, meadow), PARAGLIDER)
    (named,) = find_passes(motion, air, whole(motion), (replace(launch, name="Launch"), meadow), PARAGLIDER)
    assert beside.score == pytest.approx(alone.score + PARAGLIDER.attempt_launch_log_odds)
    assert named.score == alone.score


def test_who_came_from_below_the_place_saved_height():
    """The same way over a place 17 m higher: it led 7 m below it."""
    start, legs = descent(10.0)
    path = fly([*legs, *AWAY], wind=WIND, altitude_m=start)
    motion, air = observed(path, wind=WIND)
    level = pad(path)
    higher = replace(level, level_m=level.level_m + 17.0)
    (plain,) = find_passes(motion, air, whole(motion), (level,), PARAGLIDER)
    everything = replace(PARAGLIDER, attempt_possible_log_odds=-99.0)
    (saved,) = find_passes(motion, air, whole(motion), (higher,), everything)
    assert saved.lowest_height_m < -4.0
    assert saved.score < plain.score - 0.4


@pytest.mark.parametrize(("lowest_m", "less_odds"), [(20.0, 3.0), (12.0, 3.0), (1.0, 0.0)])
def test_who_hurries_over_the_place_came_for_a_look(lowest_m, less_odds):
    """The same way down, 2 m/s faster than all day; low over the grass that tells nothing."""

    def over(speed_mps):
        legs = [Leg(200, 10.2, 0.0, heading_deg=90.0), Leg(12, 10.2, -1.2, turn_degps=-7.5)]
        legs += [Leg(25, speed_mps, -1.2, heading_deg=0.0), *AWAY]
        path = fly(legs, wind=WIND, altitude_m=PAD_M + lowest_m + 37 * 1.2)
        motion, air = observed(path, wind=WIND)
        (one,) = find_passes(motion, air, whole(motion), (pad(path),), PARAGLIDER)
        return one.score

    assert over(10.0) - over(12.2) == pytest.approx(less_odds, abs=0.6)
