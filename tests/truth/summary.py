"""From the records of many simulated logs to the table of how closely flightlog recovers known answers."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np

from .cases import KINDS, Record


def joined(records: Sequence[Record], key: str) -> np.ndarray:
    """All entries of one list of the records."""
    return np.array([item for record in records for item in record[key]], dtype=np.float64)


def total(records: Sequence[Record], key: str) -> int:
    """Sum of one count of the records."""
    return sum(record[key] for record in records)


def vector_rms(errors: np.ndarray) -> float:
    """Root mean square length of (k, 3) wind errors."""
    return float(np.sqrt((errors[:, 0] ** 2 + errors[:, 1] ** 2).mean())) if len(errors) else math.nan


def wind_coverage(errors: np.ndarray) -> float:
    """Share of components within their 95 % interval."""
    inside = np.abs(errors[:, :2]) <= 1.96 * errors[:, 2:3]
    return float(inside.mean()) if len(errors) else math.nan


def coverage(errors: np.ndarray) -> float:
    """Share of (error, half width) pairs within the interval."""
    return float((np.abs(errors[:, 0]) <= errors[:, 1]).mean()) if len(errors) else math.nan


def median_abs(errors: np.ndarray) -> float:
    """Median absolute error."""
    return float(np.median(np.abs(errors))) if len(errors) else math.nan


def high_abs(errors: np.ndarray, share: float = 95) -> float:
    """Absolute error that this share of cases stays below."""
    return float(np.percentile(np.abs(errors), share)) if len(errors) else math.nan


def f1_scores(records: Sequence[Record]) -> dict[str, float]:
    """F1 score per second of every kind of phase."""
    counts: dict[tuple[str, str], int] = {}
    for record in records:
        for key, number in record["confusion"].items():
            true, found = key.split(">")
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


def by_interval(records: Sequence[Record], figure: Callable[[Sequence[Record]], float]) -> list[float]:
    """A figure for logs of 1, 2, 3 to 4 and 5 s."""
    groups = ((1.0,), (2.0,), (3.0, 4.0), (5.0,))
    return [figure([r for r in records if r["interval_s"] in group]) for group in groups]
