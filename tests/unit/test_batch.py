"""Many logs: in order, one failure stops no other, processes give the same as none."""

from __future__ import annotations

import os
import pickle
import subprocess
import sys
import time
from pathlib import Path

import pytest

from flightlog import batch, debriefing
from flightlog.batch import Recipe, UnexpectedError, debrief_logs, sensible_jobs, work_on_logs
from flightlog.errors import FlightlogError
from flightlog.tracks.reading import find_logs
from flightlog.writers.json_results import debrief_json
from tests.unit.small_logs import igc_text, write_log


@pytest.fixture
def logs(tmp_path):
    write_log(tmp_path / "a.igc", igc_text(seed=1))
    write_log(tmp_path / "b.igc", "AXXXABC\r\nHFDTE140626\r\n")
    write_log(tmp_path / "c.igc", igc_text(seed=2))
    return [tmp_path / name for name in ("c.igc", "b.igc", "missing.igc", "a.igc")]


@pytest.fixture(autouse=True, scope="module")
def quick_processes():
    """Processes forked off one that has imported this module too."""
    batch.get_ready(2, [__name__])


def outcomes(logs, jobs):
    return [
        (source.name, str(outcome) if isinstance(outcome, FlightlogError) else debrief_json(outcome))
        for source, outcome in debrief_logs(find_logs(logs), jobs=jobs)
    ]


def test_results_come_in_the_order_of_the_logs_and_failures_among_them(logs):
    found = outcomes(logs, 1)
    assert [name for name, _ in found] == ["c.igc", "b.igc", "missing.igc", "a.igc"]
    assert [isinstance(outcome, bytes) for _, outcome in found] == [True, False, False, True]
    assert "b.igc:" in found[1][1]
    assert "missing.igc:" in found[2][1]


def test_two_processes_give_the_same_as_one(logs):
    assert outcomes(logs, 2) == outcomes(logs, 1)


def test_a_fault_of_ours_costs_one_log(logs, monkeypatch):
    real = debriefing.debrief

    def breaks_on_c(track, **options):
        if track.file == "c.igc":
            raise ZeroDivisionError("oh\ndear")
        return real(track, **options)

    monkeypatch.setattr(debriefing, "debrief", breaks_on_c)
    found = [outcome for _, outcome in debrief_logs(find_logs(logs))]
    assert isinstance(found[0], UnexpectedError)
    assert isinstance(found[0].__cause__, ZeroDivisionError)
    assert "c.igc:1: flightlog failed on this log (ZeroDivisionError: oh dear); please report it" in str(found[0])
    assert not isinstance(found[3], FlightlogError)


def test_logs_are_taken_as_they_are_needed(logs):
    taken = []

    def watched():
        for source in find_logs(logs):
            taken.append(source.name)
            yield source

    next(iter(debrief_logs(watched())))
    assert taken == ["c.igc"]


def test_a_process_that_dies_costs_its_log_alone(logs, monkeypatch):
    monkeypatch.setattr(batch, "debrief_one", _dies_on_b)
    found = [outcome for _, outcome in debrief_logs(find_logs(logs), jobs=2)]
    assert isinstance(found[1], UnexpectedError)
    assert "died" in str(found[1])
    assert not isinstance(found[0], FlightlogError)
    assert not isinstance(found[3], FlightlogError)


def _dies_on_b(source, recipe):
    if source.name == "b.igc":
        os._exit(9)
    return batch.debrief_one(source, recipe)


def _name_late(source, recipe):
    """The name of a log; that of the first comes last."""
    del recipe
    if source.name == "c.igc":
        time.sleep(1.5)
    return source.name


def test_results_come_as_they_are_ready_where_no_order_is_asked_for(logs):
    in_order = [name for _, name in work_on_logs(find_logs(logs), _name_late, Recipe(), jobs=2)]
    assert in_order == ["c.igc", "b.igc", "missing.igc", "a.igc"]
    found = [name for _, name in work_on_logs(find_logs(logs), _name_late, Recipe(), jobs=2, in_order=False)]
    assert sorted(found) == sorted(in_order)
    assert found[-1] == "c.igc"


def test_a_process_that_dies_costs_its_log_alone_without_an_order_too(logs):
    found = {
        source.name: outcome
        for source, outcome in work_on_logs(find_logs(logs), _dies_on_b, Recipe(), jobs=2, in_order=False)
    }
    assert set(found) == {path.name for path in logs}
    assert "died" in str(found["b.igc"])
    assert not isinstance(found["a.igc"], FlightlogError)


def test_processes_are_started_where_they_are_worth_it(monkeypatch):
    monkeypatch.setattr(batch.os, "sched_getaffinity", lambda _: set(range(8)), raising=False)
    assert [sensible_jobs(logs) for logs in (0, 1, 3, 4, 10, 1000)] == [1, 1, 1, 2, 5, 8]


def _came_with_the_analysis(source, recipe):
    """Whether the process that started this one had imported what the analysis needs."""
    del source, recipe
    loaded = Path(f"/proc/{os.getppid()}/maps")
    return loaded.exists() and "numpy" in loaded.read_text()


def test_processes_are_forked_off_one_that_has_imported_the_analysis(logs):
    found = [outcome for _, outcome in work_on_logs(find_logs(logs), _came_with_the_analysis, Recipe(), jobs=2)]
    assert found == [sys.platform.startswith("linux")] * len(logs)  # elsewhere processes start afresh


def test_who_hands_out_the_work_imports_none_of_it():
    code = (
        "import sys, flightlog.commands.debrief, flightlog.commands.running, flightlog.writers.reports\n"
        "print(sorted({'numpy', 'scipy', 'flightlog.debriefing'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout == "[]\n"


def test_errors_survive_the_way_between_processes():
    error = FlightlogError("found", "advice", "a.igc", 7)
    assert str(pickle.loads(pickle.dumps(error))) == str(error) == "a.igc:7: found; advice"  # noqa: S301 (our own)


def _hold_the_lock_for_long(source, recipe):
    del recipe
    import fcntl

    with open(source.path, "w") as file:  # noqa: PTH123 (kept open)
        fcntl.flock(file, fcntl.LOCK_EX)
        file.write("held")
        file.flush()
        time.sleep(60.0)
    return source.name


def test_processes_end_when_their_parent_is_killed(tmp_path):
    import fcntl

    lock = tmp_path / "lock"
    code = (
        "from flightlog.batch import Recipe, work_on_logs\n"
        "from flightlog.tracks.reading import LogSource\n"
        "from tests.unit.test_batch import _hold_the_lock_for_long\n"
        "if __name__ == '__main__':\n"
        f"    list(work_on_logs([LogSource({str(lock)!r}, 'a')], _hold_the_lock_for_long, Recipe(), jobs=2))\n"
    )
    script = tmp_path / "script.py"
    script.write_text(code)
    root = Path(__file__).parents[2]
    environment = {**os.environ, "PYTHONPATH": str(root)}
    parent = subprocess.Popen([sys.executable, str(script)], cwd=root, env=environment, stderr=subprocess.DEVNULL)
    until = time.monotonic() + 60.0
    while not (lock.exists() and lock.read_text()) and time.monotonic() < until:
        time.sleep(0.05)
    assert lock.read_text() == "held"
    parent.kill()
    parent.wait()
    with lock.open() as file:
        for _ in range(200):
            try:
                fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
                break
            except BlockingIOError:
                time.sleep(0.05)
        else:
            pytest.fail("the worker still holds the lock")
