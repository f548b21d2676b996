"""Many logs: each read and debriefed, one after the other or in several processes, in the order given."""

from __future__ import annotations

import datetime
import os
import signal
from collections import deque
from collections.abc import Iterable, Iterator, Sequence
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass
from multiprocessing import get_context

from flightlog.debriefing import Debrief, debrief
from flightlog.errors import FlightlogError
from flightlog.places import Place
from flightlog.settings import Settings
from flightlog.tracks.reading import LogSource, read_log
from flightlog.wings import Wing

Outcome = Debrief | FlightlogError

AHEAD_PER_JOB = 2
"""Logs handed out before the first result is taken back: keeps every process busy and memory bounded."""


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
    recipe = Recipe(settings, tuple(places), wing, date)
    if jobs <= 1:
        return ((source, debrief_one(source, recipe)) for source in sources)
    return _debrief_in_processes(sources, recipe, jobs)


def debrief_one(source: LogSource, recipe: Recipe) -> Outcome:
    """Debrief of one log, or what stood in its way."""
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


def _debrief_in_processes(
    sources: Iterable[LogSource], recipe: Recipe, jobs: int
) -> Iterator[tuple[LogSource, Outcome]]:
    """As `debrief_logs`, in so many processes."""
    waiting: deque[tuple[LogSource, Future[Outcome]]] = deque()
    pool = _new_pool(jobs)
    try:
        for source in sources:
            try:
                waiting.append((source, pool.submit(debrief_one, source, recipe)))
            except BrokenProcessPool:
                while waiting:
                    yield _outcome(*waiting.popleft(), recipe)
                pool = _new_pool(jobs)
                waiting.append((source, pool.submit(debrief_one, source, recipe)))
            if len(waiting) > jobs * AHEAD_PER_JOB:
                yield _outcome(*waiting.popleft(), recipe)
        while waiting:
            yield _outcome(*waiting.popleft(), recipe)
    finally:
        pool.shutdown(wait=False, cancel_futures=True)


def _outcome(source: LogSource, future: Future[Outcome], recipe: Recipe) -> tuple[LogSource, Outcome]:
    """The result of a log; once more, in a process of its own, where a process died while it waited."""
    try:
        return source, future.result()
    except BrokenProcessPool:
        pass
    try:
        with _new_pool(1) as pool:
            return source, pool.submit(debrief_one, source, recipe).result()
    except BrokenProcessPool as error:
        fault = UnexpectedError("the process that worked on this log died", "give it more memory", source.path)
        fault.__cause__ = error
        return source, fault


def _new_pool(jobs: int) -> ProcessPoolExecutor:
    """Fresh processes, each with one thread for linear algebra."""
    for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
        os.environ.setdefault(name, "1")
    return ProcessPoolExecutor(jobs, mp_context=get_context("spawn"), initializer=_leave_interrupts_to_parent)


def _leave_interrupts_to_parent() -> None:
    """Ctrl-C reaches every process of a terminal; one of them is enough to say so."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
