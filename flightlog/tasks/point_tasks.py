"""A task from bare points: an IGC declaration or a GPX route, every cylinder with one radius."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from flightlog.errors import TaskFileError, one_line
from flightlog.tasks.checking import MOST_CYLINDERS, checked_task
from flightlog.tasks.task import Cylinder, Task
from flightlog.tasks.toml_tasks import LARGEST_RADIUS_M, LONGEST_NAME, SMALLEST_RADIUS_M

DEFAULT_RADIUS_M = 400.0
"""Common practice for turnpoints of foot-launched tasks, no source."""


def task_from_points(
    name: str,
    points: Sequence[tuple[str, float, float]],
    lines: Sequence[int],
    path: str | Path,
    radius_m: float = DEFAULT_RADIUS_M,
) -> Task:
    """The task through points of (name, latitude, longitude): the first is the start, the last the goal.

    Bare points hold no times, so that it is an elapsed-time task: everybody's time counts from the own start.

    Raises
    ------
    TaskFileError
        Fewer than two points, or a task that nobody could fly; `lines` says where each point stands.
    """
    if not SMALLEST_RADIUS_M <= radius_m <= LARGEST_RADIUS_M:
        found = f"radius {radius_m:g} m lies outside {SMALLEST_RADIUS_M:g} to {LARGEST_RADIUS_M:g}"
        raise TaskFileError(found, "check --radius", path)
    if len(points) < 2:
        raise TaskFileError(f"{len(points)} points", "a task needs a start and a goal", path)
    if len(points) > MOST_CYLINDERS:
        found = f"{len(points)} points, more than {MOST_CYLINDERS}"
        raise TaskFileError(found, "no task needs so many", path, lines[MOST_CYLINDERS])

    def wrong(found: str, advice: str, key: str = "", block: int = 0) -> TaskFileError:
        del key
        where = f"point {block}: " if block else ""
        return TaskFileError(where + found, advice, path, lines[block - 1] if block else None)

    roles = ["start", *["turnpoint"] * (len(points) - 2), "goal"]
    cylinders = tuple(
        Cylinder(_clean(text) or f"{role} {number}", lat, lon, radius_m, role)
        for number, ((text, lat, lon), role) in enumerate(zip(points, roles, strict=True), start=1)
    )
    task = Task(_clean(name) or Path(path).stem, "elapsed", cylinders, file=str(path))
    return checked_task(task, [False] * len(cylinders), wrong)


def _clean(text: str) -> str:
    """A name fit to be shown: one line of bounded length."""
    return one_line(text)[:LONGEST_NAME]
