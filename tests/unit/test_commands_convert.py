"""`flightlog convert`: where the track goes, what is refused, exit statuses."""

from __future__ import annotations

import json

import pytest
from click.testing import CliRunner

from flightlog.commands.main import main
from tests.unit.small_logs import gpx_text, igc_text, write_log


def run(*words: object, text: str | None = None):
    return CliRunner().invoke(main, [str(word) for word in words], input=text)


@pytest.fixture
def log(tmp_path):
    return write_log(tmp_path / "logs" / "a.igc", igc_text())


@pytest.mark.parametrize("ending", ["gpx", "geojson", "kml", "csv", "parquet", "igc"])
def test_into_a_folder(log, tmp_path, ending):
    result = run("convert", log, "--to", ending, "--out", tmp_path / "out")
    assert result.exit_code == 0
    assert [path.name for path in (tmp_path / "out").iterdir()] == [f"a.{ending}"]
    assert result.stdout == ""
    assert f"a.{ending}" in result.stderr


def test_into_a_file_and_to_standard_output(log, tmp_path):
    assert run("convert", log, "--to", "geojson", "--out", tmp_path / "x" / "b.geojson").exit_code == 0
    result = run("convert", log, "--to", "geojson", "--out", "-")
    assert result.stdout_bytes == (tmp_path / "x" / "b.geojson").read_bytes()
    assert json.loads(result.stdout)["type"] == "FeatureCollection"


def test_from_standard_input():
    assert run("convert", "-", "--to", "gpx", "--out", "-", text=igc_text()).stdout.startswith("<?xml")


def test_a_folder_of_logs_goes_on_after_a_bad_one(tmp_path):
    write_log(tmp_path / "logs" / "a.igc")
    write_log(tmp_path / "logs" / "b.gpx", gpx_text())
    write_log(tmp_path / "logs" / "bad.igc", "AXXXABC\r\n")
    result = run("convert", tmp_path / "logs", "--to", "kml", "--out", tmp_path / "out")
    assert result.exit_code == 1
    assert sorted(path.name for path in (tmp_path / "out").iterdir()) == ["a.kml", "b.kml"]
    for out in (tmp_path / "one.kml", "-"):
        refused = run("convert", tmp_path / "logs", "--to", "kml", "--out", out)
        assert refused.exit_code == 2
        assert len(refused.stderr.splitlines()) == 1


def test_the_log_itself_is_never_overwritten(log):
    before = log.read_bytes()
    result = run("convert", log, "--to", "igc", "--out", log.parent)
    assert result.exit_code == 2
    assert "a.igc:1: another file stands there, and was left alone" in result.stderr
    assert log.read_bytes() == before


def test_anonymous_and_cropped(log, tmp_path):
    words = ("--crop", "13:02:00", "13:04:00", "--anonymous", "--out", tmp_path / "out")
    assert run("convert", log, "--to", "igc", *words).exit_code == 0
    (path,) = (tmp_path / "out").iterdir()
    assert path.name.startswith("log-")
    content = path.read_text(encoding="ascii")
    assert "Ada" not in content
    assert content.count("\nB") == 121


def test_times_without_a_date_are_told(tmp_path):
    log = write_log(tmp_path / "a.igc", igc_text(date=None))
    result = run("convert", log, "--to", "igc", "--out", "-")
    assert "no date in the log" in result.stderr
    assert "HFDTE" not in result.stdout
    assert "1970" not in result.stdout


@pytest.mark.parametrize("words", [(), ("--to", "doc"), ("--to", "gpx", "--crop", "12:00")])
def test_wrong_usage(log, words):
    result = run("convert", log, *words)
    assert result.exit_code == 2
    assert len(result.stderr.splitlines()) == 1
