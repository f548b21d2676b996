"""Hidden Markov chains of a few states over long logs: the most likely path, and how sure each label is.

Viterbi and forward-backward as in Rabiner 1989, but with the log cut into about sqrt(n) blocks that advance side
by side, each from every state it might be entered in; then the blocks are joined. Same result, in milliseconds.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from flightlog.arrays import Floats, Ints

IMPOSSIBLE = -1e30
"""Stands for the logarithm of 0, so that sums stay finite."""
_LEAST_LIKELIHOOD = 1e-200  # of a state against the best one of the same step, in `state_probabilities`


def _blocks(count: int) -> tuple[int, int]:
    """Length and number of the blocks that hold so many steps."""
    length = max(1, round(count**0.5))
    return length, -(-count // length)


def _in_blocks(values: Floats, fill: float, blocks: int, length: int) -> Floats:
    """(n, ...) cut into blocks, (length, ..., blocks): step within the block first, block last."""
    padded = np.full((blocks * length, *values.shape[1:]), fill)
    padded[: len(values)] = values
    return np.ascontiguousarray(np.moveaxis(padded.reshape(blocks, length, *values.shape[1:]), 0, -1))


def _transitions(log_transition: Floats, count: int, blocks: int, length: int) -> Floats:
    """Transition into each step of each block, (length or 1, from, to, blocks or 1)."""
    if log_transition.ndim == 2:
        return log_transition[None, :, :, None]
    if log_transition.ndim != 3 or len(log_transition) != count - 1:
        raise ValueError(f"log_transition must be (k, k) or (n - 1, k, k), not {log_transition.shape}")
    states = log_transition.shape[1]
    stay = np.where(np.eye(states, dtype=bool), 0.0, IMPOSSIBLE)
    return _in_blocks(np.concatenate([stay[None], log_transition]), 0.0, blocks, length)


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


def most_likely_path(
    log_likelihood: npt.ArrayLike, log_transition: npt.ArrayLike, log_start: npt.ArrayLike
) -> Ints:
    """The most likely sequence of states, (n,).

    Parameters
    ----------
    log_likelihood : (n, k) array
        Logarithm of the likelihood of each step's observation under each state; -inf is allowed.
    log_transition : (k, k) or (n - 1, k, k) array
        From row to column; one matrix for every step, or one a step (uneven times, gaps).
    log_start : (k,) array
        Before the first step.
    """
    likelihood, transition, start = _checked(log_likelihood, log_transition, log_start)
    count = len(likelihood)
    length, blocks = _blocks(count)
    observed = _in_blocks(likelihood, 0.0, blocks, length)
    steps = _transitions(transition, count, blocks, length)
    best = _best_from_each_entry(observed, steps)
    last = count - 1 - (blocks - 1) * length  # step of the last block at which the log ends
    into = steps[0][..., 1:] if steps.shape[-1] > 1 else steps[0]
    entries, exits = _joined(best, into + observed[0, None, :, 1:], start + likelihood[0], last)
    return np.ascontiguousarray(_traced_back(best, steps, entries, exits, last).T).reshape(-1)[:count]


def _best_from_each_entry(observed: Floats, steps: Floats) -> Floats:
    """Best log probability of being in a state at each step of a block, given the state at its first step.

    (length, state, entry, blocks); the first observation of the block is left out.
    """
    length, states, blocks = observed.shape
    best = np.empty((length, states, states, blocks))
    best[0] = np.where(np.eye(states, dtype=bool)[..., None], 0.0, IMPOSSIBLE)
    reached = np.empty((states, states, states, blocks))  # from, to, entry, block
    for step in range(1, length):
        np.add(best[step - 1][:, None], steps[step % len(steps)][:, :, None], out=reached)
        np.maximum.reduce(reached, axis=0, out=best[step])
        best[step] += observed[step][:, None]
    return np.maximum(best, IMPOSSIBLE, out=best)


def _joined(best: Floats, into: Floats, first: Floats, last: int) -> tuple[Ints, Ints]:
    """State in which the best path enters each block, and the one in which it leaves it.

    `into` (from, to, blocks - 1 or 1) leads to the first step of the second and later blocks and holds that
    step's observation; `first` (state,) is the score at the very first step.
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


def _traced_back(best: Floats, steps: Floats, entries: Ints, exits: Ints, last: int) -> Ints:
    """The states of all blocks from their exits back to their entries, (length, blocks)."""
    length, _, _, blocks = best.shape
    block = np.arange(blocks)
    chosen = best[:, :, entries, block]
    path = np.empty((length, blocks), dtype=np.int64)
    path[-1] = exits
    for step in range(length - 1, 0, -1):
        into = steps[step % len(steps)]
        from_each = into[:, path[step], 0 if into.shape[-1] == 1 else block]
        (chosen[step - 1] + from_each).argmax(axis=0, out=path[step - 1])
        if step > last:
            path[step - 1, -1] = exits[-1]
    return path


def state_probabilities(
    log_likelihood: npt.ArrayLike, log_transition: npt.ArrayLike, log_start: npt.ArrayLike
) -> Floats:
    """How probable each state is at each step, given the whole log, (n, k); rows add up to 1.

    Same arguments as `most_likely_path`; forward-backward, scaled.
    """
    likelihood, transition, start = _checked(log_likelihood, log_transition, log_start)
    count, states = likelihood.shape
    length, blocks = _blocks(count)
    relative = np.exp(likelihood - likelihood.max(axis=1, keepdims=True))
    observed = _in_blocks(np.maximum(relative, _LEAST_LIKELIHOOD), 1.0, blocks, length)
    steps = np.exp(_transitions(transition, count, blocks, length))
    through = _through_blocks(observed, steps)
    into = np.broadcast_to(steps[0], (states, states, max(blocks, steps.shape[-1])))[..., -blocks:]
    first = np.exp(start - start.max()) * observed[0, :, 0]
    forward = _swept(observed, steps, _entry_messages(through, into, observed[0], first))
    backward = _swept_back(observed, steps, _exit_messages(through, into, observed[0]))
    joint = np.moveaxis(forward * backward, 2, 0).reshape(-1, states)[:count]
    return np.asarray(joint / joint.sum(axis=1, keepdims=True))


def _through_blocks(observed: Floats, steps: Floats) -> Floats:
    """Probability of what a block saw and of leaving it in a state, given its entry: (state, blocks, entry).

    Each block is scaled by a factor of its own.
    """
    length, states, blocks = observed.shape
    reached = np.repeat(np.eye(states)[:, None, :], blocks, axis=1)
    log_scale = np.zeros((blocks, states))
    for step in range(1, length):
        transition = steps[step % len(steps)]
        reached = (reached[:, None] * transition[..., None]).sum(axis=0) * observed[step][..., None]
        scale = np.maximum(reached.max(axis=0), 1e-300)
        reached /= scale
        log_scale += np.log(scale)
    return np.asarray(reached * np.exp(log_scale - log_scale.max(axis=1, keepdims=True)))


def _entry_messages(through: Floats, into: Floats, observed_first: Floats, first: Floats) -> Floats:
    """Forward probability at the first step of each block, (state, blocks)."""
    _, blocks, _ = through.shape
    messages = np.empty(observed_first.shape)
    message = first / first.sum()
    messages[:, 0] = message
    for block in range(1, blocks):
        message = (through[:, block - 1] @ message) @ into[:, :, block] * observed_first[:, block]
        message = message / max(message.sum(), 1e-300)
        messages[:, block] = message
    return messages


def _exit_messages(through: Floats, into: Floats, observed_first: Floats) -> Floats:
    """Backward probability at the last step of each block, (state, blocks)."""
    _, blocks, _ = through.shape
    messages = np.ones(observed_first.shape)
    for block in range(blocks - 2, -1, -1):
        at_entry = messages[:, block + 1] @ through[:, block + 1]
        message = into[:, :, block + 1] @ (at_entry * observed_first[:, block + 1])
        messages[:, block] = message / max(message.max(), 1e-300)
    return messages


def _swept(observed: Floats, steps: Floats, first: Floats) -> Floats:
    """Forward probabilities, (length, state, blocks), from those at the first step of each block."""
    forward = np.empty(observed.shape)
    forward[0] = first
    for step in range(1, len(observed)):
        reached = (forward[step - 1][:, None] * steps[step % len(steps)]).sum(axis=0) * observed[step]
        forward[step] = reached / np.maximum(reached.sum(axis=0), 1e-300)
    return forward


def _swept_back(observed: Floats, steps: Floats, last: Floats) -> Floats:
    """Backward probabilities, (length, state, blocks), from those at the last step of each block."""
    backward = np.empty(observed.shape)
    backward[-1] = last
    for step in range(len(observed) - 1, 0, -1):
        seen = backward[step] * observed[step]
        reached = (steps[step % len(steps)] * seen[None]).sum(axis=1)
        backward[step - 1] = reached / np.maximum(reached.max(axis=0), 1e-300)
    return backward
