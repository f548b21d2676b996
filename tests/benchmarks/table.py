"""Writes the table of time and memory into DEVELOPERS.md: `python -m tests.benchmarks.table`.

Processor seconds and peak memory of whole processes, the start of Python included; the machine may be busy with
other things, which makes processor seconds up to a half larger, never smaller.
"""

from __future__ import annotations

import datetime
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
    """What one run of the program took."""

    wall_s: float
    processor_s: float
    peak_mb: float


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


def cost_of(words: Sequence[str], cwd: Path) -> Cost:
    """Run the program and see what it took, its own processes included."""
    code = (
        "import resource, subprocess, sys;"
        f"subprocess.run([sys.executable, '-m', 'flightlog', *{list(words)!r}], check=True,"
        " stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL);"
        "used = resource.getrusage(resource.RUSAGE_CHILDREN);"
        "print(used.ru_utime + used.ru_stime, used.ru_maxrss)"
    )
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "OPENBLAS_NUM_THREADS": "1"}
    begin = time.perf_counter()
    told = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=cwd, env=environment
    ).stdout.split()
    wall = time.perf_counter() - begin
    return Cost(wall, float(told[0]), float(told[1]) * 1024 / 1e6)  # ru_maxrss counts kilobytes on Linux


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


def many_logs_rows(folder: Path) -> list[str]:
    """One row for each number of logs, of the sample's length."""
    rows = []
    for count in LOGS:
        logs = folder / f"logs-{count}"
        logs.mkdir()
        for number in range(count):
            (logs / f"{number:03d}.igc").write_bytes(log_of(1.0, number))
        words = ["debrief", logs.name, "--to", "json", "--out", "out", "--force", "--jobs", str(JOBS)]
        cost = cost_of(words, folder)
        rate, each_s = count / cost.wall_s, cost.processor_s / count
        rows.append(f"| {count} | {cost.wall_s:.1f} s | {rate:.1f} | {each_s:.2f} s | {cost.peak_mb:.0f} MB |")
        shutil.rmtree(logs)
    return rows


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


def growth(sizes: Sequence[float], seconds: Sequence[float]) -> float:
    """Exponent of the growth of a cost with a size, the slope of the line through the logarithms: 1 is linear."""
    return float(np.polyfit(np.log(sizes), np.log(seconds), 1)[0])


def growth_lines(folder: Path) -> list[str]:
    """How the analysis alone grows with fixes and with flights."""
    log = folder / "grown.igc"
    costs: list[tuple[list[float], list[float]]] = []
    for parts, sample in ((PARTS, SAMPLE), (DAYS, HOPS)):
        seconds = []
        for part in parts:
            log.write_bytes(log_of(part, sample=sample))
            seconds.append(analysis_s(log))
        costs.append((list(parts), seconds))
    (fix_parts, fix_s), (_, flight_s) = costs
    # a short log costs as much as its few dozens of array operations: growth is that of the longer ones
    power = growth(fix_parts[1:], fix_s[1:])
    each = fix_s[-1] / (PARTS[-1] * fixes_in(log_of(1.0))) * 10_000
    flight_power = growth(DAYS, flight_s)
    return [
        f"From file to JSON in a process that runs already, 10 000 fixes of the longest log take {each:.2f} s of",
        f"the processor; the time grows with the power {power:.2f} of fixes and {flight_power:.2f} of flights (1",
        "is linear).",
    ]


def table() -> str:
    """The block of the document."""
    load = os.getloadavg()[0]
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        started = statistics.median(cost_of(["--help"], folder).processor_s for _ in range(RUNS))
        single, many, flights = one_log_rows(folder), many_logs_rows(folder), many_flights_rows(folder)
        lines = growth_lines(folder)
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
            " | processor, each | memory of the largest process |",
            "|---|---|---|---|---|",
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
