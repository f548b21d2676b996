"""K records: what a recorder writes every twenty seconds or so, put to the fixes nearest in time."""

from __future__ import annotations

import numpy as np

from flightlog.arrays import Floats, Ints
from flightlog.tracks.igc_fixes import FixBlock, whole_numbers
from flightlog.tracks.igc_header import IgcHeader
from flightlog.tracks.igc_lines import Bytes, Lines
from flightlog.tracks.notebook import Notebook

_TIME_BYTES = 7  # the letter and HHMMSS
_HALF_DAY_S, _DAY_S = 43200.0, 86400.0
_NEAREST_S = 30.0  # a value farther from any fix belongs to none


def slow_columns(lines: Lines, header: IgcHeader, block: FixBlock, notebook: Notebook) -> dict[str, Floats]:
    """Columns of the K records by code, one value a fix: NaN but at the fix nearest to each record."""
    rows = lines.of_letter("K")
    found: dict[str, Floats] = {}
    if rows.size == 0 or block.line_index.size == 0:
        return found
    bounds = [int(np.searchsorted(rows, first_line)) for first_line, _ in header.slow_layouts]
    unread = 0
    for (_, extensions), low, high in zip(header.slow_layouts, bounds, [*bounds[1:], rows.size], strict=True):
        width = max((extension.last for extension in extensions), default=_TIME_BYTES)
        part = rows[low:high]
        part = part[lines.end[part] - lines.start[part] >= width]
        unread += high - low - int(part.size) if extensions else high - low
        if not extensions or part.size == 0:
            continue
        table = lines.buffer[lines.start[part][:, None] + np.arange(width)].T
        second = _second_of_day(table[1:_TIME_BYTES])
        fix = _nearest_fix(part, second, block)
        for extension in extensions:
            values = found.setdefault(extension.code, np.full(block.line_index.size, np.nan))
            values[fix[fix >= 0]] = whole_numbers(table[extension.first - 1 : extension.last])[fix >= 0]
    if unread:
        message = "K records that no J record explains, or shorter than it promises; ignored"
        notebook.add("unread_k_record", message, int(rows[0]) + 1, unread)
    return {code: values for code, values in found.items() if not np.isnan(values).all()}


def _second_of_day(digits: Bytes) -> Floats:
    """Second of the day from rows of HHMMSS; NaN where it is none."""
    hour, minute, second = (whole_numbers(digits[k : k + 2]) for k in (0, 2, 4))
    return hour * 3600.0 + minute * 60.0 + second


def _nearest_fix(rows: Ints, second: Floats, block: FixBlock) -> Ints:
    """Index of the fix before or after each line that is nearer in time; -1 where neither is near."""
    after = np.searchsorted(block.line_index, rows)
    sides = np.stack([np.maximum(after - 1, 0), np.minimum(after, block.line_index.size - 1)])
    apart = np.abs((block.second_of_day[sides] - second + _HALF_DAY_S) % _DAY_S - _HALF_DAY_S)
    nearer = np.where(apart[1] <= apart[0], sides[1], sides[0])
    near = np.where(np.isnan(apart), np.inf, apart).min(axis=0) <= _NEAREST_S
    return np.where(near, nearer, -1)
