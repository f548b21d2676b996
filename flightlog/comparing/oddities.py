"""What is odd about the logs of a task: too early, passed by, cut short, a clock that is wrong."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime
from statistics import median

from flightlog.comparing.pilots import PilotRecord
from flightlog.comparing.results import Problem
from flightlog.comparing.words import span_of
from flightlog.tasks.task import Task

DAY_S, HOUR_S = 86400.0, 3600.0
BEFORE_START_S, AFTER_START_S = 6 * HOUR_S, 14 * HOUR_S
"""A log of the day of the task lies within so long of its start, the deadline unknown."""
LATE_TAKEOFF_S = 45 * 60.0
"""After everybody else by so much: late, or a clock that is an hour ahead."""
WHOLE_HOUR_S = 20 * 60.0
FEWEST_OTHERS = 2
LONG_STEP_S = 15.0
"""Between the two fixes about a crossing: a gap of the recording (longest_bridge_s)."""


def pilot_problems(record: PilotRecord, others: Sequence[PilotRecord], task: Task) -> list[Problem]:
    """Everything odd about one log on the task, the gravest first."""
    clock = _clock(record, others, task)
    found = [*(clock or _start(record, task)), *_way(record, task), *_log(record, task)]
    return [Problem(record.file, code, message) for code, message in found]


def _clock(record: PilotRecord, others: Sequence[PilotRecord], task: Task) -> list[tuple[str, str]]:
    """A clock a day or some hours off."""
    days = _days_off(record, others, task)
    if days:
        what = f"{abs(days)} day{'s' if abs(days) != 1 else ''} {'after' if days > 0 else 'before'}"
        message = f"the log is dated {what} the task: is it the right log, and is its date right? (--date sets it)"
        return [("clock_day_off", message)]
    hours = _hours_off(record, others, task)
    if hours:
        ahead = "ahead" if hours > 0 else "behind"
        message = (
            f"its times look {abs(hours)} h {ahead}: with its clock put right, this log would fit the task; "
            "IGC and GPX times are UTC"
        )
        return [("clock_hour_off", message)]
    return []


def _days_off(record: PilotRecord, others: Sequence[PilotRecord], task: Task) -> int:
    """Whole days between the log and the task, by the task's times or else by the other logs; 0: none."""
    if task.start_opens_s is not None:
        reference = task.start_opens_s
    elif len(others) >= FEWEST_OTHERS:
        reference = median(other.first_fix_s for other in others)
    else:
        return 0
    latest = task.deadline_s or reference + AFTER_START_S
    if record.first_fix_s <= latest and record.last_fix_s >= reference - BEFORE_START_S:
        return 0
    middle = 0.5 * (record.first_fix_s + record.last_fix_s)
    return round((middle - 0.5 * (reference + min(latest, reference + 6 * HOUR_S))) / DAY_S)


def _hours_off(record: PilotRecord, others: Sequence[PilotRecord], task: Task) -> int:
    """Whole hours by which the clock seems wrong; 0: none."""
    early_s = record.progress.early_s
    times = [other.takeoff_s for other in others if other.takeoff_s is not None and other.progress.reached]
    if record.takeoff_s is None or len(times) < FEWEST_OTHERS:
        return 0
    late_s = record.takeoff_s - max(times)
    apart_s = record.takeoff_s - median(times)
    hours = round(apart_s / HOUR_S)
    fits = abs(apart_s - hours * HOUR_S) < WHOLE_HOUR_S
    if early_s is not None and apart_s < 0 and fits and min(times) - record.takeoff_s > LATE_TAKEOFF_S:
        return hours
    if late_s > LATE_TAKEOFF_S and fits:
        last_gate_s = task.gates_s[-1] if task.gates_s else None
        took_off_late = last_gate_s is None or record.takeoff_s > last_gate_s or not record.progress.reached
        return hours if took_off_late or late_s > 2 * LATE_TAKEOFF_S else 0
    return 0


def _start(record: PilotRecord, task: Task) -> list[tuple[str, str]]:
    """No start, or one before its time."""
    if record.progress.reached:
        return []
    early_s = record.progress.early_s
    if early_s is not None:
        when = f"crossed the start {span_of(early_s)} before it opened and not again"
        return [("early_start", f"{when}: no start, and no distance beyond it")]
    name = task.cylinders[task.start].name
    return [("no_start", f"the start ({name}) was never crossed in its direction within the times of the task")]


def _way(record: PilotRecord, task: Task) -> list[tuple[str, str]]:
    """Cylinders passed by, crossings that hang on the tolerance or on a gap."""
    found = []
    for cylinder, off_m in record.missed:
        name = task.cylinders[cylinder].name
        where = f"the nearest fix lies {off_m:.0f} m from its boundary"
        found.append(("missed_turnpoint", f"{name} was not reached: {where}; later cylinders do not count"))
    for reached in record.progress.reached:
        name = task.cylinders[reached.cylinder].name
        if reached.in_band:
            found.append(("reached_by_tolerance", f"{name} was reached within the tolerance only"))
        if reached.step_s > LONG_STEP_S:
            message = f"{name}: {reached.step_s:.0f} s between the fixes about the crossing; its time is unsure"
            found.append(("gap_at_cylinder", message))
    return found


def _log(record: PilotRecord, task: Task) -> list[tuple[str, str]]:
    """A log that does not hold the whole flight, or goes on after the end."""
    found = []
    reached = record.progress.reached
    in_goal = bool(reached) and reached[-1].cylinder == len(task.cylinders) - 1
    if record.starts_in_air:
        late = "" if reached else "; a start before that is not in it"
        found.append(("log_starts_late", f"the log begins in flight at {_clock_of(record.first_fix_s)} UTC{late}"))
    if record.ends_in_air and not in_goal:
        message = f"the log ends in flight at {_clock_of(record.last_fix_s)} UTC; what came after is not counted"
        found.append(("log_ends_early", message))
    if record.flights_after and reached and not in_goal:
        found.append(
            ("landed_between", "the pilot landed and flew again; what came after the landing is not counted")
        )
    if task.deadline_s is not None and record.last_fix_s > task.deadline_s and reached and not in_goal:
        message = (
            f"still flying at the deadline ({_clock_of(task.deadline_s)} UTC); what came after is not counted"
        )
        if record.landing is not None and record.landing.timestamp() > task.deadline_s:
            found.append(("after_deadline", message))
    return found


def _clock_of(time_s: float) -> str:
    """Clock time, UTC."""
    return datetime.fromtimestamp(round(time_s), UTC).strftime("%H:%M:%S")
