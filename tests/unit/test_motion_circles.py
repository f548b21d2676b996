"""Full circles, by number, side and place."""

from __future__ import annotations

import numpy as np
import pytest

from flightlog.motion.circles import find_turnings, turn_rates_degps
from flightlog.motion.cleaning import clean_motion
from flightlog.motion.motion import Spell
from flightlog.settings import UNKNOWN_WING
from tests.unit.motion_builders import EPOCH_S, Mover, picked, track_of


def circling(turn_degps=24.0, wind=(0.0, 0.0), seed=1):
    """Straight, 90 s to the right, straight, 60 s to the left, straight."""
    mover = Mover(seed)
    mover.move(60.0, 10.0, -1.0, 0.0, wind, 0.3).move(90.0, 10.0, 1.0, turn_degps, wind, 0.3)
    mover.move(80.0, 10.0, -1.0, 0.0, wind, 0.3).move(60.0, 10.0, 1.0, -turn_degps, wind, 0.3)
    return mover.move(60.0, 10.0, -1.0, 0.0, wind, 0.3).path()


def found(track, wind=(0.0, 0.0), **kwargs):
    motion = clean_motion(track, UNKNOWN_WING)
    return motion, find_turnings(motion, turn_rates_degps(motion, *wind), UNKNOWN_WING, **kwargs)


@pytest.mark.parametrize("interval_s", [0.2, 1.0, 2.0, 3.0, 4.0, 5.0])
def test_two_runs_of_circles_at_every_interval(interval_s):
    motion, turnings = found(track_of(circling(), interval_s))
    assert [t.direction for t in turnings] == ["right", "left"]
    for turning, start, stop in zip(turnings, (60, 230), (150, 290), strict=True):
        assert turning.turned_deg == pytest.approx(24.0 * (stop - start), abs=120.0)
        assert motion.time_s[turning.start] - EPOCH_S == pytest.approx(start, abs=2.0 + interval_s)
        assert motion.time_s[turning.stop - 1] - EPOCH_S == pytest.approx(stop, abs=2.0 + interval_s)


@pytest.mark.parametrize("turn_degps", [12.0, 16.0, 30.0])
def test_wide_and_tight_circles(turn_degps):
    _, turnings = found(track_of(circling(turn_degps)))
    assert [t.direction for t in turnings] == ["right", "left"]


@pytest.mark.parametrize("interval_s", [0.2, 1.0, 2.0, 5.0])
@pytest.mark.parametrize("wind", [(0.0, 0.0), (7.0, 0.0)])
def test_the_widest_circles_show_by_going_on_and_a_bend_does_not(interval_s, wind):
    # 8 degrees a second, a bank of 8 degrees at 10 m/s, make a circle in 45 s: 90 s two, 60 s one and a third
    motion, turnings = found(track_of(circling(8.0, wind), interval_s), wind)
    assert [t.direction for t in turnings] == ["right"]
    assert turnings[0].turned_deg == pytest.approx(720.0, abs=90.0)
    assert motion.time_s[turnings[0].start] - EPOCH_S == pytest.approx(60.0, abs=8.0)
    assert motion.time_s[turnings[0].stop - 1] - EPOCH_S == pytest.approx(150.0, abs=8.0)


def test_wind_taken_off_shows_the_circles_it_hides():
    """In 9 m/s of wind at 10 m/s airspeed the track over ground hardly turns back."""
    wind = (9.0, 0.0)
    _, turnings = found(track_of(circling(wind=wind)), wind)
    assert [t.direction for t in turnings] == ["right", "left"]
    assert turnings[0].turned_deg == pytest.approx(24.0 * 90, abs=150.0)


def test_at_ten_seconds_tight_circles_cannot_be_told_and_wide_ones_can():
    """24 degrees a second turn 240 between fixes, which looks like 120 the other way; 12 turn 120."""
    _, wide = found(track_of(circling(12.0), 10.0))
    assert [t.direction for t in wide] == ["right", "left"]
    _, tight = found(track_of(circling(24.0), 10.0))
    assert [t.direction for t in tight] != ["right", "left"]


def test_bends_and_beats_are_no_circles():
    mover = Mover(2)
    for k in range(8):
        mover.move(30.0, 10.0, 0.2, 0.0, (0.0, 0.0), 0.3).move(8.0, 10.0, 0.2, 22.0 * (-1) ** k)
    assert found(track_of(mover.path()))[1] == ()


def test_no_turning_bridges_a_gap():
    track = track_of(circling())
    t = np.arange(len(track.time_s))
    motion, turnings = found(picked(track, np.flatnonzero((t < 95) | (t > 120))))
    assert [t.direction for t in turnings] == ["right", "right", "left"]
    for turning in turnings:
        assert len(set(motion.piece[turning.start : turning.stop].tolist())) == 1


def test_only_within_the_spells():
    track = track_of(circling())
    spell = Spell("air", EPOCH_S + 200.0, EPOCH_S + 350.0)
    assert [t.direction for t in found(track, within=(spell,))[1]] == ["left"]


def test_unknown_rates_tell_nothing():
    motion = clean_motion(track_of(circling()), UNKNOWN_WING)
    assert find_turnings(motion, np.full(len(motion.time_s), np.nan), UNKNOWN_WING) == ()


def test_rates_of_another_length_are_refused():
    motion = clean_motion(track_of(circling()), UNKNOWN_WING)
    with pytest.raises(ValueError, match="one value a fix"):
        find_turnings(motion, np.zeros(5), UNKNOWN_WING)


def test_turn_rate_itself():
    motion = clean_motion(track_of(circling()), UNKNOWN_WING)
    t = motion.time_s - EPOCH_S
    rate = turn_rates_degps(motion)
    assert np.mean(rate[(t > 75) & (t < 140)]) == pytest.approx(24.0, abs=1.0)
    assert np.mean(rate[(t > 240) & (t < 280)]) == pytest.approx(-24.0, abs=1.0)
    assert np.std(rate[(t > 165) & (t < 215)]) < 4.0
