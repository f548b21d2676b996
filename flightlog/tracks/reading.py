"""Which reader? The content of a log decides, not the ending of its name."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Protocol

from flightlog.errors import TrackFileError
from flightlog.tracks.csv_columns import columns_asked
from flightlog.tracks.csv_log import is_csv, parse_csv
from flightlog.tracks.gpx import is_gpx, parse_gpx
from flightlog.tracks.igc import is_igc, parse_igc
from flightlog.tracks.kml import is_kml, parse_kml
from flightlog.tracks.nmea import is_nmea, parse_nmea
from flightlog.tracks.plain_names import with_plain_names
from flightlog.tracks.sources import HEAD_BYTES, LogSource, find_sources
from flightlog.tracks.track import Track

__all__ = ["LogSource", "find_logs", "is_log", "read_log", "read_track"]

_EARLIEST, _LATEST = datetime.date(1970, 1, 1), datetime.date(2200, 1, 1)


class _Reader(Protocol):
    """What every `parse_...` is."""

    def __call__(self, data: bytes, *, file: str, date: datetime.date | None = None) -> Track: ...


READERS: tuple[tuple[str, Callable[[bytes], bool], _Reader], ...] = (
    ("GPX", is_gpx, parse_gpx),
    ("IGC", is_igc, parse_igc),
    ("KML", is_kml, parse_kml),
    ("NMEA", is_nmea, parse_nmea),
    ("CSV", is_csv, parse_csv),
)
"""Name, "is it one?" by the first bytes, reader; the first that says yes reads the log."""


def is_log(head: bytes) -> bool:
    """Whether the first bytes of a file look like a log of any kind that is read here."""
    return any(is_it(head) for _, is_it, _ in READERS)


def find_logs(paths: Iterable[str | Path], *, columns: str | None = None) -> Iterator[LogSource]:
    """All logs at these places: files, folders, archives, "-" for standard input.

    `columns` says what the columns of tables hold ("time=UTC,lat=Lat,lon=Lon,alt=Height [ft]"); ValueError where
    it cannot be understood. Otherwise nothing is raised: what cannot be read is raised by `read_log`, so that one
    bad log does not stop the others.
    """
    asked = columns_asked(columns) if columns is not None else None
    return (replace(source, columns=asked) if asked else source for source in find_sources(paths, is_log))


def read_track(path: str | Path, *, date: datetime.date | None = None, columns: str | None = None) -> Track:
    """The track of one log file: IGC, GPX, KML, KMZ, NMEA or CSV, plain, as .gz, or as a .zip with one log in it.

    Parameters
    ----------
    path : str or Path
        The file; "-" is standard input.
    date : datetime.date, optional
        UTC date of the first fix, in place of what the log says; 1970 to 2200.
    columns : str, optional
        What the columns of a table hold, for CSV; see `find_logs`.

    Raises
    ------
    TrackFileError
        A file that cannot be read, or that holds no usable track; the message is one line.
    ValueError
        A date outside that range, or columns that cannot be understood.
    """
    sources = find_logs([path], columns=columns)
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
        for _, is_it, parse in READERS:
            if is_it(head) and parse is not parse_csv:
                return with_plain_names(parse(data, file=source.name, date=date))
        if is_csv(head) or (source.columns and data.strip()):
            return with_plain_names(parse_csv(data, file=source.name, date=date, columns=source.columns))
    except TrackFileError as error:
        raise TrackFileError(error.found, error.advice, source.path, error.line) from error
    raise TrackFileError(_what_it_is(data, head), "name the file that the recorder wrote", source.path, 1)


def _what_it_is(data: bytes, head: bytes) -> str:
    """What to call a file that is no log."""
    if not data.strip():
        return "an empty file"
    return "a web page" if b"<html" in head.lower() else f"no {', '.join(name for name, _, _ in READERS)} log"
