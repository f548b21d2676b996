"""From figures to places in a drawing: scales, round ticks, and lines with no more points than can be seen."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from flightlog.arrays import Floats, Ints

STEPS = (1.0, 2.0, 2.5, 5.0, 10.0)
FINEST_PX = 0.2
"""Points of a line that lie closer together than this are drawn as one."""
MARGIN = 0.04
"""Room beyond the outermost figures, as a share of their span."""


@dataclass(frozen=True)
class Scale:
    """A straight scale: figures from `low` to `high` lie at `start` to `end`, in pixels."""

    low: float
    high: float
    start: float
    end: float

    def at(self, value: float) -> float:
        """Where a figure lies.

        >>> Scale(0.0, 10.0, 100.0, 0.0).at(2.5)
        75.0
        """
        return self.start + (value - self.low) / (self.high - self.low) * (self.end - self.start)

    def all_at(self, values: Floats) -> Floats:
        """As `at`, for an array."""
        placed: Floats = self.start + (values - self.low) / (self.high - self.low) * (self.end - self.start)
        return placed


def widened(low: float, high: float, share: float = MARGIN) -> tuple[float, float]:
    """The span from low to high with room at both ends; never empty.

    >>> widened(0.0, 100.0), widened(5.0, 5.0), widened(math.nan, math.nan)
    ((-4.0, 104.0), (4.5, 5.5), (0.0, 1.0))
    """
    if not (math.isfinite(low) and math.isfinite(high)):
        return 0.0, 1.0
    span = high - low
    if span <= 1e-9 * max(abs(low), abs(high), 1e-6):
        room = max(abs(low) * 0.1, 1e-6)
        return low - room, high + room
    return low - share * span, high + share * span


def round_step(span: float, most: int) -> float:
    """The smallest round step of which at most so many fit into the span.

    >>> round_step(97.0, 5), round_step(1.3, 4), round_step(2900.0, 6)
    (20.0, 0.5, 500.0)
    """
    power = 10.0 ** math.floor(math.log10(span / max(most, 1)))
    return next((step * power for step in STEPS if span / (step * power) <= most * (1.0 + 1e-9)), 10.0 * power)


_ENOUGH_TICKS = 6
"""So many steps always hold two round figures."""


def round_ticks(low: float, high: float, most: int) -> tuple[tuple[float, str], ...]:
    """Round figures between two others, each with its text; one alone gives no scale, then there are more.

    >>> round_ticks(-4.0, 104.0, 5)
    ((0.0, '0'), (25.0, '25'), (50.0, '50'), (75.0, '75'), (100.0, '100'))
    >>> round_ticks(12.0, 36.0, 2)
    ((20.0, '20'), (30.0, '30'))
    """
    step = round_step(high - low, most)
    while most < _ENOUGH_TICKS and math.floor(high / step) <= math.ceil(low / step):
        most += 1
        step = round_step(high - low, most)
    decimals = next((places for places in range(7) if math.isclose(round(step, places), step)), 7)
    first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
    values = [number * step for number in range(first, last + 1)]
    return tuple((value, figure(value, decimals)) for value in values)


def figure(value: float, decimals: int) -> str:
    """A number with so many decimals and a true minus sign.

    >>> figure(-2.5, 1), figure(-0.0, 0)
    ('−2.5', '0')
    """
    text = f"{value:.{decimals}f}"
    return text.lstrip("-") if not text.strip("-0.") else text.replace("-", "−")


def round_length(longest: float) -> float:
    """The longest of 1, 2 or 5 times a power of ten that fits.

    >>> round_length(0.73), round_length(23.0), round_length(1.0)
    (0.5, 20.0, 1.0)
    """
    if not longest > 0.0 or not math.isfinite(longest):
        return 1.0
    power = 10.0 ** math.floor(math.log10(longest))
    return float(f"{max(step for step in (1.0, 2.0, 5.0) if step * power <= longest * (1 + 1e-9)) * power:.3g}")


def line_path(x: Floats, y: Floats) -> str:
    """A line through points (n,), in pixels, as the `d` of an SVG path; NaN breaks it.

    Points that cannot be seen are left out: of a column of pixels with many points in order of x the first, the
    lowest, the highest and the last stay; elsewhere those that lie on their neighbour.

    >>> line_path(np.array([0.0, 1.0, math.nan, 5.0, 6.0]), np.array([0.0, 2.0, math.nan, 0.5, 0.0]))
    'M0 0 1 2M5 .5 6 0'
    """
    known = np.isfinite(x) & np.isfinite(y)
    starts = known & ~np.append(False, known[:-1])
    run = np.cumsum(starts)[known]
    x, y = x[known], y[known]
    if not len(x):
        return ""
    kept = _extremes(x, y, run) if np.all((np.diff(x) >= 0.0) | (np.diff(run) > 0)) else _moved(x, y, run)
    x, y, run = x[kept], y[kept], run[kept]
    begins = np.append(True, np.diff(run) > 0).tolist()
    places = zip(np.round(x, 1).tolist(), np.round(y, 1).tolist(), begins, strict=True)
    return "".join(f"{'M' if begin else ' '}{short(px)} {short(py)}" for px, py, begin in places)


def short(value: float) -> str:
    """A number with one decimal at most, in as few letters as SVG needs.

    >>> short(12.0), short(0.5), short(-0.5), short(-0.01)
    ('12', '.5', '-.5', '0')
    """
    text = f"{value:.1f}".removesuffix(".0")
    if text == "-0":
        return "0"
    return text.replace("0.", ".", 1) if text.startswith(("0.", "-0.")) else text


def _extremes(x: Floats, y: Floats, run: Ints) -> Ints:
    """Of each column of pixels the points that show: first, lowest, highest, last."""
    column = np.floor(x).astype(np.int64) + run.astype(np.int64) * 100_000
    order = np.lexsort((y, column))
    ends = np.flatnonzero(np.append(np.diff(column[order]) != 0, True))
    starts = np.append(0, ends[:-1] + 1)
    firsts = np.flatnonzero(np.append(True, np.diff(column) != 0))
    lasts = np.append(firsts[1:] - 1, len(column) - 1)
    return np.unique(np.concatenate((order[starts], order[ends], firsts, lasts)))


def _moved(x: Floats, y: Floats, run: Ints) -> Ints:
    """The points that differ from the one before by more than is seen, and the last of each run."""
    cell_x, cell_y = np.round(x / FINEST_PX), np.round(y / FINEST_PX)
    is_new = (np.diff(cell_x) != 0) | (np.diff(cell_y) != 0) | (np.diff(run) > 0)
    is_last = np.append(np.diff(run) > 0, True)
    return np.flatnonzero(np.append(True, is_new) | is_last)
