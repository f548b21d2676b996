"""Writes the table of time and memory into DEVELOPERS.md: `python -m tests.benchmarks.table`.

Processor seconds and peak memory of whole processes, the start of Python included; the machine may be busy with
other things, which makes processor seconds up to a half larger, never smaller.
"""

from __future__ import annotations

import datetime
import itertools
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
from functools import lru_cache
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
LOGS = (50, 100, 200, 500)
FIXES = 10_000
"""Of each of many logs."""
DAYS = (1, 2, 4, 8)
"""Days of top landings in one log, several flights each."""
JOBS = 2
RUNS = 2
SHIFT_S, SHIFT_NORTH, SHIFT_EAST = 7, 23, 37
"""By so much each of many logs lies apart from the one before: in time, and in thousandths of a minute of arc."""


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


def varied_log(number: int, fixes: int = FIXES) -> bytes:
    """Both samples flown in turn on days one after the other, so many fixes; each `number` elsewhere and later."""
    samples = (SAMPLE, HOPS) if number % 2 == 0 else (HOPS, SAMPLE)
    head = [line for line in log_of(0.0, number, samples[0]).splitlines() if not line.startswith(b"HFDTE")]
    parts, left = [b"\r\n".join([*head, b""])], fixes
    for day, sample in enumerate(itertools.cycle(samples), start=1):
        flown = shifted_fixes(sample, number)[:left]
        parts += [f"HFDTEDATE:{day:02d}0525,01\r\n".encode("ascii"), flown.tobytes()]
        left -= len(flown)
        if left == 0:
            break
    return b"".join(parts)


def shifted_fixes(sample: Path, number: int) -> np.ndarray:
    """The sample's lines of fixes (n, 37), later and farther north and east; no pole and no midnight is near."""
    lines = fix_lines(sample).copy()
    hours, minutes, seconds = number_in(lines, 1, 3), number_in(lines, 3, 5), number_in(lines, 5, 7)
    second = hours * 3600 + minutes * 60 + seconds + SHIFT_S * number
    write_number(lines, 1, 7, second // 3600 * 10_000 + second // 60 % 60 * 100 + second % 60)
    for first, middle, last, shift in ((7, 9, 14, SHIFT_NORTH), (15, 18, 23, SHIFT_EAST)):
        angle = number_in(lines, first, middle) * 60_000 + number_in(lines, middle, last) + shift * number
        write_number(lines, first, last, angle // 60_000 * 100_000 + angle % 60_000)
    return lines


@lru_cache
def fix_lines(sample: Path) -> np.ndarray:
    """The sample's lines of fixes as bytes (n, 37), line ends included."""
    fixes = [line for line in sample.read_bytes().splitlines(keepends=True) if line.startswith(b"B")]
    return np.frombuffer(b"".join(fixes), dtype=np.uint8).reshape(len(fixes), -1)


def number_in(lines: np.ndarray, first: int, last: int) -> np.ndarray:
    """The number that stands in some columns of every line."""
    return (lines[:, first:last].astype(np.int64) - ord("0")) @ 10 ** np.arange(last - first - 1, -1, -1)


def write_number(lines: np.ndarray, first: int, last: int, values: np.ndarray) -> None:
    """Put a number into some columns of every line."""
    lines[:, first:last] = values[:, None] // 10 ** np.arange(last - first - 1, -1, -1) % 10 + ord("0")


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
    environment.pop("PYTHONDONTWRITEBYTECODE", None)  # compiled once and kept, as where it is installed
    command = [sys.executable, "-c", WATCHED, *words]
    begin = time.perf_counter()
    done = subprocess.run(command, capture_output=True, text=True, check=True, cwd=cwd, env=environment)
    wall = time.perf_counter() - begin
    status, processor_s, *kilobytes = json.loads(done.stderr.splitlines()[-1])
    if status != 0:
        raise RuntimeError(done.stderr)
    return Cost(wall, processor_s, *(1024 * size / 1e6 for size in kilobytes))  # as Linux counts ru_maxrss


def best_of(words: Sequence[str], cwd: Path, runs: int = RUNS) -> Cost:
    """The run of least processor time: what others on the machine add only makes it longer."""
    return min((cost_of(words, cwd) for _ in range(runs)), key=lambda cost: cost.processor_s)


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


def many_logs_rows(folder: Path, counts: Sequence[int] = LOGS, fixes: int = FIXES) -> tuple[list[str], list[str]]:
    """One row for each number of logs; and in words how fast the most of them went, and how cost grew."""
    costs = []
    logs = folder / "logs"
    logs.mkdir()
    for before, count in itertools.pairwise((0, *counts)):
        for number in range(before, count):
            (logs / f"{number:03d}.igc").write_bytes(varied_log(number, fixes))
        words = ["debrief", logs.name, "--to", "json", "--out", "out", "--force", "--quiet", "--jobs", str(JOBS)]
        costs.append(best_of(words, folder, RUNS if count < counts[-1] else 1))
    shutil.rmtree(logs)
    rows = [
        f"| {count} | {cost.wall_s:.1f} s | {count / cost.wall_s:.1f} | {1000 * cost.processor_s / count:.0f} ms"
        f" | {cost.peak_mb:.0f} MB | {cost.parent_mb:.0f} MB |"
        for count, cost in zip(counts, costs, strict=True)
    ]
    by_logs, rate = growth(counts, [cost.processor_s for cost in costs]), counts[-1] / costs[-1].wall_s
    return rows, [
        f"{counts[-1]} logs of {fixes} fixes go to JSON at {rate:.1f} logs, {rate * fixes / 1000:.0f} 000 fixes a"
        f" second, in {JOBS} processes.",
        f"Processor time of whole runs, their start included, grows with the power {by_logs} of logs",
        f"(1 is linear; 95 % interval, from {len(counts)} numbers of them).",
    ]


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
    each = fix_s[-1] / (PARTS[-1] * fixes_in(log_of(1.0))) * 10_000
    # a short log costs as much as its few dozens of array operations: growth is that of the longer ones
    by_fixes, by_flights = growth(fix_parts[1:], fix_s[1:]), growth(DAYS, flight_s)
    return [
        f"From file to JSON in a process that runs already, 10 000 fixes of the longest log take {each:.2f} s of",
        f"the processor. Its time grows with the power {by_fixes} of fixes and {by_flights} of flights",
        f"(1 is linear; 95 % intervals, from {len(PARTS) - 1} and {len(DAYS)} sizes).",
    ]


def table() -> str:
    """The block of the document."""
    load = os.getloadavg()[0]
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        cost_of(["--help"], folder)  # compiles what it imports
        started = statistics.median(cost_of(["--help"], folder).processor_s for _ in range(RUNS))
        single, (many, rate), flights = one_log_rows(folder), many_logs_rows(folder), many_flights_rows(folder)
        lines = growth_lines(folder)
    machine = f"{os.cpu_count()} cores {platform.machine()}, Python {platform.python_version()}"
    today = datetime.datetime.now(datetime.UTC).date()
    return "\n".join(
        [
            START,
            f"Measured {today} by `python -m tests.benchmarks.table` ({machine}; load by other work before it",
            f"{load:.1f}: such work makes processor seconds up to twice as long and takes the wall clock's):",
            "processor seconds and peak memory of whole processes, their start included.",
            f"`flightlog --help` takes {started:.2f} s.",
            "",
            "| fixes of one log | JSON | memory | fixes a second | page | memory |",
            "|---|---|---|---|---|---|",
            *single,
            "",
            f"| logs of {FIXES} fixes, `--jobs {JOBS}` | wall clock | logs a second"
            " | processor, each | memory of the largest process | of the one that was called |",
            "|---|---|---|---|---|---|",
            *many,
            "",
            *rate,
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
