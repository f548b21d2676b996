"""Points of a task: who gets what, and what organisers may write."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import flightlog
from flightlog.comparing.comparing import compare_pilots
from flightlog.comparing.points import Scored, points_of, score
from flightlog.comparing.points_formula import leading_coefficient, leading_share, scored_until_s, time_share
from flightlog.comparing.points_rules import EDITIONS, PointsRules, points_rules
from flightlog.comparing.task_files import read_task
from flightlog.errors import TaskFileError

SAMPLES = Path(__file__).parents[2] / "sample_tracks" / "task-day"
TASK_M = 60e3
RULES = PointsRules(nominal_distance_m=40e3, nominal_time_s=5400.0)
HANG = replace(RULES, discipline="hang_gliding")


def pilot(name: str, distance_m=TASK_M, time_s=5400.0, **changes) -> Scored:
    ended = None if time_s is None else 1e9 + time_s
    base = Scored(name, distance_m, time_s, ended, time_s is not None, 1.0 if time_s is None else time_s / 5400.0)
    return replace(base, **changes)


def field() -> list[Scored]:
    return [
        pilot("a"),
        pilot("b", time_s=5700.0),
        pilot("c", time_s=6300.0),
        pilot("d", 45e3, None, leading=1.4),
        pilot("e", 30e3, None, leading=2.0),
        pilot("f", 1e3, None, leading=None),
    ]


def of(found, name: str):
    return next(one for one in found.pilots if one.name == name)


@pytest.mark.parametrize("rules", [RULES, HANG, replace(RULES, edition="7f-2021")])
def test_the_winner_in_all_has_what_is_to_be_had(rules: PointsRules) -> None:
    found = score(field(), rules, present=6, task_distance_m=TASK_M)
    first = found.pilots[0]
    assert first.name == "a"
    assert first.rank == 1
    whole = 1000.0 * found.validity.day
    assert first.points == pytest.approx(whole, abs=0.5)
    parts = (first.distance_points, first.time_points, first.leading_points, first.arrival_points)
    assert sum(parts) == pytest.approx(whole)
    assert found.validity.day == pytest.approx(
        found.validity.launch * found.validity.distance * found.validity.time * found.validity.stopped
    )
    assert found.source == EDITIONS[rules.edition].source


def test_points_fall_with_rank_and_do_not_depend_on_order() -> None:
    found = score(field(), HANG, present=6, task_distance_m=TASK_M)
    assert [one.name for one in found.pilots] == ["a", "b", "c", "d", "e", "f"]
    assert [one.points for one in found.pilots] == sorted((one.points for one in found.pilots), reverse=True)
    again = score(field()[::-1], HANG, present=6, task_distance_m=TASK_M)
    assert again.pilots == found.pilots


def test_everybody_has_the_minimum_distance() -> None:
    found = score(field(), RULES, present=6, task_distance_m=TASK_M)
    last = of(found, "f")
    assert last.distance_m == RULES.minimum_distance_m
    assert last.distance_points == pytest.approx(
        found.available_distance_points * RULES.minimum_distance_m / TASK_M
    )
    assert last.time_points == last.leading_points == last.arrival_points == 0.0


def test_equals_share_a_rank() -> None:
    found = score([pilot("a"), pilot("b"), pilot("c", 20e3, None)], RULES, present=3, task_distance_m=TASK_M)
    assert [one.rank for one in found.pilots] == [1, 1, 3]
    assert found.pilots[0].points == found.pilots[1].points


def test_nobody_at_the_end_of_speed_leaves_no_time_and_arrival_points() -> None:
    """GAP 2017, allocation."""
    flown = [pilot("a", 50e3, None, leading=1.2), pilot("b", 20e3, None, leading=1.9)]
    found = score(flown, HANG, present=2, task_distance_m=TASK_M)
    assert found.available_time_points == found.available_arrival_points == 0.0
    assert found.available_leading_points == pytest.approx(17.5 * found.validity.day)
    assert found.validity.time == 1.0


def test_speed_end_without_goal() -> None:
    """GAP 2017: time and arrival points are lost; 80 % kept in hang gliding of later editions, from memory."""
    flown = [pilot("a"), pilot("b", in_goal=False), pilot("c", 30e3, None)]
    strict = score(flown, HANG, present=3, task_distance_m=TASK_M)
    assert of(strict, "b").time_points == of(strict, "b").arrival_points == 0.0
    later = score(flown, replace(HANG, edition="7f-2021"), present=3, task_distance_m=TASK_M)
    assert of(later, "b").time_points == pytest.approx(0.8 * of(later, "a").time_points)
    gliders = score(flown, replace(RULES, edition="7f-2021"), present=3, task_distance_m=TASK_M)
    assert of(gliders, "b").time_points == 0.0


def test_starts_before_the_gate() -> None:
    """GAP 2017, hang gliding: a point every 2 s up to 300 s, then the minimum distance."""
    plain = of(score(field(), HANG, present=6, task_distance_m=TASK_M), "b")
    for early_s, penalty in ((10.0, 5.0), (300.0, 150.0)):
        flown = [replace(one, early_s=early_s if one.name == "b" else 0.0) for one in field()]
        found = of(score(flown, HANG, present=6, task_distance_m=TASK_M), "b")
        assert found.penalty_points == penalty
        assert found.points == pytest.approx(plain.points - penalty, abs=1.0)
    flown = [replace(one, early_s=301.0 if one.name == "b" else 0.0) for one in field()]
    found = of(score(flown, HANG, present=6, task_distance_m=TASK_M), "b")
    assert found.distance_m == HANG.minimum_distance_m
    assert found.time_points == found.leading_points == found.arrival_points == found.penalty_points == 0.0


def test_the_arrival_order_counts_those_in_time_alone() -> None:
    found = score(field(), HANG, present=6, task_distance_m=TASK_M)
    points = [of(found, name).arrival_points / found.available_arrival_points for name in "abc"]
    assert points[0] == 1.0
    assert points == sorted(points, reverse=True)
    assert points[2] > 0.2


def test_a_stopped_task_is_worth_its_share() -> None:
    whole = score(field(), RULES, present=6, task_distance_m=TASK_M)
    half = score(field(), RULES, present=6, task_distance_m=TASK_M, stopped=0.5)
    assert half.validity.day == pytest.approx(0.5 * whole.validity.day)
    assert of(half, "a").points == pytest.approx(0.5 * of(whole, "a").points, abs=1.0)
    assert scored_until_s(1000.0, "paragliding", None) == 700.0
    assert scored_until_s(1000.0, "hang_gliding", None) == 100.0
    assert scored_until_s(1000.0, "hang_gliding", 600.0) == 400.0


def test_pilots_who_did_not_take_off_lower_the_launch_validity() -> None:
    assert score(field(), RULES, present=6, task_distance_m=TASK_M).validity.launch == pytest.approx(1.0)
    assert score(field(), RULES, present=12, task_distance_m=TASK_M).validity.launch < 0.6


def test_nobody_flew() -> None:
    found = score([], RULES, present=10, task_distance_m=TASK_M)
    assert found.pilots == ()
    assert found.validity.day == 0.0


def test_hang_gliding_says_what_it_leaves_out() -> None:
    assert "difficulty" in score(field(), HANG, present=6, task_distance_m=TASK_M).notes[0]
    assert score(field(), RULES, present=6, task_distance_m=TASK_M).notes == ()


def test_leading_is_what_the_sum_over_single_fixes_gives() -> None:
    random = np.random.default_rng(1)
    time = np.cumsum(random.uniform(1.0, 10.0, 500))
    to_go = 40e3 - np.cumsum(random.normal(60.0, 200.0, 500))
    best, total, before = 40e3, 0.0, 40e3
    for moment, left in zip(time, to_go, strict=True):
        best = min(best, min(max(left, 0.0), 40e3))
        total += moment * (before**2 - best**2)
        before = best
    expected = (total + 9000.0 * best**2) / (1800.0 * 40e3**2)
    assert leading_coefficient(time, to_go, 40e3, 9000.0) == pytest.approx(expected, rel=1e-12)
    holes = to_go.copy()
    holes[100:110] = np.nan
    assert np.isfinite(leading_coefficient(time, holes, 40e3, 9000.0))
    assert leading_coefficient(np.empty(0), np.empty(0), 40e3, 1800.0) == 1.0


def test_shares_stay_between_nothing_and_all() -> None:
    found = leading_share(np.array([1.0, 1.2, 9.0, np.nan]), 1.0)
    assert found[0] == 1.0
    assert 0.0 < found[1] < 1.0
    assert found[2:].tolist() == [0.0, 0.0]
    assert leading_share(np.array([0.0, 0.1]), 0.0).tolist() == [1.0, 0.0]
    assert time_share(np.array([np.nan, 1e9]), 3600.0, 5.0 / 6.0).tolist() == [0.0, 0.0]


@pytest.mark.parametrize(
    ("table", "told"),
    [
        ({"edition": "gap-1066"}, "gap-2017, 7f-2021"),
        ({"edition": ["gap-2017"]}, "is not known"),
        ({"nominal_tme_s": 5400}, "'nominal_tme_s' is not known"),
        ({"nominal_time_s": "long"}, "write nominal_time_s = a number"),
        ({"nominal_time_s": True}, "is no number"),
        ({"nominal_goal_share": 25}, "lies outside 0 to 1"),
        ({"nominal_distance_m": float("nan")}, "is no number"),
        ({"present": 2.5}, "lies outside"),
        ({"nominal_distance_m": 4000}, "is not above minimum_distance_m"),
    ],
)
def test_tables_that_no_task_can_have(table: dict[str, object], told: str) -> None:
    with pytest.raises(TaskFileError) as caught:
        points_rules(table, "task.toml")
    assert told in str(caught.value)
    assert str(caught.value).startswith("task.toml:1: [points] ")
    assert "\n" not in str(caught.value)


def test_a_table_as_it_should_be() -> None:
    rules = points_rules({"edition": "7f-2021", "nominal_time_s": 3600, "present": 40, "minimum_distance_m": 3000})
    assert rules == replace(
        PointsRules(), edition="7f-2021", nominal_time_s=3600.0, present=40, minimum_distance_m=3e3
    )
    assert points_rules({}) == PointsRules()


def test_a_task_file_with_points_and_its_logs(tmp_path: Path) -> None:
    """The first in goal led all the way; who landed short has distance and leading points."""
    text = (SAMPLES / "task.toml").read_text(encoding="utf-8")
    file = tmp_path / "task.toml"
    file.write_text(text + '\n[points]\nedition = "7f-2021"\nnominal_distance_m = 15000\n', encoding="utf-8")
    task = read_task(file)
    rules = points_rules(dict(task.points), task.file)
    assert rules.nominal_distance_m == 15_000.0
    logs = sorted(SAMPLES.glob("*.igc"))
    comparison = compare_pilots(task, (flightlog.debrief(flightlog.read_track(log)) for log in logs))
    found = points_of(comparison, rules)
    assert [one.name for one in found.pilots] == [one.name for one in comparison.pilots]
    first, last = found.pilots[0], found.pilots[-1]
    assert first.points == pytest.approx(1000.0 * found.validity.day, abs=0.5)
    assert comparison.pilots[-1].goal is None
    assert last.time_points == 0.0
    assert last.leading_points > 0.0
    assert last.distance_points == pytest.approx(
        found.available_distance_points * comparison.pilots[-1].distance_m / comparison.task.distance_m, rel=1e-3
    )


def test_points_must_be_a_table(tmp_path: Path) -> None:
    file = tmp_path / "task.toml"
    file.write_text("points = 1000\n" + (SAMPLES / "task.toml").read_text(encoding="utf-8"), encoding="utf-8")
    with pytest.raises(TaskFileError, match="points is no table"):
        read_task(file)
