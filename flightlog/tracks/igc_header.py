"""What an IGC log says beside its fixes: who flew, which day, which columns, which level heights count from."""

from __future__ import annotations

import datetime
import re
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from flightlog.arrays import Ints
from flightlog.tracks.igc_lines import Lines
from flightlog.tracks.igc_records import (
    Extension,
    HeaderLine,
    read_date_line,
    read_declaration,
    read_declared_point,
    read_differential,
    read_event,
    read_extensions,
    read_header_line,
    read_satellites,
)
from flightlog.tracks.notebook import Notebook, quoted

MOST_RECORDS = 100_000
"""Records of one letter that are looked at; no recorder writes nearly so many beside fixes and K."""
MOST_LAYOUTS = 64
_KNOWN_LETTERS = "ABCDEFGHIJKLMN"
_DATUM = re.compile(r"ELL|GEO|NIL|NKN|ISA|MSL")
_OFFSET = re.compile(r"(?:UTC|GMT)?\s*([+-]?)\s*(\d{1,2})(?:(:|\.)(\d{1,2}))?\s*H?", re.IGNORECASE)
_UNKNOWN_VALUES = ("", "NIL", "NKN")
_FIRST_DAY = datetime.date(1994, 12, 1)  # the format was issued in December 1994 (release 1.00)

Layout = tuple[int, tuple[Extension, ...]]


@dataclass(frozen=True, eq=False)
class IgcHeader:
    """Records other than fixes, each with the index of its line."""

    recorder_id: str | None = None
    recordings: Ints = field(default_factory=lambda: np.array([0]))  # first lines of the recordings in the file
    dates: tuple[tuple[int, datetime.date], ...] = ()
    flight_number: int | None = None  # of the day
    values: Mapping[str, str] = field(default_factory=dict)  # by code, the first that says something
    layouts: tuple[Layout, ...] = ()  # of B records
    slow_layouts: tuple[Layout, ...] = ()  # of K records
    events: tuple[tuple[int, float, str, str], ...] = ()  # line index, second of day, code, text
    declared_task: tuple[tuple[str, float, float], ...] = ()
    gnss_datum: str | None = None  # ELL, GEO, NIL, NKN, MSL
    pressure_datum: str | None = None  # ISA, MSL, NIL, NKN


def read_igc_header(lines: Lines, notebook: Notebook) -> IgcHeader:
    """Read all records but B, F, G, K and L."""
    recordings, recorder_id = _read_recordings(lines, notebook)
    headers = _read_header_lines(lines, notebook)
    dates, flight_number = _read_dates(lines, headers, recordings, notebook)
    values = _first_values(headers)
    _check_map_datum(values, notebook)
    _read_satellites(lines, values, notebook)
    _note_unknown(lines, notebook)
    return IgcHeader(
        recorder_id=recorder_id,
        recordings=recordings,
        dates=dates,
        flight_number=flight_number,
        values=values,
        layouts=_read_layouts(lines, "I", 36, recordings, notebook),
        slow_layouts=_read_layouts(lines, "J", 8, recordings, notebook),
        events=_read_events(lines, notebook),
        declared_task=_read_task(lines, values, notebook),
        gnss_datum=_datum(values.get("ALG")),
        pressure_datum=_datum(values.get("ALP")),
    )


def _some(lines: Lines, letter: str, notebook: Notebook) -> list[int]:
    """Indices of the lines of a letter, as many as are looked at."""
    found = lines.of_letter(letter)
    if found.size > MOST_RECORDS:
        message = f"more than {MOST_RECORDS} records of the letter {letter}; the rest is ignored"
        notebook.add("too_many_records", message, int(found[MOST_RECORDS]) + 1, int(found.size) - MOST_RECORDS)
    return [int(index) for index in found[:MOST_RECORDS]]


def _read_recordings(lines: Lines, notebook: Notebook) -> tuple[Ints, str | None]:
    """First lines of the recordings joined in the file, and the recorder's maker and serial number."""
    marks = lines.of_letter("A")
    filled = np.flatnonzero(lines.letter)
    if marks.size == 0 or (filled.size and marks[0] != filled[0]):
        line = int(filled[0]) + 1 if filled.size else 1
        notebook.add("no_a_record", "the log does not begin with the A record that names its recorder", line)
    recorder_id = lines.text(int(marks[0]))[1:].strip() or None if marks.size else None
    fixes = lines.of_letter("B")
    before = np.searchsorted(fixes, marks)
    new = marks[np.diff(before, prepend=0) > 0]  # an A record with fixes since the one before
    if new.size:
        message = f"{new.size + 1} recordings are joined in this file; read one after the other"
        notebook.add("joined_files", message, int(new[0]) + 1, int(new.size))
    return np.concatenate([[0], new]).astype(np.int64), recorder_id


def _read_header_lines(lines: Lines, notebook: Notebook) -> list[tuple[int, HeaderLine]]:
    """All H records that can be read."""
    found = []
    for index in _some(lines, "H", notebook):
        header = read_header_line(lines.text(index))
        if header is None:
            message = f"a header record without a three-letter code, {quoted(lines.text(index))}; ignored"
            notebook.add("bad_header", message, index + 1)
            continue
        found.append((index, header))
    return found


def _read_dates(
    lines: Lines, headers: list[tuple[int, HeaderLine]], recordings: Ints, notebook: Notebook
) -> tuple[tuple[tuple[int, datetime.date], ...], int | None]:
    """The dates the log states, a repeated one left out, and the number of the flight that day."""
    dates: list[tuple[int, datetime.date]] = []
    flight_number = None
    for index, header in headers:
        if header.code != "DTE" or len(dates) >= MOST_LAYOUTS:
            continue
        text = lines.text(index)
        date, number = read_date_line(text)
        flight_number = flight_number or number
        if date is None:
            notebook.add("bad_date", f"a date that cannot be read, {quoted(text)}; ignored", index + 1)
        elif date < _FIRST_DAY:
            message = f"the date {date} is that of a clock that was not set; ignored"
            notebook.add("clock_not_set", message, index + 1)
        elif dates and dates[-1][1] == date and not begins_between(recordings, dates[-1][0], index):
            notebook.add("repeated_date", "the date is stated more than once", index + 1)
        else:
            dates.append((index, date))
    if len({date for _, date in dates}) > 1:
        message = "the log holds more than one date; each holds for the fixes that follow it"
        notebook.add("several_dates", message, dates[1][0] + 1, len(dates) - 1)
    return tuple(dates), flight_number


def _first_values(headers: list[tuple[int, HeaderLine]]) -> dict[str, str]:
    """By code, the first value that says something."""
    values: dict[str, str] = {}
    for _, header in headers:
        if header.value.upper() not in _UNKNOWN_VALUES or header.code in ("ALG", "ALP"):
            values.setdefault(header.code, header.value)
    return values


def _read_layouts(
    lines: Lines, letter: str, first_byte: int, recordings: Ints, notebook: Notebook
) -> tuple[Layout, ...]:
    """The I (or J) records; where a new recording begins, the columns of the one before end."""
    found: dict[int, tuple[Extension, ...]] = {int(start): () for start in recordings[:MOST_LAYOUTS]}
    for index in _some(lines, letter, notebook)[:MOST_LAYOUTS]:
        extensions, wrong = read_extensions(lines.text(index), first_byte)
        found[index] = extensions
        if wrong:
            message = f"the {letter} record is wrong: {wrong}; what can be read is used"
            notebook.add("bad_extension_record", message, index + 1)
    return tuple(sorted(found.items()))


def _read_events(lines: Lines, notebook: Notebook) -> tuple[tuple[int, float, str, str], ...]:
    """E records: line index, second of the day, code, text."""
    events = []
    for index in _some(lines, "E", notebook):
        event = read_event(lines.text(index))
        if event is None:
            message = f"an event that cannot be read, {quoted(lines.text(index))}; ignored"
            notebook.add("bad_event", message, index + 1)
        else:
            events.append((index, *event))
    return tuple(events)


def _read_task(lines: Lines, values: dict[str, str], notebook: Notebook) -> tuple[tuple[str, float, float], ...]:
    """Declared points that have a place; the declaration's own text goes to `values` under TSK."""
    points = []
    for index in _some(lines, "C", notebook):
        text = lines.text(index)
        point = read_declared_point(text)
        declaration = read_declaration(text) if point is None else None
        if point is not None and (point[1], point[2]) != (0.0, 0.0):
            points.append(point)
        elif declaration is not None and declaration.text:
            values.setdefault("TSK", declaration.text)
        elif point is None and declaration is None:
            notebook.add("bad_task", f"a task record that cannot be read, {quoted(text)}; ignored", index + 1)
    return tuple(points)


def _check_map_datum(values: dict[str, str], notebook: Notebook) -> None:
    """Say where a log does not name WGS 84 as the datum of its positions; they are taken as such all the same."""
    datum = values.get("DTM")
    if datum is None:
        notebook.add("no_map_datum", "the log does not name the datum of its positions; taken as WGS 84")
    elif "84" not in datum:
        message = f"positions are on the datum {quoted(datum)}; taken as WGS 84 all the same"
        notebook.add("map_datum", message)


def _read_satellites(lines: Lines, values: dict[str, str], notebook: Notebook) -> None:
    """D and F records, in few words, under the codes DGPS and SATELLITES."""
    for index in _some(lines, "D", notebook)[:1]:
        differential = read_differential(lines.text(index))
        if differential is not None:
            values.setdefault("DGPS", f"station {differential[1]}" if differential[0] else "not in use")
    constellations = [read_satellites(lines.text(index)) for index in _some(lines, "F", notebook)]
    counts = [len(constellation[1]) for constellation in constellations if constellation is not None]
    if counts:
        values.setdefault("SATELLITES", f"{min(counts)} to {max(counts)} in use")


def _note_unknown(lines: Lines, notebook: Notebook) -> None:
    """Say which lines begin with no record letter at all."""
    is_known = np.zeros(256, dtype=np.bool_)
    is_known[[0, *_KNOWN_LETTERS.encode()]] = True
    known = is_known[lines.letter]
    if not known.all():
        index = int(np.argmin(known))
        message = f"a line that is no IGC record, {quoted(lines.text(index))}; ignored"
        notebook.add("unknown_record", message, index + 1, int((~known).sum()))


def _datum(value: str | None) -> str | None:
    """The level that an ALG or ALP record names."""
    found = _DATUM.search((value or "").upper())
    return found.group() if found else None


def begins_between(recordings: Ints, after: int, until: int) -> bool:
    """Whether a recording begins on a line after one and up to another."""
    low, high = np.searchsorted(recordings, [after, until], side="right")
    return bool(high > low)


def utc_offset_s(text: str | None) -> float | None:
    """Local time less UTC from a TZN record; None where it cannot be read.

    >>> utc_offset_s("+05:30"), utc_offset_s("-2"), utc_offset_s("5.5")
    (19800.0, -7200.0, 19800.0)
    """
    match = _OFFSET.fullmatch((text or "").strip())
    if match is None:
        return None
    hours = float(match.group(2))
    if match.group(3) == ":":
        hours += float(match.group(4)) / 60.0
    elif match.group(3) == ".":
        hours += float("0." + match.group(4))
    return None if hours > 15.0 else hours * (-3600.0 if match.group(1) == "-" else 3600.0)
