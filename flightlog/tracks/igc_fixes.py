"""The B records of an IGC log, decoded as one block of bytes.

Every column of the block is one contiguous row of bytes, and numbers are built by Horner's rule over those rows:
no fix is looked at on its own. Layout: IGC technical specification for GNSS flight recorders, Appendix 1, 4.1.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import numpy.typing as npt
from numpy.lib.stride_tricks import sliding_window_view

from flightlog.arrays import Bools, Floats, Ints
from flightlog.tracks.igc_lines import Bytes, Lines
from flightlog.tracks.igc_records import Extension
from flightlog.tracks.notebook import Notebook, quoted

Layouts = Sequence[tuple[int, tuple[Extension, ...]]]

BASE_LENGTH = 35
"""Bytes of a B record without extensions."""
_BLOCK_ROWS = 4096  # rows decoded at a time: 35 x 4096 bytes and their numbers stay in the cache
_FURTHER_DIGITS = ("LAD", "LOD", "TDS")  # appended to the minutes and seconds of the record
_MINUS, _PLUS, _SPACE = 45, 43, 32
_UPPER_CASE = np.uint8(0xDF)
_ZERO = np.uint8(48)


@dataclass(frozen=True, eq=False)
class FixBlock:
    """The readable B records, n fixes in the order of the file, NaN where a value cannot be read."""

    line_index: Ints  # (n,) index into Lines
    second_of_day: Floats  # (n,) 0 to 86 400, fractions from TDS
    latitude_deg: Floats
    longitude_deg: Floats
    is_3d: Bools  # (n,) A; False: V
    pressure_altitude_m: Floats
    gnss_altitude_m: Floats
    records_read: int
    extensions: dict[str, Floats] = field(default_factory=dict)  # by code, numbers as written


def whole_numbers(columns: Bytes) -> Floats:
    """Whole numbers from rows of ASCII bytes, (w, n) to (n,); NaN where there is none.

    `-` stands anywhere before the first digit that counts (`-0012`, `0-012`, `  -12`), as recorders write it.

    >>> whole_numbers(np.frombuffer(b"-0012", np.uint8)[:, None])
    array([-12.])
    """
    return _numbers(columns - _ZERO, columns)


def _numbers(digits: Bytes, columns: Bytes) -> Floats:
    """The same from digits already made: a byte that is none has wrapped above 9."""
    number: Floats = _horner(digits).astype(np.float64)
    odd = np.flatnonzero(digits.max(axis=0) >= 10)
    if odd.size:
        number[odd] = _signed_numbers(columns[:, odd])
    return number


def _horner(digits: Bytes) -> npt.NDArray[Any]:
    """Digits (w, n), first row first, to numbers (n,), as int32 where that holds them; no digits, no sense."""
    number: npt.NDArray[Any] = digits[0].astype(np.int32 if digits.shape[0] <= 7 else np.float64)
    for row in digits[1:]:
        number *= 10
        number += row
    return number


def _signed_numbers(columns: Bytes) -> Floats:
    """Numbers with a sign or blanks among their digits."""
    number = np.zeros(columns.shape[1])
    sign = np.ones(columns.shape[1])
    signs = np.zeros(columns.shape[1], dtype=np.int64)
    digit_count = np.zeros(columns.shape[1], dtype=np.int64)
    good = np.ones(columns.shape[1], dtype=np.bool_)
    for row in columns:
        is_digit = (row - _ZERO) < 10
        is_sign = (row == _MINUS) | (row == _PLUS)
        good &= is_digit | (row == _SPACE) | (is_sign & (number == 0))
        sign[row == _MINUS] = -1.0
        signs += is_sign
        digit_count += is_digit
        number = np.where(is_digit, number * 10 + (row - 48.0), number)
    good &= (signs <= 1) & (digit_count > 0)
    number[~good] = np.nan
    return number * sign


def decode_fixes(lines: Lines, layouts: Layouts, notebook: Notebook) -> FixBlock:
    """Decode all B records.

    Parameters
    ----------
    lines : Lines
        The log.
    layouts : sequence of (first line index, extensions)
        In the order of the file; a layout holds from its line on.
    notebook : Notebook
        Takes what was odd.
    """
    rows = lines.of_letter("B")
    records_read = int(rows.size)
    lengths = lines.end[rows] - lines.start[rows]
    shrunk = _shrunk_heights(lines, rows, lengths, layouts)
    long_enough = (lengths >= BASE_LENGTH) | shrunk
    _note_short(lines, rows[~long_enough], notebook)
    rows, shrunk, lengths = rows[long_enough], shrunk[long_enough], lengths[long_enough]
    table = np.empty((6, rows.size))
    for first in range(0, rows.size, _BLOCK_ROWS):
        block = slice(first, first + _BLOCK_ROWS)
        _decode_rows(lines, rows[block], shrunk[block], table[:, block])
    good = ~np.isnan(table[0])
    if not good.all():
        bad = rows[~good]
        text = quoted(lines.text(int(bad[0])))
        message = f"the time or the layout of a fix cannot be read, as in {text}; left out"
        notebook.add("unreadable_fix", message, int(bad[0]) + 1, int(bad.size))
        rows, shrunk, lengths, table = rows[good], shrunk[good], lengths[good], table[:, good]
    extensions = _decode_extensions(lines, rows, lengths, shrunk, layouts, notebook)
    return _assemble(rows, table, extensions, records_read, notebook)


def _shrunk_heights(lines: Lines, rows: Ints, lengths: Ints, layouts: Layouts) -> Bools:
    """Records one byte short because a negative height lost its padding (`-012` for `-0012`)."""
    promised = np.full(rows.size, BASE_LENGTH)
    for first_line, extensions in layouts:
        width = max((extension.last for extension in extensions), default=BASE_LENGTH)
        promised[np.searchsorted(rows, first_line) :] = width
    shrunk = np.zeros(rows.size, dtype=np.bool_)
    candidates = np.flatnonzero((lengths == promised - 1) & (lengths >= BASE_LENGTH - 1))
    at = lines.start[rows[candidates]]
    shrunk[candidates] = (lines.buffer[at + 25] == _MINUS) | (lines.buffer[at + 30] == _MINUS)
    return shrunk


def _note_short(lines: Lines, short: Ints, notebook: Notebook) -> None:
    """Say which B records are too short; the last line of a file being cut off is a case of its own."""
    if short.size and int(short[-1]) == lines.start.size - 1:
        message = "the last line is cut off; the recording probably ended without being closed"
        notebook.add("cut_off", message, int(short[-1]) + 1)
        short = short[:-1]
    if short.size:
        text = quoted(lines.text(int(short[0])))
        message = f"a fix of less than 35 bytes, as {text}; left out"
        notebook.add("short_record", message, int(short[0]) + 1, int(short.size))


def _columns(lines: Lines, rows: Ints, shrunk: Bools, width: int) -> Bytes:
    """Bytes of the records, one contiguous row a column: (width, n)."""
    even = None if shrunk.any() else _evenly_spaced(lines, rows)
    if even is not None:
        return np.ascontiguousarray(even[:, :width].T)
    missing = int(lines.start[rows[-1]]) + width - lines.buffer.size
    buffer = lines.buffer if missing <= 0 else np.pad(lines.buffer, (0, missing), constant_values=_SPACE)
    block = sliding_window_view(buffer, width)[lines.start[rows]]
    if shrunk.any():
        block = block.copy()
        for height in (25, 30):  # a minus without its zero: put the zero back
            here = np.flatnonzero(shrunk & (block[:, height] == _MINUS))
            block[here, height + 2 :] = block[here, height + 1 : -1].copy()
            block[here, height + 1] = 48
            shrunk = shrunk & ~np.isin(np.arange(shrunk.size), here)
    return np.ascontiguousarray(block.T)


def _evenly_spaced(lines: Lines, rows: Ints) -> Bytes | None:
    """The records as rows of one table, nothing copied, where they follow each other at one length; else None."""
    starts = lines.start[rows]
    first, count = int(starts[0]), starts.size
    stride = int(starts[1]) - first if count > 1 else 0
    if stride == 0 or first + count * stride > lines.buffer.size:
        return None
    if not bool((starts == np.arange(first, first + count * stride, stride)).all()):
        return None
    return lines.buffer[first : first + count * stride].reshape(count, stride)


def _decode_rows(lines: Lines, rows: Ints, shrunk: Bools, table: Floats) -> None:
    """Fill in second of day, latitude, longitude, validity and both heights, (6, n); time NaN: unreadable."""
    columns = _columns(lines, rows, shrunk, BASE_LENGTH)
    digits = columns - _ZERO
    minutes, seconds = (_horner(digits[k : k + 2]) for k in (3, 5))
    second_of_day = _horner(digits[1:3]) * 3600 + minutes * 60 + seconds
    validity = columns[24] & _UPPER_CASE
    is_3d = validity == ord("A")
    readable = digits[1:7].max(axis=0) < 10
    readable &= (minutes < 60) & (seconds <= 60) & (second_of_day <= 86400)
    readable &= is_3d | (validity == ord("V"))
    table[0] = second_of_day
    table[0, ~readable] = np.nan
    table[1] = _angle(digits[7:14], columns[14], 2, b"NS")
    table[2] = _angle(digits[15:23], columns[23], 3, b"EW")
    table[3] = is_3d
    table[4] = _numbers(digits[25:30], columns[25:30])
    table[5] = _numbers(digits[30:35], columns[30:35])


def _angle(digits: Bytes, hemisphere: Bytes, degree_digits: int, letters: bytes) -> Floats:
    """Thousandths of a minute, south and west negative, from DDMMmmm or DDDMMmmm; NaN: there is no such place."""
    thousandths = _horner(digits[degree_digits:])
    total = _horner(digits[:degree_digits]) * 60000 + thousandths
    side = hemisphere & _UPPER_CASE
    negative = side == letters[1]
    good = (digits.max(axis=0) < 10) & (thousandths < 60000) & (negative | (side == letters[0]))
    good &= total <= (5_400_000 if degree_digits == 2 else 10_800_000)
    angle: Floats = total.astype(np.float64)
    angle[negative] *= -1.0  # keeps the side even at zero degrees, for LAD and LOD
    angle[~good] = np.nan
    return angle


def _decode_extensions(
    lines: Lines,
    rows: Ints,
    lengths: Ints,
    shrunk: Bools,
    layouts: Layouts,
    notebook: Notebook,
) -> dict[str, Floats]:
    """Numbers of every extension column by its code, NaN where a record has none."""
    found: dict[str, Floats] = {}
    bounds = [int(np.searchsorted(rows, first_line)) for first_line, _ in layouts]
    extra = np.ones(rows.size, dtype=np.bool_)
    for (_, extensions), low, high in zip(layouts, bounds, [*bounds[1:], rows.size], strict=True):
        if not extensions or low == high:
            continue
        extra[low:high] = False
        width = max(extension.last for extension in extensions)
        full = np.flatnonzero(lengths[low:high] + shrunk[low:high] >= width) + low
        _note_shorter_than_promised(lines, rows[low:high][lengths[low:high] + shrunk[low:high] < width], notebook)
        for first in range(0, full.size, _BLOCK_ROWS):
            part = full[first : first + _BLOCK_ROWS]
            columns = _columns(lines, rows[part], shrunk[part], width)
            for extension in extensions:
                values = found.setdefault(extension.code, np.full(rows.size, np.nan))
                numbers = whole_numbers(columns[extension.first - 1 : extension.last])
                decimals = extension.width if extension.code in _FURTHER_DIGITS else 0
                values[part] = numbers / 10.0**decimals
    unexplained = np.flatnonzero(extra & (lengths > BASE_LENGTH))
    if unexplained.size:
        message = "fixes hold more than 35 bytes without an I record that explains them; the rest is ignored"
        notebook.add("extra_bytes", message, int(rows[unexplained[0]]) + 1, int(unexplained.size))
    return {code: values for code, values in found.items() if not np.isnan(values).all()}


def _note_shorter_than_promised(lines: Lines, short: Ints, notebook: Notebook) -> None:
    """Say which fixes end before the last column of the I record; their first 35 bytes are used."""
    if short.size and int(short[-1]) == lines.start.size - 1:
        notebook.add("cut_off", "the last line is cut off; its first 35 bytes are used", int(short[-1]) + 1)
        short = short[:-1]
    if short.size:
        message = "fixes are shorter than the I record promises; their first 35 bytes are used"
        notebook.add("short_extension", message, int(short[0]) + 1, int(short.size))


def _assemble(
    rows: Ints, table: Floats, extensions: dict[str, Floats], records_read: int, notebook: Notebook
) -> FixBlock:
    """Join the columns; append the further digits of LAD, LOD and TDS; take out places that do not exist."""
    second_of_day, latitude, longitude, is_3d, pressure, gnss = table
    for values, code in ((second_of_day, "TDS"), (latitude, "LAD"), (longitude, "LOD")):
        if code in extensions:
            values += np.copysign(np.nan_to_num(extensions[code], nan=0.0), values)
    nowhere = np.isnan(latitude) | np.isnan(longitude)
    if nowhere.any():
        message = "a position that does not exist (past 90 or 180 degrees or 59 minutes, no N/S or E/W); left out"
        notebook.add("bad_position", message, int(rows[np.argmax(nowhere)]) + 1, int(nowhere.sum()))
    origin = (latitude == 0.0) & (longitude == 0.0)
    if origin.any():
        message = "fixes at exactly 0 N 0 E: the recorder had no position yet; only pressure altitude is used"
        notebook.add("no_position", message, int(rows[np.argmax(origin)]) + 1, int(origin.sum()))
    latitude[nowhere | origin] = np.nan
    longitude[nowhere | origin] = np.nan
    longitude_deg = longitude / 60000.0
    longitude_deg[longitude_deg >= 180.0] -= 360.0
    _note_heights(rows, pressure, gnss, notebook)
    others = {code: values for code, values in extensions.items() if code not in _FURTHER_DIGITS}
    return FixBlock(
        rows, second_of_day, latitude / 60000.0, longitude_deg, is_3d == 1.0, pressure, gnss, records_read, others
    )


def _note_heights(rows: Ints, pressure: Floats, gnss: Floats, notebook: Notebook) -> None:
    """Say where a height cannot be read."""
    bad = np.isnan(pressure) | np.isnan(gnss)
    if bad.any():
        message = "an altitude that is no number; that altitude is left out"
        notebook.add("bad_altitude", message, int(rows[np.argmax(bad)]) + 1, int(bad.sum()))
