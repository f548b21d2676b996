"""The list of all reports of a folder as one page: a row a flight, with a sketch of its track."""

from __future__ import annotations

import base64
import hashlib
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from urllib.parse import quote

from flightlog import __version__
from flightlog.errors import ReportError
from flightlog.writers.display import UNKNOWN, Display, duration
from flightlog.writers.files import HEAD_BYTES, write_own
from flightlog.writers.html_page import rendered
from flightlog.writers.index_rows import FlightRow, LogRow
from flightlog.writers.words import counted

NAME = "index.html"
MARK = '<meta name="flightlog-page" content="list of reports">'
FEWEST_POINTS, MOST_POINTS_IN_ALL = 24, 100_000
"""Points of a sketch at least, and of all sketches of a page: of thousands of flights each has fewer."""
SKETCH_WIDTH, SKETCH_HEIGHT, SKETCH_EDGE = 96.0, 56.0, 4.0


@dataclass(frozen=True)
class Cell:
    """One cell: finished text, and what it is sorted by."""

    text: str
    key: str
    is_text: bool = False


@dataclass(frozen=True)
class Link:
    """One report of a log."""

    href: str
    label: str


@dataclass(frozen=True)
class IndexRow:
    """One flight, or a log without any."""

    title: str
    links: tuple[Link, ...]
    sketch: str  # points of a line, "" for none
    label: str
    cells: tuple[Cell, ...]


@dataclass(frozen=True)
class IndexColumn:
    """The head of a column."""

    label: str
    unit: str = ""
    is_text: bool = False


@dataclass(frozen=True)
class IndexPage:
    """Everything the list says."""

    title: str
    generator: str
    mark: str
    totals: str
    columns: tuple[IndexColumn, ...]
    rows: tuple[IndexRow, ...]
    script: str
    script_digest: str


def index_page(logs: Mapping[str, LogRow], endings: Mapping[str, Sequence[str]], show: Display) -> bytes:
    """The list as UTF-8 HTML; works without its script, which only sorts.

    Parameters
    ----------
    logs : mapping
        Stem of the reports' names -> the log, with its flights.
    endings : mapping
        Stem -> endings of the reports that are there.
    show : Display
        Units; clock times stand as each report has them.
    """
    zones = {flight.zone for log in logs.values() for flight in log.flights}
    shared = next(iter(zones)) if len(zones) == 1 else ""  # then it stands in the head, not in every row
    most = max(FEWEST_POINTS, MOST_POINTS_IN_ALL // max(sum(len(log.flights) for log in logs.values()), 1))
    rows = [row for stem in logs for row in _rows(stem, logs[stem], endings.get(stem, ()), show, shared, most)]
    rows.sort(key=lambda row: (float(row.cells[0].key or "inf"), row.title))
    script = _script()
    page = IndexPage(
        title="Soaring logs",
        generator=f"flightlog {__version__}",
        mark=MARK,
        totals=totals(logs.values()),
        columns=(
            IndexColumn("Take-off", shared, True),
            IndexColumn("Place", "", True),
            IndexColumn("In the air"),
            IndexColumn("Gain", show.unit("height")),
            IndexColumn("Highest", show.unit("height")),
            IndexColumn("Glide ratio"),
            IndexColumn("Go-arounds"),
            IndexColumn("Pilot", "", True),
            IndexColumn("Wing", "", True),
        ),
        rows=tuple(rows),
        script=script,
        script_digest=base64.b64encode(hashlib.sha256(script.encode()).digest()).decode(),
    )
    return rendered("reports_index.html", page)


@cache
def _script() -> str:
    """The script that sorts."""
    return (Path(__file__).parent / "reports_index.js").read_text(encoding="utf-8")


def totals(logs: Iterable[LogRow]) -> str:
    """How many logs and flights, and how long in all."""
    every = list(logs)
    flights = [flight for log in every for flight in log.flights]
    parts = [
        counted(len(every), "log"),
        counted(len(flights), "flight"),
        f"{duration(sum(flight.duration_s for flight in flights))} in the air" if flights else "",
        counted(sum(flight.go_arounds for flight in flights), "go-around") if flights else "",
    ]
    return ", ".join(part for part in parts if part)


def _rows(
    stem: str, log: LogRow, endings: Sequence[str], show: Display, shared: str, most_points: int
) -> list[IndexRow]:
    """The rows of one log."""
    people = (_text(log.pilot), _text(log.wing))
    if not log.flights:
        day = Cell(log.date or UNKNOWN, _day_key(log.date), True)
        cells = (day, Cell("no flight", "", True), *_blank(5), *people)
        return [IndexRow(log.file, _links(stem, endings, ""), "", "", cells)]
    return [
        IndexRow(
            title=log.file,
            links=_links(stem, endings, f"#flight-{flight.number}"),
            sketch=sketch_line(thinned(flight.sketch_points, most_points)),
            label=f"Track of flight {flight.number} of {log.file}",
            cells=(*_flight_cells(flight, show, shared), *people),
        )
        for flight in log.flights
    ]


def _day_key(date: str | None) -> str:
    """Where a day stands among take-offs; nowhere without a date."""
    try:
        return f"{datetime.fromisoformat(date or '').replace(tzinfo=UTC).timestamp():.0f}"
    except ValueError:
        return ""


def _blank(count: int) -> tuple[Cell, ...]:
    """Cells of what is not known."""
    return (Cell(UNKNOWN, ""),) * count


def _text(text: str | None) -> Cell:
    """A cell of words."""
    return Cell(text or UNKNOWN, (text or "").casefold(), True)


def _flight_cells(flight: FlightRow, show: Display, shared: str) -> tuple[Cell, ...]:
    """What is told of a flight."""
    place = flight.place or f"{flight.lat_deg:.3f}, {flight.lon_deg:.3f}"
    when = f"{flight.date or 'no date'} {flight.clock[:5]}" + ("" if shared else f" {flight.zone}")
    return (
        Cell(when, f"{flight.start:.3f}", True),
        Cell(place, place.casefold(), True),
        Cell(duration(flight.duration_s), f"{flight.duration_s:.1f}"),
        _figure(flight.gain_m, "height", show),
        _figure(flight.highest_m, "height", show),
        _figure(flight.glide_ratio, "ratio", show),
        Cell(str(flight.go_arounds), str(flight.go_arounds)),
    )


def _figure(value: float | None, kind: str, show: Display) -> Cell:
    """A figure in the reader's unit."""
    return Cell(show.figure(value, kind), "" if value is None else f"{value:.4f}")


def _links(stem: str, endings: Sequence[str], anchor: str) -> tuple[Link, ...]:
    """The reports of a log, the page first."""
    order = [ending for ending in ("html", "pdf", "json") if ending in endings]
    return tuple(
        Link(quote(f"{stem}.{ending}") + (anchor if ending == "html" else ""), ending.upper()) for ending in order
    )


def thinned(places: Sequence[tuple[float, float]], most: int) -> Sequence[tuple[float, float]]:
    """A track by so many of its points at most, the first and the last among them.

    >>> thinned([(0.0, 0.0), (0.1, 0.0), (0.2, 0.0), (0.3, 0.0), (1.0, 0.0)], 3)
    [(0.0, 0.0), (0.2, 0.0), (1.0, 0.0)]
    """
    if len(places) <= most:
        return places
    return [places[round(number * (len(places) - 1) / (most - 1))] for number in range(most)]


def sketch_line(places: Sequence[tuple[float, float]]) -> str:
    """A track as points of an SVG line in the sketch's box, north up.

    >>> sketch_line([(0.0, 0.0), (1.0, 0.5)])
    '4.0,50.0 92.0,6.0'
    """
    if len(places) < 2:
        return ""
    width = max(max(east for east, _ in places), 0.001)
    height = max(max(north for _, north in places), 0.001)
    inner_width, inner_height = SKETCH_WIDTH - 2 * SKETCH_EDGE, SKETCH_HEIGHT - 2 * SKETCH_EDGE
    scale = min(inner_width / width, inner_height / height)
    left, bottom = (SKETCH_WIDTH - scale * width) / 2.0, (SKETCH_HEIGHT + scale * height) / 2.0
    return " ".join(f"{left + scale * east:.1f},{bottom - scale * north:.1f}" for east, north in places)


def write_index(folder: Path, content: bytes, *, force: bool = False) -> Path:
    """Put the list into the folder of the reports; another index.html than ours is left alone."""
    path = folder / NAME
    if not force and (path.exists() or path.is_symlink()) and not _is_ours(path):
        raise ReportError(
            "a page that is no list of reports stands there, and was left alone",
            "move it away, choose another --out, or overwrite it with --force",
            path,
        )
    write_own(path, content)
    return path


def _is_ours(path: Path) -> bool:
    """Whether flightlog wrote that page, as a list of reports."""
    try:
        with path.open("rb") as file:
            head = file.read(HEAD_BYTES).decode("utf-8", "replace")
    except OSError:
        return False
    return (
        head.startswith("<!doctype html>")
        and re.search('<meta name="generator" content="flightlog [^"]*">', head) is not None
        and MARK in head
    )
