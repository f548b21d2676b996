"""Which day an IGC log was flown, and what it says about itself, for the Track."""

from __future__ import annotations

import datetime

import numpy as np

from flightlog.arrays import Floats
from flightlog.tracks.file_dates import date_in_name
from flightlog.tracks.igc_fixes import FixBlock
from flightlog.tracks.igc_header import IgcHeader, begins_between, utc_offset_s
from flightlog.tracks.igc_times import DAY_S, DateLine
from flightlog.tracks.notebook import Notebook
from flightlog.tracks.track import Header

_WEEKS_1024 = datetime.timedelta(weeks=1024)  # period of the GPS week number
_NAMED_CODES = ("PLT", "GTY", "GID", "FTY", "SIT", "DTE")


def date_lines(
    header: IgcHeader, block: FixBlock, wanted: datetime.date | None, file: str, notebook: Notebook
) -> list[DateLine]:
    """The dates and the fixes they hold from; moved so that the first is the one wanted."""
    words, named = date_in_name(file)
    dates = _dates_with_fixes(header, block)
    if not dates and wanted is None:
        hint = f"; its name says {words}" if words else ""
        message = f"the log has no date{hint}; times are given as of 1970-01-01 (set one with --date)"
        notebook.add("no_date", message)
        return []
    if wanted is None and named is not None and abs(named - dates[0][1]) > datetime.timedelta(days=1):
        is_rolled = named - dates[0][1] == _WEEKS_1024
        rolled = "; the recorder's count of GPS weeks has rolled over" if is_rolled else ""
        message = f"the date is {dates[0][1]} and the file's name says {named}{rolled} (set one with --date)"
        notebook.add("date_differs_from_name", message, dates[0][0] + 1)
    shift = datetime.timedelta() if wanted is None or not dates else wanted - dates[0][1]
    if not dates and wanted is not None:
        dates = ((0, wanted),)
    found: list[DateLine] = []
    previous = -1
    for index, date in dates:
        new = not found or begins_between(header.recordings, previous, index)
        found.append(DateLine(int(np.searchsorted(block.line_index, index)), date + shift, new))
        previous = index
    return found


def _dates_with_fixes(header: IgcHeader, block: FixBlock) -> tuple[tuple[int, datetime.date], ...]:
    """The dates of the log without those that another follows before any fix."""
    following = [index for index, _ in header.dates[1:]]
    fixes_before = [int(np.searchsorted(block.line_index, index)) for index in (*following, 2**62)]
    starts = [0, *fixes_before[:-1]]
    spans = zip(header.dates, starts, fixes_before, strict=False)
    return tuple(date for date, first, last in spans if last > first)


def public_header(header: IgcHeader, block: FixBlock, time_s: Floats, dates: list[DateLine]) -> Header:
    """What the log says about itself, events at dated times."""
    values = header.values
    events = []
    for index, second, code, text in header.events:
        nearest = min(int(np.searchsorted(block.line_index, index)), time_s.size - 1)
        days = round((float(time_s[nearest]) - second) / DAY_S)
        events.append((days * DAY_S + second, code, text))
    return Header(
        pilot=values.get("PLT"),
        wing=values.get("GTY"),
        wing_id=values.get("GID"),
        recorder=values.get("FTY"),
        recorder_id=header.recorder_id,
        site=values.get("SIT"),
        date=dates[0].date.isoformat() if dates else None,
        utc_offset_s=utc_offset_s(values.get("TZN")),
        declared_task=header.declared_task,
        events=tuple(events),
        other={code: value for code, value in values.items() if code not in _NAMED_CODES},
    )
