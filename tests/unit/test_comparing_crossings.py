"""Crossings on drawn tracks: which start counts, gates, tolerance, goal lines, cylinders about one another.

TSK numbers: rules and examples of FAI/CIVL GAP, annex to FAI Sporting Code Section 7, edition 2017, transcribed.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic

from flightlog.comparing.crossings import Fixes, follow
from flightlog.tasks.task import TOLERANCES, Cylinder, Task

LAT, LON, SPEED_MPS = 46.0, 10.0, 10.0
FIRST, SECOND = TOLERANCES["category-1"], TOLERANCES["category-2"]


def place(east_m: float, north_m: float = 0.0) -> tuple[float, float]:
    """Degrees of a point so far from the start's centre, on the ellipsoid."""
    away, bearing = np.hypot(east_m, north_m), np.degrees(np.arctan2(east_m, north_m))
    end = Geodesic.WGS84.Direct(LAT, LON, float(bearing), float(away))
    return end["lat2"], end["lon2"]


def cylinder(role: str, east_m: float, radius_m: float, direction: str = "enter", **more) -> Cylinder:
    return Cylinder(role, *place(east_m), radius_m, role, direction, **more)


START = cylinder("start", 0.0, 1000.0, "exit")
TASK = Task("line", "elapsed", (START, cylinder("turnpoint", 5000.0, 400.0), cylinder("goal", 9000.0, 400.0)))


def track(*corners: float | tuple[float, float], step_s: float = 1.0, begin_s: float = 0.0) -> Fixes:
    """A flight along these points (metres east, or east and north) at 10 m/s."""
    points = np.array([corner if isinstance(corner, tuple) else (corner, 0.0) for corner in corners], dtype=float)
    at = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))]) / SPEED_MPS
    time = np.arange(0.0, at[-1] + 1e-9, step_s)
    lat, lon = np.array([
        place(float(np.interp(t, at, points[:, 0])), float(np.interp(t, at, points[:, 1]))) for t in time
    ]).T  # fmt: skip
    return Fixes(time + begin_s, lat, lon, ((0, time.size),))


def times(task: Task, fixes: Fixes, tolerance=FIRST) -> list[float]:
    return [one.time_s for one in follow(task, tolerance, fixes).reached]


@pytest.mark.parametrize("step_s", [0.2, 1.0, 3.0, 10.0])
def test_crossings_lie_on_the_true_boundaries(step_s):
    assert times(TASK, track(-53.0, 9500.0, step_s=step_s)) == pytest.approx([105.3, 465.3, 865.3], abs=0.01)


def test_the_last_start_counts_that_leads_farthest():
    """TSK-05: back in and out again gives the later start; crossing it once more after all turnpoints does not."""
    again = track(0.0, 1500.0, 500.0, 9500.0)
    assert times(TASK, again)[0] == pytest.approx(300.0, abs=0.01)
    home = replace(TASK, cylinders=(*TASK.cylinders[:2], cylinder("goal", -3000.0, 400.0)))
    found = times(home, track(0.0, 5000.0, -3500.0))
    assert found == pytest.approx([100.0, 460.0, 1000.0 - 240.0 + 500.0 - 0.0], abs=0.01)


def test_every_other_cylinder_counts_the_first_time():
    found = times(TASK, track(0.0, 5000.0, 4000.0, 9500.0))
    assert found == pytest.approx([100.0, 460.0, 1060.0], abs=0.01)


def test_gates_of_a_race():
    """TSK-06: gates from 13:30 every 20 min; a crossing at 13:49:01 takes 13:30, one after 14:50 takes 14:50."""
    opens = 13.5 * 3600.0
    race = replace(TASK, kind="race", start_opens_s=opens, start_gates_s=(0.0, 1200.0, 2400.0, 3600.0, 4800.0))
    for crossed, gate in ((13 * 3600 + 49 * 60 + 1, opens), (14 * 3600 + 55 * 60, opens + 4800.0)):
        progress = follow(race, FIRST, track(0.0, 9500.0, begin_s=crossed - 100.0))
        assert progress.gate_s == gate
        assert progress.reached[0].time_s == pytest.approx(crossed, abs=0.01)


def test_an_elapsed_task_has_no_gate():
    """TSK-07: crossing at 12:31:03 starts at 12:31:03."""
    at = 12 * 3600 + 31 * 60 + 3
    progress = follow(replace(TASK, start_opens_s=12.5 * 3600.0), FIRST, track(0.0, 9500.0, begin_s=at - 100.0))
    assert progress.gate_s is None
    assert progress.reached[0].time_s == pytest.approx(at, abs=0.01)


def test_an_early_start_is_none():
    race = replace(TASK, kind="race", start_opens_s=130.0)
    progress = follow(race, FIRST, track(0.0, 9500.0))
    assert progress.reached == ()
    assert progress.early_s == pytest.approx(30.0, abs=0.01)
    assert len(follow(race, FIRST, track(0.0, 1500.0, 500.0, 9500.0)).reached) == 3  # back in time


def test_nothing_counts_after_the_deadline():
    assert len(times(replace(TASK, deadline_s=700.0), track(0.0, 9500.0))) == 2


@pytest.mark.parametrize(
    ("beside_m", "first", "second"), [(399.0, 3, 3), (401.0, 3, 3), (404.0, 3, 1), (406.0, 1, 1)]
)
def test_tolerances(beside_m, first, second):
    """TSK-02: 400 m reach to 405 m with 5 m at least, to 402 m at 0.5 %."""
    by = track(0.0, (3000.0, beside_m), (7000.0, beside_m), 9500.0)
    assert len(times(TASK, by)) == first
    assert len(times(TASK, by, SECOND)) == second
    if beside_m == 404.0:
        assert [one.in_band for one in follow(TASK, FIRST, by).reached] == [False, True, False]


def test_a_start_that_is_entered():
    task = replace(TASK, cylinders=(cylinder("start", 5000.0, 3000.0), *TASK.cylinders[1:]))
    assert times(task, track(0.0, 9500.0)) == pytest.approx([200.0, 460.0, 860.0], abs=0.01)


def test_out_of_a_ring_and_on():
    ring = cylinder("turnpoint", 0.0, 3000.0, "exit")
    task = replace(TASK, cylinders=(START, ring, TASK.cylinders[2]))
    assert times(task, track(0.0, 9500.0)) == pytest.approx([100.0, 300.0, 860.0], abs=0.01)


def test_one_cylinder_inside_another_is_reached_at_once_when_already_there():
    wide = cylinder("speed_end", 9000.0, 300.0)
    task = replace(TASK, cylinders=(*TASK.cylinders[:2], wide, TASK.cylinders[2]))
    found = times(task, track(0.0, 9500.0))
    assert found == pytest.approx([100.0, 460.0, 870.0, 870.0], abs=0.01)


def test_a_goal_line_and_the_half_circle_behind_it():
    """TSK-08: the line is crossed forwards; the half circle behind it counts as goal too."""
    goal = cylinder("goal", 9000.0, 200.0, is_line=True)
    task = replace(TASK, cylinders=(*TASK.cylinders[:2], goal))
    assert times(task, track(0.0, 9500.0))[2] == pytest.approx(900.0, abs=0.01)
    beside = track(0.0, 6000.0, (8900.0, 260.0), (9900.0, 260.0))
    assert len(times(task, beside)) == 2  # passes the end of the line, and the half circle
    around = track(0.0, 6000.0, (8900.0, 300.0), (9100.0, 300.0), (9100.0, 0.0))
    assert len(times(task, around)) == 3  # round the end, then in from the side behind


def test_carried_on_after_landing_counts_nothing():
    fixes = track(0.0, 9500.0)
    landed = replace(fixes, flights=((0, 600), (700, fixes.time_s.size)))
    assert len(times(TASK, landed)) == 2
