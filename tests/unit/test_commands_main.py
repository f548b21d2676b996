"""The command line as a whole: help, versions, one line for every error, exit statuses, speed of loading."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from flightlog import __version__
from flightlog.commands.main import COMMANDS, main
from tests.unit.small_logs import write_log

HEAVY = ("numpy", "scipy", "matplotlib", "jinja2", "msgspec", "pandas", "gpxpy")


def run(*words: str):
    return CliRunner().invoke(main, list(words))


def test_help_lists_every_command():
    result = run("--help")
    assert result.exit_code == 0
    assert all(name in result.stdout for name in COMMANDS)


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_has_help_with_an_example(name):
    result = run(name, "--help")
    assert result.exit_code == 0
    assert f"Example: flightlog {name}" in result.stdout


def test_the_version():
    result = run("--version")
    assert (result.exit_code, result.stdout.strip()) == (0, f"flightlog, version {__version__}")


@pytest.mark.parametrize(
    "words",
    [
        ("fly",),
        ("debrief",),
        ("debrief", "--wings", "x", "a.igc"),
        ("debrief", "--to", "docx", "a.igc"),
        ("debrief", "--to", "", "a.igc"),
        ("debrief", "--out", "-", "a.igc"),
        ("debrief", "--out", "-", "--to", "html,json", "a.igc"),
        ("debrief", "--units", "cubits", "a.igc"),
        ("debrief", "--timezone", "Mars/Olympus", "a.igc"),
        ("debrief", "--date", "14.06.2026", "a.igc"),
        ("debrief", "--jobs", "0", "a.igc"),
        ("check",),
        ("check", "--to", "html", "a.igc"),
    ],
)
def test_wrong_usage_is_one_line_and_status_2(words):
    result = run(*words)
    assert result.exit_code == 2
    assert result.stdout == ""
    assert len(result.stderr.splitlines()) == 1
    assert result.stderr.startswith("flightlog")
    assert "--help'" in result.stderr


def test_no_command_shows_the_help_and_fails():
    result = run()
    assert result.exit_code == 2
    assert "Usage" in result.stderr


def test_a_fault_of_ours_is_one_line_and_with_debug_a_traceback(monkeypatch, tmp_path):
    log = write_log(tmp_path / "a.igc")
    monkeypatch.setattr("flightlog.commands.running.work_on_logs", lambda *_, **__: 1 / 0)
    result = run("debrief", str(log), "--out", str(tmp_path / "out"))
    assert result.exit_code == 2
    assert "ZeroDivisionError" in result.stderr
    assert len(result.stderr.splitlines()) == 1
    result = run("debrief", str(log), "--out", str(tmp_path / "out"), "--debug")
    assert "Traceback" in result.stderr


def test_ctrl_c_is_one_line(monkeypatch, tmp_path):
    def interrupted(*_, **__):
        raise KeyboardInterrupt

    monkeypatch.setattr("flightlog.commands.running.work_on_logs", interrupted)
    result = run("debrief", str(write_log(tmp_path / "a.igc")), "--out", str(tmp_path / "out"))
    assert result.exit_code == 130
    assert "stopped by the user" in result.stderr
    assert len(result.stderr.splitlines()) == 1


@pytest.mark.parametrize("jobs", ["1", "2"])
def test_ctrl_c_in_the_midst_of_work(tmp_path, jobs):
    words = [sys.executable, "-m", "flightlog", "debrief", "-", "--out", str(tmp_path / "out"), "--jobs", jobs]
    root = Path(__file__).parents[2]
    with subprocess.Popen(words, stdin=subprocess.PIPE, stderr=subprocess.PIPE, cwd=root) as process:
        process.stdin.write(b"x" * 1_000_000)  # more than a pipe holds: it has begun to read when this returns
        process.stdin.flush()
        process.send_signal(signal.SIGINT)
        _, said = process.communicate(timeout=60)
    assert process.returncode == 130
    assert len(said.decode().splitlines()) == 1
    assert not (tmp_path / "out").exists()


def test_help_loads_nothing_heavy():
    code = (
        "import sys, flightlog.commands.main as m\n"
        "try: m.main(['--help'])\n"
        "except SystemExit: pass\n"
        f"heavy = set(sys.modules) & {set(HEAVY)!r}\n"
        "assert not heavy, heavy"
    )
    subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, timeout=60)


def test_a_reader_that_goes_away_makes_no_noise(tmp_path):
    for number in range(3):
        write_log(tmp_path / f"{number}.igc")
    script = (
        f"{sys.executable} -m flightlog debrief {tmp_path} --to json --out - | head -c 10; exit ${{PIPESTATUS[0]}}"
    )
    root = Path(__file__).parents[2]
    result = subprocess.run(["bash", "-c", script], capture_output=True, text=True, timeout=120, cwd=root)
    assert result.stdout.startswith('{"schema":')
    assert result.stderr == ""
    assert result.returncode in (0, 1)  # 0 where all was written before the reader went


def test_linear_algebra_is_given_one_thread_unless_asked_otherwise(monkeypatch):
    monkeypatch.delenv("OPENBLAS_NUM_THREADS", raising=False)
    monkeypatch.setenv("OMP_NUM_THREADS", "3")
    monkeypatch.setenv("MKL_NUM_THREADS", "1")
    assert CliRunner().invoke(main, ["check", "no-such.igc"]).exit_code == 2
    assert os.environ["OPENBLAS_NUM_THREADS"] == "1"
    assert os.environ["OMP_NUM_THREADS"] == "3"


@pytest.mark.parametrize(
    ("words", "meant"),
    [
        (["pases"], "No such command 'pases' (did you mean 'passes'?)"),
        (["book", "totls"], "No such command 'totls' (did you mean 'totals'?)"),
        (["passes", "--plces", "x"], "No such option '--plces' (did you mean '--places'?)"),
        (["version"], "No such command 'version' (did you mean '--version'?)"),
        (["convert", "a.igc", "--crop", "13:00"], "see 'flightlog convert --help'"),
        (["xyzzy"], "No such command 'xyzzy'; see"),
        (["x" * 5000], f"No such command '{'x' * 5000}'; see"),
        ([str(Path(__file__).parent)], f"(did you mean: flightlog debrief {Path(__file__).parent} ?)"),
    ],
)
def test_a_slip_of_the_pen_is_told_what_it_may_have_meant(words, meant):
    result = run(*words)
    assert result.exit_code == 2
    assert meant in result.stderr
