"""A Debrief as JSON: the published names, SI units, null for what is not known.

History of `schema`: `flightlog/debrief/1` and `flightlog/check/1` are the first. Keys are added without a new
number; a key that is renamed, removed or given another meaning raises it.
"""

from __future__ import annotations

from dataclasses import dataclass

from flightlog.air.recorder_check import RecorderCheck
from flightlog.debriefing import Debrief, LogSummary
from flightlog.measures.results import Flight
from flightlog.writers.json_values import (
    DECIMALS,
    GENERATOR,
    POSITION_DECIMALS,
    Generator,
    decimals_of,
    encoded,
    iso_time,
    plain,
)

__all__ = [
    "DEBRIEF_SCHEMA",
    "DECIMALS",
    "GENERATOR",
    "POSITION_DECIMALS",
    "DebriefDocument",
    "Generator",
    "debrief_json",
    "decimals_of",
    "encoded",
    "iso_time",
    "plain",
]

DEBRIEF_SCHEMA = "flightlog/debrief/1"


@dataclass(frozen=True)
class DebriefDocument:
    """What `flightlog debrief --to json` writes."""

    schema: str
    generator: Generator
    log: LogSummary
    flights: tuple[Flight, ...]
    cautions: tuple[str, ...]
    recorder_check: tuple[RecorderCheck, ...] | None = None


def debrief_json(debrief: Debrief, *, indent: int = 0) -> bytes:
    """The debrief as UTF-8 JSON, one line and no line break unless `indent` is given.

    Every key of the schema is there; what is not known is null, and no value is NaN or infinite. Numbers are
    rounded by the unit that ends their key. Times are ISO 8601 with Z.
    """
    document = DebriefDocument(
        DEBRIEF_SCHEMA, GENERATOR, debrief.log, debrief.flights, debrief.cautions, debrief.recorder_check
    )
    return encoded(document, indent)
