"""Which reader? The content of a log decides, not the ending of its name."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from pathlib import Path
from typing import Protocol

from flightlog.errors import TrackFileError
from flightlog.tracks.csv_log import parse_csv
from flightlog.tracks.gpx import parse_gpx
from flightlog.tracks.igc import parse_igc
from flightlog.tracks.kinds import KINDS, is_log, kind_of
from flightlog.tracks.kml import parse_kml
from flightlog.tracks.nmea import parse_nmea
from flightlog.tracks.plain_names import with_plain_names
from flightlog.tracks.sources import HEAD_BYTES, LogSource, find_logs
from flightlog.tracks.track import Track

__all__ = ["LogSource", "find_logs", "is_log", "read_log", "read_track"]

_EARLIEST, _LATEST = datetime.date(1970, 1, 1), datetime.date(2200, 1, 1)


class _Reader(Protocol):
    """What every `parse_...` is."""

    def __call__(self, data: bytes, *, file: str, date: datetime.date | None = None) -> Track: ...


READERS: Mapping[str, _Reader] = {"GPX": parse_gpx, "IGC": parse_igc, "KML": parse_kml, "NMEA": parse_nmea}
"""Kind of log -> its reader; tables have one that is also told what their columns hold."""


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
        kind = kind_of(head)
        if kind and kind in READERS:
            return with_plain_names(READERS[kind](data, file=source.name, date=date))
        if kind or (source.columns and data.strip()):
            return with_plain_names(parse_csv(data, file=source.name, date=date, columns=source.columns))
    except TrackFileError as error:
        raise TrackFileError(error.found, error.advice, source.path, error.line) from error
    raise TrackFileError(_what_it_is(data, head), "name the file that the recorder wrote", source.path, 1)


def _what_it_is(data: bytes, head: bytes) -> str:
    """What to call a file that is no log."""
    if not data.strip():
        return "an empty file"
    return "a web page" if b"<html" in head.lower() else f"no {', '.join(name for name, _ in KINDS)} log"
