"""Many logs: each read and debriefed, one after the other or in several processes, in the order given."""

from __future__ import annotations

import datetime
import gc
import os
import signal
import sys
import threading
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol, TypeAlias, TypeVar

from flightlog.errors import FlightlogError
from flightlog.tracks.sources import LogSource

if TYPE_CHECKING:
    from concurrent.futures import Future, ProcessPoolExecutor

    from flightlog.debriefing import Debrief
    from flightlog.places import Place
    from flightlog.settings import Settings
    from flightlog.wings import Wing

Outcome: TypeAlias = "Debrief | FlightlogError"
Result = TypeVar("Result")


class HasPath(Protocol):
    """Whatever names the log that it is about."""

    @property
    def path(self) -> str:
        """The log's name for messages."""
        ...


Log = TypeVar("Log", bound=HasPath)

AHEAD_PER_JOB = 2
"""Logs handed out before the first result is taken back: keeps every process busy and memory bounded."""
FEWEST_FOR_PROCESSES = 4
"""Below it the start of the processes costs more than they save."""
MOST_JOBS = 64
GARBAGE_AFTER = 10_000
"""Objects more than before, after which a process looks for rings of them that nothing holds any longer."""
ANALYSIS = ("flightlog.tracks.reading", "flightlog.debriefing", "numpy.ma", "numpy.random")
"""What the work on any log imports, also what numpy itself imports late."""


class UnexpectedError(FlightlogError):
    """A fault of flightlog itself; its cause is the exception that was not foreseen."""


@dataclass(frozen=True)
class Recipe:
    """How every log of a batch is read and debriefed."""

    settings: Settings | None = None
    places: tuple[Place, ...] = ()
    wing: Wing | None = None
    date: datetime.date | None = None


def debrief_logs(
    sources: Iterable[LogSource],
    *,
    settings: Settings | None = None,
    places: Sequence[Place] = (),
    wing: Wing | None = None,
    date: datetime.date | None = None,
    jobs: int = 1,
) -> Iterator[tuple[LogSource, Outcome]]:
    """Read and debrief many logs; one that fails stops no other.

    Parameters
    ----------
    sources : iterable of LogSource
        From `find_logs`.
    settings, places, wing
        As for `debrief`.
    date : date, optional
        For logs that hold none.
    jobs : int
        Processes; 1 works in this one.

    Yields
    ------
    (LogSource, Debrief or FlightlogError)
        In the order of the sources. An exception that was not foreseen comes as `UnexpectedError` with its cause.
    """
    return work_on_logs(sources, debrief_one, Recipe(settings, tuple(places), wing, date), jobs=jobs)


def work_on_logs(
    logs: Iterable[Log],
    work: Callable[[Log, Recipe], Result | FlightlogError],
    recipe: Recipe,
    *,
    jobs: int = 1,
    in_order: bool = True,
    modules: Sequence[str] = (),
) -> Iterator[tuple[Log, Result | FlightlogError]]:
    """Do the same work on many logs, in this process or in several.

    Parameters
    ----------
    logs : iterable
        From `find_logs`, or what else has the `path` of a log; taken as they are needed.
    work : function
        What to do with each log; it catches what may go wrong. With several processes it must be one that can be
        pickled: a function of a module, or a partial of one.
    recipe : Recipe
        Given to `work`.
    jobs : int
        Processes; 1 works in this one.
    in_order : bool
        False: each result as soon as it is there.
    modules : sequence of str
        What `work` imports besides the analysis: with several processes it is imported once, not in each.

    Yields
    ------
    (log, what `work` gave)
        An `UnexpectedError` where the process that worked on a log died.
    """
    if jobs <= 1:
        return ((log, work(log, recipe)) for log in logs)
    get_ready(jobs, modules)
    return _in_processes(logs, work, recipe, jobs, in_order)


def get_ready(jobs: int, modules: Sequence[str] = ()) -> None:
    """Begin to prepare so many processes while the caller does other things; nothing is waited for.

    On Linux one process imports the analysis and `modules`, and those that work are forked off it; it ends with
    the program, and serves all its batches. Elsewhere each of them starts afresh.
    """
    if jobs <= 1:
        return
    for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
        os.environ.setdefault(name, "1")
    if _start_method() == "forkserver":
        from multiprocessing import forkserver, resource_tracker

        forkserver.set_forkserver_preload([*ANALYSIS, *modules])
        resource_tracker.ensure_running()
        with _interrupts_held_back():
            forkserver.ensure_running()


def _start_method() -> str:
    """How processes start: as Python itself chooses from version 3.14 on."""
    return "forkserver" if sys.platform.startswith("linux") else "spawn"


@contextmanager
def _interrupts_held_back() -> Iterator[None]:
    """Processes started meanwhile never hear of Ctrl-C, which reaches every process of a terminal."""
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def sensible_jobs(logs: int) -> int:
    """How many processes are worth their start for so many logs: all processors, but one for a few logs.

    >>> sensible_jobs(1), sensible_jobs(3)
    (1, 1)
    """
    if logs < FEWEST_FOR_PROCESSES:
        return 1
    usable = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
    return max(1, min(usable, logs // 2, MOST_JOBS))


def debrief_one(source: LogSource, recipe: Recipe) -> Outcome:
    """Debrief of one log, or what stood in its way."""
    from flightlog.debriefing import debrief
    from flightlog.tracks.reading import read_log

    try:
        track = read_log(source, date=recipe.date)
        return debrief(track, settings=recipe.settings, places=recipe.places, wing=recipe.wing)
    except FlightlogError as error:
        return _with_path(error, source)
    except Exception as error:  # the last resort: a fault of ours in one log must not cost the others
        return unexpected(source, error)


def unexpected(source: LogSource, error: Exception) -> UnexpectedError:
    """What to say of an exception that was not foreseen."""
    fault = UnexpectedError(
        f"flightlog failed on this log ({type(error).__name__}: {error})",
        "please report it with the log and the output of --debug",
        source.path,
    )
    fault.__cause__ = error
    return fault


def _with_path(error: FlightlogError, source: LogSource) -> FlightlogError:
    """The error, naming the log where it named no file."""
    if error.path is not None:
        return error
    named = type(error)(error.found, error.advice, source.path, error.line)
    named.__cause__ = error.__cause__
    return named.with_traceback(error.__traceback__)


def _in_processes(
    logs: Iterable[Log],
    work: Callable[[Log, Recipe], Result | FlightlogError],
    recipe: Recipe,
    jobs: int,
    in_order: bool,
) -> Iterator[tuple[Log, Result | FlightlogError]]:
    """As `work_on_logs`, in so many processes."""
    from concurrent.futures import FIRST_COMPLETED, wait  # 20 ms, of no use to a single log
    from concurrent.futures.process import BrokenProcessPool

    waiting: dict[Future[Result | FlightlogError], Log] = {}
    pool = _new_pool(jobs)

    def next_result() -> tuple[Log, Result | FlightlogError]:
        ready = next(iter(waiting)) if in_order else next(iter(wait(waiting, return_when=FIRST_COMPLETED).done))
        log = waiting.pop(ready)
        return log, _outcome(log, ready, work, recipe)

    try:
        for log in logs:
            try:
                waiting[pool.submit(work, log, recipe)] = log
            except BrokenProcessPool:
                while waiting:
                    yield next_result()
                pool = _new_pool(jobs)
                waiting[pool.submit(work, log, recipe)] = log
            if len(waiting) > jobs * AHEAD_PER_JOB:
                yield next_result()
        while waiting:
            yield next_result()
    finally:
        pool.shutdown(wait=not waiting, cancel_futures=True)  # not waited for: stopped in the middle


def _outcome(
    log: Log,
    future: Future[Result | FlightlogError],
    work: Callable[[Log, Recipe], Result | FlightlogError],
    recipe: Recipe,
) -> Result | FlightlogError:
    """The result of a log; once more, in a process of its own, where a process died while it waited."""
    from concurrent.futures.process import BrokenProcessPool

    try:
        return future.result()
    except BrokenProcessPool:
        pass
    try:
        with _new_pool(1) as pool:
            return pool.submit(work, log, recipe).result()
    except BrokenProcessPool as error:
        fault = UnexpectedError("the process that worked on this log died", "give it more memory", log.path)
        fault.__cause__ = error
        return fault


def _new_pool(jobs: int) -> ProcessPoolExecutor:
    """Processes that know nothing of earlier work."""
    from concurrent.futures import ProcessPoolExecutor
    from multiprocessing import get_context

    if _start_method() == "forkserver":  # wait for it here, where Ctrl-C leaves no half-started process behind
        get_context("forkserver").Process(target=_do_nothing).start()
    return ProcessPoolExecutor(jobs, mp_context=get_context(_start_method()), initializer=_begin_work)


def _do_nothing() -> None:
    """The work of a process that only shows that processes can start."""


def _begin_work() -> None:
    """What a process does before its first log.

    What was imported stays until its end: it is not looked through for garbage again, and the rest more seldom
    than usual, since an analysis leaves hardly any rings behind.
    """
    gc.freeze()
    gc.set_threshold(GARBAGE_AFTER)
    _follow_parent()


def _follow_parent() -> None:
    """Leave Ctrl-C, which reaches every process of a terminal, to the parent; end when it is killed.

    A worker whose parent is gone would wait for work for ever.
    """
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with_parent, daemon=True).start()


def _end_with_parent() -> None:
    """Wait for the parent's end, and end too."""
    from multiprocessing import parent_process

    parent = parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)
