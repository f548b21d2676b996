"""Hidden Markov chains of a few states over long logs: the most likely path.

Viterbi as in Rabiner 1989, but with the log cut into about sqrt(n) blocks that advance side by side: first from
every state they might be entered in, then, those joined, once more from the scores they are entered with. Same
result, in milliseconds.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from flightlog.arrays import Floats, Ints

IMPOSSIBLE = -1e30
"""Stands for the logarithm of 0, so that sums stay finite."""

JOINED = 1e-9
"""Logarithms of likelihood that differ by no more are the same."""


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
    forgets: bool = False,
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
    forgets : bool
        Whether the chain soon forgets where it came from, so that half a block before each block is enough to know
        the scores it is entered with. That is checked, and the path is the same: it only takes less time.
    """
    likelihood, transition, start = _checked(log_likelihood, log_transition, log_start)
    count = len(likelihood)
    transition, which = _chosen(transition, which, count)
    length = max(1, round(count**0.5))
    blocks = -(-count // length)
    observed = _in_blocks(likelihood, 0.0, blocks, length)
    steps = _steps(transition, which, count, blocks, length)
    begin = start + likelihood[0]
    scores = _scores(_soon_settled(observed, steps, begin), observed, steps) if forgets else None
    if scores is None or not _is_joined(scores, observed, steps):
        entered = _scores_at_entry(_best_from_each_entry(observed, steps), observed, steps, begin)
        scores = _scores(entered, observed, steps)
    scores = np.ascontiguousarray(scores.transpose(1, 2, 0)).reshape(len(begin), -1)[:, :count]
    return _traced_back(scores, steps.matrices, which)


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


def _chosen(log_transition: Floats, which: Ints | None, count: int) -> tuple[Floats, Ints]:
    """The transitions, (u, k, k), and which of them leads into each step after the first."""
    if log_transition.ndim == 2:
        return log_transition[None], np.zeros(count - 1, dtype=np.int64)
    chosen = np.arange(len(log_transition)) if which is None else which
    if log_transition.ndim != 3 or len(chosen) != count - 1:
        raise ValueError(f"log_transition must be (k, k) or (n - 1, k, k), not {log_transition.shape}")
    return log_transition, chosen


def _steps(log_transition: Floats, which: Ints, count: int, blocks: int, length: int) -> _Steps:
    """The transitions of the blocks. What leads into the first step, and to steps beyond the end, matters not."""
    padded = np.empty(blocks * length, dtype=np.int64)
    padded[1:count] = which
    padded[0] = padded[1] if count > 1 else 0
    by_block = padded.reshape(blocks, length)
    by_block[-1, count - (blocks - 1) * length :] = by_block[0, count - (blocks - 1) * length :]
    chosen = np.ascontiguousarray(by_block.T)
    alike = (chosen == chosen[:, :1]).all(axis=1).tolist()
    return _Steps(np.ascontiguousarray(log_transition.transpose(1, 2, 0)), chosen, alike)


def _best_from_each_entry(observed: Floats, steps: _Steps) -> Floats:
    """Best log probability of each state at the end of a block, given the state at its first step.

    (state, entry, blocks); the first observation of the block is left out.
    """
    length, states, blocks = observed.shape
    best = np.where(np.eye(states, dtype=bool)[..., None], 0.0, np.full(blocks, IMPOSSIBLE))
    reached = np.empty((states, states, states, blocks))  # from, to, entry, block
    for step in range(1, length):
        np.add(best[:, None], steps.into(step)[:, :, None], out=reached)
        np.maximum.reduce(reached, axis=0, out=best)
        best += observed[step][:, None]
    return np.maximum(best, IMPOSSIBLE, out=best)


def _scores_at_entry(best: Floats, observed: Floats, steps: _Steps, first: Floats) -> Floats:
    """Best log probability of each state at the first step of every block, (state, blocks).

    `first` (state,) is that at the very first step.
    """
    blocks = best.shape[2]
    into = steps.matrices[:, :, steps.which[0, 1:]] + observed[0, None, :, 1:]  # (from, to, block)
    through = (best[:, None, :, : blocks - 1] + into[:, :, None]).max(axis=0)  # (next entry, entry, block)
    tables = np.ascontiguousarray(through.transpose(2, 1, 0))
    scores = np.empty((blocks, len(first)))
    scores[0] = score = first
    for block in range(1, blocks):
        score = np.maximum.reduce(score[:, None] + tables[block - 1], axis=0, out=scores[block])
    return np.maximum(scores.T, IMPOSSIBLE)


def _scores(first: Floats, observed: Floats, steps: _Steps) -> Floats:
    """Best log probability of each state at every step of each block, (length, state, blocks)."""
    length, states, blocks = observed.shape
    scores = np.empty((length, states, blocks))
    scores[0] = first
    reached = np.empty((states, states, blocks))  # from, to, block
    for step in range(1, length):
        np.add(scores[step - 1][:, None], steps.into(step), out=reached)
        np.maximum.reduce(reached, axis=0, out=scores[step])
        scores[step] += observed[step]
    return scores


def _soon_settled(observed: Floats, steps: _Steps, first: Floats) -> Floats:
    """Scores at the first step of every block, (state, blocks), as the half block before it alone tells them."""
    length, states, blocks = observed.shape
    score = np.zeros((states, blocks))
    for step in range(length - length // 2, length):
        score = np.maximum.reduce(score[:, None] + steps.into(step), axis=0) + observed[step]
    return np.concatenate([first[:, None], _into_next(score, observed, steps)], axis=1)


def _into_next(last: Floats, observed: Floats, steps: _Steps) -> Floats:
    """Scores at the first steps of all blocks but the first, from those at the last steps (state, blocks)."""
    into = steps.matrices[:, :, steps.which[0, 1:]]
    return np.asarray(np.maximum.reduce(last[:, None, :-1] + into, axis=0) + observed[0, :, 1:])


def _is_joined(scores: Floats, observed: Floats, steps: _Steps) -> bool:
    """Whether each block was entered with the scores that the block before it leads to, but for a constant."""
    off = _into_next(scores[-1], observed, steps) - scores[0, :, 1:]
    return bool((off.max(axis=0) - off.min(axis=0) <= JOINED).all())


def _traced_back(scores: Floats, matrices: Floats, which: Ints) -> Ints:
    """The states from the best one at the end back to the first, (n,): from one change of state to the one before.

    `matrices` (from, to, u), of which `which` (n - 1,) leads into each step after the first.
    """
    states, count = scores.shape
    index = np.arange(1, count)
    by_step = matrices if matrices.shape[2] == 1 else matrices.take(which, axis=2)
    changed = []  # for each state, the last step up to each at which the best way into it comes from another one
    for to in range(states):
        ways = [scores[other, :-1] + by_step[other, to] for other in range(states) if other != to]
        elsewhere = np.maximum.reduce(ways) if ways else np.full(count - 1, -np.inf)
        moves = elsewhere > scores[to, :-1] + by_step[to, to]
        changed.append(np.maximum.accumulate(np.where(moves, index, 0)))
    path = np.empty(count, dtype=np.int64)
    state, last = int(scores[:, -1].argmax()), count - 1
    while last > 0:
        step = changed[state].item(last - 1)
        path[step : last + 1] = state
        if step == 0:
            return path
        state = int((scores[:, step - 1] + matrices[:, state, which[step - 1]]).argmax())
        last = step - 1
    path[0] = state
    return path
