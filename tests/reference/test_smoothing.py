"""The banded smoother against published values, statsmodels and the textbook recursion.

Local level and local linear trend: values of the R package KFAS 1.3.1 (exact diffuse start), shipped as test data
with statsmodels.
"""

from __future__ import annotations

import warnings

import numpy as np
import pytest

from flightlog.motion.smoothing import probe_spacing, smooth, variances, wiener_precision

OBSERVATION = 1.993


def step_precision(transition, noise, count):
    """[-F, I]' Q^-1 [-F, I], the same for every step."""
    joint = np.hstack([-transition, np.eye(len(transition))])
    return np.repeat((joint.T @ np.linalg.inv(noise) @ joint)[:, :, None], count, axis=2)


def wiener(step_s, density, order):
    """Transition and noise of the integrated Wiener process (Bar-Shalom, Li & Kirubarajan 2001)."""
    h = step_s
    if order == 2:
        return np.array([[1, h], [0, 1]]), density * np.array([[h**3 / 3, h**2 / 2], [h**2 / 2, h]])
    noise = [[h**5 / 20, h**4 / 8, h**3 / 6], [h**4 / 8, h**3 / 3, h**2 / 2], [h**3 / 6, h**2 / 2, h]]
    return np.array([[1, h, h * h / 2], [0, 1, h], [0, 0, 1]]), density * np.array(noise)


def test_local_level():
    measured = np.array([10.2394, *[1.0] * 9])
    smoothed = smooth(
        measured[:, None], np.full(10, 1 / OBSERVATION), step_precision(np.eye(1), np.eye(1) * 8.253, 9), loose=0.0
    )
    expected = {
        1: 8.69269189482201,
        2: 2.28778372019385,
        3: 1.21557953089427,
        4: 1.03608877283924,
        10: 1.00000092721546,
    }
    spread = {
        1: 1.65936477978876,
        2: 1.42808320855318,
        3: 1.4216017878374,
        5: 1.42141506687939,
        10: 1.65936477978876,
    }
    for t, value in expected.items():
        assert smoothed.states[t - 1, 0, 0] == pytest.approx(value, abs=1e-12)
    for t, value in spread.items():
        assert variances(smoothed, 0, 10)[t - 1] == pytest.approx(value, abs=1e-12)


def test_local_linear_trend():
    measured = np.array([10.2394, 4.2039, 6.123123, *[1.0] * 7])
    precision = step_precision(np.array([[1.0, 1.0], [0.0, 1.0]]), np.diag([8.253, 2.334]), 9)
    smoothed = smooth(measured[:, None], np.full(10, 1 / OBSERVATION), precision, loose=0.0)
    expected = {
        1: (9.72422585109483, -2.42127577521950), 2: (5.16961728565239, -1.81795592396779),
        3: (5.21735755213863, -1.74226662021634), 5: (1.01474067368523, -0.68252680614258),
        8: (0.97826446660495, -0.16639734671505), 10: (0.97148018348324, -0.13299782250525),
    }  # fmt: skip
    for t, (level, slope) in expected.items():
        assert smoothed.states[t - 1, :, 0] == pytest.approx((level, slope), abs=1e-12)


@pytest.mark.parametrize("order", [2, 3])
@pytest.mark.parametrize("step_s", [0.2, 1.0, 3.7, 15.0])
def test_closed_form_of_the_precision(order, step_s):
    transition, noise = wiener(step_s, 0.7, order)
    expected = step_precision(transition, noise, 1)[:, :, 0]
    assert wiener_precision(np.array([step_s]), 0.7, order)[:, :, 0] == pytest.approx(expected, rel=1e-9)
    assert not wiener_precision(np.array([np.inf]), 0.7, order).any()


def rts(time_s, measured, variance, density, order):
    """Kalman filter and Rauch-Tung-Striebel smoother, one fix at a time, from a vague start."""
    mean, cov = np.zeros(order), np.eye(order) * 1e7
    filtered, predicted = [], []
    for k, value in enumerate(measured):
        if k:
            transition, noise = wiener(time_s[k] - time_s[k - 1], density, order)
            mean, cov = transition @ mean, transition @ cov @ transition.T + noise
            predicted.append((transition, mean, cov))
        if np.isfinite(value):
            gain = cov[:, 0] / (cov[0, 0] + variance[k])
            mean, cov = mean + gain * (value - mean[0]), cov - np.outer(gain, cov[0])
        filtered.append((mean, cov))
    states, spreads = [filtered[-1][0]], [filtered[-1][1]]
    for k in range(len(measured) - 2, -1, -1):
        transition, ahead, ahead_cov = predicted[k]
        mean, cov = filtered[k]
        gain = cov @ transition.T @ np.linalg.inv(ahead_cov)
        states.append(mean + gain @ (states[-1] - ahead))
        spreads.append(cov + gain @ (spreads[-1] - ahead_cov) @ gain.T)
    return np.array(states[::-1]), np.array(spreads[::-1])


@pytest.mark.parametrize("order", [2, 3])
def test_irregular_times_and_missing_fixes_against_the_recursion(order):
    rng = np.random.default_rng(order)
    time_s = np.cumsum(rng.choice([0.2, 1.0, 2.0, 7.0, 14.0], 80))
    measured = np.cumsum(rng.normal(0, 2, 80))
    measured[[5, 6, 30]] = np.nan
    variance = rng.uniform(0.5, 2.0, 80)
    states, spreads = rts(time_s, measured, variance, 0.6, order)
    smoothed = smooth(measured[:, None], 1 / variance, wiener_precision(np.diff(time_s), 0.6, order))
    assert smoothed.states[:, :, 0] == pytest.approx(states, abs=2e-3)  # the recursion itself loses digits
    for position in range(order):
        assert variances(smoothed, position, 80) == pytest.approx(spreads[:, position, position], rel=5e-3)


def test_against_statsmodels():
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from statsmodels.tsa.statespace.mlemodel import MLEModel
    rng = np.random.default_rng(4)
    measured = np.cumsum(rng.normal(0, 1, 60))
    measured[20:23] = np.nan
    transition, noise = wiener(1.0, 0.3, 3)
    model = MLEModel(measured, k_states=3, k_posdef=3)
    model["transition"], model["selection"], model["state_cov"] = transition, np.eye(3), noise
    model["design"], model["obs_cov"] = np.array([[1.0, 0.0, 0.0]]), np.array([[1.4]])
    model.initialize_known(np.zeros(3), np.eye(3) * 1e6)
    theirs = model.ssm.smooth()
    smoothed = smooth(measured[:, None], np.full(60, 1 / 1.4), wiener_precision(np.ones(59), 0.3, 3))
    assert smoothed.states[:, :, 0] == pytest.approx(theirs.smoothed_state.T, abs=1e-4)
    assert variances(smoothed, 1, 60) == pytest.approx(theirs.smoothed_state_cov[1, 1], rel=1e-3)


@pytest.mark.parametrize("interval_s", [0.2, 1.0, 4.0, 10.0])
def test_probing_is_good_to_six_per_cent(interval_s):
    variance = 0.9 / min(interval_s, 1.0)
    precision = wiener_precision(np.full(599, interval_s), 1.0, 3)
    smoothed = smooth(np.zeros((600, 1)), np.full(600, 1 / variance), precision)
    spacing = probe_spacing(interval_s, variance, 1.0, 3)
    assert variances(smoothed, 1, spacing) == pytest.approx(variances(smoothed, 1, 600), rel=0.06)


def test_posterior_covers_what_the_prior_draws():
    """Paths drawn from the prior itself: 95 % of the true velocities lie inside 1.96 standard deviations."""
    rng = np.random.default_rng(5)
    transition, noise = wiener(2.0, 1.0, 3)
    root = np.linalg.cholesky(noise)
    inside, total = 0, 0
    for _ in range(12):
        states = np.zeros((500, 3))
        for k in range(1, 500):
            states[k] = transition @ states[k - 1] + root @ rng.normal(size=3)
        measured = states[:, :1] + rng.normal(0, 0.95, (500, 1))
        smoothed = smooth(measured, np.full(500, 1 / 0.95**2), wiener_precision(np.full(499, 2.0), 1.0, 3))
        sd = np.sqrt(variances(smoothed, 1, 40))
        inside += int((np.abs(smoothed.states[:, 1, 0] - states[:, 1]) < 1.96 * sd).sum())
        total += 500
    assert 0.93 < inside / total < 0.97


def test_a_gap_ties_nothing():
    """An infinite step leaves two independent pieces."""
    measured = np.concatenate([np.zeros(20), np.full(20, 1e5)])[:, None]
    steps = np.ones(39)
    steps[19] = np.inf
    both = smooth(measured, np.ones(40), wiener_precision(steps, 1.0, 3))
    alone = smooth(measured[:20], np.ones(20), wiener_precision(np.ones(19), 1.0, 3))
    assert both.states[:20] == pytest.approx(alone.states, abs=1e-6)
    assert both.states[20:, 1] == pytest.approx(0.0, abs=0.01)


def test_orders_other_than_two_and_three_are_refused():
    with pytest.raises(ValueError, match="order must be 2 or 3, not 4"):
        wiener_precision(np.ones(3), 1.0, 4)
