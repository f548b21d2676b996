"""Logs that are none: one line on stderr each, the others done, the right status, nothing outside --out."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from click.testing import CliRunner

from flightlog.commands.main import main
from tests.unit.small_logs import gpx_text, igc_text, write_log

GPX = '<?xml version="1.0"?>{doctype}<gpx version="1.1" creator="x" xmlns="http://www.topografix.com/GPX/1/1">{body}</gpx>'
POINT = '<trk><trkseg><trkpt lat="46" lon="8"><ele>1</ele><time>2026-06-14T11:00:00Z</time></trkpt></trkseg></trk>'
BOMB = "<!DOCTYPE gpx [" + '<!ENTITY a "0123456789">' + "".join(
    f'<!ENTITY {name} "{f"&{before};" * 10}">' for before, name in zip("abcdefgh", "bcdefghi", strict=True)
) + "]>"  # fmt: skip
HEADERS = "AXXXABC\r\nHFDTEDATE:140626\r\nHFPLTPILOTINCHARGE:Ada Example\r\n"
HOPELESS = {
    "empty.igc": b"",
    "junk.igc": bytes(range(256)) * 40,
    "page.igc": b"<!doctype html><html><body>Please log in</body></html>",
    "headers.igc": HEADERS.encode(),
    "truncated.igc": (HEADERS + "B110000\r\nB1100014600\r\nB11000246000\r\n").encode(),
    "latitude95.igc": (HEADERS + "B1100009500000N00800000EA0150001540\r\n" * 30).encode(),
    "empty.gpx": b"",
    "no-times.gpx": gpx_text(with_times=False).encode(),
    "no-points.gpx": GPX.format(doctype="", body="").encode(),
    "bomb.gpx": GPX.format(doctype=BOMB, body=f"<name>&i;</name>{POINT}").encode(),
    "entity.gpx": GPX.format(
        doctype='<!DOCTYPE gpx [<!ENTITY x SYSTEM "file:///etc/passwd">]>', body=f"<name>&x;</name>{POINT}"
    ).encode(),
    "deep.gpx": GPX.format(doctype="", body="<a>" * 100_000).encode(),
}
ONE_LINE = re.compile(r"^(?P<file>\S.*?):(?P<line>\d+): (?P<found>[^;]+); (?P<advice>.+)$")


def run(*words: object):
    return CliRunner().invoke(main, [str(word) for word in words])


def files_under(folder: Path) -> dict[str, bytes]:
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


@pytest.fixture
def desk(tmp_path, monkeypatch):
    """A working folder with one good log."""
    monkeypatch.chdir(tmp_path)
    write_log(tmp_path / "good.igc", igc_text())
    return tmp_path


@pytest.mark.parametrize("name", HOPELESS)
def test_a_hopeless_log_is_one_line_and_the_others_are_done(desk, name):
    (desk / name).write_bytes(HOPELESS[name])
    before = files_under(desk)
    result = run("debrief", name, "good.igc", "--to", "json", "--out", "out")
    errors = [line for line in result.stderr.splitlines() if not line.startswith("good.igc: ")]
    assert result.exit_code == 1, result.stderr
    assert len(errors) == 1
    told = ONE_LINE.match(errors[0])
    assert told, errors[0]
    assert told["file"] == name
    assert "Traceback" not in result.stderr
    assert "flightlog failed" not in result.stderr
    after = files_under(desk)
    assert {path: content for path, content in after.items() if not path.startswith("out")} == before
    written = {Path(path).name for path in after if path.startswith("out")}
    assert written == {"good.json", ".flightlog-reports.json"}  # the report, and the list of what was written


@pytest.mark.parametrize("name", HOPELESS)
def test_alone_it_is_status_2_and_nothing_is_written(desk, name):
    (desk / name).write_bytes(HOPELESS[name])
    before = files_under(desk)
    result = run("debrief", name, "--out", "out")
    assert result.exit_code == 2
    assert result.stdout == ""
    assert len(result.stderr.splitlines()) == 1
    assert files_under(desk) == before


@pytest.mark.parametrize("name", HOPELESS)
def test_check_says_the_same_in_one_line(desk, name):
    (desk / name).write_bytes(HOPELESS[name])
    result = run("check", name)
    lines = (result.stderr or result.stdout).splitlines()
    assert "flightlog failed" not in result.stderr
    assert result.exit_code in (0, 2)
    assert all(line.startswith(name) for line in lines)
    assert lines


def test_the_line_named_is_the_one_at_fault(desk):
    (desk / "short.igc").write_bytes((igc_text() + "B1107\r\n").encode())
    document = json.loads(run("debrief", "short.igc", "--to", "json", "--out", "-").stdout)
    faults = [problem for problem in document["log"]["problems"] if problem["line"] == 365]
    assert len(faults) == 1


def test_a_missing_file_is_one_line(desk):
    result = run("debrief", "missing.igc", "good.igc", "--out", desk / "out")
    assert result.exit_code == 1
    errors = [line for line in result.stderr.splitlines() if not line.startswith("good.igc: ")]
    assert len(errors) == 1
    assert ONE_LINE.match(errors[0])["file"] == "missing.igc"


def test_a_folder_without_logs_is_one_line(desk):
    (desk / "folder" / "deeper").mkdir(parents=True)
    (desk / "folder" / "notes.txt").write_text("no log", encoding="utf-8")
    result = run("debrief", "folder", "--out", "out")
    assert result.exit_code == 2
    assert len(result.stderr.splitlines()) == 1
    assert ONE_LINE.match(result.stderr.strip())["file"] == "folder"


def test_a_log_without_a_date_is_analysed_and_says_so(desk):
    write_log(desk / "undated.igc", igc_text(date=None))
    result = run("debrief", "undated.igc", "--to", "json", "--out", "-")
    document = json.loads(result.stdout)
    assert result.exit_code == 0
    assert document["log"]["date"] is None
    assert document["flights"][0]["takeoff"]["time"].startswith("1970-01-01T")


def test_an_output_folder_that_cannot_be_made_is_one_line(desk):
    (desk / "file").write_text("no folder", encoding="utf-8")
    result = run("debrief", "good.igc", "--out", "file/out")
    assert result.exit_code == 2
    assert len(result.stderr.splitlines()) == 1
    assert "file/out/good.html" in result.stderr


def test_hostile_names_in_messages_cannot_steer_the_terminal(desk):
    name = "bad\x1b[2J\nname.igc"
    (desk / name).write_bytes(b"")
    result = run("debrief", name, "--out", "out")
    assert len(result.stderr.splitlines()) == 1
    assert "\x1b" not in result.stderr


def test_a_hostile_log_name_writes_inside_the_folder_only(desk):
    name = "..\\..\\evil<b>.igc"
    write_log(desk / name)
    before = set(files_under(desk))
    assert run("debrief", name, "--out", "out").exit_code == 0
    new = set(files_under(desk)) - before
    assert len(new) == 1
    assert re.fullmatch(r"out/[\w .-]+\.html", new.pop())
