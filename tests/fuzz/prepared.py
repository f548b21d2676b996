"""A process with the program imported already; each run is a child forked off it, under the limits of `bounded`.

Starting Python and importing numpy costs more than most hostile files do. What the start cost is counted with
every run, so the limits mean the same as for a process of its own.
"""

from __future__ import annotations

import contextlib
import gc
import io
import json
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import IO

from tests.fuzz.bounded import Run, awaited, environment, outputs_beside, run_of, set_limits
from tests.unit.small_logs import igc_text


@dataclass(frozen=True)
class Prepared:
    """The waiting process, and the processor seconds it took to start."""

    requests: IO[str]
    replies: IO[str]
    start_seconds: float

    def run(self, words: list[str], folder: Path) -> Run:
        """`flightlog WORDS...` in that folder, as `run_bounded` does it in a process of its own."""
        out, err = outputs_beside(folder)
        request = {"words": words, "folder": str(folder), "out": str(out), "err": str(err)}
        self.requests.write(json.dumps(request) + "\n")
        self.requests.flush()
        reply = json.loads(self.replies.readline())
        return run_of(reply["status"], folder, self.start_seconds + reply["seconds"], reply["peak_bytes"])


@contextlib.contextmanager
def prepared() -> Iterator[Prepared]:
    """Starts the process; it ends when no more requests can come."""
    words = [sys.executable, "-m", "tests.fuzz.prepared"]
    with subprocess.Popen(
        words, env=environment(), stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as process:
        assert process.stdin
        assert process.stdout
        yield Prepared(process.stdin, process.stdout, json.loads(process.stdout.readline()))


def serve() -> None:
    """Import everything by one harmless run, then fork a child for each line of standard input."""
    from flightlog.commands.main import main

    with tempfile.TemporaryDirectory() as name, contextlib.redirect_stdout(io.StringIO()):
        (Path(name) / "log.igc").write_text(igc_text())
        main(["debrief", f"{name}/log.igc", "--to", "html,json", "--out", f"{name}/out"], standalone_mode=False)
    gc.collect()
    gc.freeze()  # what was imported is not to be copied by every child's collector
    _reply(time.process_time())
    requests = io.FileIO(0, closefd=False)  # unbuffered: children are to inherit nothing read ahead
    for line in requests:
        request = json.loads(line)
        pid = os.fork()
        if pid == 0:
            _redirect(request)
            set_limits()
            main(request["words"])  # leaves by SystemExit, or by the traceback that the tests look for
        status, usage = awaited(pid)
        seconds, peak = usage.ru_utime + usage.ru_stime, usage.ru_maxrss * 1024
        _reply({"status": status, "seconds": seconds, "peak_bytes": peak})


def _redirect(request: dict[str, str]) -> None:
    """The child stands in its folder, reads nothing and writes to the files asked for."""
    os.chdir(request["folder"])
    for number, path, flags in ((0, os.devnull, os.O_RDONLY), (1, request["out"], os.O_WRONLY | os.O_CREAT),
                                (2, request["err"], os.O_WRONLY | os.O_CREAT)):  # fmt: skip
        opened = os.open(path, flags | (os.O_TRUNC if number else 0))
        os.dup2(opened, number)
        os.close(opened)


def _reply(value: object) -> None:
    os.write(1, (json.dumps(value) + "\n").encode())


if __name__ == "__main__":
    serve()
