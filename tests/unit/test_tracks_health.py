"""What `check` says of a log."""

import numpy as np
import pytest

from flightlog.errors import Note
from flightlog.tracks.health import check_track
from flightlog.tracks.igc import parse_igc
from flightlog.tracks.notebook import Notebook


def log(seconds, *, step=6, leap_at=None):
    lines = ["AXXX001", "HFDTE160701", "HFALGALTGPS:GEO", "HFDTM100GPSDATUM:WGS84", "I013638TAS"]
    for k, second in enumerate(seconds):
        minutes = k * step + (5000 if leap_at is not None and k >= leap_at else 0)
        clock = f"{10 + second // 3600:02d}{second // 60 % 60:02d}{second % 60:02d}"
        lines.append(f"B{clock}47{minutes:05d}N01000000EA{1500 - k:05d}{1540 - k:05d}036")
    return parse_igc("\n".join(lines).encode(), file="x.igc")


def codes(health):
    return {problem.code for problem in health.problems}


def test_facts_of_a_healthy_log():
    health = check_track(log(range(0, 200, 2), step=11))
    assert health.problems == ()
    assert (health.records, health.fixes, health.fixes_with_position) == (100, 100, 100)
    assert health.interval_s == 2.0
    assert health.intervals == ((2.0, 99),)
    assert health.gaps == ()
    assert (health.pressure_share, health.gnss_share) == (1.0, 1.0)
    assert health.pressure_less_gnss_m == -40.0
    assert health.gnss_datum == "geoid"
    assert health.recorded == ("airspeed_mps",)


def test_gaps_intervals_duplicates_and_backward_times():
    seconds = [0, 1, 2, 2, 1, 3, 4, 5, 65, 66, 67, 97, 98]
    health = check_track(log(seconds))
    assert health.duplicate_times == 1
    assert health.backward_times == 1
    assert [(gap.end_s - gap.start_s, gap.line) for gap in health.gaps] == [(60.0, 14), (30.0, 17)]
    assert health.intervals[0] == (1.0, 7)
    assert {"gap", "duplicate_time", "time_backward"} <= codes(health)
    gap = next(problem for problem in health.problems if problem.code == "gap")
    assert (gap.line, gap.count) == (14, 2)


def test_a_leap_of_the_position():
    health = check_track(log(range(50), leap_at=20))
    leap = next(problem for problem in health.problems if problem.code == "position_leap")
    assert leap.line == 26
    assert "9.3 km" in leap.message  # 5 minutes of latitude


def test_standing_still_is_not_stale():
    assert "stale_positions" not in codes(check_track(log(range(100), step=0)))


def test_a_single_fix_has_no_interval():
    health = check_track(log([0]))
    assert health.interval_s is None
    assert health.intervals == ()


def test_the_notebook_counts_and_keeps_the_first_line():
    notebook = Notebook([Note("a", "first", 9)])
    notebook.add("b", "other", 3, 2)
    notebook.add("a", "second", 12)
    notebook.add("c", "never", 1, 0)
    assert notebook.notes() == (Note("b", "other", 3, 2), Note("a", "first", 9, 2))
    assert "a" in notebook
    assert "c" not in notebook


def test_arrays_are_read_only_and_of_one_length():
    track = log(range(10))
    for array in (track.time_s, track.latitude_deg, track.line, track.segment, *track.recorded.values()):
        assert array.shape == (10,)
        with pytest.raises(ValueError, match="read-only"):
            array[0] = 0
    assert np.all(track.segment == 0)
