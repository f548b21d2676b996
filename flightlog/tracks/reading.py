"""Which reader? The content of a log decides, not the ending of its name."""

from __future__ import annotations

import datetime
from pathlib import Path

from flightlog.errors import TrackFileError
from flightlog.tracks.igc import is_igc, parse_igc
from flightlog.tracks.sources import LogSource, find_logs
from flightlog.tracks.track import Track

__all__ = ["LogSource", "find_logs", "read_log", "read_track"]

_HEAD_BYTES = 65536


def read_track(path: str | Path, *, date: datetime.date | None = None) -> Track:
    """The track of one log file: IGC or GPX, plain, .gz or .zip with one log in it.

    Parameters
    ----------
    path : the file; "-" is standard input
    date : UTC date of the first fix, in place of what the log says

    Raises
    ------
    TrackFileError
        A file that cannot be read, or that holds no usable track; the message is one line.
    """
    sources = list(find_logs([path]))
    if len(sources) != 1:
        raise TrackFileError(f"{len(sources)} logs where one was expected", "name one of them", path)
    return read_log(sources[0], date=date)


def read_log(source: LogSource, *, date: datetime.date | None = None) -> Track:
    """The track of a log that `find_logs` found; errors as in `read_track`."""
    data = source.read()
    head = data[:_HEAD_BYTES]
    try:
        if is_igc(head):
            return parse_igc(data, file=source.name, date=date)
    except TrackFileError as error:
        raise TrackFileError(error.found, error.advice, source.path, error.line) from error
    raise TrackFileError("neither an IGC nor a GPX log", "is it the file the recorder wrote?", source.path, 1)
