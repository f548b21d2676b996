"""Which column of a table holds what, and in which unit: by the names in its first line, or as the user says."""

from __future__ import annotations

import codecs
import csv
import io
import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TextIO

from flightlog.errors import TrackFileError
from flightlog.tracks.notebook import quoted
from flightlog.units import FOOT_M, KMH_MPS, KNOT_MPS

QUANTITIES = {
    "time": "time",
    "date": "date",
    "lat": "angle",
    "lon": "angle",
    "alt": "length",
    "pressure_alt": "length",
    "ground_speed": "speed",
    "airspeed": "speed",
    "indicated_airspeed": "speed",
    "climb": "speed",
    "course": "angle",
    "heading": "angle",
}
"""What a column can hold, and the kind of its unit; `alt` is above mean sea level, airspeed is true."""
REQUIRED = ("time", "lat", "lon")
UNITS = {
    "angle": {"deg": 1.0, "degrees": 1.0, "degree": 1.0, "°": 1.0, "rad": math.degrees(1.0)},
    "length": {"m": 1.0, "metres": 1.0, "meters": 1.0, "ft": FOOT_M, "feet": FOOT_M, "km": 1000.0},
    "speed": {
        "mps": 1.0, "m/s": 1.0, "ms": 1.0, "kmh": KMH_MPS, "km/h": KMH_MPS, "kph": KMH_MPS, "kt": KNOT_MPS,
        "kts": KNOT_MPS, "kn": KNOT_MPS, "knots": KNOT_MPS, "fpm": FOOT_M / 60.0, "ft/min": FOOT_M / 60.0,
        "mph": 0.44704,
    },
    "time": {"s": 1.0, "sec": 1.0, "seconds": 1.0, "ms": 1e-3, "us": 1e-6, "ns": 1e-9, "utc": 1.0},
    "date": {},
}  # fmt: skip
_NAMES = {
    "time": "time timestamp datetime date_time utc utc_time time_utc gps_time gnss_time unix unix_time epoch t "
    "elapsed elapsed_time seconds isotime iso_time time_iso local_time zulu zulu_time sim_time simulation_time",
    "date": "date utc_date gps_date day",
    "lat": "lat latitude gps_lat gnss_lat gps_latitude gnss_latitude",
    "lon": "lon lng long longitude gps_lon gnss_lon gps_longitude gnss_longitude",
    "alt": "alt altitude ele elevation gps_alt gnss_alt gps_altitude gnss_altitude alt_msl altitude_msl msl "
    "alt_amsl altitude_amsl height_msl true_altitude",
    "pressure_alt": "pressure_alt pressure_altitude baro_alt baro_altitude barometric_altitude std_alt qne",
    "ground_speed": "ground_speed gs groundspeed speed_over_ground sog gps_speed speed",
    "airspeed": "tas true_airspeed airspeed_true airspeed",
    "indicated_airspeed": "ias indicated_airspeed airspeed_indicated",
    "climb": "climb vario vertical_speed vs climb_rate vspeed",
    "course": "course track cog course_over_ground ground_track true_track",
    "heading": "heading true_heading hdg",
}
_BY_NAME = {name: quantity for quantity, names in _NAMES.items() for name in names.split()}
_IN_BRACKETS = re.compile(r"^(.*?)\s*[\[(]\s*([^\])]{0,20})\s*[\])]\s*$")


SEPARATORS = (",", ";", "\t", "|")
HEAD_LINES = 40
"""Lines before which the names of the columns must have come."""
LONGEST_FIELD = 4096


@dataclass(frozen=True)
class Column:
    """A column: where it stands, what it holds, the factor to SI, and the unit as written ("": none is named)."""

    index: int
    quantity: str
    factor: float
    unit: str


Columns = Mapping[str, Column]


def columns_named(cells: Sequence[str]) -> Columns | None:
    """The columns that these cells name; None where they name no time, latitude and longitude."""
    found: dict[str, Column] = {}
    for index, cell in enumerate(cells[:200]):
        quantity, unit = _told_by(cell)
        if quantity and quantity not in found:
            found[quantity] = Column(index, quantity, UNITS[QUANTITIES[quantity]].get(unit, 1.0), unit)
    if "date" in found and "time" not in found:
        found["time"] = Column(found["date"].index, "time", 1.0, "")
        del found["date"]
    return found if all(name in found for name in REQUIRED) else None


def _told_by(cell: str) -> tuple[str, str]:
    """What a name says: the quantity ("" for none of ours) and the unit ("" for none)."""
    name, unit = _split_unit(cell.strip().strip("\ufeff#").strip().lower())
    plain = re.sub(r"[^a-z0-9]+", "_", name).strip("_")
    quantity = _BY_NAME.get(plain, "")
    if not quantity and not unit:  # altitude_ft, lat_deg
        stem, _, ending = plain.rpartition("_")
        quantity = _BY_NAME.get(stem, "")
        if quantity and ending in UNITS[QUANTITIES[quantity]]:
            return quantity, ending
        quantity = ""
    if quantity and unit and unit not in UNITS[QUANTITIES[quantity]]:
        return ("", "") if QUANTITIES[quantity] in ("length", "speed") else (quantity, "")
    return quantity, unit


def _split_unit(name: str) -> tuple[str, str]:
    """A name and the unit in brackets behind it."""
    match = _IN_BRACKETS.match(name)
    return (match.group(1), match.group(2).strip()) if match else (name, "")


def columns_asked(text: str) -> dict[str, str]:
    """What `--columns` says: quantity -> name or number of the column, a unit in square brackets behind it.

    >>> columns_asked("time=UTC, lat=Lat, lon=Lon, alt=Height [ft]")
    {'time': 'UTC', 'lat': 'Lat', 'lon': 'Lon', 'alt': 'Height [ft]'}

    Raises ValueError with what is wrong.
    """
    asked: dict[str, str] = {}
    for part in text.split(","):
        key, equals, value = (piece.strip() for piece in part.partition("="))
        if not equals or not value or key not in QUANTITIES or key in asked:
            raise ValueError(f"{part.strip()!r} is not NAME=COLUMN, each NAME once, among {', '.join(QUANTITIES)}")
        asked[key] = value
    missing = [name for name in REQUIRED if name not in asked]
    if missing:
        raise ValueError(f"no column is named for {' and '.join(missing)}")
    return asked


def columns_chosen(asked: Mapping[str, str], cells: Sequence[str], file: str) -> tuple[Columns, bool]:
    """The columns that the user named among these cells of the first line, and whether that line holds names.

    Raises TrackFileError for a column or unit that is not there.
    """
    names = [cell.strip().strip("\ufeff#").strip().lower() for cell in cells]
    found: dict[str, Column] = {}
    by_number = True
    for quantity, wanted in asked.items():
        name, unit = wanted.lower(), ""
        if name not in names:
            name, unit = _split_unit(name)
        units = UNITS[QUANTITIES[quantity]]
        if unit and unit not in units:
            advice = f"units are {', '.join(units)}" if units else "a date has none"
            raise TrackFileError(f"a unit that is not known, {quoted(unit)}, for {quantity}", advice, file, 1)
        if name in names:
            index, by_number = names.index(name), False
            unit = unit or _told_by(cells[index])[1]
        elif name.isascii() and name.isdigit() and 1 <= int(name[:6]) <= len(cells):
            index = int(name[:6]) - 1
        else:
            there = ", ".join(quoted(cell) for cell in cells[:12])
            raise TrackFileError(f"no column {quoted(wanted)}", f"the columns are {there}", file, 1)
        found[quantity] = Column(index, quantity, units.get(unit, 1.0), unit)
    if by_number:
        numeric = all(any(letter.isdigit() for letter in cells[found[name].index]) for name in REQUIRED)
        return found, not numeric
    return found, True


def opened_table(data: bytes) -> TextIO:
    """The text of the table: UTF-8 or UTF-16 by its mark, what is neither replaced."""
    encoding = "utf-16" if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)) else "utf-8-sig"
    return io.TextIOWrapper(io.BytesIO(data), encoding=encoding, errors="replace", newline="")


def named_columns_in(text: TextIO) -> tuple[str, Columns, int] | None:
    """Separator, columns and number of the line that names them."""
    for number in range(1, HEAD_LINES + 1):
        line = text.readline(LONGEST_FIELD)
        if not line:
            return None
        for separator in SEPARATORS:
            if line.count(separator) >= 2:  # three columns
                found = columns_named(cells_of(line, separator))
                if found is not None:
                    return separator, found, number
    return None


def cells_of(line: str, separator: str) -> list[str]:
    """The fields of one line."""
    try:
        return next(csv.reader([line], delimiter=separator), [])
    except csv.Error:
        return []
