"""The published JSON Schemas, drawn from the results classes.

`python -m flightlog.writers.json_schemas` writes them again into `flightlog/schemas/`; a test fails while they
are stale.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import msgspec

from flightlog.writers.book_documents import BookCheckDocument, BookFlightDocument
from flightlog.writers.book_json import (
    BookCurrencyDocument,
    BookExportDocument,
    BookListDocument,
    BookTotalsDocument,
)
from flightlog.writers.compare_json import CompareDocument
from flightlog.writers.distances import DistanceDocument
from flightlog.writers.glides import GlidesDocument
from flightlog.writers.health import CheckDocument
from flightlog.writers.json_results import DebriefDocument
from flightlog.writers.landings import PassesDocument
from flightlog.writers.season_json import SeasonDocument

SCHEMA_FOLDER = Path(__file__).parent.parent / "schemas"
DOCUMENTS: dict[str, type] = {
    "debrief-1.json": DebriefDocument,
    "check-1.json": CheckDocument,
    "distance-1.json": DistanceDocument,
    "glides-1.json": GlidesDocument,
    "compare-1.json": CompareDocument,
    "passes-1.json": PassesDocument,
    "season-1.json": SeasonDocument,
    "book-list-1.json": BookListDocument,
    "book-totals-1.json": BookTotalsDocument,
    "book-flight-1.json": BookFlightDocument,
    "book-currency-1.json": BookCurrencyDocument,
    "book-check-1.json": BookCheckDocument,
    "book-export-1.json": BookExportDocument,
}

CHOICES = {
    "LogSummary.altitude_source": ("pressure", "gnss"),
    "LogSummary.format": ("igc", "gpx"),
    "CheckDocument.format": ("igc", "gpx"),
    "PhaseRow.kind": ("launch_run", "climb", "glide", "search", "approach"),
    "PhaseRow.mode": ("circling", "ridge", "straight", None),
    "TimePart.kind": ("launch_run", "climb", "glide", "search", "approach"),
    "TimePart.mode": ("circling", "ridge", "straight", None),
    "Climb.mode": ("circling", "ridge", "straight"),
    "Climb.turn_direction": ("left", "right", "mixed", None),
    "Event.kind": (
        "foot_launch",
        "start_of_log",
        "other",
        "top_landing",
        "landing",
        "end_of_log",
    ),
    "TaskResult.kind": ("race", "elapsed"),
    "TaskCylinder.role": ("launch", "start", "turnpoint", "speed_end", "goal"),
    "TaskCylinder.direction": ("enter", "exit"),
    "Crossing.role": ("start", "turnpoint", "speed_end", "goal"),
    "ThermalUse.turn_direction": ("left", "right", "mixed", None),
    "GlidesDocument.group_by": ("wing", "date", "note"),
    "GlidesDocument.wing_class": ("paraglider", "hang_glider", "rigid_wing", "sailplane", "unknown"),
    "PolarDifference.figure": ("best_glide_ratio", "min_sink_mps", "sink_mps"),
    "SpeedToFly.reference": ("next_climb", "best_glide_over_ground"),
    "Unsteadiness.kind": ("sink", "turn", "short_final", "speed", "tailwind", "off_course"),
    "SpeedCost.reference": ("next_climb", "best_glide_over_ground"),
    "FlightRow.takeoff_kind": ("foot_launch", "start_of_log", "other"),
    "FlightRow.landing_kind": ("top_landing", "landing", "end_of_log"),
    "ClimbRow.mode": ("circling", "ridge", "straight"),
    "ClimbRow.turn_direction": ("left", "right", "mixed", None),
    "PassRow.outcome": ("landed", "go_around"),
    "PassRow.certainty": ("sure", "possible"),
    "BookTotalsDocument.by": ("month", "year", "place", "wing"),
    "LandingRow.outcome": ("landed", "landed_elsewhere", "end_of_log"),
    "LandingRow.kind": ("top_landing", "landing", "end_of_log"),
    "Trend.verdict": ("higher", "lower", "no_change_told", None),
    "GoAroundChange.verdict": ("more", "fewer", "no_change_told", None),
    "ThermalSpot.grade": ("sure", "possible"),
    "Pass.outcome": ("landed", "go_around"),
    "Pass.certainty": ("sure", "possible"),
    "Approach.pattern": ("figure_of_eight", "circuit", "straight_in", "other"),
}
"""The words a field may hold, by class and field."""


def schema_of(file_name: str) -> dict[str, Any]:
    """JSON Schema (draft 2020-12) of one of the documents.

    Every key is required, since what is not known is written as null.
    """
    schema: dict[str, Any] = msgspec.json.schema(DOCUMENTS[file_name])
    schema = {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema}
    for name, definition in schema["$defs"].items():
        properties = definition.get("properties", {})
        for field in [field for field in properties if field.endswith("_")]:  # `from_` is written as `from`
            properties[field.rstrip("_")] = properties.pop(field)
        definition["required"] = list(properties)
        for field, entry in properties.items():
            entry.pop("default", None)
            words = CHOICES.get(f"{name}.{field}")
            if words:
                properties[field] = {"enum": list(words)}
    return schema


def schema_text(file_name: str) -> str:
    """The schema as the text that stands in its file."""
    return json.dumps(schema_of(file_name), indent=2, sort_keys=True) + "\n"


def write_schemas(folder: Path = SCHEMA_FOLDER) -> None:
    """Write all schemas into a folder."""
    folder.mkdir(exist_ok=True)
    for file_name in DOCUMENTS:
        (folder / file_name).write_text(schema_text(file_name), encoding="utf-8")


if __name__ == "__main__":
    write_schemas()
