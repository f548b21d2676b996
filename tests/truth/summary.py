"""Statistics of the records of many simulated logs."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from .flight_scores import Record

KINDS = ("launch_run", "climb", "glide", "search", "approach")
PER_CENT = 100.0


class Measured(NamedTuple):
    """One figure of many cases; coverage and median half width where it has intervals."""

    statistic: str
    value: float
    cases: int
    coverage: float | None = None
    half_width: float | None = None


def plain(errors: np.ndarray, percentile: float | None = None) -> Measured:
    """Median absolute error, or the one that this percentage of cases stays below."""
    if percentile is None:
        return Measured("median", median_abs(errors), len(errors))
    return Measured(f"{percentile:.0f} % within", high_abs(errors, percentile), len(errors))


def share(right: Sequence[bool] | np.ndarray) -> Measured:
    """Share of cases that are right."""
    return Measured("share", float(np.mean(right)), len(right))


def intervals(errors: np.ndarray) -> Measured:
    """From rows of error and half width."""
    width = float(np.median(errors[:, 1]))
    return Measured("median", median_abs(errors[:, 0]), len(errors), coverage(errors), width)


def relative(errors: np.ndarray, *, root_mean_square: bool = False, by: float = PER_CENT) -> Measured:
    """From rows of error, whether the interval held the truth, and half width; shares become per cent."""
    of, word = (rms, "RMS") if root_mean_square else (median_abs, "median")
    held, width = float(errors[:, 1].mean()), by * float(np.median(errors[:, 2]))
    return Measured(word, by * of(errors[:, 0]), len(errors), held, width)


def within(errors: np.ndarray, percentile: float) -> Measured:
    """From rows of error, whether the interval held the truth, and half width: what so many cases stay below."""
    return relative(errors, by=1.0)._replace(
        statistic=f"{percentile:.0f} % within", value=high_abs(errors[:, 0], percentile)
    )


def winds(errors: np.ndarray) -> Measured:
    """From rows of error east, error north and standard error."""
    width = 1.96 * float(np.median(errors[:, 2]))
    return Measured("RMS of the vector", vector_rms(errors), len(errors), wind_coverage(errors), width)


def joined(records: Sequence[Record], key: str) -> np.ndarray:
    """All entries of one list of the records."""
    return np.array([item for record in records for item in record[key]], dtype=np.float64)


def total(records: Sequence[Record], key: str) -> int:
    """Sum of one count of the records."""
    return sum(record[key] for record in records)


def vector_rms(errors: np.ndarray) -> float:
    """Root mean square length of wind errors; (k, 2) or more columns, east and north first."""
    return float(np.sqrt((errors[:, 0] ** 2 + errors[:, 1] ** 2).mean())) if len(errors) else math.nan


def wind_coverage(errors: np.ndarray) -> float:
    """Share of components within their 95 % interval; the third column is the standard error."""
    inside = np.abs(errors[:, :2]) <= 1.96 * errors[:, 2:3]
    return float(inside.mean()) if len(errors) else math.nan


def coverage(errors: np.ndarray) -> float:
    """Share of (error, half width) pairs within the interval."""
    return float((np.abs(errors[:, 0]) <= errors[:, 1]).mean()) if len(errors) else math.nan


def rms(errors: np.ndarray) -> float:
    """Root mean square error."""
    return float(np.sqrt(np.square(errors).mean())) if len(errors) else math.nan


def median_abs(errors: np.ndarray) -> float:
    """Median absolute error."""
    return float(np.median(np.abs(errors))) if len(errors) else math.nan


def high_abs(errors: np.ndarray, percentile: float = 95) -> float:
    """Absolute error that this percentage of cases stays below."""
    return float(np.percentile(np.abs(errors), percentile)) if len(errors) else math.nan


def f1_scores(records: Sequence[Record], key: str = "confusion") -> dict[str, float]:
    """F1 score per second of every kind of phase."""
    counts: dict[tuple[str, str], int] = {}
    for record in records:
        for pair, number in record[key].items():
            true, found = pair.split(">")
            counts[true, found] = counts.get((true, found), 0) + number
    scores = {}
    for kind in KINDS:
        hit = counts.get((kind, kind), 0)
        true = sum(n for (t, _), n in counts.items() if t == kind)
        found = sum(n for (_, f), n in counts.items() if f == kind)
        scores[kind] = 2 * hit / (true + found) if true + found else math.nan
    return scores


def confusion_table(records: Sequence[Record]) -> str:
    """Seconds of every true phase (rows) by the phase found (columns)."""
    names = (*KINDS, "ground")
    rows = [" " * 11 + "".join(f"{n[:10]:>11}" for n in names)]
    for true in names:
        cells = [sum(r["confusion"].get(f"{true}>{found}", 0) for r in records) for found in names]
        rows.append(f"{true:<11}" + "".join(f"{c:>11}" for c in cells))
    return "\n".join(rows)
