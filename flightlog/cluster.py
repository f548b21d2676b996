"""Many logs on an existing Dask cluster: the same work as in `flightlog.batch`, beyond one machine.

Logs travel to the workers as bytes, so that no shared disk is needed. A worker that dies costs nothing: what it
worked on is done again by another (Rocklin 2015: Dask).
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from importlib.metadata import version
from typing import Any, TypeVar

from flightlog.batch import Recipe, UnexpectedError
from flightlog.errors import FlightlogError, TrackFileError
from flightlog.tracks.reading import LogSource

Result = TypeVar("Result")
Client = Any  # of distributed, which has no types

AHEAD_PER_THREAD = 3
"""Logs on their way to each thread of the cluster: keeps it busy and memory bounded."""
PATIENCE_S = 10.0
"""How long to wait for the scheduler, and for its first worker."""
MOST_TRIES = 5
"""Workers that may die with one log before the log is blamed."""


def work_on_cluster(
    logs: Iterable[LogSource],
    work: Callable[[LogSource, Recipe], Result | FlightlogError],
    recipe: Recipe,
    address: str,
) -> Iterator[tuple[LogSource, Result | FlightlogError]]:
    """Do the same work on many logs, on the workers of a cluster.

    Parameters
    ----------
    logs : iterable of LogSource
        From `find_logs`; read here, one after the other as they are needed.
    work : function
        As for `flightlog.batch.work_on_logs`: one of a module, or a partial of one; it catches what may go wrong.
    recipe : Recipe
        Given to `work`.
    address : str
        Of the scheduler, such as tcp://10.0.0.1:8786.

    Yields
    ------
    (log, what `work` gave)
        In the order of the logs.

    Raises
    ------
    FlightlogError
        distributed is not installed, no scheduler or worker answers, or a worker has another flightlog.
    """
    client = _connected(address)
    with client:
        ahead = AHEAD_PER_THREAD * max(1, sum(client.nthreads().values()))
        waiting: deque[tuple[LogSource, Any]] = deque()
        for log in logs:
            waiting.append((log, _sent(client, log, work, recipe)))
            if len(waiting) > ahead:
                yield _result(*waiting.popleft())
        while waiting:
            yield _result(*waiting.popleft())


def _connected(address: str) -> Client:
    """A client of the cluster, whose workers have the same flightlog."""
    try:
        import distributed
    except ImportError as error:
        advice = "install it: pip install 'flightlog[cluster]'"
        raise FlightlogError("a cluster needs the package distributed, which is not installed", advice) from error
    try:
        make_client: Any = distributed.Client
        client = make_client(address, timeout=PATIENCE_S, set_as_default=False)
    except (OSError, TimeoutError, ValueError) as error:
        raise FlightlogError(f"no scheduler answers at {address}", "start one: dask scheduler") from error
    try:
        client.wait_for_workers(1, timeout=PATIENCE_S)
        versions = client.run(_version_here)
    except TimeoutError as error:
        client.close()
        advice = "start some: dask worker ADDRESS"
        raise FlightlogError(f"the cluster at {address} has no workers", advice) from error
    except ImportError as error:
        client.close()
        raise FlightlogError("a worker has no flightlog", "install the same version on every machine") from error
    others = sorted(set(versions.values()) - {_version_here()})
    if others:
        client.close()
        found = f"workers have flightlog {', '.join(others)}, and here it is {_version_here()}"
        raise FlightlogError(found, "install the same version on every machine")
    return client


def _version_here() -> str:
    """The version of flightlog where this runs."""
    return version("flightlog")


def _sent(client: Client, log: LogSource, work: Callable[[LogSource, Recipe], Any], recipe: Recipe) -> Any:
    """The work on its way; or what stands in the way of reading the log."""
    try:
        carried = replace(log, file="", member=None, data=log.read())
    except TrackFileError as error:
        return error
    return client.submit(work, carried, recipe, pure=False, retries=MOST_TRIES)


def _result(log: LogSource, future: Any) -> tuple[LogSource, Any]:
    """What became of one log."""
    if isinstance(future, FlightlogError):
        return log, future
    try:
        return log, future.result()
    except Exception as error:  # KilledWorker, a lost connection, a fault on the way back
        fault = UnexpectedError(
            f"the cluster could not do this log ({type(error).__name__})",
            "look at its workers' own logs",
            log.path,
        )
        fault.__cause__ = error
        return log, fault
