"""Values as JSON: the published names, rounded by their units, null for what is not known; loads no analysis."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import cache
from typing import Any

import msgspec

from flightlog import __version__

DECIMALS = {
    "mps": 3,
    "mps2": 3,
    "m": 2,
    "s": 2,
    "deg": 2,
    "degps": 2,
    "kg": 2,
    "kgm3": 4,
    "ratio": 3,
    "share": 4,
}
"""Decimals written, by the unit that ends the key: a tenth or less of what any measure can resolve."""
POSITION_DECIMALS = 7
"""Of keys that end in `lat_deg` or `lon_deg`: 11 mm on the ground (RFC 7946, section 11.2, finds six enough)."""
OTHER_DECIMALS = 3


@dataclass(frozen=True)
class Generator:
    """The program that wrote the document."""

    name: str
    version: str


GENERATOR = Generator("flightlog", __version__)


def encoded(document: object, indent: int) -> bytes:
    """A document of dataclasses as JSON, one line unless `indent` is given."""
    data = msgspec.json.encode(_rounded(_built_in(document), ""))
    return msgspec.json.format(data, indent=indent) + b"\n" if indent else data


def iso_time(moment: datetime) -> str:
    """ISO 8601 in UTC with Z; hundredths of a second where it is not a whole one.

    >>> iso_time(datetime(2026, 6, 14, 11, 2, 3, 250_000, UTC))
    '2026-06-14T11:02:03.25Z'
    """
    utc = moment if moment.tzinfo is UTC else moment.astimezone(UTC)
    hundredths = round(utc.microsecond / 10_000)
    if hundredths == 100:
        utc, hundredths = utc + timedelta(microseconds=1_000_000 - utc.microsecond), 0
    fraction = f".{hundredths:02d}".rstrip("0") if hundredths else ""
    return f"{utc.isoformat()[:19]}{fraction}Z"


@cache
def decimals_of(key: str) -> int:
    """Decimals written for the numbers under a key.

    >>> decimals_of("lat_deg"), decimals_of("end_lon_deg"), decimals_of("gain_m"), decimals_of("turns")
    (7, 7, 2, 3)
    """
    if key.endswith(("lat_deg", "lon_deg")):
        return POSITION_DECIMALS
    return DECIMALS.get(key.rpartition("_")[2], OTHER_DECIMALS)


def plain(value: Any, key: str = "") -> Any:
    """The value as dict, list, string, number or None, ready for JSON; numbers rounded as their key asks.

    An estimate that is not finite becomes None as a whole; arrays and numpy scalars become lists and numbers.

    >>> plain(1 / 3, "gain_m"), plain(math.nan, "gain_m")
    (0.33, None)
    """
    return _built_in(_rounded(_built_in(value), key), builtin_types=())


def _built_in(value: Any, builtin_types: tuple[type, ...] = (datetime,)) -> Any:
    """Dataclasses as dicts and numpy as lists and numbers, unrounded; times as they are, or as text."""
    return msgspec.to_builtins(value, builtin_types=builtin_types, enc_hook=lambda found: found.tolist())


class _Scales(dict[str, float]):
    """Key -> the number of steps in one, to which its numbers are rounded."""

    def __missing__(self, key: str) -> float:
        """A key that is met for the first time."""
        self[key] = 10.0 ** decimals_of(key)
        return self[key]


_SCALES = _Scales()
_FROM = "from_"
"""The field that Python allows under no other name; the document calls it `from`."""


def _rounded(value: Any, key: str) -> Any:
    """Built-in values, rounded as their keys ask, nothing else than finite; dicts are changed in place."""
    kind = type(value)
    if kind is dict:
        return _estimate(value, _SCALES[key]) if _is_estimate(value) else _with_rounded_fields(value)
    if kind is list or kind is tuple:
        return [_rounded(item, key) for item in value]
    if kind is float:
        return _number(value, _SCALES[key])
    return _time(value) if kind is datetime else value


def _with_rounded_fields(found: dict[str, Any]) -> dict[str, Any]:
    """A results object, as `_rounded`; its commonest values at once, since a long log has thousands of them."""
    if _FROM in found:
        entries = [(key.rstrip("_"), value) for key, value in found.items()]
        found.clear()
        found.update(entries)
    scales = _SCALES
    for key, value in found.items():
        kind = type(value)
        if kind is float:
            scale = scales[key]
            try:
                found[key] = round(value * scale) / scale
            except (ValueError, OverflowError):
                found[key] = _number(value, scale)
        elif kind is dict:
            found[key] = _estimate(value, scales[key]) if _is_estimate(value) else _with_rounded_fields(value)
        elif kind is datetime:
            found[key] = _time(value)
        elif kind is tuple or kind is list:
            found[key] = [_rounded(item, key) for item in value]
    return found


def _number(value: float, scale: float) -> float | None:
    """A number to the nearest step; None where it is none. Twice as fast as `round` to decimals."""
    try:
        return round(value * scale) / scale
    except (ValueError, OverflowError):
        return value if math.isfinite(value) else None


def _is_estimate(found: dict[str, Any]) -> bool:
    """Whether a dict was an estimate."""
    return len(found) == 3 and "low" in found and "value" in found


def _estimate(found: dict[str, float], scale: float) -> dict[str, Any] | None:
    """An estimate to the nearest step; None where a part of it is not known."""
    value, low, high = found["value"], found["low"], found["high"]
    try:
        return {
            "value": round(value * scale) / scale,
            "low": round(low * scale) / scale,
            "high": round(high * scale) / scale,
        }
    except (ValueError, OverflowError):
        return found if math.isfinite(value + low + high) else None


def _time(moment: datetime) -> datetime | str:
    """As `iso_time`; a whole second of UTC is left as it is, since msgspec writes it the same way."""
    return moment if moment.tzinfo is UTC and not moment.microsecond else iso_time(moment)
