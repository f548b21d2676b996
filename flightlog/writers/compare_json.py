"""A comparison of pilots as JSON: the published names, SI units, null for what is not known."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, replace

from flightlog.comparing.points import TaskPoints
from flightlog.comparing.results import (
    PARTS,
    Comparison,
    Difference,
    LegDifference,
    Parts,
    PilotResult,
    Problem,
    SharedThermal,
    TaskResult,
)
from flightlog.writers.json_results import GENERATOR, Generator, encoded

COMPARE_SCHEMA = "flightlog/compare/1"


@dataclass(frozen=True)
class CompareDocument:
    """What `flightlog compare --to json` writes. `sha256` is that of the task, by which a report is renewed."""

    schema: str
    generator: Generator
    sha256: str
    task: TaskResult
    pilots: tuple[PilotResult, ...]
    differences: tuple[Difference, ...]
    thermals: tuple[SharedThermal, ...]
    problems: tuple[Problem, ...]
    cautions: tuple[str, ...]
    points: TaskPoints | None = None  # asked for by --points or by the task file


def compare_json(comparison: Comparison, *, indent: int = 0) -> bytes:
    """The comparison as UTF-8 JSON, one line unless `indent` is given.

    The seconds of a difference are rounded to hundredths together, so that as written, too, the parts add up to
    the total and the legs to the parts.
    """
    document = CompareDocument(
        COMPARE_SCHEMA,
        GENERATOR,
        task_sha256(comparison.task),
        comparison.task,
        comparison.pilots,
        tuple(_rounded(one) for one in comparison.differences),
        comparison.thermals,
        comparison.problems,
        comparison.cautions,
        comparison.points,
    )
    return encoded(document, indent)


def task_sha256(task: TaskResult) -> str:
    """A digest of the task itself, the same whoever flew it and however it was judged."""
    cylinders = [(one.name, one.role, one.lat_deg, one.lon_deg, one.radius_m) for one in task.cylinders]
    text = repr((task.name, task.kind, cylinders, task.start_opens, task.gates, task.deadline))
    return hashlib.sha256(text.encode("utf-8", "replace")).hexdigest()


def _rounded(found: Difference) -> Difference:
    """The difference in whole hundredths of a second."""
    legs = tuple(_rounded_leg(leg) for leg in found.legs)
    sums = {name: round(sum(round(getattr(leg.parts, name) * 100) for leg in legs)) for name in PARTS}
    parts = Parts(**{name: hundredths / 100 for name, hundredths in sums.items()})
    return replace(found, legs=legs, parts=parts, total_s=sum(sums.values()) / 100)


def _rounded_leg(leg: LegDifference) -> LegDifference:
    """One leg: its total and all parts but the largest rounded, the largest the rest of the total."""
    total = round(leg.total_s * 100)
    hundredths = {name: round(getattr(leg.parts, name) * 100) for name in PARTS}
    largest = max(PARTS, key=lambda name: abs(hundredths[name]))
    hundredths[largest] += total - sum(hundredths.values())
    parts = Parts(**{name: value / 100 for name, value in hundredths.items()})
    return replace(leg, total_s=total / 100, parts=parts)
