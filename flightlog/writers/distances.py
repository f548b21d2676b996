"""The best distances of a log as JSON, as GeoJSON with the courses drawn, or as lines for a terminal."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import msgspec

from flightlog.distances.figures import KINDS
from flightlog.distances.results import BestCourse, DistanceRules, FlightDistances, TurnPoint
from flightlog.errors import one_line
from flightlog.writers.display import NO_BREAK, UNKNOWN, Display
from flightlog.writers.files import write_report
from flightlog.writers.json_results import GENERATOR, POSITION_DECIMALS, Generator, encoded, iso_time, plain
from flightlog.writers.plain_text import text_table

DISTANCE_SCHEMA = "flightlog/distance/1"
ENDINGS = {"json": "distance.json", "geojson": "distance.geojson", "text": "distance.txt", "html": "distance.html"}
"""Format -> how its files are called, after the name of the log."""
LABELS = {
    "open_m": "Open distance",
    "free_3_turnpoints_m": "Free distance",
    "out_and_return_m": "Out and return",
    "triangle_m": "Triangle",
    "fai_triangle_m": "FAI triangle",
}
"""Field of the results -> the head of its row."""
TITLE = "Distances in"
"""First words of the text; with them a file is known for one of ours."""
HEAD = ("course", "distance", "start", "turnpoints", "finish", "gap")


@dataclass(frozen=True)
class DistanceDocument:
    """What `flightlog distance --to json` writes for a log."""

    schema: str
    generator: Generator
    file: str
    sha256: str
    date: str | None
    rules: DistanceRules
    flights: tuple[FlightDistances, ...]


def distance_document(
    file: str, sha256: str, date: str | None, rules: DistanceRules, flights: Sequence[FlightDistances]
) -> DistanceDocument:
    """The results of a log, ready to be written."""
    return DistanceDocument(DISTANCE_SCHEMA, GENERATOR, file, sha256, date, rules, tuple(flights))


def distance_json(document: DistanceDocument, *, indent: int = 0) -> bytes:
    """The results as UTF-8 JSON, one line unless `indent` is given; rules as in `debrief_json`."""
    return encoded(document, indent)


def courses_of(flight: FlightDistances) -> list[tuple[str, BestCourse | None]]:
    """The courses of a flight in their order, each with its field's name."""
    return [(name, getattr(flight, name)) for name in KINDS]


def distance_geojson(document: DistanceDocument) -> bytes:
    """The courses as GeoJSON (RFC 7946): a line over the turnpoints of each; triangles are closed polygons."""
    features = [
        _feature(document, flight.number, name, course)
        for flight in document.flights
        for name, course in courses_of(flight)
        if course is not None
    ]
    collection = {
        "type": "FeatureCollection",
        "schema": document.schema,
        "file": document.file,
        "sha256": document.sha256,
        "features": features,
    }
    return msgspec.json.encode(collection) + b"\n"


def _feature(document: DistanceDocument, number: int, name: str, course: BestCourse) -> dict[str, Any]:
    """One course as a feature."""
    line = [_position(point) for point in course.points]
    return {
        "type": "Feature",
        "geometry": {"type": "LineString", "coordinates": [*line, line[0]] if is_triangle(name) else line},
        "properties": {
            "name": one_line(f"{KINDS[name]}, flight {number} of {document.file}"),
            "flight": number,
            "course": name.removesuffix("_m"),
            "times": [iso_time(point.time) for point in course.points],
            **{key: plain(getattr(course, key), key) for key in ("distance_m", "gap_m", "closing_m")},
        },
    }


def _position(point: TurnPoint) -> list[float]:
    """Longitude and latitude, in the order of GeoJSON."""
    return [round(point.lon_deg, POSITION_DECIMALS), round(point.lat_deg, POSITION_DECIMALS)]


def is_triangle(name: str) -> bool:
    """Whether that field of the results holds a triangle."""
    return name in ("triangle_m", "fai_triangle_m")


def distance_lines(name: str, document: DistanceDocument, show: Display) -> list[str]:
    """Lines for a terminal: a table a flight, what is certain, and the rules."""
    when = f", {document.date}" if document.date else ""
    lines = [one_line(f"{TITLE} {name}{when}, times in {show.zone_name}")]
    if not document.flights:
        lines.append("This log holds no flight: nobody leaves the ground in it.")
    for flight in document.flights:
        lines += ["", f"Flight {flight.number}", *text_table([HEAD, *rows_of(flight, show)])]
        lines += [f"{text[:1].upper()}{text[1:]}." for text in remarks_on(flight, show)]
    lines += ["", *(f"{text[:1].upper()}{text[1:]}." for text in document.rules.definitions)]
    return lines


def remarks_on(flight: FlightDistances, show: Display) -> list[str]:
    """What the time limit left open, in words."""
    left_open = [
        f"{KINDS[name]}: the time limit ended the search; none is longer by more than "
        f"{show.with_unit(course.gap_m, 'length').replace(NO_BREAK, ' ')}"
        for name, course in courses_of(flight)
        if course is not None and not course.is_proved
    ]
    return [*flight.notes, *left_open]


def rows_of(flight: FlightDistances, show: Display) -> list[tuple[str, ...]]:
    """The table of a flight, in display units."""
    return [_row(name, course, show) for name, course in courses_of(flight)]


def _row(name: str, course: BestCourse | None, show: Display) -> tuple[str, ...]:
    """One course of the table."""
    label = LABELS[name]
    if course is None:
        return (label, "none", *[UNKNOWN] * (len(HEAD) - 2))
    inner = course.points if is_triangle(name) else course.points[1:-1]
    start, finish = course.start or course.points[0], course.finish or course.points[-1]
    return (
        label,
        show.with_unit(course.distance_m, "distance"),
        show.clock(start.time),
        " ".join(show.clock(point.time) for point in inner) or UNKNOWN,
        show.clock(finish.time),
        UNKNOWN if course.closing_m is None else show.with_unit(course.closing_m, "length"),
    )


def distance_bytes(name: str, document: DistanceDocument, ending: str, show: Display) -> bytes:
    """The results as `text`, `json` or `geojson`, with a line break at its end."""
    if ending == "json":
        return distance_json(document) + b"\n"
    if ending == "geojson":
        return distance_geojson(document)
    return ("\n".join(distance_lines(name, document, show)) + "\n").encode()


def write_distances(content: bytes, path: Path, sha256: str, *, force: bool = False) -> Path:
    """Put the results of the log with that digest where `path` says.

    An earlier file about the same log is renewed; another file there is left alone unless `force` is given.

    Raises
    ------
    ReportError
        A file that is none of ours stands there, or it cannot be written.
    """
    return write_report(path, content, sha256, force=force or _is_about(path, sha256))


def _is_about(path: Path, sha256: str) -> bool:
    """Whether that file is one of this writer's about that log."""
    if not path.is_file():
        return False
    with path.open("rb") as file:
        head = file.read(500)
    starts = (f'{{"type":"FeatureCollection","schema":"{DISTANCE_SCHEMA}"', f"{TITLE} ")
    return head.startswith(starts[1].encode()) or (head.startswith(starts[0].encode()) and sha256.encode() in head)
