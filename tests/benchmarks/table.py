"""Writes the table of time and memory into DEVELOPERS.md: `python -m tests.benchmarks.table`.

Processor seconds and peak memory of whole processes, the start of Python included; the machine may be busy with
other things, which makes processor seconds up to a half larger, never smaller.
"""

from __future__ import annotations

import datetime
import json
import os
import platform
import re
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # read when numpy is loaded

import numpy as np
from scipy.special import stdtrit

import flightlog
from flightlog.writers.json_results import debrief_json

ROOT = Path(__file__).parents[2]
DOCUMENT = ROOT / "DEVELOPERS.md"
START, END = "<!-- speed -->", "<!-- /speed -->"
SAMPLE = ROOT / "sample_tracks" / "cross-country.igc"
HOPS = ROOT / "sample_tracks" / "top-landing-day.igc"
PARTS = (0.25, 0.5, 1.0, 2.0, 4.0)
"""Lengths of logs, in sample flights: shorter ones are cut, longer ones are several days joined."""
LOGS = (6, 12, 24, 48)
DAYS = (1, 2, 4, 8)
"""Days of top landings in one log, several flights each."""
JOBS = 2
RUNS = 2


@dataclass(frozen=True)
class Cost:
    """What one run of the program took: of the processor and in memory, with all processes that it started."""

    wall_s: float
    processor_s: float
    peak_mb: float  # of the largest process
    parent_mb: float  # of the one that was called


@dataclass(frozen=True)
class Growth:
    """How a cost grows with a size: to which power, with half the width of its 95 % interval."""

    power: float
    within: float

    def __str__(self) -> str:
        return f"{self.power:.2f} ± {self.within:.2f}"


def log_of(parts: float, number: int = 0, sample: Path = SAMPLE) -> bytes:
    """The sample flight, cut or flown on several days; `number` makes logs differ."""
    lines = sample.read_text(encoding="ascii").splitlines()
    head = [line for line in lines if not line.startswith("B") and not line.startswith(("G", "HFDTE"))]
    fixes = [line for line in lines if line.startswith("B")]
    whole = max(1, round(parts))
    used = fixes[: round(parts * len(fixes))] if parts < 1.0 else fixes
    days = [line for day in range(whole) for line in (f"HFDTEDATE:{day + 1:02d}0525,01", *used)]
    return "\r\n".join([*head, f"LXXX log {number}", *days, ""]).encode("ascii")


def fixes_in(log: bytes) -> int:
    """Fixes of a log."""
    return len(re.findall(rb"(?m)^B\d{6}", log))


WATCHED = """
import ctypes, json, os, resource, sys
PR_SET_CHILD_SUBREAPER = 36  # <linux/prctl.h>: workers outlive the program that had them started, and come here
ctypes.CDLL(None).prctl(PR_SET_CHILD_SUBREAPER, 1, 0, 0, 0)
program = os.posix_spawn(sys.executable, [sys.executable, "-m", "flightlog", *sys.argv[1:]], os.environ)
_, status, own = os.wait4(program, 0)
try:
    while os.wait():
        pass
except ChildProcessError:  # none is left
    pass
used = resource.getrusage(resource.RUSAGE_CHILDREN)
processor_s = used.ru_utime + used.ru_stime
print(json.dumps([status, processor_s, used.ru_maxrss, own.ru_maxrss]), file=sys.stderr)
"""
"""Runs the program and tells on standard error what it, and the workers forked off on its behalf, took."""


def cost_of(words: Sequence[str], cwd: Path) -> Cost:
    """Run the program and see what it took, its own processes included."""
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "OPENBLAS_NUM_THREADS": "1"}
    command = [sys.executable, "-c", WATCHED, *words]
    begin = time.perf_counter()
    done = subprocess.run(command, capture_output=True, text=True, check=True, cwd=cwd, env=environment)
    wall = time.perf_counter() - begin
    status, processor_s, *kilobytes = json.loads(done.stderr.splitlines()[-1])
    if status != 0:
        raise RuntimeError(done.stderr)
    return Cost(wall, processor_s, *(1024 * size / 1e6 for size in kilobytes))  # as Linux counts ru_maxrss


def best_of(words: Sequence[str], cwd: Path) -> Cost:
    """The run of least processor time: what others on the machine add only makes it longer."""
    return min((cost_of(words, cwd) for _ in range(RUNS)), key=lambda cost: cost.processor_s)


def one_log_rows(folder: Path) -> list[str]:
    """One row for each length of log."""
    rows = []
    base = best_of(["--version"], folder).processor_s
    for parts in PARTS:
        log = folder / "log.igc"
        log.write_bytes(log_of(parts))
        fixes = fixes_in(log.read_bytes())
        cells = []
        for to in ("json", "html"):
            cost = best_of(["debrief", "log.igc", "--to", to, "--out", "out", "--force"], folder)
            cells += [f"{cost.processor_s:.2f} s", f"{cost.peak_mb:.0f} MB"]
            if to == "json":
                cells.append(f"{fixes / (cost.processor_s - base) / 1000:.0f} 000")
        rows.append(f"| {fixes} | " + " | ".join(cells) + " |")
    return rows


def many_logs_rows(folder: Path) -> tuple[list[str], Growth]:
    """One row for each number of logs, of the sample's length, and how processor seconds grow with them."""
    rows, seconds = [], []
    for count in LOGS:
        logs = folder / f"logs-{count}"
        logs.mkdir()
        for number in range(count):
            (logs / f"{number:03d}.igc").write_bytes(log_of(1.0, number))
        words = ["debrief", logs.name, "--to", "json", "--out", "out", "--force", "--jobs", str(JOBS)]
        cost = best_of(words, folder)
        rate, each_s = count / cost.wall_s, cost.processor_s / count
        seconds.append(cost.processor_s)
        rows.append(
            f"| {count} | {cost.wall_s:.1f} s | {rate:.1f} | {each_s:.2f} s | {cost.peak_mb:.0f} MB"
            f" | {cost.parent_mb:.0f} MB |"
        )
        shutil.rmtree(logs)
    return rows, growth(LOGS, seconds)


def many_flights_rows(folder: Path) -> list[str]:
    """One row for each number of flights in one log."""
    rows = []
    log = folder / "days.igc"
    for days in DAYS:
        log.write_bytes(log_of(days, sample=HOPS))
        flights = len(flightlog.debrief(flightlog.read_track(log)).flights)
        cost = best_of(["debrief", log.name, "--to", "json", "--out", "out", "--force"], folder)
        fixes = fixes_in(log.read_bytes())
        rows.append(f"| {flights} | {fixes} | {cost.processor_s:.2f} s | {cost.peak_mb:.0f} MB |")
    return rows


def analysis_s(log: Path) -> float:
    """Processor seconds from file to JSON in this process, with everything loaded: what grows with the log."""
    best = float("inf")
    for _ in range(RUNS + 1):
        begin = time.process_time()
        debrief_json(flightlog.debrief(flightlog.read_track(log)))
        best = min(best, time.process_time() - begin)
    return best


def growth(sizes: Sequence[float], seconds: Sequence[float]) -> Growth:
    """Exponent of the growth of a cost with a size, the slope of the line through the logarithms: 1 is linear.

    Its interval is Student's, from how far the costs lie off that line: with few sizes it is wide.
    """
    size, cost = np.log(sizes), np.log(seconds)
    power, start = np.polyfit(size, cost, 1)
    left = len(size) - 2
    variance = float(((cost - start - power * size) ** 2).sum() / left / ((size - size.mean()) ** 2).sum())
    return Growth(float(power), float(stdtrit(left, 0.975)) * variance**0.5)


def growth_lines(folder: Path, by_logs: Growth) -> list[str]:
    """How the analysis alone grows with fixes and with flights, and whole runs with logs."""
    log = folder / "grown.igc"
    costs: list[tuple[list[float], list[float]]] = []
    for parts, sample in ((PARTS, SAMPLE), (DAYS, HOPS)):
        seconds = []
        for part in parts:
            log.write_bytes(log_of(part, sample=sample))
            seconds.append(analysis_s(log))
        costs.append((list(parts), seconds))
    (fix_parts, fix_s), (_, flight_s) = costs
    each = fix_s[-1] / (PARTS[-1] * fixes_in(log_of(1.0))) * 10_000
    # a short log costs as much as its few dozens of array operations: growth is that of the longer ones
    by_fixes, by_flights = growth(fix_parts[1:], fix_s[1:]), growth(DAYS, flight_s)
    return [
        f"From file to JSON in a process that runs already, 10 000 fixes of the longest log take {each:.2f} s of",
        f"the processor. Its time grows with the power {by_fixes} of fixes and {by_flights} of flights,",
        f"that of whole runs, their start included, with the power {by_logs} of logs (1 is linear; 95 % intervals",
        f"from {len(PARTS) - 1}, {len(DAYS)} and {len(LOGS)} sizes).",
    ]


def table() -> str:
    """The block of the document."""
    load = os.getloadavg()[0]
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        started = statistics.median(cost_of(["--help"], folder).processor_s for _ in range(RUNS))
        single, (many, by_logs), flights = one_log_rows(folder), many_logs_rows(folder), many_flights_rows(folder)
        lines = growth_lines(folder, by_logs)
    machine = f"{os.cpu_count()} cores {platform.machine()}, Python {platform.python_version()}"
    today = datetime.datetime.now(datetime.UTC).date()
    return "\n".join(
        [
            START,
            f"Measured {today} by `python -m tests.benchmarks.table` ({machine}, {load:.0f} other",
            "processes at work on them, which makes processor seconds up to twice as long and takes the wall",
            "clock's): processor seconds and peak memory of whole processes, their start included.",
            f"`flightlog --help` takes {started:.2f} s.",
            "",
            "| fixes of one log | JSON | memory | fixes a second | page | memory |",
            "|---|---|---|---|---|---|",
            *single,
            "",
            f"| logs of {fixes_in(log_of(1.0))} fixes, `--jobs {JOBS}` | wall clock | logs a second"
            " | processor, each | memory of the largest process | of the one that was called |",
            "|---|---|---|---|---|---|",
            *many,
            "",
            "| flights of one log | fixes | JSON | memory |",
            "|---|---|---|---|",
            *flights,
            "",
            *lines,
            END,
        ]
    )


def main() -> None:
    """Put the block between its markers."""
    text = DOCUMENT.read_text(encoding="utf-8")
    before, _, rest = text.partition(START)
    _, _, after = rest.partition(END)
    DOCUMENT.write_text(before + table() + after, encoding="utf-8")


if __name__ == "__main__":
    main()
