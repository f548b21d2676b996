"""What goes wrong, and what is merely odd: errors stop a log, notes travel with it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path


def one_line(text: str) -> str:
    """The text without line breaks and without what could steer a terminal.

    >>> one_line("a" + chr(27) + "[2J" + chr(10) + "b")
    'a [2J b'
    """
    return " ".join("".join(letter if letter.isprintable() else " " for letter in text).split())


class FlightlogError(Exception):
    """Something flightlog could not do: where, what was found, what to do."""

    def __init__(self, found: str, advice: str, path: Path | str | None = None, line: int | None = None):
        super().__init__(found, advice, path, line)  # all four, so that it survives pickling
        self.found, self.advice, self.path, self.line = found, advice, path, line

    def __str__(self) -> str:
        """One line: `file:line: what was found; what to do`."""
        where = "" if self.path is None else f"{self.path}:{self.line or 1}: "
        text = f"{where}{self.found}; {self.advice}" if self.advice else f"{where}{self.found}"
        return one_line(text)


class TrackFileError(FlightlogError):
    """A log file that cannot be read, or that holds no usable track."""


class PlacesFileError(FlightlogError):
    """A places file that cannot be read."""


class WingFileError(FlightlogError):
    """A wing file that cannot be read."""


class TaskFileError(FlightlogError):
    """A task that cannot be read, or that nobody could fly."""


class SettingsError(FlightlogError):
    """A setting outside its valid range."""


class BookError(FlightlogError):
    """A logbook that cannot be opened, read or written."""


class ReportError(FlightlogError):
    """A report that cannot be written."""


@dataclass(frozen=True)
class Note:
    """One oddity that did not stop the work.

    `code` is a short stable word such as `short_record`; `message` a sentence for the pilot; `line` the first
    line of the file it was met on (1 is the first), `count` how often it was met.
    """

    code: str
    message: str
    line: int | None = None
    count: int = 1
