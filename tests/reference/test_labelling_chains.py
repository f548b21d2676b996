"""The chains against worked examples, hmmlearn and brute force.

FEVER: the Healthy/Fever example (Wikipedia; probability from memory, confirmed by brute force).
ICE_CREAM: ice cream and weather (Jurafsky & Martin, Speech and Language Processing, 3rd draft App. A, and the 2nd
edition; from memory, confirmed by brute force).
"""

from __future__ import annotations

import itertools
import warnings

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from flightlog.motion.chains import most_likely_path

FEVER = {
    "start": [0.6, 0.4], "move": [[0.7, 0.3], [0.4, 0.6]], "seen": [[0.5, 0.1], [0.4, 0.3], [0.1, 0.6]],
    "path": [0, 0, 1], "probability": 0.01512,
}  # fmt: skip
ICE_CREAM = {
    "start": [0.8, 0.2], "move": [[0.6, 0.4], [0.5, 0.5]], "seen": [[0.4, 0.1], [0.2, 0.5], [0.4, 0.1]],
    "path": [0, 1, 0], "probability": 0.0128,
}  # fmt: skip
ICE_CREAM_2ND = {
    "start": [0.8, 0.2], "move": [[0.7, 0.3], [0.4, 0.6]], "seen": [[0.4, 0.1], [0.2, 0.5], [0.4, 0.1]],
    "path": [0, 0, 0], "probability": 0.012544,
}  # fmt: skip


def probability(path, start, move, seen):
    value = start[path[0]] * seen[0][path[0]]
    for step in range(1, len(path)):
        value *= move[path[step - 1]][path[step]] * seen[step][path[step]]
    return value


@pytest.mark.parametrize("example", [FEVER, ICE_CREAM, ICE_CREAM_2ND])
def test_worked_examples(example):
    start, move, seen = (np.array(example[k]) for k in ("start", "move", "seen"))
    path = most_likely_path(np.log(seen), np.log(move), np.log(start))
    assert path.tolist() == example["path"]
    assert probability(path, start, move, seen) == pytest.approx(example["probability"], abs=1e-12)


@pytest.mark.parametrize("count", [1, 2, 3, 5, 17, 100, 2347])
def test_against_hmmlearn(count):
    """The path on the same Gaussian chain."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from hmmlearn.hmm import GaussianHMM
    rng = np.random.default_rng(count)
    model = GaussianHMM(3, covariance_type="diag", init_params="", params="")
    model.startprob_ = np.array([0.5, 0.3, 0.2])
    model.transmat_ = np.array([[0.98, 0.015, 0.005], [0.01, 0.98, 0.01], [0.02, 0.03, 0.95]])
    model.means_ = np.array([[0.0], [2.0], [-2.0]])
    model.covars_ = np.full((3, 1), 1.5)
    seen = rng.normal(0, 2, (count, 1))
    likelihood = -0.5 * (seen - model.means_.T) ** 2 / 1.5 - 0.5 * np.log(2 * np.pi * 1.5)
    mine = most_likely_path(likelihood, np.log(model.transmat_), np.log(model.startprob_))
    _, theirs = model.decode(seen)
    assert mine.tolist() == theirs.tolist()


@settings(max_examples=60, deadline=None)
@given(st.integers(1, 7), st.integers(1, 4), st.integers(0, 10_000), st.booleans())
def test_against_every_path(count, states, seed, uneven):
    """Brute force over all paths, with one transition matrix or one a step."""
    rng = np.random.default_rng(seed)
    likelihood = rng.normal(0, 2, (count, states))
    move = np.log(rng.dirichlet(np.ones(states), size=(count - 1, states) if uneven else states))
    start = np.log(rng.dirichlet(np.ones(states)))
    each = np.broadcast_to(move, (count - 1, states, states))

    def score(path):
        steps = sum(each[k, path[k], path[k + 1]] for k in range(count - 1))
        return start[path[0]] + steps + sum(likelihood[k, s] for k, s in enumerate(path))

    best = max(score(p) for p in itertools.product(range(states), repeat=count))
    assert score(most_likely_path(likelihood, move, start)) == pytest.approx(best, abs=1e-9)


@pytest.mark.parametrize("count", [1, 2, 9, 400])
def test_a_few_different_steps_as_one_a_step(count):
    """Which of three matrices leads into each step, or all of them one after the other: the same path."""
    rng = np.random.default_rng(count)
    likelihood, start = rng.normal(0, 2, (count, 3)), np.zeros(3)
    moves, which = np.log(rng.dirichlet(np.ones(3), size=(3, 3))), rng.integers(0, 3, count - 1)
    which[: 3 * count // 4] = 1  # most steps alike, as in a log with gaps
    path = most_likely_path(likelihood, moves, start, which)
    assert path.tolist() == most_likely_path(likelihood, moves[which], start).tolist()


def test_a_forbidden_step_is_never_taken():
    likelihood = np.tile([[0.0, -1.0, -50.0]], (200, 1))
    likelihood[100:] = [-50.0, -1.0, 0.0]
    with np.errstate(divide="ignore"):
        move = np.log([[0.9, 0.1, 0.0], [0.1, 0.8, 0.1], [0.0, 0.1, 0.9]])
    path = most_likely_path(likelihood, move, np.zeros(3))
    steps = set(itertools.pairwise(path.tolist()))
    assert (0, 2) not in steps
    assert {0, 1, 2} == set(path.tolist())


def test_wrong_shapes_are_named():
    with pytest.raises(ValueError, match=r"log_transition must be .* not \(4, 3, 3\)"):
        most_likely_path(np.zeros((10, 3)), np.zeros((4, 3, 3)), np.zeros(3))
    with pytest.raises(ValueError, match="log_likelihood"):
        most_likely_path(np.zeros((0, 3)), np.zeros((3, 3)), np.zeros(3))


@pytest.mark.parametrize("sharp", [0.02, 3.0], ids=["remembers", "forgets"])
def test_a_chain_said_to_forget_has_the_same_path(sharp):
    rng = np.random.default_rng(4)
    moves = np.log(rng.dirichlet(np.ones(3), (5, 3)) * 0.02 + 0.98 * np.eye(3))
    likelihood, which = rng.normal(0.0, sharp, (3000, 3)), rng.integers(0, 5, 2999)
    path = most_likely_path(likelihood, moves, np.zeros(3), which)
    assert most_likely_path(likelihood, moves, np.zeros(3), which, forgets=True).tolist() == path.tolist()
