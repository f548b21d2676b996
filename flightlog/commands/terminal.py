"""Results on a terminal: lines of prose are broken between words, not in the middle of one."""

from __future__ import annotations

import re
import shutil
import sys
import textwrap
from collections.abc import Iterable

import click

FEWEST_GAPS = 2
"""A line with so many gaps of two spaces and more is the row of a table, and stays as it is."""


def print_result(content: bytes, ending: str) -> None:
    """Print a result; what is for people in a way that is good to read, what is for programs to the byte."""
    if ending == "text":
        print_lines(content.decode("utf-8").splitlines())
    else:
        click.echo(content, nl=False)


def print_lines(lines: Iterable[str]) -> None:
    """Print lines, broken to the width where they go to a terminal."""
    width = shutil.get_terminal_size().columns if sys.stdout.isatty() else None
    click.echo("\n".join(part for line in lines for part in broken(line, width)))


def broken(line: str, width: int | None) -> list[str]:
    """A line in parts that fit, each as far in as the first.

    >>> broken("- Counts are small here", 14)
    ['- Counts are', '  small here']
    >>> broken("no.  place      landed", 14)
    ['no.  place      landed']
    """
    if width is None or len(line) <= width or len(re.findall(r"\S {2,}(?=\S)", line)) >= FEWEST_GAPS:
        return [line]
    bare = line.lstrip()
    hang = " " * (len(line) - len(bare) + (2 if bare.startswith("- ") else 0))
    return textwrap.wrap(line, width, subsequent_indent=hang, break_long_words=False, break_on_hyphens=False) or [
        line
    ]
