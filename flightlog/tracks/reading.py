"""Which reader? The content of a log decides, not the ending of its name."""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Iterator
from pathlib import Path

from flightlog.errors import TrackFileError
from flightlog.tracks.gpx import is_gpx, parse_gpx
from flightlog.tracks.igc import is_igc, parse_igc
from flightlog.tracks.plain_names import with_plain_names
from flightlog.tracks.sources import HEAD_BYTES, LogSource, find_sources
from flightlog.tracks.track import Track

__all__ = ["LogSource", "find_logs", "is_log", "read_log", "read_track"]

_EARLIEST, _LATEST = datetime.date(1970, 1, 1), datetime.date(2200, 1, 1)


def is_log(head: bytes) -> bool:
    """Whether the first bytes of a file look like a log of any kind that is read here."""
    return is_gpx(head) or is_igc(head)


def find_logs(paths: Iterable[str | Path]) -> Iterator[LogSource]:
    """All logs at these places: files, folders, archives, "-" for standard input.

    Nothing is raised: what cannot be read is raised by `read_log`, so that one bad log does not stop the others.
    """
    return find_sources(paths, is_log)


def read_track(path: str | Path, *, date: datetime.date | None = None) -> Track:
    """The track of one log file: IGC or GPX, plain, as .gz, or as a .zip with one log in it.

    Parameters
    ----------
    path : str or Path
        The file; "-" is standard input.
    date : datetime.date, optional
        UTC date of the first fix, in place of what the log says; 1970 to 2200.

    Raises
    ------
    TrackFileError
        A file that cannot be read, or that holds no usable track; the message is one line.
    ValueError
        A date outside that range.
    """
    sources = find_logs([path])
    first = next(sources)
    if next(sources, None) is not None:
        raise TrackFileError("more than one log where one was expected", "name one of them", path)
    return read_log(first, date=date)


def read_log(source: LogSource, *, date: datetime.date | None = None) -> Track:
    """The track of a log that `find_logs` found; errors as in `read_track`."""
    if date is not None and not _EARLIEST <= date < _LATEST:
        raise ValueError(f"date {date} lies outside {_EARLIEST} to {_LATEST}")
    data = source.read()
    head = data[:HEAD_BYTES]
    try:
        if is_gpx(head):
            return with_plain_names(parse_gpx(data, file=source.name, date=date))
        if is_igc(head):
            return with_plain_names(parse_igc(data, file=source.name, date=date))
    except TrackFileError as error:
        raise TrackFileError(error.found, error.advice, source.path, error.line) from error
    what = (
        "an empty file" if not data.strip() else "a web page" if b"<html" in head.lower() else "no IGC or GPX log"
    )
    raise TrackFileError(what, "name the file that the recorder wrote", source.path, 1)
