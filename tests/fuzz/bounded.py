"""Runs the program in a child process under limits of the operating system, and says what it cost."""

from __future__ import annotations

import os
import resource
import signal
import subprocess
import sys
import time
from dataclasses import dataclass
from functools import partial
from pathlib import Path

ROOT = Path(__file__).parents[2]
MOST_SECONDS = 10.0
"""Processor seconds that any hostile file may cost, start of Python included."""
MOST_BYTES = 1_000_000_000
"""Peak resident memory that any hostile file may cost."""
_ADDRESS_SPACE_BYTES = 4 * MOST_BYTES  # libraries map far more than they touch; a bomb runs into this one
_LARGEST_OUTPUT_BYTES = 300_000_000
_PATIENCE_S = 120.0  # wall clock: the machine may be busy with other tests


@dataclass(frozen=True)
class Run:
    """What one call of the program said and cost."""

    status: int
    stdout: str
    stderr: str
    seconds: float  # of the processor, in user and system mode
    peak_bytes: int  # the system counts kilobytes


def set_limits(patience: int = 1) -> None:
    """Set in the child before it becomes the program."""
    resource.setrlimit(resource.RLIMIT_AS, (_ADDRESS_SPACE_BYTES, _ADDRESS_SPACE_BYTES))
    resource.setrlimit(
        resource.RLIMIT_CPU, (int(3 * MOST_SECONDS * patience), int(3 * MOST_SECONDS * patience) + 1)
    )
    resource.setrlimit(resource.RLIMIT_FSIZE, (_LARGEST_OUTPUT_BYTES, _LARGEST_OUTPUT_BYTES))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


def environment() -> dict[str, str]:
    """Of a child: one thread, this source tree."""
    return {**os.environ, "PYTHONPATH": str(ROOT), "OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1"}


def outputs_beside(folder: Path) -> tuple[Path, Path]:
    """Where standard output and standard error of a run in that folder are kept."""
    return folder.parent / f"{folder.name}.stdout", folder.parent / f"{folder.name}.stderr"


def run_of(status: int, folder: Path, seconds: float, peak_bytes: int) -> Run:
    """The run that was just made in that folder."""
    out, err = (path.read_text("utf-8", "replace") for path in outputs_beside(folder))
    return Run(status, out, err, seconds, peak_bytes)


def run_bounded(words: list[str], folder: Path, *, stdin: Path | None = None, patience: int = 1) -> Run:
    """`flightlog WORDS...` in that folder, `stdin` being the file it reads from standard input.

    `patience` widens the limit of time where one call has many logs to do.
    """
    out, err = outputs_beside(folder)
    with out.open("wb") as stdout, err.open("wb") as stderr, Path(stdin or os.devnull).open("rb") as given:
        process = subprocess.Popen(
            [sys.executable, "-m", "flightlog", *words],
            cwd=folder, env=environment(), stdin=given, stdout=stdout, stderr=stderr,
            preexec_fn=partial(set_limits, patience),
        )  # fmt: skip
        process.returncode, usage = awaited(process.pid)
    return run_of(process.returncode, folder, usage.ru_utime + usage.ru_stime, usage.ru_maxrss * 1024)


def awaited(child: int) -> tuple[int, resource.struct_rusage]:
    """Exit status and cost of the child; killed when it takes too long by the clock on the wall."""
    end = time.monotonic() + _PATIENCE_S
    while time.monotonic() < end:
        pid, wait_status, usage = os.wait4(child, os.WNOHANG)
        if pid:
            return os.waitstatus_to_exitcode(wait_status), usage
        time.sleep(0.02)
    os.kill(child, signal.SIGKILL)
    _, wait_status, usage = os.wait4(child, 0)
    return os.waitstatus_to_exitcode(wait_status), usage
