"""Simulated races of eight pilots in one sky: crossings, ranks, distances and sums against what is true."""

from __future__ import annotations

import tempfile
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import flightlog

from .make_samples import task_scenario, task_toml
from .race_truth import Circle, true_crossings
from .simulator import simulate

PILOTS = 8
SEED = 9200  # two in goal, others landed out on every leg


@pytest.fixture(scope="module")
def race():
    """The simulated logs, the task and the comparison, at one fix a second."""
    logs = [
        simulate(
            replace(task_scenario(k % 4), pilot_name=f"Pilot {k + 1}", world_seed=SEED, interval_s=1.0),
            SEED + 1 + k,
        )
        for k in range(PILOTS)
    ]
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "task.toml").write_text(task_toml(logs[0]))
        task = flightlog.read_task(folder / "task.toml")
        debriefs = []
        for k, log in enumerate(logs):
            path = folder / f"p{k + 1}.igc"
            path.write_text(log.text)
            debriefs.append(flightlog.debrief(flightlog.read_track(path)))
    return logs, task, debriefs, flightlog.compare_pilots(task, debriefs)


def truths(race) -> dict[str, list[float]]:
    logs, task, _, _ = race
    circles = [Circle(one.lat_deg, one.lon_deg, one.radius_m) for one in task.cylinders]
    return {f"Pilot {k + 1}": true_crossings(log, circles, task.start_opens_s) for k, log in enumerate(logs)}


@pytest.mark.slow
def test_crossings_to_a_second(race):
    """Recorded at 1 s with the usual errors of a recorder; the truth is known to the simulation's step."""
    true = truths(race)
    errors = []
    for pilot in race[3].pilots:
        found = [one.time.timestamp() for one in pilot.crossings]
        assert len(found) == len(true[pilot.name]) == pilot.reached
        errors += [a - b for a, b in zip(found, true[pilot.name], strict=True)]
    assert len(errors) > 20
    assert np.abs(errors).max() < 1.0
    assert float(np.sqrt(np.mean(np.square(errors)))) < 0.4


@pytest.mark.slow
def test_ranks_follow_the_truth(race):
    true, comparison = truths(race), race[3]
    last = len(race[1].cylinders)
    finished = sorted(
        (name for name, times in true.items() if len(times) == last), key=lambda name: true[name][-2]
    )
    assert finished
    assert [pilot.name for pilot in comparison.pilots][: len(finished)] == finished
    out = [pilot.distance_m for pilot in comparison.pilots[len(finished) :]]
    assert out == sorted(out, reverse=True)
    assert [pilot.rank for pilot in comparison.pilots] == list(range(1, PILOTS + 1))


@pytest.mark.slow
def test_distance_flown_is_that_of_the_rule(race):
    """Task distance less the least exact way left over all fixes after the last cylinder, looked at one by one."""
    from flightlog.tasks.routes import ways_of

    _, task, debriefs, comparison = race
    ways = ways_of(task)
    by_name = {debrief.log.pilot: debrief for debrief in debriefs}
    out = [pilot for pilot in comparison.pilots if pilot.goal is None][:3]
    assert out
    for pilot in out:
        debrief = by_name[pilot.name]
        motion = debrief.motion
        after = (motion.time_s >= pilot.crossings[-1].time.timestamp()) & (
            motion.time_s <= debrief.spans[-1].touchdown_s
        )
        lat, lon = (getattr(debrief.track, f"{name}_deg")[motion.fix][after] for name in ("latitude", "longitude"))
        rough = ways.to_goal.way_m(*ways.plane.plane.to_plane(lat, lon), pilot.reached)
        near = np.flatnonzero(rough < rough.min() + 5.0)
        least = min(
            ways.way_left_m(float(lat[k]), float(lon[k]), pilot.reached) for k in near[:: max(1, near.size // 40)]
        )
        assert pilot.distance_m == pytest.approx(ways.distance_m - least, abs=1.0)


@pytest.mark.slow
def test_parts_add_up_for_every_pair(race):
    _, task, debriefs, _ = race
    pairs = 0
    for against in range(1, PILOTS + 1):
        comparison = flightlog.compare_pilots(task, debriefs, against=f"Pilot {against}")
        times = {pilot.name: [one.time.timestamp() for one in pilot.crossings] for pilot in comparison.pilots}
        for one in comparison.differences:
            legs = len(one.legs)
            taken = times[one.pilot][legs] - times[one.against][legs]  # both from the one gate
            parts = [getattr(one.parts, name) for name in type(one.parts).__dataclass_fields__]
            assert sum(parts) == pytest.approx(one.total_s, abs=1e-9)
            assert one.total_s == pytest.approx(taken, abs=0.03)  # times are published to a hundredth
            pairs += 1
    assert pairs > 40


@pytest.mark.slow
def test_legs_hold_all_of_the_time(race):
    for pilot in race[3].pilots:
        for leg in pilot.legs:
            spent = leg.climb_time_s + leg.glide_time_s + leg.search_time_s
            assert spent == pytest.approx(leg.time_s, abs=1e-6)
            assert leg.flown_m > 0.97 * leg.shortest_m - 900.0  # cylinders may be cut to the far side
