"""A document of finished texts, tables and charts as PDF: set by Typst with our own template, fonts embedded."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from flightlog.errors import ReportError
from flightlog.writers.page_parts import Chart, Fact
from flightlog.writers.pdf_tables import Block
from flightlog.writers.pdf_texts import cut, drawable, font_folder, shown

TEMPLATE = Path(__file__).parent / "report.typ"
PAPERS = {"a4": "a4", "letter": "us-letter"}
"""What the user says -> how the template calls it."""
HEADER_LETTERS = 64
LETTERS_NOTE = (
    "Square brackets with U+ and a number stand for letters that the fonts of this document do not have, by their"
    " number in Unicode; the web page shows them."
)


@dataclass(frozen=True)
class Document:
    """What a PDF says: title, running lines, and its parts in order."""

    title: str
    subtitle: str
    generator: str
    caution: str  # at the foot of every page
    keywords: tuple[str, ...]
    blocks: tuple[Block, ...]
    digest: str = ""


def pdf_bytes(document: Document, *, paper: str = "a4") -> bytes:
    """The document as PDF; the same document gives the same bytes.

    Parameters
    ----------
    document : Document
        Its texts are shown as they are; nothing in them is read as markup.
    paper : str
        `a4` or `letter`.

    Raises
    ------
    ReportError
        It could not be set.
    ValueError
        No such paper.
    """
    import typst

    if paper not in PAPERS:
        raise ValueError(f"paper {paper!r} is not among {', '.join(PAPERS)}")
    data = json.dumps(_data(document, paper), allow_nan=False)
    try:
        return _set(data, ["ua-1"])  # PDF/UA-1 (ISO 14289-1): can be read aloud, in order
    except typst.TypstError:
        pass  # what that standard does not allow, such as a script that the fonts cannot join: shown as it comes
    try:
        return _set(data, [])
    except typst.TypstError as error:
        raise ReportError(
            f"the PDF could not be set ({error})", "write html, and report it with --debug"
        ) from error


def _set(data: str, standards: list[Literal["ua-1"]]) -> bytes:
    """The template with that data."""
    import typst

    return typst.compile(
        TEMPLATE,
        font_paths=[font_folder()],
        ignore_system_fonts=True,  # the same pages on every computer
        sys_inputs={"document": data},
        pdf_standards=[*standards],
        timestamp=0,
        format="pdf",
    )


def _data(document: Document, paper: str) -> dict[str, Any]:
    """All that the template is given."""
    data = {
        "paper": PAPERS[paper],
        "title": shown(document.title),
        "subtitle": shown(document.subtitle),
        "short_title": cut(drawable(document.title), HEADER_LETTERS),
        "short_subtitle": cut(drawable(document.subtitle), HEADER_LETTERS),
        "caution": cut(document.caution, 2 * HEADER_LETTERS),
        "keywords": list(document.keywords),
        "made_by": f"Made by {document.generator}"
        + (" from the log with the SHA-256 digest" if document.digest else ""),
        "digest": document.digest,
        "blocks": list(document.blocks),
        "letters_note": "",
    }
    if "[U+" in json.dumps(data):
        data["letters_note"] = LETTERS_NOTE
    return data


def page_count(content: bytes) -> int:
    """How many pages a PDF made here has.

    >>> page_count(b"%PDF-1.7 1 0 obj <</Type/Pages/Count 7/Kids[2 0 R]>>")
    7
    """
    return max((int(count) for count in re.findall(rb"/Type\s*/Pages\s*/Count\s+(\d+)", content)), default=0)


def heading(text: str, level: int = 1, *, anchor: str = "") -> Block:
    """A heading; level 1 is a part of the document, 2 a part of that. A link finds it by its anchor."""
    return {"kind": "heading", "level": level, "text": shown(text), "anchor": anchor}


def text_block(lines: Iterable[str], *, is_quiet: bool = False) -> Block:
    """Paragraphs."""
    return {"kind": "text", "lines": [shown(line) for line in lines], "is_quiet": is_quiet}


def list_block(lines: Iterable[str]) -> Block:
    """A list with a mark before each line."""
    return {"kind": "list", "lines": [shown(line) for line in lines]}


def facts_block(facts: Iterable[Fact]) -> Block:
    """Figures at a glance, four in a row."""
    items = [
        {"label": shown(fact.label), "value": shown(fact.value), "detail": shown(fact.detail)} for fact in facts
    ]
    return {"kind": "facts", "items": items}


def charts_block(charts: Sequence[Chart]) -> Block:
    """Charts: the wide ones over the whole width, the others two in a row."""
    from flightlog.writers.svg_charts import printed_svg

    items = [
        {
            "title": shown(chart.title),
            "description": shown(chart.description),
            "svg": drawable(printed_svg(chart)),
            "is_wide": chart.is_wide,
        }
        for chart in charts
    ]
    return {"kind": "charts", "items": items}


def new_page() -> Block:
    """What comes after it begins on a new page."""
    return {"kind": "new_page"}
