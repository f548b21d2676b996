"""What all rows of a table come to together: said below it, where a sentence on top of a flight leans on it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace

from flightlog.measures import climb_findings as climb_facts
from flightlog.measures import findings as facts
from flightlog.writers.display import duration
from flightlog.writers.finding_parts import Subject, claim_text, cost_text, with_interval
from flightlog.writers.page_parts import Table


def with_totals(table: Table, subject: Subject) -> Table:
    """The table with a first remark for all of it, where there is something to say."""
    said = TOTALS.get(table.title)
    total = said(subject) if said else ""
    return replace(table, remarks=(total, *table.remarks)) if total else table


def _claim(subject: Subject) -> str:
    """How the glides stand beside the maker's polar."""
    if subject.claim is None:
        return ""
    return (
        f"Beside the maker's polar, leaning on neither maker nor class: {claim_text(subject.claim, subject.show)}"
    )


def _glides(subject: Subject) -> str:
    """The glide ratios of all glides."""
    flight, show = subject.flight, subject.show
    ground, air = flight.performance.glide_ratio_ground, flight.performance.glide_ratio_air
    if ground is None:
        return ""
    text = f"All glides: ratio {show.estimate(ground, 'ratio')} over the ground"
    return f"{text}, {show.estimate(air, 'ratio')} through the air that was met" if air else text


def _thermals(subject: Subject) -> str:
    """What the ways in and out cost, and how long the climbs were weak."""
    flight, show = subject.flight, subject.show
    ways, weak = climb_facts.ways_in_and_out(flight), climb_facts.weak_climbing(flight)
    parts = []
    if ways is not None:
        parts.append(
            f"the ways into and out of {ways.climbs} took {duration(ways.seconds_s)} and cost"
            f" {with_interval(ways.cost, 'height', show)}"
        )
    if weak is not None:
        parts.append(f"weak for {duration(weak.weak_s)} of {duration(weak.circling_s)}")
    return f"All together: {'; '.join(parts)}" if parts else ""


def _speeds(subject: Subject) -> str:
    """What was surely lost, over the glides on which that is clear."""
    flight, show = subject.flight, subject.show
    time, height = facts.speed_cost(flight, "time"), facts.speed_cost(flight, "height")
    parts = []
    if time is not None:
        lost = cost_text(time, "time", show)
        parts.append(f"{lost} on {time.glides} of {time.of} held against the next climb")
    if height is not None:
        lost = cost_text(height, "height", show)
        parts.append(f"{lost} on {height.glides} of {height.of} held against the best glide")
    return f"Lost where the interval leaves out nought: {'; '.join(parts)}" if parts else ""


TOTALS: Mapping[str, Callable[[Subject], str]] = {
    "Glides": _glides,
    "Thermals in detail": _thermals,
    "Speed to fly": _speeds,
    "Sink polar": _claim,
}
"""Title of a table -> what is said of all of it."""
