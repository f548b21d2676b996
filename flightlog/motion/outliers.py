"""Fixes that cannot be where the pilot was: spikes, jumps away and back, fixes repeated while he moved on."""

from __future__ import annotations

import math

import numpy as np

from flightlog.arrays import Bools, Complexes, Floats, Ints, quantile, zero_where_unknown


def spikes(
    time_s: Floats, values: Floats | Complexes, slack_m: float, curvature_mps2: float, rounds: int = 3
) -> Bools:
    """Mark fixes that stand out from the line between their neighbours further than any manoeuvre could take them.

    Out by more than `slack_m + curvature_mps2 h1 h2` (h1, h2: time to either neighbour) and further out than both
    neighbours; repeated, since one spike hides another. `values` (n,) are heights, or places as east + i north;
    those that are NaN are passed over.
    """
    spike = np.zeros(len(values), dtype=np.bool_)
    usable = np.isfinite(values)
    for _ in range(rounds):
        index = np.flatnonzero(usable & ~spike)
        if len(index) < 3:
            break
        t, v = time_s[index], values[index]
        before, after = t[1:-1] - t[:-2], t[2:] - t[1:-1]
        away = np.abs(v[1:-1] - v[:-2] - (before / (before + after)) * (v[2:] - v[:-2]))
        out = away > slack_m + curvature_mps2 * before * after
        if not out.any():
            break
        padded = np.concatenate([[0.0], away, [0.0]])
        out &= (padded[1:-1] >= padded[:-2]) & (padded[1:-1] > padded[2:])
        spike[index[1:-1][out]] = True
    return spike


def jumps(time_s: Floats, values: Floats | Complexes, limit_mps: float, slack_m: float, longest_s: float) -> Bools:
    """Mark short blocks of fixes to which the log jumps faster than `limit_mps`, and from which it jumps back.

    Going out from the longest stretch without a jump, a stretch that cannot have been reached from the last
    believed fix is left out, unless it lasts longer than `longest_s`: then the pilot really went there.
    """
    usable = np.flatnonzero(np.isfinite(values))
    dropped = np.zeros(len(values), dtype=np.bool_)
    if len(usable) < 3:
        return dropped
    t, v = time_s[usable], values[usable]
    jump = np.abs(v[1:] - v[:-1]) > limit_mps * (t[1:] - t[:-1]) + slack_m
    if not jump.any():
        return dropped
    starts = np.concatenate([[0], np.flatnonzero(jump) + 1])
    stops = np.append(starts[1:], len(t))
    longest = int(np.argmax(stops - starts))
    for order in (range(longest + 1, len(starts)), range(longest - 1, -1, -1)):
        forward = isinstance(order, range) and order.step == 1
        believed = stops[longest] - 1 if forward else starts[longest]
        for block in order:
            near, far = (starts[block], stops[block] - 1) if forward else (stops[block] - 1, starts[block])
            reach_m = limit_mps * abs(t[near] - t[believed]) + slack_m
            distance = float(np.abs(v[near] - v[believed]))
            if distance <= reach_m or t[stops[block] - 1] - t[starts[block]] > longest_s:
                believed = far
            else:
                dropped[usable[starts[block] : stops[block]]] = True
    return dropped


def stale_repeats(time_s: Floats, place: Complexes, rounding_m: float) -> Bools:
    """Mark exact repeats of a position while the pilot must have moved on.

    A run of repeats is stale when he moved at over 2 m/s before it, and the fix after it lies about as far on as
    that speed takes him in the time of the run; one who has landed and stands still goes on from where he stands.
    """
    stale = np.zeros(len(place), dtype=np.bool_)
    same = place[1:] == place[:-1]
    if not same.any():
        return stale
    first = np.flatnonzero(same & ~np.concatenate([[False], same[:-1]]))  # the fix that is repeated
    last = np.flatnonzero(same & ~np.concatenate([same[1:], [False]])) + 1  # its last repeat
    inside = (first > 0) & (last < len(place) - 1)
    first, last = first[inside], last[inside]
    earlier = np.maximum(np.searchsorted(time_s, time_s[first] - 5.0), 0)
    earlier = np.minimum(earlier, first - 1)
    before_s = time_s[first] - time_s[earlier]
    speed_before = np.abs(place[first] - place[earlier]) / before_s
    frozen_s = time_s[last + 1] - time_s[first]
    moved_on = np.abs(place[last + 1] - place[first])
    expected = speed_before * (time_s[last] - time_s[first])
    usual_step = speed_before * (time_s[last + 1] - time_s[last])
    is_stale = (
        (speed_before > 2.0)
        & (expected > 4.0 * rounding_m + 2.0)
        & (moved_on > 0.5 * speed_before * frozen_s)
        & (moved_on > usual_step + 0.5 * expected)
    )
    for start, stop in zip(first[is_stale], last[is_stale], strict=True):
        stale[start + 1 : stop + 1] = True
    return stale


def rounding_step_deg(degrees: Floats) -> float:
    """Step to which the file rounds its positions, found from the figures themselves; 0 when finer than 1e-7."""
    sample = degrees[np.isfinite(degrees)][:: max(1, len(degrees) // 500)]
    for step in (1e-3, 1e-4, 1 / 60000, 1e-5, 1 / 600000, 1e-6, 1 / 6000000):
        scaled = sample / step
        if np.mean(np.abs(scaled - np.round(scaled)) < 0.02) > 0.98:
            return step
    return 0.0


def rounding_step_m(heights_m: Floats) -> float:
    """Step to which the file rounds its heights, m; 0 when finer than a centimetre."""
    sample = heights_m[np.isfinite(heights_m)][:: max(1, len(heights_m) // 500)]
    for step in (10.0, 1.0, 0.1, 0.01):
        scaled = sample / step
        if len(sample) and np.mean(np.abs(scaled - np.round(scaled)) < 0.02) > 0.98:
            return step
    return 0.0


def quiet_noise_m(time_s: Floats, heights_m: Floats, window: int = 30) -> float:
    """Sensor noise of a height, standard deviation in m, from the calmest quarter of the log; NaN when too short.

    Second differences of a white noise have 6 times its variance; where the pilot stands or glides in still air
    there is little else in them.
    """
    known = np.isfinite(heights_m)
    t, z = time_s[known], heights_m[known]
    if len(z) < 2 * window:
        return float("nan")
    step = np.diff(t)
    even = np.abs(step[1:] - step[:-1]) < 0.1 * step[1:]
    bent = np.where(even, (z[2:] - 2 * z[1:-1] + z[:-2]) ** 2, np.nan)
    whole = bent[: len(bent) // window * window].reshape(-1, window)
    known = np.isfinite(whole).sum(axis=1)
    enough = known > window // 2
    if not enough.any():
        return float("nan")
    means = zero_where_unknown(whole).sum(axis=1)[enough] / known[enough]
    return math.sqrt(quantile(means, 0.25) / 6.0)


def blocks_of(mark: Bools) -> tuple[Ints, Ints]:
    """First index and one past the last of each unbroken run of marked fixes."""
    edges = np.diff(np.concatenate([[0], mark.astype(np.int8), [0]]))
    return np.flatnonzero(edges == 1), np.flatnonzero(edges == -1)
