"""Where a reader writes down what was odd: the same oddity on many lines becomes one note."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from flightlog.errors import Note

LONGEST_QUOTE = 40
"""Characters of a line that a message repeats; enough to find it again."""


class Notebook:
    """Collects notes; the first line of an oddity is kept and its number of times counted."""

    def __init__(self, notes: Iterable[Note] = ()) -> None:
        self._notes: dict[str, Note] = {}
        for note in notes:
            self.add(note.code, note.message, note.line, note.count)

    def add(self, code: str, message: str, line: int | None = None, count: int = 1) -> None:
        """Write down an oddity met `count` times, `line` being the first line it stands on."""
        if count <= 0:
            return
        seen = self._notes.get(code)
        if seen is None:
            self._notes[code] = Note(code, message, line, count)
        else:
            self._notes[code] = replace(seen, count=seen.count + count)

    def notes(self) -> tuple[Note, ...]:
        """All notes in the order of their first line; those about the whole file come first."""
        return tuple(sorted(self._notes.values(), key=lambda note: note.line or 0))

    def __contains__(self, code: str) -> bool:
        return code in self._notes


def quoted(text: str) -> str:
    """A piece of a hostile file, fit for a message: printable, short, in quotes.

    >>> quoted("B12" + chr(7) + "x" * 60)
    "'B12?xxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxx...'"
    """
    clean = "".join(c if c.isprintable() else "?" for c in text[:LONGEST_QUOTE])
    return f"'{clean}{'...' if len(text) > LONGEST_QUOTE else ''}'"
