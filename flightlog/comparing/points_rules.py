"""The rules of a task's points: which edition of the open formula, and the constants that organisers choose.

The formula is that of the FAI/CIVL GAP, once an annex to the Sporting Code Section 7, later its Section 7F.
Editions differ in exponents and weights, so that every result names the one it used.
"""

from __future__ import annotations

import datetime
import math
from collections.abc import Mapping
from dataclasses import dataclass, fields
from pathlib import Path

from flightlog.errors import TaskFileError

DISCIPLINES = ("paragliding", "hang_gliding")


@dataclass(frozen=True)
class Edition:
    """What one edition of the formula lays down."""

    name: str
    source: str
    time_exponent: Mapping[str, float]  # by discipline: how fast time points fall behind the fastest
    without_goal_share: Mapping[str, float]  # of time and arrival points for reaching the end of speed alone
    leading_from_task_start: bool  # else from the first start by any pilot


EDITIONS = {
    "gap-2017": Edition(
        "gap-2017",
        "FAI/CIVL GAP, annex to the Sporting Code Section 7, edition 2017 (a transcription)",
        {"paragliding": 2.0 / 3.0, "hang_gliding": 2.0 / 3.0},
        {"paragliding": 0.0, "hang_gliding": 0.0},
        leading_from_task_start=False,
    ),
    "7f-2021": Edition(
        "7f-2021",
        "FAI Sporting Code Section 7F from 2018 on: exponent 5/6 of paragliding and the 80 % of hang gliding "
        "without goal from memory; leading from the start of the task by FAI news of April 2021",
        {"paragliding": 5.0 / 6.0, "hang_gliding": 2.0 / 3.0},
        {"paragliding": 0.0, "hang_gliding": 0.8},
        leading_from_task_start=True,
    ),
}
"""By the name in the task file."""


@dataclass(frozen=True)
class PointsRules:
    """One task's rules, in the words of the `[points]` table of the task file.

    Organisers set the nominal values for a whole competition. `present` counts the pilots at launch, those who
    never took off included; None: as many as there are logs.
    """

    edition: str = "gap-2017"
    discipline: str = "paragliding"
    nominal_launch_share: float = 0.96  # of those present who take off on a good day (GAP 2017)
    nominal_distance_m: float = 50_000.0  # an average flight of a good day: every organiser has an own one
    nominal_goal_share: float = 0.25
    nominal_time_s: float = 5400.0
    minimum_distance_m: float = 5_000.0  # everybody who takes off is credited so much
    present: int | None = None
    early_start_limit_s: float = 300.0  # hang gliding: earlier than this before the gate counts as no start
    early_start_s_per_point: float = 2.0  # hang gliding: seconds early that cost one point

    @property
    def rulebook(self) -> Edition:
        """The edition itself."""
        return EDITIONS[self.edition]

    @property
    def is_paragliding(self) -> bool:
        """Paragliding or hang gliding."""
        return self.discipline == "paragliding"


_LIMITS = {
    "nominal_launch_share": (0.01, 1.0),
    "nominal_distance_m": (100.0, 2e6),
    "nominal_goal_share": (0.0, 1.0),
    "nominal_time_s": (60.0, 172_800.0),
    "minimum_distance_m": (0.0, 1e6),
    "present": (1, 10_000),
    "early_start_limit_s": (0.0, 7200.0),
    "early_start_s_per_point": (0.01, 7200.0),
}
_WORDS = {"edition": tuple(EDITIONS), "discipline": DISCIPLINES}


def points_rules(table: Mapping[str, object], path: str | Path | None = None) -> PointsRules:
    """The rules that the `[points]` table of a task file asks for; what it leaves out is as in `PointsRules`.

    Of a task: `points_rules(dict(task.points), task.file)`.

    Raises
    ------
    TaskFileError
        A key that is not known, or a value out of bounds; the message is one line and names the file.
    """
    known = {entry.name for entry in fields(PointsRules)}
    values: dict[str, object] = {}
    for key, value in table.items():
        if key not in known:
            raise TaskFileError(
                f"[points] {key[:40]!r} is not known", f"known are {', '.join(sorted(known))}", path
            )
        values[key] = _word(key, value, path) if key in _WORDS else _number(key, value, path)
    rules = PointsRules(**values)  # type: ignore[arg-type]
    if rules.nominal_distance_m <= rules.minimum_distance_m:
        found = f"[points] nominal_distance_m {rules.nominal_distance_m:g} is not above minimum_distance_m"
        raise TaskFileError(found, "an average flight is longer than what everybody is credited", path)
    return rules


def _word(key: str, value: object, path: str | Path | None) -> str:
    """One of the words that a key may hold."""
    if value not in _WORDS[key]:
        found = f"[points] {key} {_short(value)} is not known"
        raise TaskFileError(found, f"write one of {', '.join(_WORDS[key])}", path)
    return str(value)


def _number(key: str, value: object, path: str | Path | None) -> float | int:
    """A number within its bounds; a whole one where things are counted."""
    low, high = _LIMITS[key]
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise TaskFileError(f"[points] {key} {_short(value)} is no number", f"write {key} = a number", path)
    if not low <= value <= high or (key == "present" and value != int(value)):
        found = f"[points] {key} {_short(value)} lies outside {low:g} to {high:g}"
        raise TaskFileError(found, "check it and its unit", path)
    return int(value) if key == "present" else float(value)


def _short(value: object) -> str:
    """A value as it stands in a message."""
    text = value.isoformat() if isinstance(value, datetime.date | datetime.time) else repr(value)
    return text if len(text) <= 40 else f"{text[:37]}..."
