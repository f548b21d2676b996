"""The sample tracks are what the simulator makes today, and hold what their README says."""

from __future__ import annotations

import json
import tomllib
from datetime import datetime

import numpy as np
import pytest

from tests.truth.make_samples import (
    CYLINDER_M,
    FOLDER,
    GOAL_M,
    START_RADIUS_M,
    Samples,
    make_samples,
    task_turnpoints,
)  # fmt: skip


@pytest.fixture(scope="module")
def samples() -> Samples:
    return make_samples()


def test_committed_samples_are_up_to_date(samples: Samples):
    for name, text in samples.files.items():
        assert (FOLDER / name).read_bytes() == text.encode("utf-8"), (
            f"{name} is stale: run python -m tests.truth.make_samples"
        )


def test_nothing_lies_there_that_was_not_made(samples: Samples):
    there = {str(p.relative_to(FOLDER)) for p in FOLDER.rglob("*") if p.is_file()}
    assert there == set(samples.files) | {"README.md", ".gitattributes"}


def test_readme_names_every_file(samples: Samples):
    readme = (FOLDER / "README.md").read_text(encoding="utf-8")
    for name in samples.files:
        assert name in readme or name.startswith("task-day/")


def test_top_landing_day_holds_what_it_promises(samples: Samples):
    truth = samples.logs["top-landing-day.igc"].truth
    assert [f.landing_kind for f in truth.flights] == ["top_landing", "landing"]
    assert truth.flights[0].landing_place == "Quillback top meadow"
    assert truth.flights[1].landing_place == "Quillback valley field"
    on_top = [p.outcome for p in truth.passes if p.on_top]
    assert on_top == ["go_around", "go_around", "go_around", "landed"]
    assert {d.what for d in truth.decoys} == {"low_pass", "edge_beats"}
    assert len(truth.aborted_runs) == 1


def test_cross_country_samples_are_long_flights_with_climbs(samples: Samples):
    for name, hours, step in (("cross-country.igc", 1.9, 1.0), ("cross-country-4s.gpx", 1.3, 4.0)):
        log = samples.logs[name]
        flight = log.truth.flights[-1]
        assert flight.touchdown_s - flight.liftoff_s > hours * 3600
        assert np.median(np.diff(log.fixes.time_s)) == step
        assert len([c for c in log.truth.climbs if c.mode == "circling" and c.gain_m > 100]) >= 5


def test_task_day_is_a_race_round_its_cylinders(samples: Samples):
    task = tomllib.loads(samples.files["task-day/task.toml"])
    assert [c["role"] for c in task["cylinder"]] == ["start", *["turnpoint"] * 3, "speed_end", "goal"]
    assert task["kind"] == "race"
    assert isinstance(task["start_opens"], datetime)
    reached = []
    for name, log in samples.logs.items():
        if not name.startswith("task-day/"):
            continue
        x, y = log.truth.column("east_m"), log.truth.column("north_m")
        at, count = 0, 0
        opens = task["start_opens"].timestamp()
        outside = (np.hypot(x, y) > START_RADIUS_M) & (log.truth.time_s >= opens)
        assert outside.any()
        at = int(np.argmax(outside))
        for (east, north), radius in zip(task_turnpoints()[1:], (*[CYLINDER_M] * 3, GOAL_M), strict=True):
            inside = np.flatnonzero(np.hypot(x[at:] - east, y[at:] - north) < radius)
            if not len(inside):
                break
            at, count = at + int(inside[0]), count + 1
        reached.append(count)
    assert sorted(reached)[-2:] == [4, 4]
    assert min(reached) >= 1


def test_places_and_wings_parse(samples: Samples):
    places = json.loads(samples.files["places.geojson"])
    assert [f["properties"]["name"] for f in places["features"]] == [
        "Quillback launch", "Quillback top meadow", "Quillback valley field",
    ]  # fmt: skip
    classes = {tomllib.loads(text)["class"] for name, text in samples.files.items() if name.startswith("wing-")}
    assert classes == {"paraglider", "hang_glider", "rigid_wing"}


def test_damaged_log_is_mostly_good(samples: Samples):
    clean = {line for line in samples.logs["damaged.igc"].igc.split("\r\n") if line.startswith("B")}
    lines = samples.files["damaged.igc"].replace("\r", "").split("\n")
    good = [line for line in lines if line in clean]
    odd = [line for line in lines if line not in clean]
    assert len(good) > 0.97 * len(clean)
    assert len(odd) > 20
