"""The season review on paper: the same content as its web page, in the same order."""

from __future__ import annotations

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
from flightlog.writers.season_page import SeasonPage

ROOM_FOR_TABLES_MM = 400.0
"""Height for the tables of one part."""
MOST_ODDITIES = 40


def pdf_season(page: SeasonPage, *, keyword: str, paper: str = "a4") -> bytes:
    """The page as PDF; paper is `a4` or `letter`. The same page gives the same bytes."""
    blocks: list[Block] = [facts_block(page.facts)]
    for section in page.sections:
        blocks += [heading(section.title)]
        if section.story:
            blocks.append(text_block(section.story))
        if section.charts:
            blocks.append(charts_block(section.charts))
        blocks += table_blocks(section.tables, ROOM_FOR_TABLES_MM)
        if section.quiet:
            blocks.append(text_block(section.quiet, is_quiet=True))
    if page.problems.rows:
        blocks += [
            heading(page.problems.title),
            table_block(page.problems, has_title=False, most_rows=MOST_ODDITIES),
        ]
    blocks += [heading("Before you lean on a figure"), list_block(page.cautions)]
    return pdf_bytes(
        Document(
            title=page.title,
            subtitle=page.subtitle,
            generator=page.generator,
            caution=page.cautions[0] if page.cautions else "",
            keywords=(page.generator, keyword),
            blocks=tuple(blocks),
        ),
        paper=paper,
    )
