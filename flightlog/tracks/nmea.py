"""Reader of NMEA 0183 sentences GGA and RMC, from any talker, as loggers and simulators write them to a file.

Layout: NMEA 0183, sentences GGA (fix, altitude above mean sea level) and RMC (fix, speed, course, date); checksum:
exclusive or of all bytes between `$` and `*` (from memory; the standard is sold, not published).
"""

from __future__ import annotations

import datetime
import re
from dataclasses import dataclass, field

import numpy as np

from flightlog.arrays import Floats
from flightlog.errors import TrackFileError
from flightlog.tracks.igc_times import DAY_S
from flightlog.tracks.kinds import SENTENCE
from flightlog.tracks.limits import require_few_fixes
from flightlog.tracks.notebook import Notebook, quoted
from flightlog.tracks.points import Points, track_of
from flightlog.tracks.track import Header, Track
from flightlog.tracks.xml_guard import number_in
from flightlog.units import KNOT_MPS

MOSTSENTENCES = 600_000
"""Two, GGA and RMC, for each of the most fixes that a log may hold."""
_CENTURY_PIVOT = 80  # 80..99 are 1980..1999
_HALF_DAY_S = 0.5 * DAY_S
_NO_VALUE = float("nan")


@dataclass
class _Fixes:
    """One entry a moment, in the order of the file."""

    second: list[float] = field(default_factory=list)  # of the day
    date: list[datetime.date | None] = field(default_factory=list)
    latitude: list[float] = field(default_factory=list)
    longitude: list[float] = field(default_factory=list)
    altitude: list[float] = field(default_factory=list)
    speed: list[float] = field(default_factory=list)
    course: list[float] = field(default_factory=list)
    at: list[int] = field(default_factory=list)  # byte


def parse_nmea(data: bytes, *, file: str, date: datetime.date | None = None) -> Track:
    """The track of a file of NMEA 0183 sentences; sentences of one moment make one fix.

    Raises
    ------
    TrackFileError
        No position, no times, or more sentences than any day gives.
    """
    notebook = Notebook()
    fixes, sentences = _read(data, file, notebook)
    require_few_fixes(len(fixes.second), file)
    breaks = np.flatnonzero(np.frombuffer(data, dtype=np.uint8) == ord("\n"))
    is_dated = any(day is not None for day in fixes.date)
    speed, course = np.array(fixes.speed), np.array(fixes.course)
    recorded = {
        name: values
        for name, values in (("ground_speed_mps", speed), ("course_deg", course))
        if np.isfinite(values).any()
    }
    points = Points(
        time_s=_times(np.array(fixes.second), fixes.date),
        latitude_deg=np.array(fixes.latitude),
        longitude_deg=np.array(fixes.longitude),
        gnss_altitude_m=np.array(fixes.altitude),
        line=np.searchsorted(breaks, np.array(fixes.at, dtype=np.int64)) + 1,
        segment=np.zeros(len(fixes.at), dtype=np.int64),
        met=len(fixes.second),
        gnss_datum="geoid",  # GGA gives the height above mean sea level
        is_dated=is_dated,
        recorded=recorded,
    )
    if not fixes.second:
        found = f"none of {sentences} sentences holds a position"
        raise TrackFileError(found, "the recorder had no reception; there is nothing to analyse", file, 1)
    return track_of(points, Header(), notebook, data=data, file=file, format_name="nmea", date=date)


def _read(data: bytes, file: str, notebook: Notebook) -> tuple[_Fixes, int]:
    """The fixes of all sentences, and how many sentences there were."""
    if data.count(b"GGA,") + data.count(b"RMC,") > MOSTSENTENCES:
        too_many = f"more than {MOSTSENTENCES} sentences"
        raise TrackFileError(too_many, "no day gives so many; split the log by day", file)
    fixes = _Fixes()
    sentences = 0
    for found in SENTENCE.finditer(data):
        sentences += 1
        kind, body, told = found.group(2), found.group(3), found.group(4)
        if told is None:
            notebook.add(
                "no_checksum", "sentences without a checksum; used", _line(data, found, notebook, "no_checksum")
            )
        elif _checksum(data[found.start() + 1 : found.start() + 7] + body) != int(told, 16):
            line = _line(data, found, notebook, "bad_checksum")
            notebook.add("bad_checksum", "sentences whose checksum does not fit: damaged; left out", line)
            continue
        values = body.decode("ascii", "replace").split(",")
        why = _add_gga(fixes, values, found.start()) if kind == b"GGA" else _add_rmc(fixes, values, found.start())
        if why:
            text = f", as in {quoted(body.decode('latin-1'))}" if why == "bad_sentence" else ""
            notebook.add(why, f"{_REASONS[why]}{text}; left out", _line(data, found, notebook, why))
    return fixes, sentences


_REASONS = {
    "no_position": "sentences without a valid position: the recorder had no reception",
    "bad_sentence": "a sentence that cannot be read",
}


def _line(data: bytes, found: re.Match[bytes], notebook: Notebook, code: str) -> int | None:
    """Line of the sentence; None where the same oddity was met before, since only the first line is kept."""
    return None if code in notebook else data.count(b"\n", 0, found.start()) + 1


def _checksum(body: bytes) -> int:
    """Exclusive or of all bytes, by folding one long number in halves."""
    number = int.from_bytes(body, "little")
    width = 1024
    while width > 8:
        width //= 2
        number = (number >> width) ^ (number & ((1 << width) - 1))
    return number


def _add_gga(fixes: _Fixes, values: list[str], at: int) -> str:
    """Take in a GGA sentence; gives why not."""
    if len(values) < 10:
        return "bad_sentence"
    if values[5] in ("", "0"):
        return "no_position"
    second, latitude, longitude = _second(values[0]), _angle(values[1:3], 2), _angle(values[3:5], 3)
    if not (second >= 0.0 and latitude == latitude and longitude == longitude):
        return "bad_sentence"
    altitude = number_in(values[8])
    row = _row(fixes, second, at)
    fixes.latitude[row], fixes.longitude[row] = latitude, longitude
    fixes.altitude[row] = altitude if abs(altitude) < 1e6 else _NO_VALUE
    return ""


def _add_rmc(fixes: _Fixes, values: list[str], at: int) -> str:
    """Take in an RMC sentence; gives why not."""
    if len(values) < 9:
        return "bad_sentence"
    if values[1] != "A":
        return "no_position"
    second, latitude, longitude = _second(values[0]), _angle(values[2:4], 2), _angle(values[4:6], 3)
    if not (second >= 0.0 and latitude == latitude and longitude == longitude):
        return "bad_sentence"
    row = _row(fixes, second, at)
    if fixes.latitude[row] != fixes.latitude[row]:  # GGA goes first: it has more digits on many recorders
        fixes.latitude[row], fixes.longitude[row] = latitude, longitude
    fixes.date[row] = _date(values[8])
    speed, course = number_in(values[6]), number_in(values[7])
    fixes.speed[row] = speed * KNOT_MPS if 0.0 <= speed < 2000.0 else _NO_VALUE
    fixes.course[row] = course if 0.0 <= course <= 360.0 else _NO_VALUE
    return ""


def _row(fixes: _Fixes, second: float, at: int) -> int:
    """The fix of this moment: the last one, or a new one."""
    if not fixes.second or fixes.second[-1] != second:
        fixes.second.append(second)
        fixes.date.append(None)
        for column in (fixes.latitude, fixes.longitude, fixes.altitude, fixes.speed, fixes.course):
            column.append(_NO_VALUE)
        fixes.at.append(at)
    return len(fixes.second) - 1


def _second(text: str) -> float:
    """Second of the day from hhmmss(.sss); -1 where there is none."""
    if not (text[:6].isascii() and text[:6].isdigit() and len(text) >= 6):
        return -1.0
    hours, minutes, seconds = int(text[:2]), int(text[2:4]), number_in(text[4:])
    return 3600.0 * hours + 60.0 * minutes + seconds if hours < 24 and minutes < 60 and 0 <= seconds < 61 else -1.0


def _angle(parts: list[str], degree_digits: int) -> float:
    """Degrees from dddmm.mmmm and a letter, south and west negative; NaN where there is no such place.

    >>> _angle(["4630.0000", "S"], 2), _angle(["01130.0000", "E"], 3)
    (-46.5, 11.5)
    """
    text, letter = parts
    digits = text[:degree_digits]
    minutes = number_in(text[degree_digits:])
    if not (digits.isascii() and digits.isdigit() and 0.0 <= minutes < 60.0 and letter in ("N", "S", "E", "W")):
        return _NO_VALUE
    degrees = int(digits) + minutes / 60.0
    return -degrees if letter in ("S", "W") else degrees


def _date(text: str) -> datetime.date | None:
    """Date from ddmmyy; None where no such day exists."""
    if not (len(text) == 6 and text.isascii() and text.isdigit()):
        return None
    year = int(text[4:])
    try:
        return datetime.date(1900 + year if year >= _CENTURY_PIVOT else 2000 + year, int(text[2:4]), int(text[:2]))
    except ValueError:
        return None


def _times(second: Floats, dates: list[datetime.date | None]) -> Floats:
    """Seconds since 1970 of every fix: by its own date, else by the nearest dated one within half a day.

    Without any date the days are counted from 0; a fall by more than half a day is midnight.
    """
    day = np.array([np.nan if date is None else (date - datetime.date(1970, 1, 1)).days for date in dates])
    known = np.flatnonzero(np.isfinite(day))
    if known.size == 0:
        passed = np.cumsum(np.diff(second, prepend=second[:1]) < -_HALF_DAY_S)
        return np.asarray(second + DAY_S * passed)
    dated = day[known] * DAY_S + second[known]
    rows = np.arange(second.size)
    after = np.clip(np.searchsorted(known, rows), 0, known.size - 1)
    before = np.maximum(after - 1, 0)
    nearer = np.where(np.abs(known[before] - rows) <= np.abs(known[after] - rows), before, after)
    reference = dated[nearer]
    return np.asarray(second + DAY_S * np.round((reference - second) / DAY_S))
