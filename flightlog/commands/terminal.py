"""Results on a terminal: prose is broken between words, and tables that are too wide between columns."""

from __future__ import annotations

import re
import shutil
import sys
import textwrap
from collections.abc import Iterable, Sequence

import click

FEWEST_GAPS = 2
"""A line with so many gaps of two spaces and more is the row of a table."""


def print_result(content: bytes, ending: str) -> None:
    """Print a result; what is for people in a way that is good to read, what is for programs to the byte."""
    if ending == "text":
        print_lines(content.decode("utf-8").splitlines())
    else:
        click.echo(content, nl=False)


def print_lines(lines: Iterable[str]) -> None:
    """Print lines, broken to the width where they go to a terminal."""
    width = shutil.get_terminal_size().columns if sys.stdout.isatty() else None
    click.echo("\n".join(fitted(list(lines), width)))


def fitted(lines: Sequence[str], width: int | None) -> list[str]:
    """The lines in so much width; a table reaches from its head to the next line that is empty."""
    if width is None:
        return list(lines)
    made, at = [], 0
    while at < len(lines):
        end = at + 1
        if _is_row(lines[at]):
            end = next((k for k in range(at, len(lines)) if not lines[k].strip()), len(lines))
            made += folded(lines[at:end], width)
        else:
            made += broken(lines[at], width)
        at = end
    return made


def _is_row(line: str) -> bool:
    """Whether a line is the row of a table."""
    return len(re.findall(r"\S {2,}(?=\S)", line)) >= FEWEST_GAPS


def folded(rows: Sequence[str], width: int) -> list[str]:
    """A table as several, one below the other, each with some of its columns beside the first.

    >>> folded(["no.  place      landed", "1    Quillback  13:49"], 16)
    ['no.  place', '1    Quillback', '', 'no.  landed', '1    13:49']
    """
    longest = max(map(len, rows))
    if longest <= width:
        return list(rows)
    padded = [row.ljust(longest) for row in rows]
    is_gap = [all(row[k] == " " for row in padded) for k in range(longest)]
    starts = [0, *(k for k in range(2, longest) if is_gap[k - 1] and is_gap[k - 2] and not is_gap[k])]
    first, *others = (slice(a, b) for a, b in zip(starts, [*starts[1:], longest], strict=True))
    parts: list[list[str]] = []
    room = 0
    for column in others:
        cells = [row[column] for row in padded]
        need = max(len(cell.rstrip()) for cell in cells)
        if not parts or room + need > width:
            parts.append([row[first] for row in padded])
            room = first.stop
        parts[-1] = [made + cell for made, cell in zip(parts[-1], cells, strict=True)]
        room += column.stop - column.start
    below = [[*(row.rstrip() for row in part), ""] for part in parts]
    return [row for part in below for row in part][:-1] or list(rows)


def broken(line: str, width: int) -> list[str]:
    """A line of prose in parts that fit, each as far in as the first.

    >>> broken("- Counts are small here", 14)
    ['- Counts are', '  small here']
    """
    if len(line) <= width:
        return [line]
    bare = line.lstrip()
    hang = " " * (len(line) - len(bare) + (2 if bare.startswith("- ") else 0))
    return textwrap.wrap(line, width, subsequent_indent=hang, break_long_words=False, break_on_hyphens=False) or [
        line
    ]
