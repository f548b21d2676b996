"""Adds logs to a logbook in forked processes that are killed, refused the disk, or work at once.

`python -m tests.unit.crash_book FOLDER` prints what it counted: task, what, and a number a line.
"""

from __future__ import annotations

import os
import pickle
import random
import resource
import signal
import sys
import time
from collections.abc import Sequence
from pathlib import Path

from flightlog.errors import BookError
from flightlog.logbook.adding import add_log
from flightlog.logbook.entries import LogEntry
from flightlog.logbook.opening import open_book

KILLS = 20
FULL_AT_BYTES = 1_000_000


def add_all(file: Path, entries: Sequence[LogEntry]) -> int:
    """Add what is missing; exit status 1 where the logbook refuses."""
    try:
        with open_book(file, create=True) as book:
            for entry in entries:
                add_log(book, entry)
    except BookError as error:
        print(error, file=sys.stderr)
        return 1
    return 0


def forked(
    file: Path, entries: Sequence[LogEntry], most_bytes: int | None = None, *, dies_there: bool = False
) -> int:
    """A process that adds the entries; `most_bytes` is what the system lets a file grow to, or kills it for."""
    process = os.fork()
    if process:
        return process
    if most_bytes is not None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (most_bytes, most_bytes))
    if dies_there:
        signal.signal(signal.SIGXFSZ, signal.SIG_DFL)  # Python passes it over
    os._exit(add_all(file, entries))


def status_of(process: int) -> int:
    """Exit status of a process that ended."""
    return os.waitstatus_to_exitcode(os.waitpid(process, 0)[1])


def log_count(file: Path) -> int:
    """Logs there are."""
    with open_book(file) as book:
        return book.rows("SELECT count(*) FROM logs")[0][0]


def kill(file: Path, entries: Sequence[LogEntry]) -> dict[str, int]:
    """Kill many processes, half of them while they write; each time, what was there is still there."""
    chance = random.Random(2)
    journal = file.with_name(file.name + "-journal")
    told = {"killed": 0, "in_the_middle": 0, "lost": 0}
    there = 0
    for number in range(KILLS):
        process = forked(file, entries)
        until = time.monotonic() + 0.5
        while number % 2 and not journal.exists() and time.monotonic() < until:
            time.sleep(0.0003)
        time.sleep(chance.uniform(0.0, 0.004 if number % 2 else 0.03))
        os.kill(process, signal.SIGKILL)
        told["killed"] += status_of(process) == -signal.SIGKILL
        told["in_the_middle"] += journal.exists() and journal.stat().st_size > 0
        now = log_count(file) if file.exists() else 0
        told["lost"] += now < there
        there = now
    status_of(forked(file, entries))
    return told


def halfway(file: Path, entries: Sequence[LogEntry]) -> dict[str, int]:
    """Kill a process whose commit has written the first page but not yet all that this page speaks of."""
    status_of(forked(file, entries[:2]))
    killed = status_of(forked(file, entries, file.stat().st_size + 20_000, dies_there=True))
    claimed = int.from_bytes(file.read_bytes()[28:32], "big") * 4096  # sqlite.org/fileformat.html, 1.3.8
    told = {"killed": killed == -signal.SIGXFSZ, "missing": claimed - file.stat().st_size}
    return told | {"there": log_count(file), "after": status_of(forked(file, entries))}


def full(file: Path, entries: Sequence[LogEntry]) -> dict[str, int]:
    """Let the system refuse to write more, then do it again with room."""
    errors = status_of(forked(file, entries, FULL_AT_BYTES))
    before = log_count(file)
    status_of(forked(file, entries))
    return {"errors": errors, "before": before}


def together(file: Path, entries: Sequence[LogEntry]) -> dict[str, int]:
    """Two processes add the same logs at once, from either end."""
    first, second = forked(file, entries), forked(file, entries[::-1])
    return {"first": status_of(first), "second": status_of(second)}


if __name__ == "__main__":
    folder = Path(sys.argv[1])
    for name, task in {"kill": kill, "halfway": halfway, "full": full, "together": together}.items():
        with (folder / f"{name}.entries").open("rb") as opened:
            counted = task(folder / f"{name}.db", pickle.load(opened))  # noqa: S301 (the test wrote it)
        print("\n".join(f"{name} {what} {value:d}" for what, value in counted.items()))
