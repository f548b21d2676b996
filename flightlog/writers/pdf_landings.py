"""The landing review on paper: the same content as its web page, in the same order."""

from __future__ import annotations

from flightlog.landings.reviewing import LandingReview
from flightlog.writers.display import Display
from flightlog.writers.landings_page import LandingsPage, PlaceSection, page_of_landings
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

KEYWORD = "flightlog-page-passes"
"""Stands in the document, so that an earlier one is known for ours."""
ROOM_FOR_TABLES_MM = 500.0
"""Height for the tables of one place: about two pages."""
MOST_TOLD = 20
"""Landings told in sentences at one place, the latest ones: the web page tells more."""


def pdf_landings(review: LandingReview, show: Display, *, paper: str = "a4") -> bytes:
    """The review as PDF; paper is `a4` or `letter`. The same review gives the same bytes."""
    return pdf_bytes(document_of_landings(page_of_landings(review, show)), paper=paper)


def document_of_landings(page: LandingsPage) -> Document:
    """What the PDF of a landing review says."""
    blocks: list[Block] = [heading("Places")]
    if page.places:
        blocks.append(table_block(page.overview, has_title=False))
    else:
        blocks.append(text_block(["These logs hold no landing, and no try to land."]))
    for place in page.places:
        blocks += _place(place, page)
    if page.problems.rows:
        blocks += [heading(page.problems.title), table_block(page.problems, has_title=False, most_rows=40)]
    blocks += [heading("Before you lean on a figure"), list_block(page.cautions)]
    blocks += [heading("What counts as a pass, and every threshold behind it", 2), list_block(page.definition)]
    blocks.append(table_block(page.thresholds, has_title=False))
    return Document(
        title=page.title,
        subtitle=page.subtitle,
        generator=page.generator,
        caution=page.cautions[0] if page.cautions else "",
        keywords=(page.generator, KEYWORD),
        blocks=tuple(blocks),
    )


def _place(place: PlaceSection, page: LandingsPage) -> list[Block]:
    """One place: its figures, drawings, tables, and its landings in sentences."""
    blocks = [heading(place.title), facts_block(place.facts)]
    if place.note:
        blocks.append(text_block([place.note], is_quiet=True))
    if place.charts:
        blocks.append(charts_block(place.charts))
    blocks += table_blocks(place.tables, ROOM_FOR_TABLES_MM)
    if not place.stories:
        return blocks
    blocks += [heading(place.stories_title, 2), text_block([page.stabilised, page.no_advice], is_quiet=True)]
    left_out = len(place.stories) - MOST_TOLD
    if left_out > 0:
        blocks.append(
            text_block([f"The latest {MOST_TOLD}; {left_out} more stand in the web page."], is_quiet=True)
        )
    for story in place.stories[-MOST_TOLD:]:
        blocks += [heading(story.title, 3), text_block(story.lines)]
    return blocks
