"""Fixes in order of time: duplicates, clocks that step back and blocks recorded twice are left out."""

from __future__ import annotations

import math
from bisect import bisect_left

import numpy as np

from flightlog.arrays import Bools, Floats, Ints


def in_order(segment: Ints, time_s: Floats) -> Ints:
    """Order of the fixes when unbroken recordings are put one after the other by their first time.

    Files joined in the wrong order come right; inside a recording the order of the file stays.
    """
    starts = np.flatnonzero(np.diff(segment, prepend=segment[0] - 1))
    if len(starts) == 1 or (np.diff(time_s[starts]) > 0).all():
        return np.arange(len(time_s))
    ends = np.append(starts[1:], len(time_s))
    by_time = np.argsort(time_s[starts], kind="stable")
    return np.concatenate([np.arange(starts[i], ends[i]) for i in by_time])


def rising(time_s: Floats, closest_s: float) -> Bools:
    """Mark the largest set of fixes whose times rise, each at least `closest_s` after the one before.

    When the clock is set back, this drops as few fixes as will do; a single time far ahead costs one fix only.
    """
    keep = np.diff(time_s, prepend=-np.inf) != 0.0  # of fixes with one time the first stays
    candidates = np.flatnonzero(keep)
    if (np.diff(time_s[candidates]) < 0).any():
        keep[:] = False
        keep[candidates[_longest_rising(time_s[candidates])]] = True
    while True:
        kept = np.flatnonzero(keep)
        close = np.diff(time_s[kept]) < closest_s
        if not close.any():
            return np.asarray(keep)
        first_of_run = close & ~np.concatenate([[False], close[:-1]])
        run_position = np.arange(len(close)) - np.maximum.accumulate(
            np.where(first_of_run, np.arange(len(close)), 0)
        )
        keep[kept[1:][close & (run_position % 2 == 0)]] = False


def _longest_rising(values: Floats) -> Ints:
    """Indices of a longest strictly rising subsequence (patience sorting, Schensted 1961)."""
    tops: list[float] = []
    top_index: list[int] = []
    before = [-1] * len(values)
    for index, value in enumerate(values.tolist()):
        pile = bisect_left(tops, value)
        if pile == len(tops):
            tops.append(value)
            top_index.append(index)
        else:
            tops[pile] = value
            top_index[pile] = index
        before[index] = top_index[pile - 1] if pile else -1
    chain = []
    index = top_index[-1]
    while index >= 0:
        chain.append(index)
        index = before[index]
    return np.array(chain[::-1], dtype=np.int64)


def first_fixes_from(time_s: Floats, shift_s: float, interval_s: float, beyond: bool = False) -> Ints:
    """For each fix the first one not before its own time and so many seconds, (n,); n where there is none.

    With `beyond` the first one after that time. As `np.searchsorted`, in a third of its time where most fixes lie
    `interval_s` apart: then the answer is as many fixes away from each.

    >>> first_fixes_from(np.array([0.0, 1.0, 2.0, 3.0, 7.0]), 2.0, 1.0)
    array([2, 3, 4, 4, 5])
    """
    wanted = time_s + shift_s
    count = len(time_s)
    index = np.arange(count) + math.ceil(shift_s / interval_s + (1e-9 if beyond else -1e-9))
    np.minimum(np.maximum(index, 0, out=index), count, out=index)
    edged = np.concatenate([[-np.inf], time_s, [np.inf]])
    before, at = edged[index], edged[index + 1]
    wrong = (before > wanted) | (at <= wanted) if beyond else (before >= wanted) | (at < wanted)
    amiss = np.flatnonzero(wrong)
    if amiss.size:
        index[amiss] = np.searchsorted(time_s, wanted[amiss], side="right" if beyond else "left")
    return index
