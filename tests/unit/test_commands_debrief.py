"""`flightlog debrief`: what is written where, exit statuses, and what stays untouched."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from flightlog.commands.main import main
from tests.unit.small_logs import gpx_text, igc_text, write_log

ROOT = Path(__file__).parents[2]


def run(*words: object, text: str | None = None):
    return CliRunner().invoke(main, [str(word) for word in words], input=text)


@pytest.fixture
def day(tmp_path):
    write_log(tmp_path / "logs" / "a.igc", igc_text(seed=1))
    write_log(tmp_path / "logs" / "b.gpx", gpx_text())
    return tmp_path / "logs"


def names_in(folder: Path) -> list[str]:
    """What a user sees in a folder."""
    return sorted(path.name for path in folder.iterdir() if not path.name.startswith("."))


def test_a_page_for_every_log_of_a_folder(day, tmp_path):
    result = run("debrief", day, "--out", tmp_path / "out")
    assert result.exit_code == 0
    assert names_in(tmp_path / "out") == ["a.html", "b.html", "index.html"]
    assert result.stdout == ""
    assert "1 flight" in result.stderr


def test_both_formats(day, tmp_path):
    assert run("debrief", day / "a.igc", "--to", "json,html", "--out", tmp_path / "out").exit_code == 0
    assert sorted(path.name for path in (tmp_path / "out").iterdir()) == ["a.html", "a.json"]
    assert json.loads((tmp_path / "out" / "a.json").read_bytes())["log"]["file"] == "a.igc"


def test_json_on_standard_output_is_one_document_a_line_in_the_order_of_the_logs(day):
    write_log(day / "aa.igc", "AXXXABC\r\n")
    result = run("debrief", day / "b.gpx", day / "aa.igc", day / "a.igc", "--to", "json", "--out", "-")
    assert result.exit_code == 1
    documents = [json.loads(line) for line in result.stdout.splitlines()]
    assert [document["log"]["file"] for document in documents] == ["b.gpx", "a.igc"]
    assert len(result.stderr.splitlines()) == 1
    assert f"{day / 'aa.igc'}:" in result.stderr


def test_standard_input_is_a_log():
    result = run("debrief", "-", "--to", "json", "--out", "-", text=igc_text())
    assert result.exit_code == 0
    assert json.loads(result.stdout)["log"]["fixes"] == 360


def test_status_is_2_when_nothing_could_be_done(tmp_path):
    result = run("debrief", tmp_path / "missing.igc", "--out", tmp_path / "out")
    assert result.exit_code == 2
    assert not (tmp_path / "out").exists()


def test_the_same_call_again_renews_its_reports_and_changes_no_byte(day, tmp_path):
    words = ("debrief", day, "--to", "html,json", "--out", tmp_path / "out")
    run(*words)
    before = {path.name: path.read_bytes() for path in (tmp_path / "out").iterdir()}
    assert run(*words).exit_code == 0
    assert {path.name: path.read_bytes() for path in (tmp_path / "out").iterdir()} == before


def times_in(folder: Path) -> dict[str, int]:
    return {name: (folder / name).stat().st_mtime_ns for name in names_in(folder) if name != "index.html"}


def test_a_second_run_does_only_what_changed(day, tmp_path):
    out = tmp_path / "out"
    words = ("debrief", day, "--out", out)
    run(*words)
    first = times_in(out)
    again = run(*words)
    assert again.exit_code == 0
    assert again.stderr == f"{out}/index.html: a list of 2 logs\n2 logs unchanged since the reports were written\n"
    assert times_in(out) == first
    write_log(day / "c.igc", igc_text(seed=3))  # a new log
    assert "1 flight" in run(*words).stderr
    assert {name: time for name, time in times_in(out).items() if name in first} == first
    assert "c.html" in names_in(out)
    write_log(day / "c.igc", igc_text(seed=4))  # the same log, copied anew
    assert run(*words).exit_code == 0
    second = times_in(out)
    assert {name for name, time in second.items() if first.get(name) != time} == {"c.html"}


@pytest.mark.parametrize("words", [("--units", "aviation"), ("--timezone", "UTC"), ("--force",), ("--anonymous",)])
def test_other_options_make_reports_anew(day, tmp_path, words):
    out = tmp_path / "out"
    run("debrief", day / "a.igc", day / "b.gpx", "--out", out)
    before = times_in(out)
    result = run("debrief", day / "a.igc", day / "b.gpx", "--out", out, *words)
    assert result.exit_code == 0
    assert "unchanged" not in result.stderr
    after = times_in(out)
    assert all(before.get(name) != time for name, time in after.items()) or words == ("--anonymous",)


def test_a_report_that_was_changed_by_hand_is_made_anew_and_a_lost_one_too(day, tmp_path):
    out = tmp_path / "out"
    run("debrief", day, "--out", out)
    good = (out / "a.html").read_bytes()
    (out / "a.html").write_bytes(good + b"<!-- changed -->")
    (out / "b.html").unlink()
    assert "unchanged" not in run("debrief", day, "--out", out).stderr
    assert (out / "a.html").read_bytes() == good
    assert (out / "b.html").exists()


def test_another_format_is_added_and_the_list_links_both(day, tmp_path):
    out = tmp_path / "out"
    run("debrief", day, "--out", out)
    assert run("debrief", day, "--to", "json", "--out", out).exit_code == 0
    assert "unchanged" in run("debrief", day, "--to", "html,json", "--out", out).stderr
    page = (out / "index.html").read_text(encoding="utf-8")
    assert 'href="a.html#flight-1"' in page
    assert 'href="a.json"' in page


def test_a_changed_program_makes_reports_anew(day, tmp_path, monkeypatch):
    run("debrief", day, "--out", tmp_path / "out")
    monkeypatch.setattr("flightlog.writers.manifest.program_digest", lambda: "another")
    assert "unchanged" not in run("debrief", day, "--out", tmp_path / "out").stderr


def test_a_foreign_file_in_place_of_the_list_is_left_alone(day, tmp_path):
    out = tmp_path / "out"
    out.mkdir()
    (out / ".flightlog-reports.json").write_text('{"mine": 1}', encoding="utf-8")
    (out / "index.html").write_text("<!doctype html><title>mine</title>", encoding="utf-8")
    result = run("debrief", day, "--out", out)
    assert result.exit_code == 1
    assert "index.html:1: a page that is no list of reports stands there, and was left alone" in result.stderr
    assert ".flightlog-reports.json:1: a file of this name is no list of reports" in result.stderr
    assert (out / ".flightlog-reports.json").read_text(encoding="utf-8") == '{"mine": 1}'
    assert (out / "index.html").read_text(encoding="utf-8") == "<!doctype html><title>mine</title>"
    assert {"a.html", "b.html"} <= set(names_in(out))


def test_the_list_of_another_release_counts_as_none(day, tmp_path):
    out = tmp_path / "out"
    run("debrief", day, "--out", out)
    known = out / ".flightlog-reports.json"
    page, now = (out / "index.html").read_bytes(), known.read_bytes()
    older = {"schema": "flightlog/reports/1", "entries": {"a": {"row": {"sketch": [[0.0, 0.0], [1.0, 0.5]]}}}}
    known.write_text(json.dumps(older), encoding="utf-8")
    (out / "b.html").write_text("mine", encoding="utf-8")
    result = run("debrief", day / "a.igc", day / "b.gpx", "--out", out)
    assert result.exit_code == 1
    assert "b.html:1: a file that is no report of this log stands there, and was left alone" in result.stderr
    assert "no list of reports" not in result.stderr
    assert (out / "b.html").read_text(encoding="utf-8") == "mine"
    (out / "b.html").unlink()
    assert run("debrief", day, "--out", out).exit_code == 0
    assert (out / "index.html").read_bytes() == page
    assert json.loads(known.read_bytes())["entries"].keys() == json.loads(now)["entries"].keys()


def test_a_list_whose_sketches_were_damaged_is_left_alone(day, tmp_path):
    out = tmp_path / "out"
    run("debrief", day, "--out", out)
    known = out / ".flightlog-reports.json"
    damaged = re.sub(r'"sketch":"[^"]*"', '"sketch":"AAAA"', known.read_text(encoding="utf-8"))  # three bytes
    known.write_text(damaged, encoding="utf-8")
    result = run("debrief", day, "--out", out)
    assert ".flightlog-reports.json:1: a file of this name is no list of reports" in result.stderr
    assert known.read_text(encoding="utf-8") == damaged


def test_a_log_named_index_does_not_fight_with_the_list(day, tmp_path):
    write_log(day / "index.igc", igc_text(seed=7))
    assert run("debrief", day, "--out", tmp_path / "out").exit_code == 0
    assert "list of reports" in (tmp_path / "out" / "index.html").read_text(encoding="utf-8")
    assert len(names_in(tmp_path / "out")) == 4


def test_quiet_says_nothing_but_errors(day, tmp_path):
    write_log(day / "bad.igc", "AXXXABC\r\n")
    result = run("debrief", day, "--out", tmp_path / "out", "--quiet")
    assert result.exit_code == 1
    assert len(result.stderr.splitlines()) == 1
    assert "bad.igc" in result.stderr


def test_a_file_in_the_way_is_named_and_the_other_logs_are_done(day, tmp_path):
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "a.html").write_text("mine", encoding="utf-8")
    result = run("debrief", day, "--out", tmp_path / "out")
    assert result.exit_code == 1
    assert "a.html:1: a file that is no report of this log stands there" in result.stderr
    assert (tmp_path / "out" / "a.html").read_text(encoding="utf-8") == "mine"
    assert (tmp_path / "out" / "b.html").exists()
    assert run("debrief", day, "--out", tmp_path / "out", "--force").exit_code == 0
    assert (tmp_path / "out" / "a.html").read_text(encoding="utf-8") != "mine"


def test_two_logs_of_one_name_get_two_reports(tmp_path):
    for number in (1, 2):
        write_log(tmp_path / str(number) / "monday.igc", igc_text(seed=number))
    result = run("debrief", tmp_path / "1", tmp_path / "2", "--out", tmp_path / "out")
    assert result.exit_code == 0
    names = names_in(tmp_path / "out")
    assert len(names) == 3
    assert "monday.html" in names
    run("debrief", tmp_path / "1", tmp_path / "2", "--out", tmp_path / "out")
    assert names_in(tmp_path / "out") == names


def test_processes_give_the_same_files(day, tmp_path):
    assert run("debrief", day, "--out", tmp_path / "one").exit_code == 0
    assert run("debrief", day, "--out", tmp_path / "two", "--jobs", "2").exit_code == 0
    assert names_in(tmp_path / "one") == names_in(tmp_path / "two")
    for path in (tmp_path / "one").glob("*.html"):
        assert path.read_bytes() == (tmp_path / "two" / path.name).read_bytes()


def test_a_bad_log_stops_no_other_in_any_process(day, tmp_path):
    write_log(day / "aa.igc", "AXXXABC\r\n")
    for seed in (3, 4, 5):
        write_log(day / f"c{seed}.igc", igc_text(seed=seed))
    result = run("debrief", day, "--out", tmp_path / "out", "--jobs", "2")
    assert result.exit_code == 1
    assert "aa.igc:1: no fix" in result.stderr
    assert names_in(tmp_path / "out") == ["a.html", "b.html", "c3.html", "c4.html", "c5.html", "index.html"]


def test_anonymous_reports_name_nobody(tmp_path):
    log = write_log(tmp_path / "ada-example.igc", igc_text(pilot="Ada Example"))
    assert run("debrief", log, "--to", "html,json", "--out", tmp_path / "out", "--anonymous").exit_code == 0
    paths = list((tmp_path / "out").iterdir())
    assert len(paths) == 2
    for path in paths:
        assert "ada" not in path.name.lower()
        assert b"Ada Example" not in path.read_bytes()
        assert b"ada-example" not in path.read_bytes()
    assert json.loads(next(path for path in paths if path.suffix == ".json").read_bytes())["log"]["pilot"] is None


@pytest.mark.parametrize(("paper", "width_pt"), [("a4", 595), ("letter", 612)])
def test_pages_to_print(day, tmp_path, paper, width_pt):
    words = ("debrief", day / "a.igc", "--to", "pdf", "--paper", paper, "--out", tmp_path / "out")
    assert run(*words).exit_code == 0
    content = (tmp_path / "out" / "a.pdf").read_bytes()
    assert content.startswith(b"%PDF-")
    assert f"/MediaBox[0 0 {width_pt}".encode() in content
    assert run(*words).exit_code == 0  # it is known as a report of this log, and renewed
    assert (tmp_path / "out" / "a.pdf").read_bytes() == content


def test_a_pdf_of_another_log_is_left_alone(day, tmp_path):
    other = write_log(tmp_path / "other" / "a.igc", igc_text(seed=5))
    assert run("debrief", day / "a.igc", "--to", "pdf", "--out", tmp_path / "out").exit_code == 0
    before = (tmp_path / "out" / "a.pdf").read_bytes()
    result = run("debrief", other, "--to", "pdf", "--out", tmp_path / "out")
    assert result.exit_code == 2
    assert "a.pdf:1: a file that is no report of this log stands there" in result.stderr
    assert (tmp_path / "out" / "a.pdf").read_bytes() == before


def test_units_and_time_zone_reach_the_page(day, tmp_path):
    run("debrief", day / "a.igc", "--out", tmp_path / "out", "--units", "aviation", "--timezone", "Asia/Kathmandu")
    page = (tmp_path / "out" / "a.html").read_text(encoding="utf-8")
    assert "Asia/Kathmandu" in page
    assert "ft" in page


def test_a_date_is_given_to_a_log_without_one(tmp_path):
    log = write_log(tmp_path / "a.igc", igc_text(date=None))
    without = json.loads(run("debrief", log, "--to", "json", "--out", "-").stdout)
    assert without["log"]["date"] is None
    assert "no_date" in [problem["code"] for problem in without["log"]["problems"]]
    result = run("debrief", log, "--to", "json", "--out", "-", "--date", "2026-06-14")
    assert json.loads(result.stdout)["log"]["date"] == "2026-06-14"
    assert json.loads(result.stdout)["flights"][0]["takeoff"]["time"].startswith("2026-06-14T11:0")


def test_a_places_file_that_cannot_be_read_stops_everything(day, tmp_path):
    result = run("debrief", day, "--places", tmp_path / "none.geojson", "--out", tmp_path / "out")
    assert result.exit_code == 2
    assert len(result.stderr.splitlines()) == 1
    assert "none.geojson" in result.stderr


@pytest.mark.parametrize("logs", [("a.igc",), ("a.igc", "missing.igc"), ("missing.igc",)])
def test_statuses_of_the_real_program(day, tmp_path, logs):
    words = [sys.executable, "-m", "flightlog", "debrief", *(str(day / log) for log in logs)]
    result = subprocess.run(
        [*words, "--out", str(tmp_path / "out")], capture_output=True, text=True, timeout=120, cwd=ROOT
    )
    missing = [log for log in logs if log == "missing.igc"]
    assert result.returncode == (0 if not missing else 1 if len(logs) > 1 else 2)
    assert "Traceback" not in result.stderr


def test_check_tells_what_is_odd_line_by_line(day):
    with (day / "a.igc").open("a", encoding="ascii") as file:
        file.write("B1107\r\n")
    result = run("check", day / "a.igc")
    assert result.exit_code == 0
    assert result.stdout.startswith(f"{day / 'a.igc'}: IGC of 2026-06-14, 360 fixes in ")
    assert f"{day / 'a.igc'}:365: " in result.stdout


def test_check_as_json_and_its_statuses(day):
    result = run("check", day / "a.igc", day / "missing.igc", "--to", "json")
    assert result.exit_code == 1
    document = json.loads(result.stdout)
    assert (document["schema"], document["health"]["fixes"]) == ("flightlog/check/1", 360)
    assert run("check", day / "missing.igc").exit_code == 2


def test_demo_writes_every_sample_and_says_what_to_open(tmp_path):
    result = run("demo", "--out", tmp_path / "reports")
    assert result.exit_code == 0
    assert f"Open {tmp_path / 'reports' / 'top-landing-day.html'} in a browser." in result.stdout
    names = names_in(tmp_path / "reports")
    assert "index.html" in names
    for ending in ("html", "pdf", "json"):
        assert f"top-landing-day.{ending}" in names
        assert f"cross-country.{ending}" in names


def test_the_class_of_a_wing_can_be_named_without_a_wing_file():
    log = ROOT / "sample_tracks" / "cross-country-4s.gpx"
    for words, leans_on in (((), "foot-launched wings"), (("--class", "paraglider"), "a paraglider")):
        (document,) = run("debrief", log, *words, "--to", "json", "--out", "-").stdout.splitlines()
        polar = json.loads(document)["flights"][0]["performance"]["polar"]
        assert f"it leans on what is usual for {leans_on}" in polar["note"]
    wrong = run("debrief", log, "--class", "balloon")
    assert wrong.exit_code == 2
    assert "'balloon' is not one of 'paraglider'" in wrong.stderr


def test_a_wing_file_of_another_wing_than_the_logs_is_used_and_told():
    log = ROOT / "sample_tracks" / "cross-country.igc"
    for file, told in (("wing-rigid-wing.toml", True), ("wing-hang-glider.toml", False)):
        result = run("debrief", log, "--wing", ROOT / "sample_tracks" / file, "--to", "json", "--out", "-")
        problems = {one["code"]: one["message"] for one in json.loads(result.stdout)["log"]["problems"]}
        assert ("other_wing" in problems) is told
        if told:
            assert problems["other_wing"].startswith(
                "the log names Invented hang glider 13; it counts as flown with"
            )
