"""The height of a piece of ground as satellites show it: constant ground, under an error that wanders for minutes.

Close to a time on the ground the error is the one seen there; minutes away it is anybody's guess, and the best
level is the mean over all the time stood there. Between the two goes the best linear prediction (kriging).
"""

from __future__ import annotations

import numpy as np

from flightlog.arrays import Floats

WANDER_SD_M, WANDER_S = 4.0, 80.0
"""Satellite heights wander so far about their mean, and forget within so long (M 1: 3 to 5 m over 80 s)."""
SHORT_SD_M = 0.8
"""What a mean over a quarter of a minute still holds of short errors (M 1)."""
SPOT_SD_M = 1.0
"""Meadows are no tables: spots some metres apart differ by so much (M 7: 0.7-1.1 m)."""
VAGUE_SD_M = 1000.0
"""Of the ground's height before anything is known."""
BESIDE_S = (15.0, 40.0, 80.0, 160.0, 320.0)
"""Times before and after a stand at which the prediction is worked out; between them it runs straight."""
STAND_BREAK_S = 30.0


def level_nodes(time_s: Floats, height_m: Floats) -> tuple[Floats, Floats, Floats]:
    """The level of a ground in a frame that wanders, and how well it is known, at times dense enough to join.

    Parameters
    ----------
    time_s : (k,) array
        UTC seconds at which the pilot stood there, a quarter of a minute apart or more, rising, k >= 1.
    height_m : (k,) array
        Satellite height then, m: means of about a quarter of a minute.

    Returns
    -------
    tuple of three (n,) arrays
        Times; the level at each, m: ground and error together; its standard deviation, m. It grows from that of a
        spot near a stand to that of the wandering itself, with what is not known of the mean, far from any.

    Notes
    -----
    The error is taken as an Ornstein-Uhlenbeck process, whose best linear prediction is exact (kriging with an
    unknown mean: Matheron 1963). With only one stand of seconds, nothing far from it is known better than to
    sqrt(2) times the wandering.
    """
    nodes = _node_times(time_s)
    seen = WANDER_SD_M**2 * np.exp(-np.abs(time_s[:, None] - time_s) / WANDER_S)
    between = WANDER_SD_M**2 * np.exp(-np.abs(nodes[:, None] - time_s) / WANDER_S)
    covariance = seen + VAGUE_SD_M**2 + (SHORT_SD_M**2 + SPOT_SD_M**2) * np.eye(len(time_s))
    cross = between + VAGUE_SD_M**2
    middle = float(height_m.mean())
    weights = np.linalg.solve(covariance, cross.T).T
    variance = WANDER_SD_M**2 + VAGUE_SD_M**2 - (weights * cross).sum(axis=1)
    return nodes, middle + weights @ (height_m - middle), np.sqrt(np.maximum(variance, 0.0) + SPOT_SD_M**2)


def _node_times(time_s: Floats) -> Floats:
    """The times seen, and some before, between and after the stands that they form."""
    breaks = np.flatnonzero(np.diff(time_s) > STAND_BREAK_S)
    ends = np.append(time_s[breaks], time_s[-1])
    starts = np.insert(time_s[breaks + 1], 0, time_s[0])
    beside = np.array(BESIDE_S)
    after, before = ends[:, None] + beside, starts[:, None] - beside
    after[:-1] = np.where(after[:-1] < starts[1:, None], after[:-1], ends[:-1, None])
    before[1:] = np.where(before[1:] > ends[:-1, None], before[1:], starts[1:, None])
    return np.unique(np.concatenate([time_s, after.ravel(), before.ravel()]))
