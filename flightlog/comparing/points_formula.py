"""The open formula of task points, one function a step: validities, weights, and each kind of points.

Source of all of it: FAI/CIVL GAP, annex to the Sporting Code Section 7, edition 2017, in a transcription; values
of GAP 2000 agree with it. What is from memory says so. Units are SI; the formula's own hours and kilometres stand
where it needs them.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import cast

import numpy as np

from flightlog.arrays import Floats
from flightlog.comparing.points_rules import PointsRules

_HOUR_S = 3600.0
_KILOMETRE_M = 1000.0
MOST_POINTS = 1000.0
HEIGHT_BONUS_RATIO = {"paragliding": 4.0, "hang_gliding": 5.0}
"""Metres of distance for each metre above goal when a task is stopped in flight (GAP 2017)."""
PARAGLIDING_SCORE_BACK_S = 300.0
"""A task stopped in flight is scored up to so long before the announcement (GAP 2017; hang gliding: one interval
of the start gates, or 15 minutes without gates)."""
HANG_GLIDING_SCORE_BACK_S = 900.0


def launch_validity(flying: int, present: int, nominal_launch_share: float) -> float:
    """How much of a task the share of pilots who took off makes it, 0 to 1.

    >>> round(launch_validity(90, 100, 0.96), 6)
    0.987275
    """
    if present <= 0:
        return 0.0
    ratio = min(1.0, flying / (present * nominal_launch_share))
    return _share(0.027 * ratio + 2.917 * ratio**2 - 1.944 * ratio**3)


def distance_validity(distances_m: Floats, rules: PointsRules) -> float:
    """How much the distances flown make it; one entry for every pilot who took off, 0 to 1."""
    if not len(distances_m):
        return 0.0
    over_m = float(np.maximum(distances_m - rules.minimum_distance_m, 0.0).sum())
    share, nominal_m = rules.nominal_goal_share, rules.nominal_distance_m
    area_m = (share + 1.0) * (nominal_m - rules.minimum_distance_m)
    area_m += max(0.0, share * (float(distances_m.max()) - nominal_m))
    return _share(over_m / (len(distances_m) * area_m / 2.0))


def time_validity(best_time_s: float | None, best_distance_m: float, rules: PointsRules) -> float:
    """How much the time of the fastest makes it; where nobody ended the speed section, the best distance.

    >>> round(time_validity(2700.0, 0.0, PointsRules(nominal_time_s=5400.0)), 6)
    0.717625
    """
    ratio = best_distance_m / rules.nominal_distance_m
    if best_time_s is not None:
        ratio = best_time_s / rules.nominal_time_s
    ratio = min(1.0, ratio)
    return _share(-0.271 + 2.912 * ratio - 2.098 * ratio**2 + 0.457 * ratio**3)


def stopped_validity(
    distances_m: Floats, to_speed_end_m: float, landed_before: int, *, anybody_at_speed_end: bool
) -> float:
    """How much of a task is left when it was stopped in flight, 0 to 1. The formula is from memory.

    Parameters
    ----------
    distances_m : (n,) array
        Of every pilot who took off, m.
    to_speed_end_m : float
        From launch to the end of the speed section along the shortest route, m.
    landed_before : int
        Pilots who had landed before the stop.
    anybody_at_speed_end : bool
        Whether anybody had reached the end of the speed section: then the validity is 1.
    """
    if anybody_at_speed_end:
        return 1.0
    if not len(distances_m):
        return 0.0
    flown_km = distances_m / _KILOMETRE_M
    best_km = float(flown_km.max())
    left_km = max(to_speed_end_m / _KILOMETRE_M - best_km, 0.0) + 1.0
    spread = float(np.sqrt(flown_km.std() / 5.0))
    apart = float(np.sqrt((best_km - float(flown_km.mean())) / left_km * spread))
    return _share(apart + (landed_before / len(distances_m)) ** 3)


def stopped_distance_m(
    distance_m: float, height_above_goal_m: float, task_distance_m: float, discipline: str
) -> float:
    """Distance of a pilot in the air when a task was stopped: the height in hand counts, as far as goal."""
    bonus_m = HEIGHT_BONUS_RATIO[discipline] * max(height_above_goal_m, 0.0)
    return max(distance_m, min(distance_m + bonus_m, task_distance_m))


def scored_until_s(announced_s: float, discipline: str, gate_interval_s: float | None) -> float:
    """Up to which moment a stopped task is scored, when the stop was announced at `announced_s`."""
    if discipline == "paragliding":
        return announced_s - PARAGLIDING_SCORE_BACK_S
    return announced_s - (gate_interval_s or HANG_GLIDING_SCORE_BACK_S)


@dataclass(frozen=True)
class Weights:
    """How the points of a task are shared out; they add up to 1."""

    distance: float
    time: float
    leading: float
    arrival: float


def weights(goal_share: float, best_distance_m: float, task_distance_m: float, *, is_paragliding: bool) -> Weights:
    """The weights by the share of pilots who took off and reached goal.

    Paragliding has no arrival points, twice the leading points (from 2016), and where nobody made goal leading
    points by the best distance.

    >>> hang = weights(0.25, 0.0, 1.0, is_paragliding=False)
    >>> [round(1000 * share) for share in (hang.distance, hang.time, hang.leading, hang.arrival)]
    [582, 293, 73, 52]
    """
    distance = 0.9 - 1.665 * goal_share + 1.713 * goal_share**2 - 0.587 * goal_share**3
    rest = 1.0 - distance
    leading = rest / 8.0 * 1.4
    if is_paragliding:
        leading *= 2.0
        if goal_share <= 0.0:
            leading = 0.1 * min(1.0, best_distance_m / task_distance_m) if task_distance_m > 0.0 else 0.0
    arrival = 0.0 if is_paragliding else rest / 8.0
    return Weights(distance, rest - leading - arrival, leading, arrival)


def time_share(time_s: Floats, best_time_s: float, exponent: float) -> Floats:
    """Share of the time points for a time, 0 to 1; NaN gives 0.

    1 - ((t - b) / sqrt(b))^exponent, t and b in hours. The tables printed beside the formula (GAP 2000; GAP 2017)
    belong to exponent 2/3; a cube root with sqrt(b) under it, also printed, does not give them.
    """
    best_h = best_time_s / _HOUR_S
    behind = np.maximum(time_s / _HOUR_S - best_h, 0.0) / np.sqrt(best_h)
    return cast(Floats, np.nan_to_num(np.maximum(1.0 - behind**exponent, 0.0), nan=0.0))


def arrival_share(position: Floats, arrived: int) -> Floats:
    """Share of the arrival points by the order at the end of the speed section, 1 the first; the last has 0.2.

    >>> arrival_share(np.array([1.0, 5.0]), 10).round(4)
    array([1.    , 0.4057])
    """
    ahead = 1.0 - (position - 1.0) / max(arrived, 1)
    return 0.2 + 0.037 * ahead + 0.13 * ahead**2 + 0.633 * ahead**3


def leading_coefficient(time_s: Floats, to_go_m: Floats, section_m: float, end_s: float) -> float:
    """How far behind the front of the field a pilot was all the way; small is good.

    The sum over the fixes of t (D_before^2 - D^2) / (1800 L^2), where D is the shortest way left to the end of the
    speed section, never growing, and L the length of that section.

    Parameters
    ----------
    time_s : (n,) array
        Seconds since the first start (edition 2017) or the start of the task (2021), increasing. Earlier fixes
        count at 0.
    to_go_m : (n,) array
        The way left at each, m. NaN is passed over.
    section_m : float
        L, m.
    end_s : float
        For a pilot who did not get there: when the way that is left counts as flown, seconds as in `time_s`.
    """
    if not section_m > 0.0:
        return float("nan")
    known = np.isfinite(to_go_m) & np.isfinite(time_s)
    left = np.minimum.accumulate(np.clip(to_go_m[known], 0.0, section_m)) / section_m
    moments = np.maximum(time_s[known], 0.0)
    before = np.concatenate(([1.0], left[:-1]))
    flown = float((moments * (before**2 - left**2)).sum())
    last = float(left[-1]) if len(left) else 1.0
    return (flown + max(end_s, 0.0) * last**2) / 1800.0


def leading_share(coefficient: Floats, best: float) -> Floats:
    """Share of the leading points for a leading coefficient, 0 to 1: 1 for the best; NaN gives 0."""
    if not best > 0.0:
        return np.where(coefficient <= best, 1.0, 0.0)
    behind = np.maximum(coefficient - best, 0.0) / np.sqrt(best)
    return cast(Floats, np.nan_to_num(np.maximum(1.0 - behind ** (2.0 / 3.0), 0.0), nan=0.0))


def rounded(points: float) -> int:
    """Whole points, halves upwards, as the formula says.

    >>> rounded(612.5), rounded(612.49)
    (613, 612)
    """
    return int(np.floor(points + 0.5))


def _share(value: float) -> float:
    """Between 0 and 1."""
    return float(min(max(value, 0.0), 1.0))
