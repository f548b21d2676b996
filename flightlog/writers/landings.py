"""The landing review as JSON, as a table of comma-separated values, as lines for a terminal, or as a page."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from flightlog.errors import Note
from flightlog.landings.reviewing import LandingReview, ReviewedPlace
from flightlog.landings.totals import LandingRow, Try
from flightlog.writers.display import Display, flight_count
from flightlog.writers.files import is_kind, write_report
from flightlog.writers.json_results import GENERATOR, Generator, encoded, iso_time
from flightlog.writers.landing_tables import landings_table, places_table
from flightlog.writers.landing_words import NO_ADVICE, STABILISED, landing_text, tries_texts
from flightlog.writers.page_parts import Table
from flightlog.writers.plain_text import csv_text, cut, terminal_line, text_table
from flightlog.writers.words import counted, sentence

PASSES_SCHEMA = "flightlog/passes/1"
TITLE = "Landings of"
"""First words of the text; with them a file is known for one of ours."""
PAGE_MARK = '<meta name="flightlog-page" content="passes">'
FILES = {
    "text": "passes.txt",
    "json": "passes.json",
    "csv": "passes.csv",
    "html": "passes.html",
    "pdf": "passes.pdf",
}
KEYWORD = "flightlog-page-passes"
LONGEST_CELL = 40
CSV_FIELDS = (
    "landing", "date", "place", "file", "flight", "landing_outcome", "try", "outcome", "certainty", "end",
    "since_last_s", "lat_deg", "lon_deg", "lowest_height_m", "decision_height_m", "decision_distance_m",
    "ground_speed_mps", "sink_mps", "headwind_mps", "headwind_low_mps", "headwind_high_mps", "wind_from_deg",
    "wind_speed_mps", "crosswind_mps", "height_at_100_m", "off_path_at_100_m", "height_at_50_m",
    "off_path_at_50_m", "height_at_25_m", "off_path_at_25_m", "height_regained_m",
    "lowest_height_sd_m", "seconds_to_next_s", "probability",
)  # fmt: skip
STARTS = (f'{{"schema":"{PASSES_SCHEMA}"', TITLE, ",".join(CSV_FIELDS[:6]))
"""How files written here begin, pages and PDF apart."""


@dataclass(frozen=True)
class PassesDocument:
    """What `flightlog passes --to json` writes."""

    schema: str
    generator: Generator
    logs: int
    flights: int
    places: tuple[ReviewedPlace, ...]
    landings: tuple[LandingRow, ...]
    problems: tuple[Note, ...]
    cautions: tuple[str, ...]


def passes_json(review: LandingReview, *, indent: int = 0) -> bytes:
    """The review as UTF-8 JSON, one line unless `indent` is given; rules as in `debrief_json`."""
    document = PassesDocument(
        PASSES_SCHEMA,
        GENERATOR,
        review.logs,
        review.flights,
        review.places,
        review.rows,
        review.problems,
        review.cautions,
    )
    return encoded(document, indent)


def passes_csv(review: LandingReview) -> str:
    """One row a pass, and one for a landing without any, SI units; what is not known is empty."""
    text = io.StringIO()
    writer = csv.writer(text)
    writer.writerow(CSV_FIELDS)
    for row in review.rows:
        for number, one in enumerate(row.tries, start=1):
            writer.writerow([_cell(value) for value in (*_landing_cells(row), *_try_cells(number, one))])
        if not row.tries:
            blank = [None] * (len(CSV_FIELDS) - 6)
            blank[3:7] = [iso_time(row.end), None, row.lat_deg, row.lon_deg]  # type: ignore[list-item]
            writer.writerow([_cell(value) for value in (*_landing_cells(row), *blank)])
    return text.getvalue()


def _landing_cells(row: LandingRow) -> tuple[object, ...]:
    """Which landing a pass belongs to."""
    return row.number, row.date, row.place_name, row.file, row.flight, row.outcome


def _try_cells(number: int, one: Try) -> tuple[object, ...]:
    """One pass."""
    figures, detail, head = one.figures, one.figures.detail, one.figures.headwind_mps
    decision = figures.decision
    points = {point.to_go_m: point for point in detail.points} if detail else {}
    path: list[object] = []
    for to_go in (100.0, 50.0, 25.0):
        point = points.get(to_go)
        path += [point.height_m, point.off_path_m and point.off_path_m.value] if point else [None, None]
    return (
        number,
        figures.outcome,
        figures.certainty,
        iso_time(figures.end),
        one.since_last_s,
        _Degrees(one.end_lat_deg) if one.end_lat_deg is not None else None,
        _Degrees(one.end_lon_deg) if one.end_lon_deg is not None else None,
        figures.lowest_height_m,
        decision.height_m if decision else None,
        decision.distance_m if decision else None,
        figures.ground_speed_mps,
        figures.sink_mps,
        *((head.value, head.low, head.high) if head else (None, None, None)),
        detail.wind_from_deg if detail else None,
        detail.wind_speed_mps if detail else None,
        detail.crosswind_mps.value if detail and detail.crosswind_mps else None,
        *path,
        figures.height_regained_m,
        figures.lowest_height_sd_m,
        figures.seconds_to_next_s,
        figures.probability,
    )


class _Degrees(float):
    """A latitude or longitude: seven decimals."""


def _cell(value: object) -> str:
    """One cell."""
    if isinstance(value, float):
        return f"{value:.7f}" if isinstance(value, _Degrees) else f"{value:.3f}"
    return csv_text(value)


def passes_lines(review: LandingReview, display: Display) -> list[str]:
    """Lines for a terminal: places, landings, what to look at, and what to know before leaning on it."""
    flown = f"{counted(review.logs, 'log')}, {flight_count(review.flights)}"
    lines = [f"{TITLE} {flown}: {counted(len(review.rows), 'row')}", ""]
    lines += _grid(places_table(review, display))
    lines += ["", *_grid(landings_table(review.rows, display, with_place=True)), ""]
    for row in review.rows:
        if row.tries:
            date = display.date(row.end) if row.date else "no date"
            lines += [f"{row.number}  {date}, {row.place_name}: {landing_text(row)}"]
            lines += [f"   {text}" for text in tries_texts(row.tries, display)]
    if any(row.tries for row in review.rows):
        lines += ["", STABILISED, NO_ADVICE, ""]
    tables = (places_table(review, display), landings_table(review.rows, display))
    told = (
        *(remark for table in tables for remark in table.remarks),
        *(problem.message for problem in review.problems),
    )
    lines += [f"- {sentence(text)}" for text in (*told, *review.cautions)]
    return [terminal_line(line) for line in lines]


def _grid(table: Table) -> list[str]:
    """A table for a terminal, its columns one below the other; columns without anything are left out."""
    heads = [f"{column.label} {column.unit}".strip() for column in table.columns]
    rows = [heads, *([cut(cell, LONGEST_CELL) for cell in row] for row in table.rows)]
    kept = [k for k in range(len(heads)) if not table.rows or any(row[k] != "–" for row in table.rows)]
    return text_table([[row[k] for k in kept] for row in rows])


def passes_bytes(review: LandingReview, ending: str, display: Display, *, paper: str = "a4") -> bytes:
    """The review as `text`, `json`, `csv`, `html` or `pdf`; paper is `a4` or `letter`."""
    if ending == "json":
        return passes_json(review) + b"\n"
    if ending == "csv":
        return passes_csv(review).encode()
    if ending == "html":
        from flightlog.writers.landings_page import landings_page

        return landings_page(review, display)
    if ending == "pdf":
        from flightlog.writers.pdf_landings import pdf_landings

        return pdf_landings(review, display, paper=paper)
    return ("\n".join(passes_lines(review, display)) + "\n").encode("utf-8", "replace")


def write_passes(content: bytes, folder: Path, ending: str, *, force: bool = False) -> Path:
    """Write it into a folder as `passes.txt`, `passes.json`, `passes.csv`, `passes.html` or `passes.pdf`.

    An earlier file of this kind is renewed; another file there is left alone unless `force` is given.

    Raises
    ------
    ReportError
        A file that is none of ours stands there, or it cannot be written.
    """
    path = folder / FILES[ending]
    return write_report(path, content, "", force=force or is_kind(path, STARTS, PAGE_MARK, KEYWORD))


def shown_places(review: LandingReview) -> Sequence[ReviewedPlace]:
    """The places with something to show: landed at, or tried."""
    tried = {row.place for row in review.rows}
    return [place for place in review.places if place.number in tried]
