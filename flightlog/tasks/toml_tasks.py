"""The task that a pilot writes: a TOML file with times and [[cylinder]] blocks."""

from __future__ import annotations

import datetime
import math
import re
import tomllib
from collections.abc import Callable, Mapping
from itertools import pairwise
from pathlib import Path

from flightlog.errors import TaskFileError, one_line
from flightlog.tasks.checking import MOST_CYLINDERS, checked_task
from flightlog.tasks.task import KINDS, ROLES, Cylinder, Task

MOST_BYTES = 200_000
"""A task of fifty cylinders has ten thousand."""
LONGEST_LINE = 10_000
LONGEST_NAME = 100
SMALLEST_RADIUS_M, LARGEST_RADIUS_M = 1.0, 500_000.0
_FIRST_YEAR, _LAST_YEAR = 1980, 2200  # satellite navigation time begins in 1980
_TASK_KEYS = ("name", "kind", "start_opens", "deadline", "start_gates_s", "earth", "cylinder", "points")
_CYLINDER_KEYS = ("name", "lat_deg", "lon_deg", "radius_m", "role", "direction", "line")
_KEY = re.compile(r"""\s*["']?([A-Za-z0-9_-]+)["']?\s*(?:=|\.)""")
_BLOCK = re.compile(r"""\s*\[\[?\s*["']?([A-Za-z0-9_-]+)""")
_Wrong = Callable[..., TaskFileError]


class _Lines:
    """Where the keys stand in the text, for messages: `tomllib` does not tell."""

    def __init__(self, text: str) -> None:
        self._found: dict[tuple[int, str], int] = {}
        block = 0  # 0: before the first cylinder
        for number, line in enumerate(text.splitlines(), start=1):
            head, key = _BLOCK.match(line), _KEY.match(line)
            if head:
                block += head.group(1) == "cylinder"
                self._found.setdefault((block, ""), number)
                self._found.setdefault((0, head.group(1)), number)
            elif key:
                self._found.setdefault((block, key.group(1)), number)

    def of(self, key: str, block: int = 0) -> int | None:
        """The line of a key of the task (block 0) or of a cylinder (1 is the first)."""
        return self._found.get((block, key)) or self._found.get((block, "")) or self._found.get((0, "cylinder"))


def parse_toml_task(data: bytes, path: str | Path) -> Task:
    """The task of a TOML file.

    Raises
    ------
    TaskFileError
        Not such a file, or a task that nobody could fly; the message is one line with the line of the file.
    """
    text, table = _load(data, path)
    lines = _Lines(text)

    def wrong(found: str, advice: str, key: str = "", block: int = 0) -> TaskFileError:
        where = f"cylinder {block}: " if block else ""
        return TaskFileError(where + found, advice, path, lines.of(key, block))

    _refuse_unknown(table, _TASK_KEYS, wrong, 0)
    kind = table.get("kind", "race")
    if kind not in KINDS:
        raise wrong(f"kind {_short(kind)} is not known", f"write one of {', '.join(KINDS)}", "kind")
    if table.get("earth", "wgs84") != "wgs84":
        advice = 'distances are measured on the WGS 84 ellipsoid: write earth = "wgs84"'
        raise wrong(f"earth {_short(table['earth'])} is not known", advice, "earth")
    blocks = table.get("cylinder")
    if not isinstance(blocks, list) or not blocks or not all(isinstance(block, dict) for block in blocks):
        raise wrong("no cylinders", "write [[cylinder]] blocks in the order of the task", "cylinder")
    if len(blocks) > MOST_CYLINDERS:
        found = f"{len(blocks)} cylinders, more than {MOST_CYLINDERS}"
        raise wrong(found, "no task needs so many; split it", "", MOST_CYLINDERS + 1)
    cylinders = [_cylinder(block, number, wrong) for number, block in enumerate(blocks, start=1)]
    task = Task(
        name=_name(table.get("name", Path(path).stem), wrong, 0),
        kind=str(kind),
        cylinders=tuple(cylinder for cylinder, _ in cylinders),
        start_opens_s=_moment(table, "start_opens", wrong),
        deadline_s=_moment(table, "deadline", wrong),
        start_gates_s=_gates(table.get("start_gates_s", [0]), wrong),
        file=str(path),
        points=_points(table.get("points", {}), wrong),
    )
    return checked_task(task, [given for _, given in cylinders], wrong)


def _load(data: bytes, path: str | Path) -> tuple[str, dict[str, object]]:
    """The text and the TOML document in it."""
    if len(data) > MOST_BYTES:
        raise TaskFileError(f"larger than {MOST_BYTES} bytes", "a task needs a hundred lines", path)
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise TaskFileError("no text in UTF-8", "save it as TOML in UTF-8", path, line) from error
    for number, line_text in enumerate(text.split("\n"), start=1):
        if len(line_text) > LONGEST_LINE:
            raise TaskFileError(f"a line of {len(line_text)} characters", "break it up", path, number)
    try:
        return text, tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError, ValueError) as error:
        place = re.search(r" \(at line (\d+), column \d+\)$", str(error))
        at = int(place.group(1)) if place else None
        found = str(error)[: place.start()] if place else (str(error)[:100] or "nested too deep")
        if isinstance(error, RecursionError):
            found = "nested too deep"
        advice = "check this line; a task is a TOML file, a GPX route or an IGC declaration"
        raise TaskFileError(f"no TOML: {found}", advice, path, at) from error


def _refuse_unknown(table: Mapping[str, object], keys: tuple[str, ...], wrong: _Wrong, block: int) -> None:
    """A key that is not known is a slip of the pen: say so instead of passing it over."""
    for key in table:
        if key not in keys:
            raise wrong(f"{_short(key)} is no key of a task", f"known are {', '.join(keys)}", key, block)


def _cylinder(block: Mapping[str, object], number: int, wrong: _Wrong) -> tuple[Cylinder, bool]:
    """One cylinder, and whether it names its direction."""
    _refuse_unknown(block, _CYLINDER_KEYS, wrong, number)
    role, direction, is_line = block.get("role"), block.get("direction"), block.get("line", False)
    if role not in ROLES:
        found = "no role" if role is None else f"role {_short(role)} is not known"
        raise wrong(found, f"write one of {', '.join(ROLES)}", "role", number)
    if direction not in (None, "enter", "exit"):
        advice = 'write "enter" or "exit", or leave it out'
        raise wrong(f"direction {_short(direction)} is not known", advice, "direction", number)
    if not isinstance(is_line, bool):
        raise wrong("line is neither true nor false", "write line = true for a goal line", "line", number)
    cylinder = Cylinder(
        name=_name(block.get("name", f"{role} {number}"), wrong, number),
        lat_deg=_number(block, "lat_deg", -90.0, 90.0, wrong, number),
        lon_deg=_number(block, "lon_deg", -180.0, 180.0, wrong, number),
        radius_m=_number(block, "radius_m", SMALLEST_RADIUS_M, LARGEST_RADIUS_M, wrong, number),
        role=str(role),
        direction=str(direction or "enter"),
        is_line=is_line,
    )
    return cylinder, direction is not None


def _name(value: object, wrong: _Wrong, block: int) -> str:
    """A name fit to be shown: one line of bounded length."""
    if not isinstance(value, str):
        raise wrong("name is no text", 'write name = "..."', "name", block)
    clean = one_line(value)
    if len(clean) > LONGEST_NAME:
        raise wrong(f"a name of {len(clean)} characters", f"{LONGEST_NAME} are enough", "name", block)
    return clean or "no name"


def _number(block: Mapping[str, object], key: str, low: float, high: float, wrong: _Wrong, number: int) -> float:
    """A number that must be there, within its bounds."""
    value = block.get(key)
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise wrong(f"{key} is missing or no number", f"add {key} = a number", key, number)
    if not low <= value <= high:
        raise wrong(
            f"{key} {str(value)[:20]} lies outside {low:g} to {high:g}", "check it and its unit", key, number
        )
    return float(value)


def _moment(table: Mapping[str, object], key: str, wrong: _Wrong) -> float | None:
    """A time of the task in UTC seconds; None where it has none."""
    value = table.get(key)
    if value is None:
        return None
    if isinstance(value, str):
        try:
            value = datetime.datetime.fromisoformat(value)
        except ValueError as error:
            raise wrong(f"{key} {_short(value)} is no time", "write it as 2026-06-14T11:30:00Z", key) from error
    if not isinstance(value, datetime.datetime):
        raise wrong(f"{key} is no date with a time", "write it as 2026-06-14T11:30:00Z", key)
    if value.tzinfo is None:
        raise wrong(f"{key} has no offset from UTC", "end it in Z, or in an offset such as +02:00", key)
    if not _FIRST_YEAR <= value.year < _LAST_YEAR:
        raise wrong(f"{key} in the year {value.year}", "check the date", key)
    return value.timestamp()


def _gates(value: object, wrong: _Wrong) -> tuple[float, ...]:
    """The start gates, seconds after the start opens."""
    key = "start_gates_s"
    if not isinstance(value, list) or not value or len(value) > MOST_CYLINDERS:
        raise wrong(f"{key} is no list of 1 to {MOST_CYLINDERS} numbers", f"write {key} = [0, 900, 1800]", key)
    gates: list[float] = []
    for gate in value:
        if isinstance(gate, bool) or not isinstance(gate, int | float) or not math.isfinite(gate):
            raise wrong(f"{key} holds {_short(gate)}, which is no number", "write seconds after start_opens", key)
        if not 0.0 <= gate <= 86400.0:
            raise wrong(
                f"start gate {str(gate)[:20]} lies outside 0 to 86400 s", "write seconds after start_opens", key
            )
        gates.append(float(gate))
    if any(later <= earlier for earlier, later in pairwise(gates)):
        raise wrong(f"{key} do not rise", "write each gate once, in order of time", key)
    return tuple(gates)


def _points(value: object, wrong: _Wrong) -> tuple[tuple[str, object], ...]:
    """The `[points]` table as it stands there; what it may hold is checked where points are computed."""
    if not isinstance(value, dict):
        raise wrong("points is no table", "write [points] and its keys below it, after the cylinders", "points")
    return tuple(value.items())


def _short(value: object) -> str:
    """A value of a hostile file, fit for a message."""
    text = str(value)
    return repr(text[:40] + ("..." if len(text) > 40 else ""))
