"""A document of finished texts, tables and charts as PDF: set by Typst with our own template, fonts embedded."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from flightlog.errors import ReportError
from flightlog.writers.page_parts import Chart, Fact, Table

TEMPLATE = Path(__file__).parent / "report.typ"
PAPERS = {"a4": "a4", "letter": "us-letter"}
"""What the user says -> how the template calls it."""
MOST_FOLDED_ROWS = 24
"""Rows shown of a table that a screen folds away, for each pane: more would bury what comes after it."""
PANE_ROWS, PANE_COLUMNS, MOST_PANES = 9, 5, 2
"""A table of few columns is set in panes side by side once it has more rows than that."""
MOST_TOGETHER = 26
"""Rows of a pane that still stand on one page; longer panes go on on the next."""
MANY_COLUMNS = 13
MOST_ROWS = 400
"""Rows shown of any table, so that no log makes a book."""
MOST_LETTERS = 1200
LONGEST_WORD = 22
"""Letters after which a word may be broken anywhere: none of ours is longer, a file name may be."""
LONGEST_UNIT = 9
"""A longer one is a time zone: it stands at the top of the document, and would push a narrow column apart."""
FILLING_LETTERS = 60
"""A column of words this long takes all the room that its table leaves."""
PAIR_COLUMNS = 4
HEADER_LETTERS = 64
_ESTIMATE = re.compile(r"(\S+) \((\S+ to \S+)\)")
_SHOWN_SPACES = "\u00a0\u202f\u2009"

Block = dict[str, Any]


@dataclass(frozen=True)
class Document:
    """What a PDF says: title, running lines, and its parts in order (made by the functions below)."""

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
    import matplotlib as mpl
    import typst

    if paper not in PAPERS:
        raise ValueError(f"paper {paper!r} is not among {', '.join(PAPERS)}")
    fonts = Path(mpl.get_data_path()) / "fonts" / "ttf"
    try:
        made = typst.compile(
            TEMPLATE,
            font_paths=[fonts],
            ignore_system_fonts=True,  # the same pages on every computer
            sys_inputs={"document": json.dumps(_data(document, paper), allow_nan=False)},
            timestamp=0,
            format="pdf",
        )
    except typst.TypstError as error:
        raise ReportError(
            f"the PDF could not be set ({error})", "write html, and report it with --debug"
        ) from error
    if not isinstance(made, bytes):
        raise ReportError("the PDF could not be set", "write html, and report it with --debug")
    return made


def _data(document: Document, paper: str) -> dict[str, Any]:
    """All that the template is given."""
    return {
        "paper": PAPERS[paper],
        "title": shown(document.title),
        "subtitle": shown(document.subtitle),
        "short_title": _cut(document.title, HEADER_LETTERS),
        "short_subtitle": _cut(document.subtitle, HEADER_LETTERS),
        "caution": _cut(document.caution, 2 * HEADER_LETTERS),
        "keywords": list(document.keywords),
        "made_by": f"Made by {document.generator}"
        + (" from the log with the SHA-256 digest" if document.digest else ""),
        "digest": document.digest,
        "blocks": list(document.blocks),
    }


def heading(text: str, level: int = 1) -> Block:
    """A heading; level 1 is a part of the document, 2 a part of that."""
    return {"kind": "heading", "level": level, "text": shown(text)}


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


def table_block(table: Table, *, has_title: bool = True) -> Block:
    """A table with its head on every page; of a folded one the first rows, and how many more there are."""
    panes = MOST_PANES if len(table.columns) <= PANE_COLUMNS and len(table.rows) > PANE_ROWS else 1
    most = MOST_FOLDED_ROWS * panes if table.is_folded else MOST_ROWS
    left_out = len(table.rows) - most
    remarks = [*table.remarks]
    if left_out > 0:
        remarks.insert(0, f"{left_out} more rows stand in the web page and in the JSON of this log")
    widest = _widest_text(table) if panes == 1 else None
    columns = [
        {
            "label": shown(column.label, 12),
            "unit": shown(column.unit) if len(column.unit) <= LONGEST_UNIT else "",
            "is_text": column.is_text,
            "fills": at == widest,
        }
        for at, column in enumerate(table.columns)
    ]
    rows = [[_cell(text) for text in row] for row in table.rows[:most]]
    height = -(-len(rows) // panes)
    title = shown(table.title) if has_title else ""
    return {
        "kind": "table",
        "title": title,
        "columns": columns,
        "panes": [rows[at : at + height] for at in range(0, len(rows), height)] if rows else [],
        "is_together": panes > 1 and height <= MOST_TOGETHER,
        "is_dense": len(columns) >= MANY_COLUMNS,
        "remarks": [shown(text) for text in remarks],
    }


def _widest_text(table: Table) -> int | None:
    """The column of words that should take the room that is left; None where there are no long words."""
    lengths = {
        at: max((len(row[at]) for row in table.rows), default=0)
        for at, column in enumerate(table.columns)
        if column.is_text
    }
    widest = max(lengths, key=lambda at: lengths[at], default=None)
    return widest if widest is not None and lengths[widest] >= FILLING_LETTERS else None


def _cell(text: str) -> dict[str, str]:
    """A cell; the interval of an estimate stands below its value, in small type."""
    match = _ESTIMATE.fullmatch(text)
    value, interval = match.groups() if match else (text, "")
    return {"value": shown(value, 14), "interval": shown(interval)}


def pairs_block(table: Table) -> Block:
    """A table of names and values in small type, several side by side, to be read downwards."""
    pairs = [[shown(row[0], 40), shown(_short_number(row[1]), 14)] for row in table.rows]
    height = -(-len(pairs) // PAIR_COLUMNS)
    filled = pairs + [["", ""]] * (height * PAIR_COLUMNS - len(pairs))
    rows = [filled[at::height] for at in range(height)]
    cells = [text for row in rows for pair in row for text in pair]
    return {"kind": "pairs", "title": shown(table.title), "count": PAIR_COLUMNS, "cells": cells}


def _short_number(text: str) -> str:
    """A number with the digits that count.

    >>> _short_number("0.013888888888888888"), _short_number("hang_glider"), _short_number("25.0")
    ('0.0138889', 'hang_glider', '25.0')
    """
    try:
        return text if len(text) < 9 else f"{float(text):.6g}"
    except ValueError:
        return text


def charts_block(charts: Sequence[Chart]) -> Block:
    """Charts: the wide ones over the whole width, the others two in a row."""
    from flightlog.writers.charts import printed_svg

    items = [
        {
            "title": shown(chart.title),
            "description": shown(chart.description),
            "svg": printed_svg(chart),
            "is_wide": chart.is_wide,
        }
        for chart in charts
    ]
    return {"kind": "charts", "items": items}


def new_page() -> Block:
    """What comes after it begins on a new page."""
    return {"kind": "new_page"}


def shown(text: str, longest_word: int = LONGEST_WORD) -> str:
    r"""A text fit for paper: without what cannot be seen, not endless, and with long words that may be broken.

    >>> shown("a\x07b\u202ec"), shown("abcdef", 4) == "abcd\u200bef"
    ('a b c', True)
    """
    text = text.encode("utf-8", "replace").decode("utf-8")
    text = "".join(letter if letter.isprintable() or letter in _SHOWN_SPACES else " " for letter in text)
    text = _cut(text, MOST_LETTERS)
    return re.sub(rf"[^\s-]{{{longest_word}}}(?=[^\s-])", lambda part: part.group() + "\u200b", text)


def _cut(text: str, letters: int) -> str:
    """The beginning of a text that is too long.

    >>> _cut("abcdef", 4), _cut("abc", 4)
    ('abc…', 'abc')
    """
    return text if len(text) <= letters else text[: letters - 1].rstrip() + "…"
