"""`flightlog compare` on the sample race: JSON that fits its schema, the page, odd logs, wrong usage."""

from __future__ import annotations

import json
import re
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from click.testing import CliRunner
from jsonschema import Draft202012Validator

from flightlog.commands.main import main

pytestmark = pytest.mark.usefixtures("kept_debriefs")

ROOT = Path(__file__).resolve().parents[2]
DAY = ROOT / "sample_tracks" / "task-day"
TASK = DAY / "task.toml"


def run(*words: object):
    return CliRunner().invoke(main, ["compare", *map(str, words), "--jobs", "1"])


@pytest.fixture(scope="module")
def document():
    result = run("--task", TASK, DAY, "--to", "json", "--out", "-")
    assert result.exit_code == 0
    return json.loads(result.stdout)


def test_json_fits_its_schema(document):
    schema = json.loads((ROOT / "flightlog" / "schemas" / "compare-1.json").read_text())
    Draft202012Validator(schema).validate(document)


def test_the_race_as_published(document):
    assert [(one["name"], one["rank"], one["reached"]) for one in document["pilots"]] == [
        ("Mira Aldwend", 1, 6), ("Joren Fastwick", 2, 6), ("Tove Lumbray", 3, 6), ("Iko Brandevar", 4, 4),
    ]  # fmt: skip
    assert document["task"]["distance_m"] == pytest.approx(21_793.84, abs=1.0)
    first = document["pilots"][0]
    gate = datetime.fromisoformat(first["gate"])
    assert first["task_time_s"] == pytest.approx(
        (datetime.fromisoformat(first["speed_end"]) - gate).total_seconds()
    )
    assert set(first["legs"][0]) >= {"from", "to", "time_s", "mean_climb_mps", "glide_ratio_air", "shortest_m"}
    assert document["pilots"][3]["task_time_s"] is None


def test_differences_add_up_as_written(document):
    assert len(document["differences"]) == 3
    for one in document["differences"]:
        assert sum(one["parts"].values()) == pytest.approx(one["total_s"], abs=1e-9)
        assert sum(leg["total_s"] for leg in one["legs"]) == pytest.approx(one["total_s"], abs=1e-9)
        assert one["pilot"] in one["text"]


def test_against_a_chosen_pilot():
    result = run("--task", TASK, DAY, "--to", "json", "--out", "-", "--against", "tove lumbray")
    assert {one["against"] for one in json.loads(result.stdout)["differences"]} == {"Tove Lumbray"}
    wrong = run("--task", TASK, DAY, "--against", "Nobody")
    assert wrong.exit_code == 2
    assert "no pilot 'Nobody'; there are Mira Aldwend" in wrong.stderr


def test_the_page(tmp_path):
    result = run("--task", TASK, DAY, "--out", tmp_path)
    assert result.exit_code == 0
    page = (tmp_path / "compare-Quillback-race.html").read_text()
    assert page.startswith("<!doctype html>")
    assert all(
        name in page for name in ("Who led when", "Height along the course", "Where the time went", "Ranks")
    )
    assert run("--task", TASK, DAY, "--out", tmp_path).exit_code == 0  # renews its own
    other = tmp_path / "compare-Quillback-race.html"
    other.write_text("mine")
    assert run("--task", TASK, DAY, "--out", tmp_path).exit_code == 2
    assert other.read_text() == "mine"


def test_names_are_escaped(tmp_path):
    log = (DAY / "mira-aldwend.igc").read_text().replace("Mira Aldwend", "<script>alert(1)</script>&")
    (tmp_path / "a.igc").write_text(log)
    task = tmp_path / "task.toml"
    task.write_text(
        TASK.read_text().replace("Dry lake", "<b onclick=x>lake</b>").replace("Quillback race", "<i>../x")
    )
    assert run("--task", task, tmp_path / "a.igc", "--out", tmp_path / "out").exit_code == 0
    (page,) = (tmp_path / "out").glob("*.html")
    text = page.read_text()
    assert "<script>alert" not in text
    assert "<b onclick" not in text
    assert "&lt;script&gt;alert" in text


def shifted(text: str, *, hours: int = 0, days: int = 0) -> str:
    """The log with its clock put wrong."""

    def moved(match: re.Match[str]) -> str:
        hour = (int(match.group(1)) + hours) % 24
        return f"B{hour:02d}{match.group(2)}"

    text = re.sub(r"(?m)^B(\d\d)(\d{4})", moved, text)
    date = re.search(r"HFDTE(?:DATE:)?(\d{6})", text)
    assert date
    day = datetime.strptime(date.group(1), "%d%m%y") + timedelta(days=days)
    return text.replace(date.group(1), day.strftime("%d%m%y"), 1)


def problems_of(folder: Path, text: str) -> set[str]:
    """Codes of one log that flies among the sample's others."""
    (folder / "odd.igc").write_text(text)
    logs = [DAY / f"{name}.igc" for name in ("joren-fastwick", "tove-lumbray", "iko-brandevar")]
    result = run("--task", TASK, *logs, folder / "odd.igc", "--to", "json", "--out", "-")
    return {one["code"] for one in json.loads(result.stdout)["problems"] if one["file"] == "odd.igc"}


def test_odd_logs_are_noticed(tmp_path):
    good = (DAY / "mira-aldwend.igc").read_text()
    lines = good.splitlines(keepends=True)
    fixes = [k for k, line in enumerate(lines) if line.startswith("B")]
    assert problems_of(tmp_path, good) == set()
    assert "clock_day_off" in problems_of(tmp_path, shifted(good, days=1))
    assert "clock_hour_off" in problems_of(tmp_path, shifted(good, hours=-1))
    assert "clock_hour_off" in problems_of(tmp_path, shifted(good, hours=1))
    late = lines[: fixes[0]] + lines[fixes[len(fixes) // 2] :]
    assert {"log_starts_late", "no_start"} <= problems_of(tmp_path, "".join(late))
    early_end = lines[: fixes[int(len(fixes) * 0.7)]]
    assert "log_ends_early" in problems_of(tmp_path, "".join(early_end))


def test_an_early_start_and_a_missed_turnpoint(tmp_path):
    task = tmp_path / "task.toml"
    text = TASK.read_text()
    task.write_text(text.replace("05:50:29Z", "06:20:29Z"))
    result = run("--task", task, DAY, "--to", "json", "--out", "-")
    assert "early_start" in {one["code"] for one in json.loads(result.stdout)["problems"]}
    task.write_text(text.replace("46.858127", "46.840000"))  # Sheep pens two kilometres off
    result = run("--task", task, DAY, "--to", "json", "--out", "-")
    found = json.loads(result.stdout)
    assert "missed_turnpoint" in {one["code"] for one in found["problems"]}
    assert max(one["reached"] for one in found["pilots"]) == 2


def test_points_are_listed_where_asked_for(tmp_path, document):
    assert document["points"] is None
    result = run("--task", TASK, DAY, "--to", "json", "--out", "-", "--points")
    points = json.loads(result.stdout)["points"]
    assert points["pilots"][0]["name"] == "Mira Aldwend"
    assert points["pilots"][0]["points"] > points["pilots"][-1]["points"] > 0
    task = tmp_path / "task.toml"
    task.write_text(TASK.read_text() + "\n[points]\nnominal_distance_m = 15000\nminimum_distance_m = 3000\n")
    assert run("--task", task, DAY, "--out", tmp_path).exit_code == 0  # the table alone asks for them
    assert "Points by the open formula" in (tmp_path / "compare-Quillback-race.html").read_text()
    task.write_text(TASK.read_text() + "\n[points]\nnominal = 3\n")
    wrong = run("--task", task, DAY, "--out", tmp_path)
    assert wrong.exit_code == 2
    assert "'nominal' is not known" in wrong.stderr


def test_anonymous_names_nobody():
    result = run("--task", TASK, DAY, "--to", "json", "--out", "-", "--anonymous")
    assert not any(word in result.stdout for word in ("Aldwend", "aldwend", "Fastwick", "Lumbray", "Brandevar"))


def test_wrong_usage_gets_one_line(tmp_path):
    for words, said in (
        ((DAY,), "Missing option '--task'"),
        (("--task", tmp_path / "none.toml", DAY), "cannot be read"),
        (("--task", TASK, DAY, "--radius", "400"), "--radius is for routes"),
        (("--task", TASK, DAY, "--to", "csv"), "'csv' is not among"),
    ):
        result = run(*words)
        assert result.exit_code == 2
        assert said in result.stderr
        assert len(result.stderr.strip().splitlines()) == 1
