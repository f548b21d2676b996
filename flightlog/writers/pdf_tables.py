"""Tables on paper: with their heads on every page, and shortened where all of them would make a book."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any

from flightlog.writers.page_parts import Table
from flightlog.writers.pdf_texts import shown

Block = dict[str, Any]

MOST_ROWS = 400
"""Rows shown of any table, so that no log makes a book."""
MOST_FOLDED_ROWS = 24
"""Rows shown of a table that a screen folds away, for each pane: more would bury what comes after it."""
PANE_ROWS, PANE_COLUMNS, MOST_PANES = 9, 5, 2
"""A table of few columns is set in panes side by side once it has more rows than that."""
MOST_TOGETHER = 26
"""Rows of a pane that still stand on one page; longer panes go on on the next."""
FEW_TOGETHER = 8
"""Rows of any table that stand on one page: a table so short is not cut."""
MANY_COLUMNS = 13
HEAD_MM, ONE_LINE_MM, TWO_LINES_MM, REMARK_MM, LETTERS_PER_LINE = 19.0, 4.0, 6.1, 2.9, 190
"""Heights of a table's title with its head, of rows, and of a line of a remark, as measured on pages."""
FEW_ASIDE_ROWS = 6
ROW_LIMITS = (
    (MOST_ROWS, MOST_FOLDED_ROWS),
    *((rows, FEW_ASIDE_ROWS) for rows in (MOST_ROWS, 60, 40, 30, 24, 20, 16, 12, 9, 7, 5)),
)
"""Rows of tables, and of those that are long and narrow and folded on a screen: these are shortened first."""
LONGEST_UNIT = 9
"""A longer one is a time zone: it stands at the top of the document, and would push a narrow column apart."""
FILLING_LETTERS = 60
"""A column of words this long takes all the room that its table leaves."""
_ESTIMATE = re.compile(r"([^ ]+) \(([^ ]+ to [^ ]+)\)")  # a space that keeps a unit with its figure parts nothing


def table_blocks(tables: Sequence[Table], room_mm: float) -> list[Block]:
    """The tables of one part of a document, their rows limited so that they take about so much height.

    Short tables stay whole; what is cut off stands in a remark.
    """
    limits = next((rows for rows in ROW_LIMITS if _height_mm(tables, *rows) <= room_mm), ROW_LIMITS[-1])
    return [table_block(table, most_rows=limits[_is_aside(table)]) for table in tables]


def _is_aside(table: Table) -> bool:
    """Whether a table is one to look things up in: folded on a screen, and narrow."""
    return table.is_folded and len(table.columns) <= PANE_COLUMNS


def _height_mm(tables: Sequence[Table], most_rows: int, aside_rows: int) -> float:
    """About how much height the tables take when none has more rows than that."""
    total = 0.0
    for table in tables:
        rows = table.rows[: _rows_shown(table, aside_rows if _is_aside(table) else most_rows)]
        has_second_line = any(_ESTIMATE.fullmatch(cell) for row in rows for cell in row)
        letters = sum(len(remark) for remark in table.remarks)
        lines = len(table.remarks) + letters / LETTERS_PER_LINE
        row_mm = TWO_LINES_MM if has_second_line else ONE_LINE_MM
        total += HEAD_MM + lines * REMARK_MM + len(rows) / _panes(table) * row_mm
    return total


def _panes(table: Table) -> int:
    """How many parts of the table stand side by side."""
    is_narrow = len(table.columns) <= PANE_COLUMNS and _widest_text(table) is None
    return MOST_PANES if is_narrow and len(table.rows) > PANE_ROWS else 1


def _rows_shown(table: Table, most_rows: int) -> int:
    """How many rows of a table are shown where that many lines are the most."""
    most = min(most_rows, MOST_FOLDED_ROWS) if table.is_folded else most_rows
    return min(len(table.rows), most * _panes(table))


def table_block(table: Table, *, has_title: bool = True, most_rows: int = MOST_ROWS) -> Block:
    """A table with its head on every page; of a long one the first rows, and how many more there are."""
    panes, most = _panes(table), _rows_shown(table, most_rows)
    left_out = len(table.rows) - most
    remarks = [*table.remarks]
    if left_out > 0:
        remarks.insert(0, f"{left_out} more rows stand in the web page and in the JSON of this log")
    rows = [[_cell(text) for text in row] for row in table.rows[:most]]
    height = -(-len(rows) // panes)
    return {
        "kind": "table",
        "title": shown(table.title) if has_title else "",
        "anchor": table.anchor,
        "columns": _columns(table, _widest_text(table)),
        "panes": [rows[at : at + height] for at in range(0, len(rows), height)] if rows else [],
        "is_together": height <= (MOST_TOGETHER if panes > 1 else FEW_TOGETHER),
        "is_dense": len(table.columns) >= MANY_COLUMNS,
        "remarks": [shown(text) for text in remarks],
    }


def _columns(table: Table, widest: int | None) -> list[dict[str, Any]]:
    """The heads of a table."""
    return [
        {
            "label": shown(column.label, 12),
            "unit": shown(column.unit) if len(column.unit) <= LONGEST_UNIT else "",
            "is_text": column.is_text,
            "fills": at == widest,
        }
        for at, column in enumerate(table.columns)
    ]


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
