"""Values as JSON: the published names, rounded by their units, null for what is not known; loads no analysis."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, fields, is_dataclass
from datetime import UTC, datetime, timedelta
from functools import cache
from operator import attrgetter
from typing import Any

import msgspec

from flightlog import __version__
from flightlog.estimates import Estimate

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
    data = msgspec.json.encode(plain(document))
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
    """
    kind = type(value)
    if kind is float:
        return round(value, decimals_of(key)) + 0.0 if math.isfinite(value) else None
    if kind in _AS_THEY_ARE:
        return value
    if kind is Estimate:
        return _plain_estimate(value, decimals_of(key))
    if kind is datetime:
        return iso_time(value)
    if is_dataclass(kind):
        return _plain_fields(value)
    if isinstance(value, tuple | list):
        return [plain(item, key) for item in value]
    if isinstance(value, str | int):  # members of enumerations and the like
        return value
    return plain(value.tolist(), key)  # numpy


_AS_THEY_ARE = frozenset({type(None), str, bool, int})


def _plain_fields(value: Any) -> dict[str, Any]:
    """A results object as dict; its commonest values at once, since a long log has thousands of them."""
    kind: type = type(value)
    parts, entries = _layout(kind)
    found: dict[str, Any] = {}
    for part, (written, name, decimals) in zip(parts(value), entries, strict=True):
        kind = type(part)
        if kind is float:
            found[written] = round(part, decimals) + 0.0 if math.isfinite(part) else None
        elif kind in _AS_THEY_ARE:
            found[written] = part
        elif kind is Estimate:
            found[written] = _plain_estimate(part, decimals)
        else:
            found[written] = plain(part, name)
    return found


def _plain_estimate(estimate: Estimate, decimals: int) -> dict[str, float] | None:
    """An estimate as dict, None where a part of it is not known."""
    value, low, high = float(estimate.value), float(estimate.low), float(estimate.high)
    if not math.isfinite(value + low + high):
        return None
    return {
        "value": round(value, decimals) + 0.0,
        "low": round(low, decimals) + 0.0,
        "high": round(high, decimals) + 0.0,
    }


@cache
def _layout(kind: type) -> tuple[Callable[[Any], tuple[Any, ...]], tuple[tuple[str, str, int], ...]]:
    """How to get all fields of a results class, and of each the key it is written under, its name and decimals."""
    names = [entry.name for entry in fields(kind)]
    entries = tuple((name.rstrip("_"), name, decimals_of(name)) for name in names)
    if len(names) > 1:
        return attrgetter(*names), entries
    return (lambda value: tuple(getattr(value, name) for name in names)), entries
