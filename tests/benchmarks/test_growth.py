"""Time and memory grow with the length of a log and the number of logs, not faster, in the table too."""

from __future__ import annotations

import math
import re
import resource

import pytest

import flightlog
from flightlog.tracks.igc import parse_igc
from flightlog.writers.json_results import debrief_json
from tests.benchmarks import table
from tests.benchmarks.table import (
    DOCUMENT,
    END,
    FIXES,
    HOPS,
    LOGS,
    PARTS,
    SHIFT_EAST,
    SHIFT_NORTH,
    SHIFT_S,
    START,
    Cost,
    fixes_in,
    growth,
    log_of,
    many_logs_rows,
    varied_log,
)
from tests.benchmarks.table import cost_of as cost_of_run


def processor_s() -> float:
    used = resource.getrusage(resource.RUSAGE_SELF)
    return used.ru_utime + used.ru_stime


def cost_of(path, data) -> float:
    path.write_bytes(data)
    best = float("inf")
    for _ in range(2):
        before = processor_s()
        debrief_json(flightlog.debrief(flightlog.read_track(path)))
        best = min(best, processor_s() - before)
    return best


def test_four_times_the_fixes_take_four_times_the_time(tmp_path):
    one, four = log_of(1.0), log_of(4.0)
    assert fixes_in(four) == 4 * fixes_in(one)
    cost_of(tmp_path / "warm.igc", log_of(0.25))
    ratio = cost_of(tmp_path / "four.igc", four) / cost_of(tmp_path / "one.igc", one)
    assert ratio < 6.0  # four, and what a busy machine may add


def test_four_times_the_flights_take_four_times_the_time(tmp_path):
    one, four = log_of(2, sample=HOPS), log_of(8, sample=HOPS)
    flights = []
    for name, data in (("one", one), ("four", four)):
        (tmp_path / f"{name}.igc").write_bytes(data)
        flights.append(len(flightlog.debrief(flightlog.read_track(tmp_path / f"{name}.igc")).flights))
    assert flights[0] >= 4
    assert flights[1] == 4 * flights[0]
    assert cost_of(tmp_path / "four.igc", four) / cost_of(tmp_path / "one.igc", one) < 6.0


def test_growth_is_the_slope_of_logarithms():
    sizes = (100.0, 200.0, 400.0, 800.0)
    even = growth(sizes, [2e-4 * size**1.5 for size in sizes])
    assert even.power == pytest.approx(1.5, abs=1e-9)
    assert even.within < 1e-6


def test_growth_says_how_sure_it_is():
    """Slope and its interval by hand: logarithms 0, 1, 2, 3 and 0, 1, 2, 4 give 1.3, +- 4.303 times 0.1732."""
    found = growth([math.e**k for k in (0, 1, 2, 3)], [math.e**k for k in (0, 1, 2, 4)])
    assert found.power == pytest.approx(1.3)
    assert found.within == pytest.approx(4.303 * 0.1732, abs=0.001)


def test_what_workers_take_is_counted_and_who_hands_out_the_work_stays_small(tmp_path):
    for number in range(4):
        (tmp_path / f"{number}.igc").write_bytes(log_of(0.25, number))
    words = [".", "--to", "json", "--out", "out", "--quiet"]
    alone = cost_of_run(["debrief", *words, "--jobs", "1"], tmp_path)
    together = cost_of_run(["debrief", *words, "--jobs", "2", "--force"], tmp_path)
    assert alone.parent_mb == alone.peak_mb
    assert together.parent_mb < 0.6 * together.peak_mb
    assert together.processor_s > 0.5 * alone.processor_s


def test_each_of_many_logs_is_another_one_of_the_same_length():
    logs = [varied_log(number) for number in (0, 1, 2, 3)]
    assert [fixes_in(log) for log in logs] == 4 * [FIXES]
    assert len({line for log in logs for line in log.splitlines() if line.startswith(b"B")}) == 4 * FIXES
    tracks = [parse_igc(log, file="varied.igc") for log in logs]
    assert all(track.time_s.size == FIXES for track in tracks)
    first, third = tracks[0], tracks[2]  # the same flights, elsewhere and later
    assert (third.time_s - first.time_s).tolist() == FIXES * [2 * SHIFT_S]
    assert third.latitude_deg - first.latitude_deg == pytest.approx(2 * SHIFT_NORTH / 60_000)
    assert third.longitude_deg - first.longitude_deg == pytest.approx(2 * SHIFT_EAST / 60_000)


def test_rows_of_many_logs_say_how_fast_the_most_of_them_went(tmp_path, monkeypatch):
    def cost_of_so_many(words, cwd):
        count = len(list((cwd / words[1]).glob("*.igc")))
        return Cost(count / 8.0, count / 4.0, 100.0, 50.0)

    monkeypatch.setattr(table, "cost_of", cost_of_so_many)
    rows, lines = many_logs_rows(tmp_path, (2, 4, 8), 1000)
    assert rows[-1] == "| 8 | 1.0 s | 8.0 | 250 ms | 100 MB | 50 MB |"
    assert [row.split()[1] for row in rows] == ["2", "4", "8"]
    assert "8 logs of 1000 fixes go to JSON at 8.0 logs, 8 000 fixes a second" in lines[0]
    assert "power 1.00 ± 0.00 of logs" in lines[1]


def committed_rows():
    text = DOCUMENT.read_text(encoding="utf-8")
    block = text.partition(START)[2].partition(END)[0]
    assert "Measured 20" in block
    return [re.findall(r"[\d.]+", row) for row in block.splitlines() if re.match(r"\| \d", row)]


def test_the_committed_table_is_whole_and_grows_evenly():
    rows = committed_rows()
    single, many = rows[: len(PARTS)], rows[len(PARTS) : len(PARTS) + len(LOGS)]
    assert [int(row[0]) for row in single] == [fixes_in(log_of(parts)) for parts in PARTS]
    assert [int(row[0]) for row in many] == list(LOGS)
    seconds_a_fix = [float(row[1]) / int(row[0]) for row in single]
    assert seconds_a_fix[-1] <= seconds_a_fix[0] * 1.2
    each = [float(row[3]) for row in many]
    assert each[-1] <= each[0] * 1.2
    memory_mb = [float(row[2]) for row in single]
    assert memory_mb[-1] < 2.0 * memory_mb[0]
