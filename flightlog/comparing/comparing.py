"""Pilots on one task, side by side: the whole comparison in one function."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import replace
from pathlib import Path

from flightlog.comparing.differences import difference
from flightlog.comparing.legs import leg_results, total_result
from flightlog.comparing.oddities import pilot_problems
from flightlog.comparing.pilots import PilotRecord, moment, pilot_record
from flightlog.comparing.results import (
    Comparison,
    Crossing,
    Difference,
    PilotCourse,
    PilotResult,
    Problem,
    RoutePoint,
    TaskCylinder,
    TaskResult,
)
from flightlog.comparing.thermals import shared_thermals
from flightlog.debriefing import Debrief
from flightlog.errors import TaskFileError
from flightlog.tasks.routes import TaskWays, ways_of
from flightlog.tasks.task import TOLERANCES, Task, Tolerance

CAUTIONS = (
    "For review after the flight only: no official result, and nothing to steer by in the air.",
    "What time went into is arithmetic, not cause: a good line shows as glide ratio or as climb.",
    "Pilots who climb or glide at other times meet other air: a part of each difference is the day's, not theirs.",
)
MOST_PILOTS = 500
"""More logs than any task has pilots."""


def compare_pilots(
    task: Task,
    debriefs: Iterable[Debrief],
    *,
    tolerance: str = "category-1",
    against: str | None = None,
) -> Comparison:
    """Compare pilots on one task: who reached what and when, leg by leg, and where the time went.

    Parameters
    ----------
    task : Task
        From `read_task`.
    debriefs : iterable of Debrief
        One a pilot; each is let go once it has been read, so that many fit into memory.
    tolerance : str
        `category-1` (0.05 % of the radius, 5 m at least) or `category-2` (0.5 %).
    against : str, optional
        Name of the pilot (or of the log) whom all are held against; the first by rank without it.

    Returns
    -------
    Comparison
        Pilots by rank. A log that never started, or is odd, has an entry in `problems`.

    Raises
    ------
    TaskFileError
        No log at all, a tolerance that is not known, or no pilot of that name.
    """
    if tolerance not in TOLERANCES:
        raise TaskFileError(f"tolerance {tolerance!r} is not known", f"write one of {', '.join(TOLERANCES)}")
    rule, ways = TOLERANCES[tolerance], ways_of(task)
    records: list[PilotRecord] = []
    for debrief in debriefs:
        records.append(pilot_record(debrief, ways, rule))
        if len(records) > MOST_PILOTS:
            raise TaskFileError(f"more than {MOST_PILOTS} logs", "compare the pilots of one task at a time")
    if not records:
        raise TaskFileError("no log to compare", "name the logs of the pilots", task.file or None)
    return comparison_of(ways, rule, _with_names(records), against)


def with_points(comparison: Comparison, task: Task) -> Comparison:
    """The comparison with points by the open formula, under the rules of the task's `[points]` table.

    Raises
    ------
    TaskFileError
        A rule that is not known, or out of bounds.
    """
    from flightlog.comparing.points import points_of
    from flightlog.comparing.points_rules import points_rules

    return replace(comparison, points=points_of(comparison, points_rules(dict(task.points), task.file or None)))


def comparison_of(
    ways: TaskWays, rule: Tolerance, records: Sequence[PilotRecord], against: str | None
) -> Comparison:
    """The comparison of pilots whose logs have been read; every name differs from the others."""
    task = ways.task
    ordered = sorted(records, key=lambda record: _order(record, task))
    ranks = _ranks(ordered, task)
    reference = _reference(ordered, against)
    differences = [] if reference is None else _differences(ordered, reference, task)
    problems: list[Problem] = []
    for record in ordered:
        problems += pilot_problems(record, [other for other in ordered if other is not record], task)
    return Comparison(
        task=_task_result(ways, rule),
        pilots=tuple(_pilot_result(record, rank, ways) for record, rank in zip(ordered, ranks, strict=True)),
        differences=tuple(differences),
        thermals=shared_thermals(ordered, ways.plane.plane),
        problems=tuple(problems),
        courses=tuple(_course(record) for record in ordered),
        cautions=CAUTIONS,
    )


def _with_names(records: Sequence[PilotRecord]) -> list[PilotRecord]:
    """The records, pilots of one name told apart by their logs, and those by numbers where even they agree."""
    counts = Counter(record.name for record in records)
    named = [
        record if counts[record.name] == 1 else replace(record, name=f"{record.name} ({record.file})")
        for record in records
    ]
    again, seen = Counter(record.name for record in named), Counter[str]()
    found = []
    for record in named:
        seen[record.name] += 1
        twice = again[record.name] > 1
        found.append(replace(record, name=f"{record.name} {seen[record.name]}") if twice else record)
    return found


def _in_goal(record: PilotRecord, task: Task) -> bool:
    """Whether the pilot reached goal."""
    reached = record.progress.reached
    return bool(reached) and reached[-1].cylinder == len(task.cylinders) - 1


def _order(record: PilotRecord, task: Task) -> tuple[float, float, str]:
    """Those in goal by their time, then the others by distance."""
    time_s = task_time_s(record, task)
    if _in_goal(record, task) and time_s is not None:
        return (0.0, round(time_s, 2), record.name)
    return (1.0, -round(record.distance_m, 1), record.name)


def _ranks(ordered: Sequence[PilotRecord], task: Task) -> list[int]:
    """1 for the first; equals share a rank, and the next one counts them all."""
    ranks: list[int] = []
    for place, record in enumerate(ordered, start=1):
        key = _order(record, task)[:2]
        same = place > 1 and key == _order(ordered[place - 2], task)[:2]
        ranks.append(ranks[-1] if same else place)
    return ranks


def task_time_s(record: PilotRecord, task: Task) -> float | None:
    """From the gate, or the own start, to the end of the speed section; None for those who did not get there."""
    progress = record.progress
    ends = [one.time_s for one in progress.reached if one.cylinder == task.speed_end]
    if not ends:
        return None
    return ends[0] - (progress.reached[0].time_s if progress.gate_s is None else progress.gate_s)


def _reference(ordered: Sequence[PilotRecord], against: str | None) -> PilotRecord | None:
    """The pilot whom all are held against."""
    if against is None:
        started = [record for record in ordered if record.progress.reached]
        return started[0] if started else None
    wanted = against.strip().casefold()
    for of in (lambda record: record.name, lambda record: record.file, lambda record: Path(record.file).stem):
        for record in ordered:
            if of(record).casefold() == wanted:
                return record
    names = ", ".join(record.name for record in ordered[:10])
    raise TaskFileError(
        f"no pilot {against[:40]!r}", f"there are {names}" + (", ..." if len(ordered) > 10 else "")
    )


def _differences(ordered: Sequence[PilotRecord], reference: PilotRecord, task: Task) -> list[Difference]:
    """Everybody else against the reference, by rank."""
    found = [difference(record, reference, task) for record in ordered if record is not reference]
    return [one for one in found if one is not None]


def _task_result(ways: TaskWays, rule: Tolerance) -> TaskResult:
    """The task as it was judged."""
    task, route = ways.task, ways.route
    return TaskResult(
        name=task.name,
        kind=task.kind,
        distance_m=ways.distance_m,
        speed_section_m=ways.speed_section_m,
        route=tuple(RoutePoint(lat, lon) for lat, lon in zip(route.lat_deg, route.lon_deg, strict=True)),
        cylinders=tuple(
            TaskCylinder(
                one.name,
                one.role,
                one.lat_deg,
                one.lon_deg,
                one.radius_m,
                one.direction,
                one.is_line,
                rule.inner_m(one.radius_m),
                rule.outer_m(one.radius_m),
                ways.to_here_m(number),
            )
            for number, one in enumerate(task.cylinders)
        ),
        start_opens=moment(task.start_opens_s),
        gates=tuple(gate for gate in map(moment, task.gates_s) if gate is not None),
        deadline=moment(task.deadline_s),
        tolerance=rule.rule,
        file=Path(task.file).name,
    )


def _pilot_result(record: PilotRecord, rank: int, ways: TaskWays) -> PilotResult:
    """One pilot as published."""
    task, progress = ways.task, record.progress
    times = {reached.cylinder: moment(reached.time_s) for reached in progress.reached}
    turnpoints = [k for k, cylinder in enumerate(task.cylinders) if cylinder.role == "turnpoint"]
    goal = len(task.cylinders) - 1
    return PilotResult(
        name=record.name,
        file=record.file,
        rank=rank,
        reached=len(progress.reached),
        started=times.get(task.start),
        turnpoints=tuple(times.get(k) for k in turnpoints),
        speed_end=times.get(task.speed_end),
        goal=times.get(goal),
        distance_m=record.distance_m,
        task_time_s=task_time_s(record, task),
        legs=leg_results(record, ways),
        gate=moment(progress.gate_s),
        takeoff=record.takeoff,
        landing=record.landing,
        crossings=tuple(
            Crossing(
                name=task.cylinders[reached.cylinder].name,
                role=task.cylinders[reached.cylinder].role,
                time=moment(reached.time_s) or record.takeoff,  # type: ignore[arg-type]
                altitude_m=altitude,
                time_sd_s=reached.time_sd_s,
                in_band=reached.in_band,
            )
            for reached, altitude in zip(progress.reached, record.altitudes_m, strict=True)
        ),
        total=total_result(record, ways),
        wing=record.wing,
        sha256=record.sha256,
        to_speed_end_m=record.to_speed_end_m,
        note=None if progress.reached else "no start: see problems",
    )


def _course(record: PilotRecord) -> PilotCourse:
    """The way of one pilot for pictures and points."""
    return PilotCourse(
        record.name,
        record.time_s,
        record.lat_deg,
        record.lon_deg,
        record.altitude_m,
        record.climb_mps,
        record.to_goal_m,
        record.to_speed_end_course_m,
    )
