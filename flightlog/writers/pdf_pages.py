"""The page of a log on paper: the same content as on the screen, in the same order."""

from __future__ import annotations

from dataclasses import fields

from flightlog.writers.page_parts import Chart, Fact, FlightSection, Page, Table
from flightlog.writers.pdf_report import (
    Document,
    charts_block,
    facts_block,
    heading,
    list_block,
    new_page,
    page_count,
    pdf_bytes,
    text_block,
)
from flightlog.writers.pdf_tables import Block, table_block, table_blocks
from flightlog.writers.pdf_texts import shown

HOW_TO_READ = (
    "Figures with a bracket, or with two small figures below them, are a best value and its 95 % interval."
    " A dash stands where the log does not tell."
)

ROOM_FOR_TABLES_MM = (860.0, 720.0, 600.0, 480.0)
"""Height for the tables of one flight: with the rest they mostly make six pages; else the next is tried."""
MOST_PAGES = 6
"""Of each flight."""

PAGE_FIELDS = frozenset(
    {
        *("title", "subtitle", "generator", "sha256", "facts", "overview", "flights"),
        *("quality", "settings", "own_settings", "cautions", "checks", "tile_host"),
    }
)
FLIGHT_FIELDS = frozenset(
    ["number", "title", "story", "facts", "charts", "tables", "looks", "look_notes", "findings", "live"]
)
"""Fields that have a place of their own in the document."""
MOST_ROWS_BEFORE_CHARTS = 8
"""The first table of a flight, where it is no longer, stands before the charts."""
MOST_ODDITIES = 40
"""Rows of the table of what was odd in the log: a page full."""


def pdf_page(page: Page, *, paper: str = "a4") -> bytes:
    """The page of one log as PDF; paper is `a4` or `letter`. The same page gives the same bytes.

    Where a flight comes to more than six pages, its long tables are shortened, which is said below them.
    """
    content = b""
    for room_mm in ROOM_FOR_TABLES_MM:
        content = pdf_bytes(document_of(page, room_mm), paper=paper)
        if page_count(content) <= MOST_PAGES * max(len(page.flights), 1):
            break
    return content


def document_of(page: Page, room_mm: float = ROOM_FOR_TABLES_MM[0]) -> Document:
    """What the PDF of a page says, with so much height for the tables of a flight."""
    blocks: list[Block] = [facts_block(page.facts), heading("Flights")]
    if page.flights:
        blocks.append(table_block(page.overview, has_title=False))
    else:
        blocks.append(text_block(["This log holds no flight: nobody leaves the ground in it."]))
    blocks.append(text_block([HOW_TO_READ], is_quiet=True))
    for number, flight in enumerate(page.flights):
        blocks += ([new_page()] if number else []) + _flight(flight, room_mm)
    blocks += other_blocks(page, PAGE_FIELDS)
    blocks += [heading(page.quality.title), table_block(page.quality, has_title=False, most_rows=MOST_ODDITIES)]
    if page.checks:
        blocks += [heading("Check against the recorder's own columns", 2), list_block(page.checks)]
    blocks += [heading("Before you lean on a figure"), list_block(page.cautions), table_block(page.own_settings)]
    return Document(
        title=page.title,
        subtitle=page.subtitle,
        generator=page.generator,
        caution=page.cautions[0] if page.cautions else "",
        keywords=(page.generator, f"log-sha256-{page.sha256}"),
        blocks=tuple(blocks),
        digest=page.sha256,
    )


def _flight(flight: FlightSection, room_mm: float) -> list[Block]:
    """One flight: what happened, its figures, charts and tables."""
    blocks = [heading(flight.title, anchor=f"flight-{flight.number}")]
    if flight.findings:
        blocks += [heading("What the flight says", 2), findings_block(flight)]
    blocks += [heading("From take-off to landing", 2), text_block(flight.story), facts_block(flight.facts)]
    first = tuple(table for table in flight.tables[:1] if len(table.rows) <= MOST_ROWS_BEFORE_CHARTS)
    blocks += table_blocks(first, room_mm)  # fills the page that the first chart leaves
    if flight.charts:
        blocks.append(charts_block(flight.charts))
    if flight.looks:
        blocks += [heading("What to look at in the approach passes", 2), text_block(flight.looks)]
        blocks.append(text_block(flight.look_notes, is_quiet=True))
    return blocks + other_blocks(flight, FLIGHT_FIELDS) + table_blocks(flight.tables[len(first) :], room_mm)


def findings_block(flight: FlightSection) -> Block:
    """What the flight says, each sentence with the title and the page of the table that shows it."""
    anchors = {table.anchor for table in flight.tables} | {f"flight-{flight.number}"}
    items = [
        {
            "text": shown(finding.text),
            "label": shown(finding.label),
            "target": finding.target if finding.target in anchors else finding.target.rpartition("-")[0],  # a row
        }
        for finding in flight.findings
    ]
    return {"kind": "findings", "items": items}


def other_blocks(part: object, known: frozenset[str]) -> list[Block]:
    """What a part of a page says in fields that have no place of their own here: nothing is lost on paper."""
    blocks: list[Block] = []
    for entry in fields(part):  # type: ignore[arg-type]
        value = getattr(part, entry.name)
        items = value if isinstance(value, tuple) else (value,)
        if entry.name in known or not items:
            continue
        title = entry.name.replace("_", " ").capitalize()
        if isinstance(value, tuple) and all(isinstance(item, str) for item in items):
            blocks += [heading(title, 2), list_block(items)]
        elif all(isinstance(item, Fact) for item in items):
            blocks += [heading(title, 2), facts_block(items)]
        elif all(isinstance(item, Table) for item in items):
            blocks += [table_block(table, most_rows=MOST_ODDITIES) for table in items]
        elif all(isinstance(item, Chart) for item in items):
            blocks.append(charts_block(items))
    return blocks
