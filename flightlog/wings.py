"""The wing: its class, weights and maker's polar, from the pilot's own TOML file."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

from flightlog.errors import WingFileError

WING_CLASSES = ("paraglider", "hang_glider", "rigid_wing", "sailplane")
"""Classes a wing file may name."""
_MOST_BYTES = 1_000_000
_BOUNDS = {  # from the smallest speed wing to a two-seat sailplane
    "empty_kg": (1.0, 1000.0),
    "all_up_kg": (20.0, 1500.0),
    "wing_area_m2": (1.0, 100.0),
    "span_m": (2.0, 40.0),
    "stall_airspeed_mps": (2.0, 40.0),
    "airspeed_mps": (2.0, 100.0),
    "sink_mps": (0.05, 30.0),
}


@dataclass(frozen=True)
class Wing:
    """A wing as its maker describes it; `polar` holds (airspeed_mps, sink_mps) at sea level, sink positive."""

    name: str
    wing_class: str
    empty_kg: float
    all_up_kg: float
    wing_area_m2: float | None = None
    span_m: float | None = None
    stall_airspeed_mps: float | None = None
    polar: tuple[tuple[float, float], ...] = ()


def is_other_wing(named: str | None, wing: Wing) -> bool:
    """Whether a log names a wing, and another one; letters count alike in both cases, and so does any space.

    >>> mine = Wing("My wing", "paraglider", 4.0, 90.0)
    >>> [is_other_wing(named, mine) for named in ("my  WING ", "Your wing", "", None)]
    [False, True, False, False]
    """
    words = (named or "").casefold().split()
    return bool(words) and words != wing.name.casefold().split()


def read_wing(path: str | Path) -> Wing:
    """The wing that a TOML file describes.

    Raises
    ------
    WingFileError
        Not such a file; the message names the key, what is wrong with it and what to do.
    """
    table = _load(Path(path))
    name, wing_class = table.get("name"), table.get("class")
    if not isinstance(name, str) or not name.strip():
        raise WingFileError("no name", 'add name = "..."', path)
    if wing_class not in WING_CLASSES:
        found = "no class" if wing_class is None else f"class {str(wing_class)[:40]!r} is not known"
        raise WingFileError(found, f"write one of {', '.join(WING_CLASSES)}", path)
    empty_kg, all_up_kg = _needed(table, "empty_kg", path), _needed(table, "all_up_kg", path)
    if all_up_kg <= empty_kg:
        found = f"all_up_kg {all_up_kg:g} is not more than empty_kg {empty_kg:g}"
        raise WingFileError(found, "all_up_kg is wing, pilot and gear together", path)
    return Wing(
        name=name.strip(),
        wing_class=str(wing_class),
        empty_kg=empty_kg,
        all_up_kg=all_up_kg,
        wing_area_m2=_optional(table, "wing_area_m2", path),
        span_m=_optional(table, "span_m", path),
        stall_airspeed_mps=_optional(table, "stall_airspeed_mps", path),
        polar=_polar(table.get("polar", []), path),
    )


def _load(path: Path) -> dict[str, object]:
    """The TOML document in a file."""
    import tomllib  # 4 ms, seldom needed

    try:
        with path.open("rb") as file:
            data = file.read(_MOST_BYTES + 1)
    except OSError as error:
        raise WingFileError(f"cannot be read ({error.strerror})", "check its name and rights", path) from error
    if len(data) > _MOST_BYTES:
        raise WingFileError(f"larger than {_MOST_BYTES} bytes", "a wing needs twenty lines", path)
    try:
        return tomllib.loads(data.decode("utf-8-sig"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError, RecursionError, ValueError) as error:
        place = re.search(r" \(at line (\d+), column \d+\)$", str(error))
        line = int(place.group(1)) if place else None
        found = str(error)[: place.start()] if place else str(error)[:100]
        raise WingFileError(f"no TOML: {found}", "check this line", path, line) from error


def _needed(table: Mapping[str, object], key: str, path: str | Path, where: str = "") -> float:
    """A number that must be there, within its bounds."""
    value = table.get(key)
    low, high = _BOUNDS[key]
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise WingFileError(f"{where}{key} is missing or no number", f"add {key} = a number", path)
    if not low <= value <= high:
        found = f"{where}{key} {str(value)[:20]} lies outside {low:g} to {high:g}"
        raise WingFileError(found, "check the number and its unit", path)
    return float(value)


def _optional(table: Mapping[str, object], key: str, path: str | Path) -> float | None:
    """A number that may be left out."""
    return None if key not in table else _needed(table, key, path)


def _polar(points: object, path: str | Path) -> tuple[tuple[float, float], ...]:
    """The [[polar]] points, slowest first; every airspeed once."""
    if not isinstance(points, list) or not all(isinstance(point, dict) for point in points):
        raise WingFileError(
            "polar is no list of points", "write [[polar]] blocks with airspeed_mps and sink_mps", path
        )
    polar = sorted(
        (_needed(point, "airspeed_mps", path, where), _needed(point, "sink_mps", path, where))
        for where, point in ((f"polar point {number}: ", point) for number, point in enumerate(points, start=1))
    )
    for slower, faster in pairwise(polar):
        if slower[0] == faster[0]:
            raise WingFileError(f"two polar points at {faster[0]:g} m/s", "keep one of them", path)
    return tuple(polar)
