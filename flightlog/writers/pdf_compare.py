"""A comparison of pilots on paper: the same content as its web page, in the same order."""

from __future__ import annotations

from flightlog.comparing.results import Comparison
from flightlog.writers.compare_page import ComparePage, CompareSection, page_of_comparison
from flightlog.writers.display import Display
from flightlog.writers.pdf_report import (
    Document,
    charts_block,
    facts_block,
    heading,
    list_block,
    pdf_bytes,
    text_block,
)
from flightlog.writers.pdf_tables import Block, table_block, table_blocks

ROOM_FOR_TABLES_MM = 750.0
"""Height for the tables of one part: about three pages."""


def pdf_compare(comparison: Comparison, show: Display, *, paper: str = "a4") -> bytes:
    """The comparison as PDF; paper is `a4` or `letter`. The same comparison gives the same bytes."""
    return pdf_bytes(document_of_comparison(page_of_comparison(comparison, show)), paper=paper)


def document_of_comparison(page: ComparePage) -> Document:
    """What the PDF of a comparison says."""
    blocks: list[Block] = [facts_block(page.facts)]
    for section in page.sections:
        blocks += _section(section)
    blocks += [heading("Before you lean on a figure"), list_block(page.cautions)]
    return Document(
        title=page.title,
        subtitle=page.subtitle,
        generator=page.generator,
        caution=page.cautions[0] if page.cautions else "",
        keywords=(page.generator, f"log-sha256-{page.sha256}"),  # that of the task: by it an earlier one is known
        blocks=tuple(blocks),
    )


def _section(section: CompareSection) -> list[Block]:
    """One part; the first table of the results stands before the charts, as on the screen."""
    first = 1 if section.anchor == "results" else 0
    blocks = [heading(section.title)]
    if section.story:
        blocks.append(text_block(section.story))
    blocks += [table_block(table) for table in section.tables[:first]]
    if section.charts:
        blocks.append(charts_block(section.charts))
    blocks += table_blocks(section.tables[first:], ROOM_FOR_TABLES_MM)
    return blocks + ([text_block(section.quiet, is_quiet=True)] if section.quiet else [])
