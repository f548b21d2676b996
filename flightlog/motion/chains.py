"""Hidden Markov chains of a few states over long logs: the most likely path.

Viterbi as in Rabiner 1989, but with the log cut into about sqrt(n) blocks that advance side by side, each from
every state it might be entered in; then the blocks are joined. Same result, in milliseconds.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from flightlog.arrays import Floats, Ints

IMPOSSIBLE = -1e30
"""Stands for the logarithm of 0, so that sums stay finite."""


@dataclass(frozen=True, eq=False)
class _Steps:
    """The transitions into the steps of all blocks: few different ones, and which of them where."""

    matrices: Floats  # (from, to, u)
    which: Ints  # (length, blocks)
    alike: list[bool]  # (length,) of each step: whether all blocks have the same, that of the first

    def into(self, step: int) -> Floats:
        """Transition into a step of each block, (from, to, 1 or blocks)."""
        if self.alike[step]:
            first = int(self.which[step, 0])
            return self.matrices[:, :, first : first + 1]
        return self.matrices[:, :, self.which[step]]


def most_likely_path(
    log_likelihood: npt.ArrayLike,
    log_transition: npt.ArrayLike,
    log_start: npt.ArrayLike,
    which: Ints | None = None,
) -> Ints:
    """The most likely sequence of states, (n,).

    Parameters
    ----------
    log_likelihood : (n, k) array
        Logarithm of the likelihood of each step's observation under each state; -inf is allowed.
    log_transition : (k, k), (u, k, k) or (n - 1, k, k) array
        From row to column; one matrix for every step, several of which `which` chooses, or one a step.
    log_start : (k,) array
        Before the first step.
    which : (n - 1,) array, optional
        The matrix that leads into each step after the first (uneven times, gaps).
    """
    likelihood, transition, start = _checked(log_likelihood, log_transition, log_start)
    count = len(likelihood)
    length = max(1, round(count**0.5))
    blocks = -(-count // length)
    observed = _in_blocks(likelihood, 0.0, blocks, length)
    steps = _steps(transition, which, count, blocks, length)
    best = _best_from_each_entry(observed, steps)
    last = count - 1 - (blocks - 1) * length  # step of the last block at which the log ends
    into = steps.matrices[:, :, steps.which[0, 1:]]
    entries, exits = _joined(best, into + observed[0, None, :, 1:], start + likelihood[0], last)
    return np.ascontiguousarray(_traced_back(best, steps, entries, exits, last).T).reshape(-1)[:count]


def _checked(
    log_likelihood: npt.ArrayLike, log_transition: npt.ArrayLike, log_start: npt.ArrayLike
) -> tuple[Floats, Floats, Floats]:
    """The three as arrays without infinities."""
    likelihood, transition, start = (
        np.maximum(np.asarray(values, dtype=np.float64), IMPOSSIBLE)
        for values in (log_likelihood, log_transition, log_start)
    )
    if likelihood.ndim != 2 or len(likelihood) == 0:
        raise ValueError(f"log_likelihood must be (n, k) with n >= 1, not {likelihood.shape}")
    return likelihood, transition, start


def _in_blocks(values: Floats, fill: float, blocks: int, length: int) -> Floats:
    """(n, ...) cut into blocks, (length, ..., blocks): step within the block first, block last."""
    padded = np.full((blocks * length, *values.shape[1:]), fill)
    padded[: len(values)] = values
    return np.ascontiguousarray(np.moveaxis(padded.reshape(blocks, length, *values.shape[1:]), 0, -1))


def _steps(log_transition: Floats, which: Ints | None, count: int, blocks: int, length: int) -> _Steps:
    """The transitions of the blocks. What leads into the first step, and to steps beyond the end, matters not."""
    if log_transition.ndim == 2:
        alike = [True] * length
        return _Steps(log_transition[:, :, None], np.zeros((length, blocks), dtype=np.int64), alike)
    if which is None:
        which = np.arange(len(log_transition))
    if log_transition.ndim != 3 or len(which) != count - 1:
        raise ValueError(f"log_transition must be (k, k) or (n - 1, k, k), not {log_transition.shape}")
    padded = np.empty(blocks * length, dtype=np.int64)
    padded[1:count] = which
    padded[0] = padded[1] if count > 1 else 0
    by_block = padded.reshape(blocks, length)
    by_block[-1, count - (blocks - 1) * length :] = by_block[0, count - (blocks - 1) * length :]
    chosen = np.ascontiguousarray(by_block.T)
    alike = (chosen == chosen[:, :1]).all(axis=1).tolist()
    return _Steps(np.ascontiguousarray(log_transition.transpose(1, 2, 0)), chosen, alike)


def _best_from_each_entry(observed: Floats, steps: _Steps) -> Floats:
    """Best log probability of being in a state at each step of a block, given the state at its first step.

    (length, state, entry, blocks); the first observation of the block is left out.
    """
    length, states, blocks = observed.shape
    best = np.empty((length, states, states, blocks))
    best[0] = np.where(np.eye(states, dtype=bool)[..., None], 0.0, IMPOSSIBLE)
    reached = np.empty((states, states, states, blocks))  # from, to, entry, block
    for step in range(1, length):
        np.add(best[step - 1][:, None], steps.into(step)[:, :, None], out=reached)
        np.maximum.reduce(reached, axis=0, out=best[step])
        best[step] += observed[step][:, None]
    return np.maximum(best, IMPOSSIBLE, out=best)


def _joined(best: Floats, into: Floats, first: Floats, last: int) -> tuple[Ints, Ints]:
    """State in which the best path enters each block, and the one in which it leaves it.

    `into` (from, to, blocks - 1) leads to the first step of the second and later blocks and holds that step's
    observation; `first` (state,) is the score at the very first step.
    """
    blocks = best.shape[3]
    through = best[-1, :, :, None, : blocks - 1] + into[:, None]
    leaving = through.argmax(axis=0)  # (entry, next entry, block)
    table = np.ascontiguousarray(np.moveaxis(through.max(axis=0), -1, 0))
    score, came_from = first, []
    for block in range(blocks - 1):
        candidates = score[:, None] + table[block]
        came_from.append(candidates.argmax(axis=0))
        score = np.maximum(candidates.max(axis=0), IMPOSSIBLE)
    at_end = score + best[last, :, :, -1]
    end, entry = np.unravel_index(int(at_end.argmax()), at_end.shape)
    entries, exits = np.empty(blocks, dtype=np.int64), np.empty(blocks, dtype=np.int64)
    entries[-1], exits[-1] = entry, end
    for block in range(blocks - 2, -1, -1):
        entries[block] = came_from[block][entries[block + 1]]
        exits[block] = leaving[entries[block], entries[block + 1], block]
    return entries, exits


def _traced_back(best: Floats, steps: _Steps, entries: Ints, exits: Ints, last: int) -> Ints:
    """The states of all blocks from their exits back to their entries, (length, blocks)."""
    length, _, _, blocks = best.shape
    block = np.arange(blocks)
    chosen = best[:, :, entries, block]
    path = np.empty((length, blocks), dtype=np.int64)
    path[-1] = exits
    for step in range(length - 1, 0, -1):
        into = steps.into(step)
        alike = into.shape[-1] == 1
        from_each = into[:, :, 0].take(path[step], axis=1) if alike else into[:, path[step], block]
        (chosen[step - 1] + from_each).argmax(axis=0, out=path[step - 1])
        if step > last:
            path[step - 1, -1] = exits[-1]
    return path
