"""`flightlog glides`: tables, JSON and CSV, exit statuses, and what stays untouched."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import replace
from pathlib import Path

import jsonschema
import pytest
from click.testing import CliRunner

from flightlog.commands.main import main
from flightlog.gliding.pooling import pool_gliding
from flightlog.writers.display import Display
from flightlog.writers.glides import glides_csv, glides_json, glides_lines
from flightlog.writers.json_schemas import SCHEMA_FOLDER
from tests.unit.made_debrief import HOSTILE
from tests.unit.made_glides import blocks_of, glide_log_of, makers_wing
from tests.unit.small_logs import igc_text, write_log

pytestmark = pytest.mark.usefixtures("kept_debriefs")

SAMPLES = Path(__file__).parents[2] / "sample_tracks"
LONG, SHORT = SAMPLES / "cross-country.igc", SAMPLES / "top-landing-day.igc"
DAMAGED = SAMPLES / "damaged.igc"
SCHEMA = json.loads((SCHEMA_FOLDER / "glides-1.json").read_text(encoding="utf-8"))


def run(*words: object):
    return CliRunner().invoke(main, ["glides", *(str(word) for word in words)])


def documents(text: str) -> list[dict]:
    found = [json.loads(line, parse_constant=pytest.fail) for line in text.splitlines()]
    for document in found:
        jsonschema.Draft202012Validator(SCHEMA).validate(document)
    return found


@pytest.fixture(scope="module")
def compared():
    """Two notes of one wing with its maker's polar beside them."""
    logs = [
        glide_log_of(blocks_of((9.3, 10.4, 0.85), 12, 1), "a.igc", note="in"),
        glide_log_of(blocks_of((9.3, 10.4, 0.85), 15, 2), "b.igc", note="out"),
    ]
    return pool_gliding(logs, group_by="note", wing=makers_wing((9.3, 10.4, 0.85)))


def test_a_table_on_the_terminal() -> None:
    result = run(LONG)
    assert result.exit_code == 0
    assert result.stdout.startswith("Gliding by wing: 1 log, 1 flight\n")
    assert "Polars in still air" in result.stdout
    assert "no log tells a better line from a better wing" in result.stdout
    assert result.stderr == ""


def test_json_keeps_the_published_schema_and_is_one_line() -> None:
    result = run(LONG, SHORT, "--group-by", "date", "--to", "json")
    (document,) = documents(result.stdout)
    assert (document["schema"], document["group_by"], len(document["groups"])) == ("flightlog/glides/1", "date", 2)
    dates = [log["date"] for log in document["logs"]]
    assert dates == sorted(dates)
    assert len(document["comparisons"]) == 1


def test_a_failed_log_is_told_and_the_others_are_done(tmp_path) -> None:
    bad = write_log(tmp_path / "bad.igc", "AXXXABC\r\n")
    result = run(bad, SHORT, "--to", "json")
    assert result.exit_code == 1
    assert len(result.stderr.splitlines()) == 1
    assert f"{bad}:" in result.stderr
    assert len(documents(result.stdout)[0]["logs"]) == 1
    result = run(bad)
    assert (result.exit_code, result.stdout) == (2, "")


def test_logs_without_a_glide_give_a_document_that_says_so(tmp_path) -> None:
    log = write_log(tmp_path / "a.igc", igc_text(turn_degps=8.0))  # circles down
    result = run(log, "--to", "json")
    assert result.exit_code == 0
    (document,) = documents(result.stdout)
    assert document["groups"][0]["performance"]["polar"] is None
    assert run(log).exit_code == 0


def test_notes_group_the_logs(tmp_path) -> None:
    for number, name in enumerate(("a-flaps", "b-flaps", "c")):
        write_log(tmp_path / f"{name}.igc", igc_text(seed=number))
    result = run(tmp_path, "--note", "flaps=*-flaps.igc", "--note", "plain=*", "--to", "json")
    (document,) = documents(result.stdout)
    assert [(log["file"], log["group"]) for log in document["logs"]] == [
        ("a-flaps.igc", "flaps"), ("b-flaps.igc", "flaps"), ("c.igc", "plain"),
    ]  # fmt: skip


@pytest.mark.parametrize(
    "words", [("--note", "flaps"), ("--to", "pdf"), ("--to", "json,csv", "--out", "-"), ("--group-by", "x")]
)
def test_wrong_usage_is_one_line_and_status_2(words) -> None:
    result = run(SHORT, *words)
    assert result.exit_code == 2
    assert len(result.stderr.splitlines()) == 1


def test_the_wing_file_names_the_group_and_is_compared() -> None:
    result = run(LONG, "--wing", SAMPLES / "wing-hang-glider.toml", "--to", "json")
    (document,) = documents(result.stdout)
    (group,) = document["groups"]
    assert (document["wing"], document["wing_class"]) == (group["name"], "hang_glider")
    assert group["maker"]["differences"]
    assert group["maker"]["sentence"].startswith("These logs ")
    missing = run(LONG, "--wing", SAMPLES / "none.toml")
    assert (missing.exit_code, len(missing.stderr.splitlines())) == (2, 1)


def test_files_in_a_folder_are_renewed_and_others_left_alone(tmp_path) -> None:
    words = (SHORT, "--to", "text,json,csv", "--out", tmp_path)
    assert run(*words).exit_code == 0
    before = {path.name: path.read_bytes() for path in tmp_path.iterdir()}
    assert sorted(before) == ["glides.csv", "glides.json", "glides.txt"]
    assert run(*words).exit_code == 0
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == before
    (tmp_path / "glides.csv").write_text("mine", encoding="utf-8")
    result = run(*words)
    assert result.exit_code == 1  # the other two were renewed
    assert "was left alone" in result.stderr
    assert (tmp_path / "glides.csv").read_text(encoding="utf-8") == "mine"
    assert run(SHORT, "--to", "csv", "--out", tmp_path).exit_code == 2
    assert run(*words, "--force").exit_code == 0
    assert (tmp_path / "glides.csv").read_bytes() == before["glides.csv"]


def test_two_processes_give_the_same() -> None:
    texts = [run(SHORT, DAMAGED, "--to", "json", "--jobs", jobs).stdout for jobs in (1, 2)]
    assert texts[0] == texts[1]


def test_the_table_tells_the_comparison_and_the_maker(compared) -> None:
    text = "\n".join(glides_lines(compared, Display()))
    assert "in less out: These logs cannot tell the two apart" in text
    assert "beside the maker's polar: These logs " in text
    assert "sink at 36" in text
    aviation = "\n".join(glides_lines(compared, Display("aviation")))
    assert "ft/min" in aviation
    # sentences and notes speak the units of the tables
    assert " km/h; outside that range" in text
    assert " m/s; outside that range" not in text
    assert " kt; outside that range" in aviation
    assert "m/s" not in aviation
    documents(glides_json(compared).decode())


def test_the_csv_has_a_row_a_group_and_three_columns_an_estimate(compared) -> None:
    rows = list(csv.DictReader(io.StringIO(glides_csv(compared))))
    assert [row["group"] for row in rows] == ["in", "out"]
    polar = compared.groups[0].performance.polar
    assert polar is not None
    assert float(rows[0]["best_glide_ratio"]) == pytest.approx(polar.best_glide_ratio.value, abs=1e-4)
    assert float(rows[0]["best_glide_ratio_low"]) == pytest.approx(polar.best_glide_ratio.low, abs=1e-4)
    assert rows[0]["glide_ratio_ground"] == ""  # no glides in these logs: unknown, not 0


@pytest.mark.parametrize("name", [HOSTILE, "=cmd()", "a\x1b[2Jb", "x" * 500])
def test_hostile_names_steer_nothing(compared, name) -> None:
    spoilt = replace(compared, groups=(replace(compared.groups[0], name=name), *compared.groups[1:]))
    lines = glides_lines(spoilt, Display())
    assert all(letter.isprintable() or letter == "\u00a0" for line in lines for letter in line)
    (first, _) = csv.DictReader(io.StringIO(glides_csv(spoilt)))
    assert not first["group"].startswith("=")
    documents(glides_json(spoilt).decode())
