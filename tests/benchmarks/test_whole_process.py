"""What a whole run costs: time and memory of a child process, printed; only what is far beyond its target fails.

Run `python -m pytest tests/benchmarks/test_whole_process.py -s` to see the figures.
"""

from __future__ import annotations

import json
import os
import re
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import pytest

from tests.unit.small_logs import igc_text

ROOT = Path(__file__).parents[2]
RUNS = 3
FIXES = 18_000
TARGETS_S = {"html": 3.0, "pdf": 4.0}
"""Processor seconds of a whole run on a machine at rest."""
FAR_BEYOND = 3.0
"""So many times the target fail: a busy machine takes up to twice as long."""
MOST_MEMORY_MB = 500.0
"""The target is 400, which a log of one flight keeps; this one has 50, and 150 pages on paper."""


def long_log(path: Path) -> Path:
    """A log of 18 000 fixes: small flights, one after the other, from one morning to the afternoon."""
    head, _, rest = igc_text().partition("B110000")
    records = ("B110000" + rest).splitlines()
    lines = []
    for number in range(FIXES):
        second = 8 * 3600 + number
        clock = f"{second // 3600:02d}{second // 60 % 60:02d}{second % 60:02d}"
        lap, place = divmod(number, len(records))
        at = place if lap % 2 == 0 else len(records) - 1 - place  # up the hill again the way down: nothing leaps
        lines.append(f"B{clock}{records[at][7:]}")
    path.write_text(head + "\r\n".join(lines) + "\r\n", encoding="ascii")
    return path


WATCHED = """
import atexit, pathlib, runpy, sys
told = pathlib.Path(sys.argv.pop(1))
atexit.register(lambda: told.write_text(pathlib.Path("/proc/self/status").read_text()))
runpy.run_module("flightlog", run_name="__main__")
"""
"""Runs the program and writes its peak down at the end: what the parent is told counts its own memory too."""


def cost(words: list[str]) -> tuple[float, float, str, float]:
    """Wall seconds, processor seconds, output and peak memory (MB) of one run of the program."""
    start = time.perf_counter()
    with tempfile.TemporaryFile("w+", encoding="utf-8") as told, tempfile.NamedTemporaryFile("r") as peak:
        command = [sys.executable, "-c", WATCHED, peak.name, *words]
        process = subprocess.Popen(command, stdout=told, cwd=ROOT)
        _, status, usage = os.wait4(process.pid, 0)
        wall = time.perf_counter() - start
        process.returncode = os.waitstatus_to_exitcode(status)
        assert process.returncode == 0
        told.seek(0)
        (kilobytes,) = re.findall(r"VmHWM:\s+(\d+) kB", peak.read())
        return wall, usage.ru_utime + usage.ru_stime, told.read(), int(kilobytes) / 1024


def test_debrief_of_18000_fixes(tmp_path):
    words = ["debrief", str(long_log(tmp_path / "long.igc")), "--to", "json", "--out", "-"]
    runs = [cost(words) for _ in range(RUNS)]
    document = json.loads(runs[0][2])
    assert document["log"]["fixes"] == FIXES
    assert {output for _, _, output, _ in runs} == {runs[0][2]}
    wall, processor = (statistics.median(run[part] for run in runs) for part in (0, 1))
    print(
        f"\ndebrief of {FIXES} fixes to JSON, whole process: {wall:.2f} s wall, {processor:.2f} s processor,"
        f" {max(run[3] for run in runs):.0f} MB peak (median of {RUNS} runs)"
    )


@pytest.mark.parametrize("form", TARGETS_S)
def test_reports_of_18000_fixes(tmp_path, form):
    words = ["debrief", str(long_log(tmp_path / "long.igc")), "--to", form, "--out", str(tmp_path), "--force"]
    runs = [cost(words) for _ in range(RUNS)]
    wall, processor = (statistics.median(run[part] for run in runs) for part in (0, 1))
    memory = max(run[3] for run in runs)
    print(
        f"\ndebrief of {FIXES} fixes in 50 flights to {form}, whole process: {wall:.2f} s wall, {processor:.2f} s"
        f" processor (target {TARGETS_S[form]:g}), {memory:.0f} MB peak (median of {RUNS} runs)"
    )
    assert (tmp_path / f"long.{form}").stat().st_size > 100_000
    assert processor < FAR_BEYOND * TARGETS_S[form]
    assert memory < MOST_MEMORY_MB


def test_help():
    runs = [cost(["--help"]) for _ in range(2 * RUNS + 1)]
    wall, processor = (statistics.median(run[part] for run in runs) for part in (0, 1))
    assert "debrief" in runs[0][2]
    print(f"\nflightlog --help: {wall:.3f} s wall, {processor:.3f} s processor (median of {len(runs)} runs)")
