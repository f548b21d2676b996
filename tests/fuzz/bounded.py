"""Runs the program in a child process under limits of the operating system, and says what it cost."""

from __future__ import annotations

import os
import resource
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
    peak_bytes: int


def _limits(patience: int) -> None:
    """Set in the child before it becomes the program."""
    resource.setrlimit(resource.RLIMIT_AS, (_ADDRESS_SPACE_BYTES, _ADDRESS_SPACE_BYTES))
    resource.setrlimit(
        resource.RLIMIT_CPU, (int(3 * MOST_SECONDS * patience), int(3 * MOST_SECONDS * patience) + 1)
    )
    resource.setrlimit(resource.RLIMIT_FSIZE, (_LARGEST_OUTPUT_BYTES, _LARGEST_OUTPUT_BYTES))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


def run_bounded(words: list[str], folder: Path, *, stdin: Path | None = None, patience: int = 1) -> Run:
    """`flightlog WORDS...` in that folder, `stdin` being the file it reads from standard input.

    `patience` widens the limit of time where one call has many logs to do.
    """
    out, err = folder.parent / f"{folder.name}.stdout", folder.parent / f"{folder.name}.stderr"
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1"}
    with out.open("wb") as stdout, err.open("wb") as stderr, Path(stdin or os.devnull).open("rb") as given:
        process = subprocess.Popen(
            [sys.executable, "-m", "flightlog", *words],
            cwd=folder, env=environment, stdin=given, stdout=stdout, stderr=stderr,
            preexec_fn=partial(_limits, patience),
        )  # fmt: skip
        status, usage = _awaited(process)
    return Run(
        status=status,
        stdout=out.read_text("utf-8", "replace"),
        stderr=err.read_text("utf-8", "replace"),
        seconds=usage.ru_utime + usage.ru_stime,
        peak_bytes=usage.ru_maxrss * 1024,  # kilobytes on Linux
    )


def _awaited(process: subprocess.Popen[bytes]) -> tuple[int, resource.struct_rusage]:
    """Exit status and cost of the child; killed when it takes too long by the clock on the wall."""
    end = time.monotonic() + _PATIENCE_S
    while time.monotonic() < end:
        pid, wait_status, usage = os.wait4(process.pid, os.WNOHANG)
        if pid:
            process.returncode = os.waitstatus_to_exitcode(wait_status)
            return process.returncode, usage
        time.sleep(0.02)
    process.kill()
    _, wait_status, usage = os.wait4(process.pid, 0)
    process.returncode = os.waitstatus_to_exitcode(wait_status)
    return process.returncode, usage
