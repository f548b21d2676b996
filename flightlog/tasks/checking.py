"""Whether a task can be flown at all, and in which direction its cylinders are reached."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from flightlog.earth.geodesy import geodesic_m
from flightlog.errors import TaskFileError
from flightlog.tasks.task import Cylinder, Task

MOST_CYLINDERS = 50
"""A task of competition has five to ten."""
LONGEST_LEG_M = 1_000_000.0
"""Farther apart, two cylinders are a mistake in a coordinate: the longest free flights are half of it."""
_Wrong = Callable[..., TaskFileError]


def checked_task(task: Task, direction_given: Sequence[bool], wrong: _Wrong) -> Task:
    """The task with every direction known, once it has been found to be one that can be flown.

    `wrong(found, advice, key, block)` makes the error; block 1 is the first cylinder.
    """
    _check_roles(task.cylinders, wrong)
    _check_times(task, wrong)
    _check_places(task.cylinders, wrong)
    return replace(task, cylinders=_with_directions(task.cylinders, direction_given))


def _check_roles(cylinders: Sequence[Cylinder], wrong: _Wrong) -> None:
    """One start, one goal, in the order launch, start, turnpoints and end of the speed section, goal."""
    roles = [cylinder.role for cylinder in cylinders]
    for role, needed in (("start", True), ("goal", True), ("launch", False), ("speed_end", False)):
        at = [number for number, one in enumerate(roles, start=1) if one == role]
        if needed and not at:
            raise wrong(f"no {role}", f'give one cylinder role = "{role}"', "cylinder")
        if len(at) > 1:
            found = f'role = "{role}" stands in cylinder {at[0]} already'
            raise wrong(found, f"a task has one {role}", "role", at[1])
    if roles[-1] != "goal":
        raise wrong("a cylinder stands after the goal", "put the goal last", "role", roles.index("goal") + 2)
    first = 1 if roles[0] == "launch" else 0
    for number, role in enumerate(roles[: roles.index("start")], start=1):
        if role != "launch" or number > 1:
            advice = "the launch comes first, then the start, then the turnpoints"
            raise wrong(f"a {role} stands before the start", advice, "role", number)
    if "launch" in roles[1:]:
        raise wrong("the launch does not come first", "put it before the start", "role", roles.index("launch") + 1)
    for number, cylinder in enumerate(cylinders, start=1):
        if cylinder.is_line and cylinder.role != "goal":
            raise wrong(f"a line as {cylinder.role}", "only a goal may be a line", "line", number)
    if len(roles) - first < 2:
        raise wrong("no goal after the start", "add a goal", "cylinder")


def _check_times(task: Task, wrong: _Wrong) -> None:
    """A race opens, and closes after its last gate."""
    opens, deadline = task.start_opens_s, task.deadline_s
    if task.kind == "race" and opens is None:
        raise wrong("a race without start_opens", "add start_opens = the time of the first start gate", "kind")
    if task.kind == "elapsed" and len(task.start_gates_s) > 1:
        advice = 'leave them out, or write kind = "race"'
        raise wrong("start gates in an elapsed-time task", advice, "start_gates_s")
    if opens is None or deadline is None:
        return
    if deadline <= opens:
        raise wrong("the deadline lies before the start opens", "check both times and their offsets", "deadline")
    if deadline - opens > 2 * 86400.0:
        raise wrong("the deadline is more than two days after the start", "check both dates", "deadline")
    late = [gate for gate in task.start_gates_s if opens + gate >= deadline]
    if late:
        raise wrong(f"start gate {late[0]:g} s lies after the deadline", "check the gates", "start_gates_s")


def _check_places(cylinders: Sequence[Cylinder], wrong: _Wrong) -> None:
    """Neighbours lie on one piece of the earth, and a goal line has a leg to be square to."""
    for number in range(2, len(cylinders) + 1):
        leg_m = centres_apart_m(cylinders[number - 2], cylinders[number - 1])
        if leg_m > LONGEST_LEG_M:
            found = f"it lies {leg_m / 1000.0:.0f} km from the cylinder before it"
            raise wrong(found, "check latitude and longitude", "lat_deg", number)
    goal = cylinders[-1]
    if goal.is_line and all(centres_apart_m(one, goal) < 1.0 for one in cylinders[:-1]):
        raise wrong("a goal line without a leg to it", "give the goal another place", "line", len(cylinders))


def centres_apart_m(one: Cylinder, other: Cylinder) -> float:
    """Distance between two centres on the ellipsoid."""
    return geodesic_m(one.lat_deg, one.lon_deg, other.lat_deg, other.lon_deg)[0]


def _with_directions(cylinders: tuple[Cylinder, ...], given: Sequence[bool]) -> tuple[Cylinder, ...]:
    """The cylinders, those without a direction given the one that the geometry asks for.

    A start is left (`exit`) where the next cylinder lies outside it, else entered. A turnpoint is entered, unless
    the one before it lies wholly inside it and the next outside: then the pilot comes from within and leaves it.
    """
    found: list[Cylinder] = []
    for k, cylinder in enumerate(cylinders):
        if not given[k]:
            after = cylinders[k + 1] if k + 1 < len(cylinders) else None
            leaves = after is not None and _lies_outside(after, cylinder)
            if cylinder.role not in ("start", "launch"):
                leaves = leaves and k > 0 and _lies_within(found[k - 1], cylinder)
            cylinder = replace(cylinder, direction="exit" if leaves else "enter")
        found.append(cylinder)
    return tuple(found)


def _lies_outside(one: Cylinder, of: Cylinder) -> bool:
    """Whether the way to `one` leads out of `of`: its centre lies outside, or its circle goes all round `of`."""
    apart = centres_apart_m(one, of)
    return apart > of.radius_m or one.radius_m > apart + of.radius_m


def _lies_within(one: Cylinder, of: Cylinder) -> bool:
    """Whether the circle of `one` lies wholly inside that of `of`."""
    return centres_apart_m(one, of) + one.radius_m < of.radius_m
