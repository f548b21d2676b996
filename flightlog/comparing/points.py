"""Points of a task by the open formula: from what each pilot reached to a list, every step of it shown.

The hang-gliding editions share half of the distance points out by difficulty, from where others landed; its
constants could not be read. Here all distance points are in proportion to distance, and the result says so.
Weighted leading coefficients of later paragliding editions are not there either.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from flightlog.arrays import Floats
from flightlog.comparing.points_formula import (
    MOST_POINTS,
    Weights,
    arrival_share,
    distance_validity,
    launch_validity,
    leading_coefficient,
    leading_share,
    rounded,
    time_share,
    time_validity,
    weights,
)
from flightlog.comparing.points_rules import PointsRules
from flightlog.comparing.results import Comparison, PilotCourse, PilotResult

_NO_DIFFICULTY = (
    "All distance points are in proportion to distance: the half that hang gliding shares out by difficulty is "
    "not computed."
)


@dataclass(frozen=True)
class Scored:
    """What the formula needs to know of one pilot who took off.

    `time_s` is that of the speed section and `speed_end_s` the moment of its end, UTC seconds: None for those who
    did not get there. `early_s`: how long before the gate the start was, in hang gliding, where that costs points.
    """

    name: str
    distance_m: float
    time_s: float | None
    speed_end_s: float | None
    in_goal: bool
    leading: float | None  # coefficient
    early_s: float = 0.0


@dataclass(frozen=True)
class Validity:
    """How much of a full task it was, each 0 to 1; `day` is their product."""

    launch: float
    distance: float
    time: float
    stopped: float
    day: float


@dataclass(frozen=True)
class PilotPoints:
    """Points of one pilot; `points` is their sum in whole points, penalties taken off. Ranks share ties."""

    name: str
    rank: int
    points: int
    distance_points: float
    time_points: float
    leading_points: float
    arrival_points: float
    penalty_points: float
    leading_coefficient: float | None
    distance_m: float  # as scored, the minimum distance included


@dataclass(frozen=True)
class TaskPoints:
    """Points of a task with all that they come from; `available` are the points to be had."""

    edition: str
    source: str
    rules: PointsRules
    validity: Validity
    goal_share: float
    weights: Weights
    available_distance_points: float
    available_time_points: float
    available_leading_points: float
    available_arrival_points: float
    pilots: tuple[PilotPoints, ...]
    notes: tuple[str, ...]


def points_of(comparison: Comparison, rules: PointsRules, *, stopped: float = 1.0) -> TaskPoints:
    """Points of the pilots compared on a task.

    Parameters
    ----------
    comparison : Comparison
        From `compare_pilots`. Pilots without a take-off in their log did not fly.
    rules : PointsRules
        From the `[points]` table of the task file, by `points_rules`.
    stopped : float
        Validity of a task stopped in flight, from `stopped_validity`; 1: it was not stopped.

    Returns
    -------
    TaskPoints
        Every pilot who took off, by points. Starts before the gate are no starts here: the comparison gives them
        no distance beyond the start, as in paragliding.
    """
    flew = [pilot for pilot in comparison.pilots if pilot.takeoff is not None]
    courses = {course.name: course for course in comparison.courses}
    ends = [pilot.speed_end.timestamp() for pilot in flew if pilot.speed_end is not None]
    zero_s = _leading_zero_s(comparison, flew, rules)
    section_m = comparison.task.speed_section_m
    scored = [
        Scored(
            name=pilot.name,
            distance_m=pilot.distance_m,
            time_s=pilot.task_time_s,
            speed_end_s=None if pilot.speed_end is None else pilot.speed_end.timestamp(),
            in_goal=pilot.goal is not None,
            leading=_leading(pilot, courses.get(pilot.name), section_m, zero_s, max(ends, default=None)),
        )
        for pilot in flew
    ]
    present = len(comparison.pilots) if rules.present is None else max(rules.present, len(flew))
    return score(scored, rules, present=present, task_distance_m=comparison.task.distance_m, stopped=stopped)


def _leading_zero_s(comparison: Comparison, flew: Sequence[PilotResult], rules: PointsRules) -> float | None:
    """When leading begins to count: the start of the task, or the first start of anybody, as the edition says."""
    starts = [pilot.started.timestamp() for pilot in flew if pilot.started is not None]
    if not starts:
        return None
    task = comparison.task
    if rules.rulebook.leading_from_task_start and task.gates:
        return task.gates[0].timestamp()
    return min(starts)


def _leading(
    pilot: PilotResult,
    course: PilotCourse | None,
    section_m: float,
    zero_s: float | None,
    last_end_s: float | None,
) -> float | None:
    """The leading coefficient of one pilot; None for those who did not start."""
    if course is None or zero_s is None or pilot.started is None or not section_m > 0.0:
        return None
    landed_s = pilot.landing.timestamp() if pilot.landing else float(course.time_s[-1])
    end_s = max(landed_s, last_end_s or landed_s)
    flown = course.time_s >= pilot.started.timestamp()
    return leading_coefficient(
        course.time_s[flown] - zero_s, course.to_speed_end_m[flown], section_m, end_s - zero_s
    )


def score(
    pilots: Sequence[Scored], rules: PointsRules, *, present: int, task_distance_m: float, stopped: float = 1.0
) -> TaskPoints:
    """Points of the pilots who took off, `present` being all who were there to fly.

    Pure arithmetic: the same pilots in another order get the same points.
    """
    distance_m = np.array([_credited_m(pilot, rules) for pilot in pilots])
    ended = [pilot for pilot in pilots if pilot.time_s is not None and not _is_no_start(pilot, rules)]
    best_time_s = min((pilot.time_s for pilot in ended if pilot.time_s is not None), default=None)
    best_m = float(distance_m.max(initial=0.0))
    goals = sum(pilot.in_goal and not _is_no_start(pilot, rules) for pilot in pilots)
    goal_share = goals / len(pilots) if pilots else 0.0
    validity = _validity(pilots, distance_m, best_time_s, best_m, rules, present, stopped)
    shares = weights(goal_share, best_m, task_distance_m, is_paragliding=rules.is_paragliding)
    full = MOST_POINTS * validity.day
    timed = full if ended else 0.0
    available = (full * shares.distance, timed * shares.time, full * shares.leading, timed * shares.arrival)
    parts = np.stack(
        (
            available[0] * (distance_m / best_m if best_m > 0.0 else distance_m),
            available[1] * _time_shares(pilots, best_time_s, rules),
            available[2] * _leading_shares(pilots, rules),
            available[3] * _arrival_shares(pilots, ended, rules),
        )
    )
    return TaskPoints(
        edition=rules.edition,
        source=rules.rulebook.source,
        rules=rules,
        validity=validity,
        goal_share=goal_share,
        weights=shares,
        available_distance_points=available[0],
        available_time_points=available[1],
        available_leading_points=available[2],
        available_arrival_points=available[3],
        pilots=_ranked(pilots, distance_m, parts, rules),
        notes=() if rules.is_paragliding else (_NO_DIFFICULTY,),
    )


def _is_no_start(pilot: Scored, rules: PointsRules) -> bool:
    """Whether a start was too early to count as one."""
    return pilot.early_s > (0.0 if rules.is_paragliding else rules.early_start_limit_s)


def _credited_m(pilot: Scored, rules: PointsRules) -> float:
    """Distance as scored: at least the minimum distance, and no more after a start too early to count."""
    return (
        rules.minimum_distance_m if _is_no_start(pilot, rules) else max(pilot.distance_m, rules.minimum_distance_m)
    )


def _validity(
    pilots: Sequence[Scored],
    distance_m: Floats,
    best_time_s: float | None,
    best_m: float,
    rules: PointsRules,
    present: int,
    stopped: float,
) -> Validity:
    """The validities of a task."""
    launch = launch_validity(len(pilots), present, rules.nominal_launch_share)
    distance = distance_validity(distance_m, rules)
    time = time_validity(best_time_s, best_m, rules) if pilots else 0.0
    return Validity(launch, distance, time, stopped, launch * distance * time * stopped)


def _kept_share(pilot: Scored, rules: PointsRules) -> float:
    """Share of time and arrival points kept by a pilot who ended the speed section: all in goal."""
    if pilot.time_s is None or _is_no_start(pilot, rules):
        return 0.0
    return 1.0 if pilot.in_goal else rules.rulebook.without_goal_share[rules.discipline]


def _time_shares(pilots: Sequence[Scored], best_time_s: float | None, rules: PointsRules) -> Floats:
    """Share of the time points of each pilot."""
    if best_time_s is None or not best_time_s > 0.0:
        return np.zeros(len(pilots))
    time_s = np.array([np.nan if pilot.time_s is None else pilot.time_s for pilot in pilots])
    kept = np.array([_kept_share(pilot, rules) for pilot in pilots])
    return kept * time_share(time_s, best_time_s, rules.rulebook.time_exponent[rules.discipline])


def _leading_shares(pilots: Sequence[Scored], rules: PointsRules) -> Floats:
    """Share of the leading points of each pilot."""
    known = [np.nan if pilot.leading is None or _is_no_start(pilot, rules) else pilot.leading for pilot in pilots]
    coefficients = np.array(known, dtype=np.float64)
    if not np.isfinite(coefficients).any():
        return np.zeros(len(pilots))
    return leading_share(coefficients, float(np.nanmin(coefficients)))


def _arrival_shares(pilots: Sequence[Scored], ended: Sequence[Scored], rules: PointsRules) -> Floats:
    """Share of the arrival points of each pilot; those who arrive at one moment share the better place."""
    moments = sorted(pilot.speed_end_s for pilot in ended if pilot.speed_end_s is not None)
    shares = np.zeros(len(pilots))
    for k, pilot in enumerate(pilots):
        if pilot.speed_end_s is not None and moments and _kept_share(pilot, rules):
            place = float(np.searchsorted(moments, pilot.speed_end_s)) + 1.0
            shares[k] = _kept_share(pilot, rules) * float(arrival_share(np.array(place), len(moments)))
    return shares


def _ranked(
    pilots: Sequence[Scored], distance_m: Floats, parts: Floats, rules: PointsRules
) -> tuple[PilotPoints, ...]:
    """The pilots by their points; equals by name."""
    penalties = [_penalty(pilot, rules) for pilot in pilots]
    totals = [max(float(parts[:, k].sum()) - penalty, 0.0) for k, penalty in enumerate(penalties)]
    points = [rounded(total) for total in totals]
    order = sorted(range(len(pilots)), key=lambda k: (-points[k], pilots[k].name))
    return tuple(
        PilotPoints(
            name=pilots[k].name,
            rank=1 + sum(other > points[k] for other in points),
            points=points[k],
            distance_points=float(parts[0, k]),
            time_points=float(parts[1, k]),
            leading_points=float(parts[2, k]),
            arrival_points=float(parts[3, k]),
            penalty_points=penalties[k],
            leading_coefficient=pilots[k].leading,
            distance_m=float(distance_m[k]),
        )
        for k in order
    )


def _penalty(pilot: Scored, rules: PointsRules) -> float:
    """Points lost by a start shortly before the gate, in hang gliding."""
    if rules.is_paragliding or _is_no_start(pilot, rules):
        return 0.0
    return max(pilot.early_s, 0.0) / rules.early_start_s_per_point
