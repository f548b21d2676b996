"""From times of day to dated times: midnight, several dates in one log, clocks that were not set yet."""

from __future__ import annotations

import datetime
from dataclasses import dataclass

import numpy as np

from flightlog.arrays import Bools, Floats, Ints
from flightlog.tracks.notebook import Notebook
from flightlog.tracks.odd_times import note_odd_times

DAY_S = 86400.0
_HALF_DAY_S = 43200.0
_EPOCH = datetime.date(1970, 1, 1)
_GLITCH_RETURN_S = 600.0  # a time that comes back to within this of the one before the leap was a wrong time


@dataclass(frozen=True)
class DateLine:
    """A date the log states, and the fix from which on it holds."""

    first_fix: int
    date: datetime.date
    starts_recording: bool  # an A record stands between this date and the one before


def dated_times(
    second_of_day: Floats, dates: list[DateLine], has_position: Bools, line: Ints, notebook: Notebook
) -> Floats:
    """Seconds since 1970-01-01 of every fix; without any date, of a day taken to be 1970-01-01.

    The date is that of the first fix with a position (IGC-2008, 2.5.4); a fall of the time of day by more than
    twelve hours is midnight. A date that changes in the middle of a recording sets the day anew.
    """
    time_s = np.empty(second_of_day.size)
    dates = dates or [DateLine(0, _EPOCH, True)]
    starts = [0, *(date.first_fix for date in dates[1:])]
    for date, low, high in zip(dates, starts, [*starts[1:], second_of_day.size], strict=True):
        if low == high:
            continue
        days = _days_passed(second_of_day[low:high])
        days -= days[int(np.argmax(has_position[low:high]))]
        if low > 0 and not date.starts_recording and _is_early(time_s[low - 1], date.date, second_of_day[low]):
            days -= 1.0
        time_s[low:high] = ((date.date - _EPOCH).days + days) * DAY_S + second_of_day[low:high]
    note_odd_times(time_s, line, notebook)
    return time_s


def _is_early(last_time_s: float, date: datetime.date, second_of_day: float) -> bool:
    """Whether a new date was written shortly before the midnight that it means."""
    day_before_s = ((date - _EPOCH).days - 1) * DAY_S + second_of_day
    return bool(abs(day_before_s - last_time_s) < _GLITCH_RETURN_S)


def _days_passed(second_of_day: Floats) -> Floats:
    """Midnights passed since the first of these fixes.

    A fall by more than half a day is midnight, unless the time soon goes on where it was before it left: then the
    fixes between bear a wrong time.
    """
    steps = np.diff(second_of_day)
    change = np.zeros(second_of_day.size)
    left_at: float | None = None  # time of day before the last leap, until the time has come back
    for leap in np.flatnonzero(np.abs(steps) > _HALF_DAY_S):
        falls = bool(steps[leap] < 0)
        comes_back = left_at is not None and -1.0 <= second_of_day[leap + 1] - left_at <= _GLITCH_RETURN_S
        if falls and not comes_back:
            change[leap + 1] = 1.0
        elif comes_back and not falls:
            change[leap + 1] = -1.0  # the fall before was no midnight
        left_at = None if comes_back or (not falls and left_at is not None) else float(second_of_day[leap])
    return np.cumsum(change)
