"""Times in tables: ISO 8601, seconds since 1970, seconds since the start, times of day with or without a date."""

from __future__ import annotations

import datetime
import math
import re
from collections.abc import Callable, Mapping

import numpy as np

from flightlog.arrays import Floats, Ints
from flightlog.errors import TrackFileError
from flightlog.tracks.csv_columns import Columns
from flightlog.tracks.igc_times import DAY_S
from flightlog.tracks.notebook import Notebook, quoted
from flightlog.tracks.xml_guard import number_in

_CLOCK = re.compile(r"(\d{1,2}):(\d\d)(?::(\d\d(?:[.,]\d{1,9})?))?\s*([Zz]|UTC)?")
_DAY_FIRST = re.compile(r"(\d{1,2})([./-])(\d{1,2})\2(\d{4})")
_COUNTED_FROM_1980_S = 3e8  # numbers this large count seconds from 1970; smaller ones from the start of the log
_SCALES = ((3e17, 1e-9), (3e14, 1e-6), (3e11, 1e-3))  # nano-, micro- and milliseconds since 1970 are this large
_HALF_DAY_S = 0.5 * DAY_S


def times_of(
    texts: Mapping[str, list[str]], columns: Columns, line: Ints, file: str, notebook: Notebook
) -> tuple[Floats, bool]:
    """Seconds of every row, NaN where it has none, and whether they count from 1970 (else from a first midnight).

    Raises TrackFileError where dates can be read in two ways.
    """
    times = texts["time"]
    numbers = np.fromiter((number_in(text) for text in times), dtype=np.float64, count=len(times))
    numbers[~np.isfinite(numbers)] = np.nan
    if np.isfinite(numbers).mean() > 0.5 and "date" not in texts:
        return _counted(numbers, columns["time"].factor)
    days = _date_reader([*texts.get("date", ()), *times], file, int(line[0]))
    dates = texts.get("date", [""] * len(times))
    seconds, is_dated = np.full(len(times), np.nan), np.zeros(len(times), dtype=np.bool_)
    has_zone = False
    for row, (date_text, text) in enumerate(zip(dates, times, strict=True)):
        seconds[row], is_dated[row], zoned = _moment(date_text.strip(), text.strip(), days)
        has_zone = has_zone or zoned
    bad = np.flatnonzero(np.isnan(seconds))
    if bad.size:
        message = f"a time that cannot be read, as {quoted(times[bad[0]])}; the row is left out"
        notebook.add("bad_time", message, int(line[bad[0]]), int(bad.size))
    if is_dated.any():
        seconds[~is_dated] = np.nan
        if not has_zone:
            notebook.add("time_zone_unknown", "times without a zone are taken as UTC", int(line[0]))
        return seconds, True
    known = np.flatnonzero(np.isfinite(seconds))
    falls = np.diff(seconds[known], prepend=seconds[known][:1]) < -_HALF_DAY_S
    seconds[known] += DAY_S * np.cumsum(falls)
    return seconds, False


def _counted(numbers: Floats, factor: float) -> tuple[Floats, bool]:
    """Numbers as seconds: since 1970 where they are so large, whatever their unit; else since a start."""
    typical = float(np.nanmedian(np.abs(numbers)))
    for least, scale in _SCALES:
        if typical > least:
            return numbers * scale, True
    if typical > _COUNTED_FROM_1980_S:
        return numbers, True
    return numbers * factor, False


def _moment(date_text: str, text: str, days: Callable[[str], float]) -> tuple[float, bool, bool]:
    """Seconds of one row, whether they are dated, and whether they name their zone."""
    if not date_text:
        try:
            moment = datetime.datetime.fromisoformat(text)
            if len(text) > 10:
                zoned = moment if moment.tzinfo else moment.replace(tzinfo=datetime.UTC)
                return zoned.timestamp(), True, moment.tzinfo is not None
        except (ValueError, OverflowError):
            pass
        date_text, _, clock_text = text.rpartition(" ") if " " in text else ("", "", text)
        if clock_text.upper() == "UTC":
            date_text, _, clock_text = date_text.rpartition(" ")
    else:
        clock_text = text
    second, has_zone = _second_of_day(clock_text)
    if not date_text:
        return second, False, has_zone
    return days(date_text) * DAY_S + second, True, has_zone


def _second_of_day(text: str) -> tuple[float, bool]:
    """Second of the day from h:mm, h:mm:ss or hhmmss, and whether it says UTC; NaN for none."""
    match = _CLOCK.fullmatch(text)
    if match is None:
        whole = text.partition(".")[0]
        if not (len(whole) == 6 and whole.isascii() and whole.isdigit()):
            return math.nan, False
        hours, minutes, seconds, zone = whole[:2], whole[2:4], text[4:], None
    else:
        hours, minutes, seconds, zone = match.groups()
    value = number_in((seconds or "0").replace(",", "."))
    if int(hours) >= 24 or int(minutes) >= 60 or not 0.0 <= value < 61.0:
        return math.nan, False
    return 3600.0 * int(hours) + 60.0 * int(minutes) + value, zone is not None


def _date_reader(texts: list[str], file: str, line: int) -> Callable[[str], float]:
    """How dates are to be read: year first, or the order that all of them allow.

    Raises TrackFileError where they could be day and month as well as month and day.
    """
    firsts, seconds = set[int](), set[int]()
    dotted = False
    for text in texts:
        match = _DAY_FIRST.match(text.strip())
        if match is not None:
            firsts.add(int(match.group(1)))
            seconds.add(int(match.group(3)))
            dotted = dotted or match.group(2) == "."
    month_first = any(number > 12 for number in seconds)
    if firsts and not dotted and not month_first and max(firsts) <= 12 and firsts != seconds:
        found = "dates that can be read in two ways (day and month, or month and day)"
        raise TrackFileError(found, "export them as 2026-06-14", file, line)

    def days_since_1970(text: str) -> float:
        match = _DAY_FIRST.fullmatch(text)
        try:
            if match is None:
                return float(
                    (datetime.date.fromisoformat(text.replace("/", "-")) - datetime.date(1970, 1, 1)).days
                )
            first, second, year = int(match.group(1)), int(match.group(3)), int(match.group(4))
            day, month = (second, first) if month_first else (first, second)
            return float((datetime.date(year, month, day) - datetime.date(1970, 1, 1)).days)
        except ValueError:
            return math.nan

    return days_since_1970
