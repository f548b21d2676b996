"""Reader of tables (CSV, RFC 4180, with comma, semicolon, tab or bar) of loggers and flight simulators."""

from __future__ import annotations

import csv
import datetime
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import TextIO

import numpy as np

from flightlog.arrays import Floats, Ints
from flightlog.errors import TrackFileError
from flightlog.tracks.csv_columns import (
    HEAD_LINES,
    LONGEST_FIELD,
    SEPARATORS,
    Columns,
    cells_of,
    columns_chosen,
    named_columns_in,
    opened_table,
)
from flightlog.tracks.csv_times import times_of
from flightlog.tracks.limits import require_few_fixes
from flightlog.tracks.notebook import Notebook
from flightlog.tracks.points import Points, track_of
from flightlog.tracks.track import Header, Track
from flightlog.tracks.xml_guard import number_in

_LONGEST_ROW = 65_536
_MOST_ROWS = 2_000_000
_RECORDED = {
    "ground_speed": "ground_speed_mps",
    "airspeed": "airspeed_mps",
    "indicated_airspeed": "indicated_airspeed_mps",
    "climb": "climb_mps",
    "course": "course_deg",
    "heading": "heading_deg",
}
_FASTEST_MPS = 1000.0


@dataclass
class _Table:
    """The columns that are read, as text, and the line each row stands on."""

    texts: dict[str, list[str]] = field(default_factory=dict)
    lines: list[int] = field(default_factory=list)
    met: int = 0


def parse_csv(
    data: bytes, *, file: str, date: datetime.date | None = None, columns: Mapping[str, str] | None = None
) -> Track:
    """The track of a table with a time, a latitude and a longitude in every row.

    Parameters
    ----------
    data, file, date
        As for the other readers.
    columns : mapping, optional
        Quantity -> name or number (1 is the first) of its column, `[unit]` behind it; without it the names in the
        table decide. Without a unit: degrees, metres, metres a second.

    Raises
    ------
    TrackFileError
        No such columns, no positions, no times, or dates that can be read in two ways.
    """
    notebook = Notebook()
    try:
        separator, chosen, start = _layout(data, file, columns)
        table = _rows(data, separator, chosen, start, file, notebook)
    except csv.Error as error:
        raise TrackFileError(f"a table that cannot be read ({error})", "export it anew", file) from error
    line = np.array(table.lines, dtype=np.int64)
    if not table.lines:
        raise TrackFileError("a table without rows", "export the track itself", file, 1)
    time_s, is_dated = times_of(table.texts, chosen, line, file, notebook)
    numbers = {
        name: _numbers(texts, separator) * chosen[name].factor
        for name, texts in table.texts.items()
        if name not in ("time", "date")
    }
    points = Points(
        time_s=time_s,
        latitude_deg=numbers["lat"],
        longitude_deg=_within_half_turn(numbers["lon"]),
        gnss_altitude_m=_heights(numbers.get("alt"), line, notebook),
        line=line,
        segment=np.zeros(line.size, dtype=np.int64),
        met=table.met,
        pressure_altitude_m=_heights(numbers["pressure_alt"], line, notebook)
        if "pressure_alt" in numbers
        else None,
        is_dated=is_dated,
        recorded=_recorded(numbers),
    )
    if "alt" in chosen and not chosen["alt"].unit:
        notebook.add("unit_unknown", "the table does not say in which unit altitudes are; taken as metres", start)
    return track_of(points, Header(), notebook, data=data, file=file, format_name="csv", date=date)


def _layout(data: bytes, file: str, asked: Mapping[str, str] | None) -> tuple[str, Columns, int]:
    """Separator, columns, and the line that names them (0 where none does)."""
    if asked is None:
        found = named_columns_in(opened_table(data))
        if found is None:
            advice = "name them: --columns time=...,lat=...,lon=...,alt=..."
            raise TrackFileError("no columns for time, latitude and longitude in this table", advice, file, 1)
        return found
    text = opened_table(data)
    for number in range(1, HEAD_LINES + 1):
        line = text.readline(LONGEST_FIELD)
        if line.strip() and not line.startswith("#"):
            separator = max(SEPARATORS, key=line.count)
            chosen, has_names = columns_chosen(asked, cells_of(line, separator), file)
            return separator, chosen, number if has_names else number - 1
    raise TrackFileError("a table without rows", "export the track itself", file, 1)


def _rows(data: bytes, separator: str, chosen: Columns, start: int, file: str, notebook: Notebook) -> _Table:
    """The rows below the line of names; those with too few fields are told and left out."""
    text = opened_table(data)
    for _ in range(start):
        text.readline()
    reader = csv.reader(_bounded(text, file), delimiter=separator)
    table = _Table(texts={name: [] for name in chosen})
    last = max(column.index for column in chosen.values())
    takes = [(table.texts[name], column.index) for name, column in chosen.items()]
    for cells in reader:
        if not any(cells) or cells[0].startswith("#"):
            continue
        table.met += 1
        require_few_fixes(table.met, file)
        if len(cells) <= last:
            if len(cells) > 1 or table.met > 2:  # the line below the names may hold units or a ruler
                found = f"a row of {len(cells)} fields instead of {last + 1} or more; left out"
                notebook.add("short_row", found, reader.line_num + start)
            continue
        for texts, index in takes:
            texts.append(cells[index])
        table.lines.append(reader.line_num + start)
    return table


def _bounded(text: TextIO, file: str) -> Iterator[str]:
    """The lines, so many at most, each so long at most."""
    for number, line in enumerate(iter(lambda: text.readline(_LONGEST_ROW), "")):
        if len(line) == _LONGEST_ROW:
            raise TrackFileError(f"a line longer than {_LONGEST_ROW} characters", "is it the right file?", file)
        if number > _MOST_ROWS:
            raise TrackFileError(f"more than {_MOST_ROWS} lines", "no log is so long; is it the right file?", file)
        yield line


def _numbers(texts: list[str], separator: str) -> Floats:
    """The numbers of a column; a decimal comma where the separator leaves it free; NaN for what is none."""
    if separator != ",":
        texts = [text.replace(",", ".") if "," in text and "." not in text else text for text in texts]
    values = np.fromiter((number_in(text) for text in texts), dtype=np.float64, count=len(texts))
    values[~np.isfinite(values)] = np.nan
    return values


def _within_half_turn(longitude_deg: Floats) -> Floats:
    """Longitudes counted from 0 to 360 turned to -180 to 180."""
    return np.where((longitude_deg > 180.0) & (longitude_deg <= 360.0), longitude_deg - 360.0, longitude_deg)


def _heights(values: Floats | None, line: Ints, notebook: Notebook) -> Floats:
    """Altitudes; those higher than any wing flies are none."""
    if values is None:
        return np.full(line.size, np.nan)
    far = np.abs(values) > 1e5
    if far.any():
        message = "an altitude that nobody can fly at; that altitude is left out"
        notebook.add("bad_altitude", message, int(line[np.argmax(far)]), int(far.sum()))
    return np.where(far, np.nan, values)


def _recorded(numbers: Mapping[str, Floats]) -> dict[str, Floats]:
    """The recorder's own columns under the names that Track.recorded has for them."""
    found = {}
    for quantity, name in _RECORDED.items():
        values = numbers.get(quantity)
        if values is None:
            continue
        good = np.abs(values) <= (360.0 if name.endswith("_deg") else _FASTEST_MPS)
        if good.any():
            found[name] = np.where(good, np.mod(values, 360.0) if name.endswith("_deg") else values, np.nan)
    return found
