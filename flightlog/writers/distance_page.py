"""The best distances of a log as one page that needs nothing else: a table a flight, each course on its track."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from flightlog import __version__
from flightlog.arrays import Floats
from flightlog.debriefing import Debrief
from flightlog.distances.results import BestCourse, FlightDistances, TurnPoint
from flightlog.phases.phases import FlightSpan
from flightlog.writers.display import Display, flight_count
from flightlog.writers.distances import (
    HEAD,
    LABELS,
    DistanceDocument,
    courses_of,
    is_triangle,
    remarks_on,
    rows_of,
)
from flightlog.writers.html_page import rendered
from flightlog.writers.page_parts import Chart, Column, Mark, Panel, Series, Table
from flightlog.writers.words import sentence

MOST_POINTS = 1500
"""Of the track behind a course; more would not be seen at this size."""


@dataclass(frozen=True)
class FlightCourses:
    """One flight of the page."""

    number: int
    title: str
    table: Table
    charts: tuple[Chart, ...]


@dataclass(frozen=True)
class DistancePage:
    """Everything the page says, in the order in which it says it."""

    title: str
    subtitle: str
    generator: str
    sha256: str
    flights: tuple[FlightCourses, ...]
    definitions: tuple[str, ...]


def distance_page(document: DistanceDocument, debrief: Debrief, show: Display) -> bytes:
    """The results of a log as UTF-8 HTML; the same results give the same bytes. Rules as for `html_page`."""
    return rendered("distance.html", page_of_distances(document, debrief, show))


def page_of_distances(document: DistanceDocument, debrief: Debrief, show: Display) -> DistancePage:
    """What the page says, in the reader's units."""
    when = f", {document.date}" if document.date else ""
    return DistancePage(
        title="Best distances",
        subtitle=f"{document.file}{when}, {flight_count(len(document.flights))}; times in {show.zone_name}",
        generator=f"flightlog {__version__}",
        sha256=document.sha256,
        flights=tuple(
            _flight(flight, debrief, span, show)
            for flight, span in zip(document.flights, debrief.spans, strict=True)
        ),
        definitions=tuple(sentence(text) for text in document.rules.definitions),
    )


def _flight(flight: FlightDistances, debrief: Debrief, span: FlightSpan, show: Display) -> FlightCourses:
    """One flight: its table, and a chart of each course that was flown."""
    remarks = tuple(sentence(text) for text in remarks_on(flight, show))
    columns = tuple(Column(label, is_text=label in ("course", "turnpoints")) for label in HEAD)
    track = _track(debrief, span, show)
    charts = tuple(
        _chart(flight.number, name, course, track, debrief, show)
        for name, course in courses_of(flight)
        if course is not None
    )
    table = Table("Best distances", columns, tuple(rows_of(flight, show)), remarks)
    return FlightCourses(flight.number, f"Flight {flight.number}", table, charts)


def _track(debrief: Debrief, span: FlightSpan, show: Display) -> Series:
    """The track of a flight, as far as it shows."""
    motion = debrief.motion
    shown = slice(span.first, span.stop, math.ceil(max(span.stop - span.first, 1) / MOST_POINTS))
    return Series(_shown(motion.east_m[shown], show), _shown(motion.north_m[shown], show), "search", "track")


def _shown(metres: Floats, show: Display) -> tuple[float, ...]:
    """Lengths in the unit of the chart."""
    return tuple(np.multiply(metres, show.converted(1.0, "distance")).tolist())


def _chart(number: int, name: str, course: BestCourse, track: Series, debrief: Debrief, show: Display) -> Chart:
    """One course on the track, from above, north up."""
    corners = list(course.points)
    around = [*corners, corners[0]] if is_triangle(name) else corners
    east, north = debrief.motion.plane.to_plane(
        np.array([point.lat_deg for point in around]), np.array([point.lon_deg for point in around])
    )
    line = Series(_shown(east, show), _shown(north, show), "landed", "course")
    length = show.with_unit(course.distance_m, "distance")
    start, finish = course.start or corners[0], course.finish or corners[-1]
    turns = corners if is_triangle(name) else corners[1:-1]
    marks = [_mark(point, "turnpoint", "turnpoint", debrief, show) for point in turns]
    marks = [
        _mark(start, "takeoff", "start", debrief, show), *marks, _mark(finish, "landing", "finish", debrief, show)
    ]  # fmt: skip
    panel = Panel(
        show.unit("distance"), "", series=(track, line), marks=tuple(marks), has_equal_scales=True, is_map=True
    )
    told = f"{LABELS[name]} of {length} on the track of the flight, seen from above, north up; times in the table."
    return Chart(f"flight-{number}-{name.replace('_', '-')}", f"{LABELS[name]}: {length}", told, "one", (panel,))


def _mark(point: TurnPoint, kind: str, label: str, debrief: Debrief, show: Display) -> Mark:
    """A turnpoint with its name."""
    east, north = debrief.motion.plane.to_plane(point.lat_deg, point.lon_deg)
    return Mark(show.converted(float(east), "distance"), show.converted(float(north), "distance"), kind, label)
