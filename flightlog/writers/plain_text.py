"""Text for terminals and spreadsheets: columns one below the other, cells that stay cells."""

from __future__ import annotations

from collections.abc import Sequence

from flightlog.errors import one_line
from flightlog.writers.display import NO_BREAK

FORMULA_SIGNS = ("=", "+", "-", "@")


def text_table(rows: Sequence[Sequence[str]]) -> list[str]:
    """The rows with their columns one below the other.

    >>> text_table([("no.", "place"), ("12", "Quillback")])
    ['no.  place', '12   Quillback']
    """
    if not rows:
        return []
    plain_rows = [[cell.replace(NO_BREAK, " ") for cell in row] for row in rows]
    widths = [max(len(row[k]) for row in plain_rows) for k in range(len(plain_rows[0]))]
    return ["  ".join(map(str.ljust, row, widths)).rstrip() for row in plain_rows]


def cut(text: str, longest: int) -> str:
    """A text in one line, cut where it is long.

    >>> cut("Quillback top meadow", 10)
    'Quillback…'
    """
    line = one_line(text)
    return line if len(line) <= longest else f"{line[: longest - 1]}…"


def terminal_line(line: str) -> str:
    """The line without what could steer a terminal; its spaces stay."""
    return "".join(letter if letter.isprintable() or letter == NO_BREAK else " " for letter in line).rstrip()


def csv_text(value: object) -> str:
    """A text as a cell of CSV; one that a spreadsheet would run as a formula is quoted (common practice).

    >>> csv_text("=1+1"), csv_text(None)
    ("'=1+1", '')
    """
    text = "" if value is None else one_line(str(value))
    return f"'{text}" if text.startswith(FORMULA_SIGNS) else text
