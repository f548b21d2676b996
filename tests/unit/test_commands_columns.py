"""`--columns`: tables of any logger, named by the user."""

import json

from click.testing import CliRunner

from flightlog.commands.main import main
from tests.unit.other_logs import csv_text
from tests.unit.small_logs import igc_text

ASKED = "time=UTC clock,lat=y,lon=x,alt=Height [ft]"


def run(*words):
    return CliRunner().invoke(main, [str(word) for word in words])


def test_a_table_with_columns_named_by_the_user(tmp_path):
    table = csv_text("UTC clock,y,x,Height", "{time},{lat:.7f},{lon:.7f},{feet:.2f}")
    (tmp_path / "day.csv").write_text(table, encoding="utf-8", newline="")
    (tmp_path / "day.igc").write_bytes(igc_text().encode())
    result = run(
        "debrief", tmp_path / "day.csv", tmp_path / "day.igc", "--columns", ASKED, "--to", "json", "--out", "-"
    )
    assert result.exit_code == 0, result.stderr
    first, second = (json.loads(line) for line in result.stdout.splitlines())
    assert (first["log"]["format"], second["log"]["format"]) == ("csv", "igc")
    assert len(first["flights"]) == len(second["flights"]) == 1
    assert run("check", tmp_path / "day.csv", "--columns", ASKED).exit_code == 0
    without = run("check", tmp_path / "day.csv")
    assert without.exit_code == 2
    assert len(without.stderr.splitlines()) == 1


def test_columns_that_cannot_be_understood_are_wrong_usage(tmp_path):
    result = run("check", tmp_path, "--columns", "lat=1")
    assert result.exit_code == 2
    assert len(result.stderr.splitlines()) == 1
    assert "--columns" in result.stderr
