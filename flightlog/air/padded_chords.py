"""Chords of many stretches of flight side by side, and the turns from one to the next."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from flightlog.air.chords import Chords
from flightlog.arrays import Bools, Floats, Ints, lengths, middle

STEADY_TURN = 0.5
HEADING_BIN_DEG = 30.0
WHOLE_TURN_RAD = 2.0 * np.pi


@dataclass(frozen=True, eq=False)
class Padded:
    """Chords of k windows side by side: (k, m) arrays, `used` marks the real ones."""

    east: Floats
    north: Floats
    mid_s: Floats
    baseline_s: Floats
    used: Bools
    weight: Floats  # 1 where used, else 0
    beyond: Floats  # 0 where used, else infinite
    count: Floats  # (k,)
    spacing_s: float  # usual time from one chord to the next, over all windows

    def of(self, rows: Ints) -> Padded:
        """Those of some of the windows."""
        return Padded(
            east=self.east[rows],
            north=self.north[rows],
            mid_s=self.mid_s[rows],
            baseline_s=self.baseline_s[rows],
            used=self.used[rows],
            weight=self.weight[rows],
            beyond=self.beyond[rows],
            count=self.count[rows],
            spacing_s=self.spacing_s,
        )


def pad_chords(chords: Chords, first: Ints, stop: Ints) -> Padded:
    """Gather chords first..stop-1 of each window into padded arrays."""
    index, used = _padded_index(first, stop)
    mid_s = chords.mid_s[index]
    gaps = (mid_s[:, 1:] - mid_s[:, :-1])[used[:, 1:]]
    return Padded(
        east=chords.east_mps[index],
        north=chords.north_mps[index],
        mid_s=mid_s,
        baseline_s=chords.baseline_s[index],
        used=used,
        weight=used.astype(np.float64),
        beyond=np.where(used, 0.0, np.inf),
        count=used.sum(axis=1).astype(np.float64),
        spacing_s=middle(gaps) if gaps.size else 1.0,
    )


def _padded_index(first: Ints, stop: Ints) -> tuple[Ints, Bools]:
    """Which chords stand in the padded arrays (k, m), and which of them are real ones."""
    width = max(1, int((stop - first).max(initial=1)))
    index = first[:, None] + np.arange(width)
    used = index < stop[:, None]
    return np.minimum(index, np.maximum(stop - 1, 0)[:, None]), used  # padding repeats the window's last chord


def turned_about_rad(chords: Chords, first: Ints, stop: Ints, centre_mps: Floats) -> Floats:
    """How far the chords first..stop-1 of each window turn about its centre (k, 2 or more), right positive."""
    index, _ = _padded_index(first, stop)
    east, north = chords.east_mps[index] - centre_mps[:, :1], chords.north_mps[index] - centre_mps[:, 1:2]
    return np.asarray(turns_rad(east, north).sum(axis=1))


def row_sums(values: Floats, weight: Floats) -> Floats:
    """Weighted sum of each row."""
    return np.asarray(np.einsum("km,km->k", values, weight))


def span_s(padded: Padded) -> Floats:
    """Time from the middle of the first chord to that of the last, which the padding repeats."""
    return np.asarray(padded.mid_s[:, -1] - padded.mid_s[:, 0])


def turns_rad(east: Floats, north: Floats) -> Floats:
    """Turn from each vector to the next in its row (k, m), right positive, half a turn at most; 0 at the end."""
    heading = np.arctan2(east, north)
    turn = np.empty_like(heading)
    flat = heading.reshape(-1)
    np.subtract(flat[1:], flat[:-1], out=turn.reshape(-1)[:-1])  # across the ends of rows: faster
    turn[:, -1] = 0.0
    turn -= WHOLE_TURN_RAD * np.rint(turn * (1.0 / WHOLE_TURN_RAD))
    return turn


def steady_turns_rad(padded: Padded, east: Floats, north: Floats) -> Floats:
    """Turns from chord to chord (k, m), each within half a turn of the window's usual one; 0 in the padding.

    `east` and `north` are the chords as the wind leaves them. At 5 s a tight circle turns 140 degrees from chord
    to chord: taken about 0, noise would flip its direction.
    """
    turn = turns_rad(east, north)
    # Where no turn exceeds a right angle, the usual one does not either: nothing lies beyond half a turn from it.
    wide = np.flatnonzero(np.maximum(turn.max(axis=1), -turn.min(axis=1)) > 0.25 * WHOLE_TURN_RAD)
    if wide.size:
        some, weight = turn[wide, :-1], padded.weight[wide, 1:]
        square = np.tan(0.5 * some) ** 2
        share = weight / (1.0 + square)
        across, along = row_sums(np.copysign(np.sqrt(square), some), 2.0 * share), row_sums(1.0 - square, share)
        steps = np.maximum(padded.count[wide] - 1.0, 1.0)
        usual = np.where(lengths(across, along) > STEADY_TURN * steps, np.arctan2(across, along), 0.0)[:, None]
        turn[wide, :-1] -= WHOLE_TURN_RAD * np.rint((some - usual) / WHOLE_TURN_RAD)
    return turn


def headings_flown(padded: Padded, wind_east_mps: Floats, wind_north_mps: Floats) -> tuple[Floats, Floats]:
    """Arc of headings covered (360 less the widest gap) and how many steps of 30 degrees were flown, (k,) each."""
    bins = int(360.0 / HEADING_BIN_DEG)
    angle = np.degrees(np.arctan2(padded.east - wind_east_mps[:, None], padded.north - wind_north_mps[:, None]))
    angle += 360.0 * (angle < 0.0)
    step = np.minimum((angle / HEADING_BIN_DEG).astype(np.int64), bins - 1)
    step += bins * np.arange(len(angle))[:, None]
    flown = np.bincount(step[padded.used], minlength=bins * len(angle)).reshape(-1, bins) >= 2
    ordered = np.sort(angle, axis=1)  # padding repeats the last chord, which opens no gap
    widest = np.maximum(
        (ordered[:, 1:] - ordered[:, :-1]).max(axis=1, initial=0.0), ordered[:, 0] + 360.0 - ordered[:, -1]
    )
    return np.asarray(360.0 - widest), flown.sum(axis=1).astype(np.float64)
