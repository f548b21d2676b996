"""The records of an IGC log other than fixes: what each of them says.

Layouts: IGC technical specification for GNSS flight recorders, Appendix 1 (A 3.1, C 3.6, D 4.6, E 4.2, F 4.3,
H 3.3, I 3.4, J 3.5, K 4.4), and what recorders make of them.
"""

from __future__ import annotations

import datetime
import re
from dataclasses import dataclass

_FIRST_EXTENSION_BYTE = 36
_WIDEST_EXTENSION = 15  # more digits do not fit a float64
_CENTURY_PIVOT = 70  # 70..99 are 1970..1999: the format is of 1994, unset clocks say 1970 or 1980
_TRIPLE = re.compile(r"(\d\d)(\d\d)([A-Z0-9]{3})")
_DATE = re.compile(r"\d{6}")
_DECLARED_POINT = re.compile(r"C(\d{7,8})([NS])(\d{8,9})([EW])(.*)", re.IGNORECASE)
_DECLARATION = re.compile(r"C(\d{6})(\d{6})(\d{6})?(\w{4})?(-?\d\d)?(.*)", re.IGNORECASE)


@dataclass(frozen=True)
class Extension:
    """A further column of B or K records: bytes `first` to `last` (1 is the record letter), three-letter code."""

    first: int
    last: int
    code: str

    @property
    def width(self) -> int:
        """Number of its bytes."""
        return self.last - self.first + 1


@dataclass(frozen=True)
class HeaderLine:
    """An H record: its source (F, O, P, S ...), three-letter code, long name and value."""

    source: str
    code: str
    name: str
    value: str


@dataclass(frozen=True)
class Declaration:
    """First C record: when a task was declared, the day it is for, its number, turn points and name."""

    declared_date: datetime.date | None
    declared_second_of_day: float
    flight_date: datetime.date | None
    task: str
    turn_points: int | None
    text: str


def read_date(digits: str) -> datetime.date | None:
    """Date from DDMMYY, None where no such day exists.

    >>> read_date("160701")
    datetime.date(2001, 7, 16)
    """
    day, month, year = int(digits[:2]), int(digits[2:4]), int(digits[4:6])
    try:
        return datetime.date(year + (1900 if year >= _CENTURY_PIVOT else 2000), month, day)
    except ValueError:
        return None


def read_date_line(text: str) -> tuple[datetime.date | None, int | None]:
    """Date and flight number of the day from any form of the DTE record: the first six digits in a row count.

    >>> read_date_line("HFDTEDATE:010918,01")
    (datetime.date(2018, 9, 1), 1)
    """
    found = _DATE.search(text)
    if found is None:
        return None, None
    number = re.match(r"\s*,\s*(\d{1,2})", text[found.end() :])
    return read_date(found.group()), int(number.group(1)) if number else None


def read_header_line(text: str) -> HeaderLine | None:
    """Source, code, long name and value of an H record; None where it has no three-letter code.

    >>> read_header_line("HFPLTPILOTINCHARGE: Nobody")
    HeaderLine(source='F', code='PLT', name='PILOTINCHARGE', value='Nobody')
    """
    if len(text) < 5 or not text[2:5].isalnum():
        return None
    name, colon, value = text[5:].partition(":")
    if not colon:
        name, value = "", name
    return HeaderLine(text[1].upper(), text[2:5].upper(), name.strip().upper(), value.strip())


def read_extensions(text: str, first_byte: int = _FIRST_EXTENSION_BYTE) -> tuple[tuple[Extension, ...], str]:
    """Columns that an I or J record names, and what is wrong with it ("" where nothing is).

    >>> read_extensions("I013638TAS")
    ((Extension(first=36, last=38, code='TAS'),), '')
    """
    body = text[1:].strip().upper()
    wrong = ""
    promised: int | None = None
    if body[:2].isdecimal() and (len(body) % 7 == 2 or not _TRIPLE.match(body)):
        promised, body = int(body[:2]), body[2:]
    kept: list[Extension] = []
    taken: set[int] = set()
    triples = [_TRIPLE.match(body[first : first + 7]) for first in range(0, len(body), 7)]
    for triple in triples:
        if triple is None:
            wrong = "a column that cannot be read"
            continue
        column = Extension(int(triple.group(1)), int(triple.group(2)), triple.group(3))
        span = set(range(column.first, column.last + 1))
        if column.first < first_byte or not span or column.width > _WIDEST_EXTENSION or span & taken:
            wrong = f"column {triple.group(3)} with bytes {triple.group(1)} to {triple.group(2)}"
            continue
        taken |= span
        kept.append(column)
    if not wrong and promised is not None and promised != len(triples):
        wrong = f"{promised} columns promised and {len(triples)} named"
    return tuple(kept), wrong


def read_time(digits: str) -> float | None:
    """Second of the day from HHMMSS, None where no such time exists.

    >>> read_time("160240")
    57760.0
    """
    if len(digits) < 6 or not (digits[:6].isascii() and digits[:6].isdigit()):
        return None
    hour, minute, second = int(digits[:2]), int(digits[2:4]), int(digits[4:6])
    total = hour * 3600 + minute * 60 + second
    return float(total) if minute < 60 and second <= 60 and total <= 86400 else None


def read_event(text: str) -> tuple[float, str, str] | None:
    """Second of the day, code and text of an E record.

    >>> read_event("E104544ATS102312")
    (38744.0, 'ATS', '102312')
    """
    second = read_time(text[1:7])
    return None if second is None or len(text) < 10 else (second, text[7:10].upper(), text[10:].strip())


def altimeter_setting_pa(text: str) -> float | None:
    """Pressure of an ATS event, printed as hectopascals with two decimals (`102312`) or with a point (`1013.2`).

    >>> altimeter_setting_pa("102312")
    102312.0
    """
    match = re.fullmatch(r"\s*(\d{3,4}\.\d+|\d{5,6})\s*", text)
    if match is None:
        return None
    return round(float(match.group(1)) * 100.0, 6) if "." in match.group(1) else float(match.group(1))


def read_satellites(text: str) -> tuple[float, tuple[str, ...]] | None:
    """Second of the day and the satellites used, from an F record.

    >>> read_satellites("F160240040609")
    (57760.0, ('04', '06', '09'))
    """
    second = read_time(text[1:7])
    if second is None:
        return None
    names = text[7:].replace(" ", "")
    return second, tuple(names[k : k + 2] for k in range(0, len(names) - 1, 2))


def read_differential(text: str) -> tuple[bool, str] | None:
    """Whether differential GPS was in use, and its station, from a D record.

    >>> read_differential("D20331")
    (True, '0331')
    """
    return (text[1] == "2", text[2:6].strip()) if len(text) > 1 and text[1] in "12" else None


def read_declaration(text: str) -> Declaration | None:
    """First line of a task declaration; None where the line is a point of it.

    >>> read_declaration("C150701213841160701000102500K Tri").text
    '500K Tri'
    """
    match = None if read_declared_point(text) else _DECLARATION.fullmatch(text.strip())
    second = read_time(match.group(2)) if match else None
    if match is None or second is None:
        return None
    flight_date = read_date(match.group(3)) if match.group(3) else None
    turn_points = int(match.group(5)) if match.group(5) else None
    task, text = match.group(4) or "0001", match.group(6).strip()
    return Declaration(read_date(match.group(1)), second, flight_date, task, turn_points, text)


def read_declared_point(text: str) -> tuple[str, float, float] | None:
    """Name, latitude and longitude of a declared point; None where the line is none.

    A point left open is 0 N 0 E; the specification prints it with one zero too many, and both forms are read.
    """
    match = _DECLARED_POINT.fullmatch(text.strip())
    if match is None:
        return None
    latitude = _degrees(match.group(1)[-7:], 2, match.group(2).upper() == "S")
    longitude = _degrees(match.group(3)[-8:], 3, match.group(4).upper() == "W")
    if latitude is None or longitude is None or abs(latitude) > 90.0 or abs(longitude) > 180.0:
        return None
    return match.group(5).strip(), latitude, longitude


def _degrees(digits: str, degree_digits: int, negative: bool) -> float | None:
    """Degrees from DDMMmmm or DDDMMmmm; None for minutes past 59."""
    thousandths = int(digits[degree_digits:])
    if thousandths >= 60000:
        return None
    degrees = (int(digits[:degree_digits]) * 60000 + thousandths) / 60000.0
    return -degrees if negative else degrees
