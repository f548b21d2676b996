"""Hidden Markov chains of a few states over long logs: the most likely path.

Viterbi as in Rabiner 1989, but with the log cut into about sqrt(n) blocks that advance side by side: first all
ways through each of them, then, those joined, every step from the scores that its block is entered with. Same
result, in milliseconds.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from flightlog.arrays import Floats, Ints

IMPOSSIBLE = -1e30
"""Stands for the logarithm of 0, so that sums stay finite."""

JOINED = 1e-9
"""Logarithms of likelihood that differ by no more are the same."""


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
    moves = _moves(likelihood, transition, which, blocks, length)
    begin = start + likelihood[0]
    scores = _scores(_soon_settled(moves, begin), moves) if forgets else None
    if scores is None or not _is_joined(scores, moves):
        scores = _scores(_scores_at_entry(moves, begin), moves)
    scores = np.ascontiguousarray(scores.transpose(1, 2, 0)).reshape(len(begin), -1)[:, :count]
    return _traced_back(scores, np.ascontiguousarray(transition.transpose(1, 2, 0)), which)


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


def _chosen(log_transition: Floats, which: Ints | None, count: int) -> tuple[Floats, Ints]:
    """The transitions, (u, k, k), and which of them leads into each step after the first."""
    if log_transition.ndim == 2:
        return log_transition[None], np.zeros(count - 1, dtype=np.int64)
    chosen = np.arange(len(log_transition)) if which is None else which
    if log_transition.ndim != 3 or len(chosen) != count - 1:
        raise ValueError(f"log_transition must be (k, k) or (n - 1, k, k), not {log_transition.shape}")
    if count == 1:  # no move at all
        return np.zeros((1, *log_transition.shape[1:])), chosen
    return log_transition, chosen


def _moves(likelihood: Floats, transition: Floats, which: Ints, blocks: int, length: int) -> Floats:
    """What it adds to go from state to state into each step of each block, (length, from, to, blocks).

    Transition and observation in one. What leads into the first step, and to steps beyond the end, matters not.
    """
    count, states = likelihood.shape
    observed = np.zeros((blocks * length, states))
    observed[:count] = likelihood
    observed = np.ascontiguousarray(observed.reshape(blocks, length, states).transpose(2, 1, 0))
    matrices = np.ascontiguousarray(transition.transpose(1, 2, 0))
    if len(transition) == 1:
        moves = matrices[..., None] + observed  # (from, to, length, blocks)
    else:
        padded = np.zeros(blocks * length, dtype=np.int64)
        padded[1:count] = which
        moves = matrices.take(padded.reshape(blocks, length).T, axis=2)
        moves += observed
    return moves.transpose(2, 0, 1, 3)


def _through_blocks(moves: Floats) -> Floats:
    """Best log probability to come from each state at the first step of a block to each at its last.

    (from, to, blocks); the first observation of the block is left out. Neighbouring steps are joined to one, again
    and again until one is left: a few sums of long arrays, instead of one of short arrays at every step.
    """
    length, states, _, blocks = moves.shape
    if length == 1:
        return np.where(np.eye(states, dtype=bool)[..., None], 0.0, np.full(blocks, IMPOSSIBLE))
    ways = moves[1:].transpose(1, 2, 0, 3)
    while (count := ways.shape[2]) > 1:
        joined = _one_after_other(ways[:, :, : count - 1 : 2], ways[:, :, 1::2])
        ways = joined if count % 2 == 0 else np.concatenate([joined, ways[:, :, -1:]], axis=2)
    return np.maximum(ways[:, :, 0], IMPOSSIBLE)


def _one_after_other(first: Floats, second: Floats) -> Floats:
    """Best log probability from state to state by two moves, (from, to, ...) like each of them."""
    best = first[:, 0, None] + second[0]
    for between in range(1, len(second)):
        np.maximum(best, first[:, between, None] + second[between], out=best)
    return np.asarray(best)


def _scores_at_entry(moves: Floats, first: Floats) -> Floats:
    """Best log probability of each state at the first step of every block, (state, blocks).

    `first` (state,) is that at the very first step.
    """
    through = _one_after_other(_through_blocks(moves)[..., :-1], moves[0, ..., 1:])  # from entry to next entry
    tables = np.ascontiguousarray(through.transpose(2, 0, 1))
    scores = np.empty((moves.shape[3], len(first)))
    scores[0] = score = first
    for block, table in enumerate(tables, start=1):
        score = np.maximum.reduce(score[:, None] + table, axis=0, out=scores[block])
    return np.maximum(scores.T, IMPOSSIBLE)


def _scores(first: Floats, moves: Floats) -> Floats:
    """Best log probability of each state at every step of each block, (length, state, blocks)."""
    length, states, _, blocks = moves.shape
    scores = np.empty((length, states, blocks))
    scores[0] = first
    reached = np.empty((states, states, blocks))  # from, to, block
    for step in range(1, length):
        np.add(scores[step - 1][:, None], moves[step], out=reached)
        np.maximum.reduce(reached, axis=0, out=scores[step])
    return scores


def _soon_settled(moves: Floats, first: Floats) -> Floats:
    """Scores at the first step of every block, (state, blocks), as the half block before it alone tells them."""
    length, states, _, blocks = moves.shape
    score = np.zeros((states, blocks))
    for step in range(length - length // 2, length):
        score = np.maximum.reduce(score[:, None] + moves[step], axis=0)
    return np.concatenate([first[:, None], _into_next(score, moves)], axis=1)


def _into_next(last: Floats, moves: Floats) -> Floats:
    """Scores at the first steps of all blocks but the first, from those at the last steps (state, blocks)."""
    return np.asarray(np.maximum.reduce(last[:, None, :-1] + moves[0, :, :, 1:], axis=0))


def _is_joined(scores: Floats, moves: Floats) -> bool:
    """Whether each block was entered with the scores that the block before it leads to, but for a constant."""
    off = _into_next(scores[-1], moves) - scores[0, :, 1:]
    return bool((off.max(axis=0) - off.min(axis=0) <= JOINED).all())


def _traced_back(scores: Floats, matrices: Floats, which: Ints) -> Ints:
    """The states from the best one at the end back to the first, (n,): from one change of state to the one before.

    `matrices` (from, to, u), of which `which` (n - 1,) leads into each step after the first.
    """
    count = scores.shape[1]
    changed: dict[int, Ints] = {}  # of the states met
    path = np.empty(count, dtype=np.int64)
    state, last = int(scores[:, -1].argmax()), count - 1
    while last > 0:
        if state not in changed:
            changed[state] = _last_changes(scores, matrices, which, state)
        step = changed[state].item(last - 1)
        path[step : last + 1] = state
        if step == 0:
            return path
        state = int((scores[:, step - 1] + matrices[:, state, which[step - 1]]).argmax())
        last = step - 1
    path[0] = state
    return path


def _last_changes(scores: Floats, matrices: Floats, which: Ints, to: int) -> Ints:
    """The last step up to each, (n - 1,), at which the best way into this state comes from another; 0 for none."""
    into = matrices[:, to] if matrices.shape[2] == 1 else matrices[:, to].take(which, axis=1)
    ways = scores[:, :-1] + into
    stays = ways[to].copy()
    ways[to] = -np.inf
    moves = np.maximum.reduce(ways, axis=0) > stays
    return np.maximum.accumulate(np.where(moves, np.arange(1, scores.shape[1]), 0))
