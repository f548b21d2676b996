"""Cylinders passed by: later ones that a pilot entered while an earlier one was still to come."""

from __future__ import annotations

import numpy as np

from flightlog.comparing.crossings import Boundary, Fixes, Progress
from flightlog.tasks.task import Task, Tolerance


def missed_cylinders(
    task: Task, tolerance: Tolerance, fixes: Fixes, progress: Progress
) -> tuple[tuple[int, float], ...]:
    """The cylinder that was to come next, where the pilot went on to a later one: which, and how far beside it.

    The distance is from the nearest fix to the boundary, m.
    """
    if not progress.reached:
        return ()
    following = progress.reached[-1].cylinder + 1
    if following >= len(task.cylinders) - 1:
        return ()
    first, stop = progress.reached[-1].next_fix, progress.stop
    for later in range(following + 1, len(task.cylinders)):
        if task.cylinders[later].direction == "exit":
            continue
        there = Boundary(task, later, tolerance, fixes).true_fixes
        there = there[(there >= first) & (there < stop)]
        if there.size and not _encloses(task, later, following):
            missed = Boundary(task, following, tolerance, fixes)
            off = np.abs(missed.away_m[first : int(there[0]) + 1] - missed.radius_m)
            return ((following, float(np.nanmin(off, initial=np.inf))),)
    return ()


def _encloses(task: Task, outer: int, inner: int) -> bool:
    """Whether being in one cylinder says nothing, since the other lies in it or reaches into it."""
    from flightlog.tasks.checking import centres_apart_m

    one, other = task.cylinders[outer], task.cylinders[inner]
    return centres_apart_m(one, other) < one.radius_m + other.radius_m
