"""Values as JSON: the published names, rounded by their units, null for what is not known; loads no analysis."""

from __future__ import annotations

import math
from dataclasses import dataclass, fields, is_dataclass
from datetime import UTC, datetime, timedelta
from functools import cache
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
    whole = utc.replace(microsecond=0, tzinfo=None) + timedelta(seconds=hundredths // 100)
    fraction = f".{hundredths % 100:02d}".rstrip("0") if hundredths % 100 else ""
    return f"{whole.isoformat()}{fraction}Z"


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
    if kind is float:  # the commonest first: a long log has thousands of them
        return round(value, decimals_of(key)) + 0.0 if math.isfinite(value) else None
    if kind in _AS_THEY_ARE:
        return value
    if kind is Estimate:
        parts = {name: plain(getattr(value, name), key) for name in ("value", "low", "high")}
        return None if None in parts.values() else parts
    if kind is datetime:
        return iso_time(value)
    if is_dataclass(kind):
        return {written: plain(getattr(value, name), name) for name, written in _names(kind)}
    if isinstance(value, tuple | list):
        return [plain(item, key) for item in value]
    if isinstance(value, str | int):  # members of enumerations and the like
        return value
    return plain(value.tolist(), key)  # numpy


_AS_THEY_ARE = frozenset({type(None), str, bool, int})


@cache
def _names(kind: type) -> tuple[tuple[str, str], ...]:
    """Field names of a results class in their order, each with the key it is written under."""
    return tuple((entry.name, entry.name.rstrip("_")) for entry in fields(kind))
