"""Lines through figures with errors of their own and scatter between days: coverage, known answers."""

from __future__ import annotations

import numpy as np
import pytest

from flightlog.season.scatter_lines import fit_scatter_line


def line_through(time: np.ndarray) -> np.ndarray:
    return np.column_stack([np.ones_like(time), time - time.mean()])


@pytest.mark.parametrize(
    ("days", "a_day", "flight_sd", "day_sd", "error_sd"),
    [(8, 1, 1.0, 0.0, 0.3), (12, 3, 0.4, 1.0, 0.3), (30, 2, 0.3, 0.8, 0.6)],
)
def test_intervals_hold_the_true_slope_in_95_of_100_seasons(
    days: int, a_day: int, flight_sd: float, day_sd: float, error_sd: float
) -> None:
    chance = np.random.default_rng(7)
    seasons, held, naive = 50, 0, 0
    for _ in range(seasons):
        day = np.repeat(np.arange(days), a_day)
        time = np.sort(chance.uniform(0.0, 1.0, days))[day]
        errors = error_sd * chance.uniform(0.3, 1.7, len(day))
        values = 3.0 + 2.0 * time + chance.normal(0.0, day_sd, days)[day]
        values += chance.normal(0.0, flight_sd, len(day)) + chance.normal(0.0, 1.0, len(day)) * errors
        line = fit_scatter_line(values, errors, day, line_through(time))
        assert line is not None
        slope, half = line.at(np.array([0.0, 1.0]))
        held += abs(slope - 2.0) <= half
        design = line_through(time) / errors[:, None]
        covariance = np.linalg.inv(design.T @ design)
        guess = covariance @ design.T @ (values / errors)
        naive += abs(guess[1] - 2.0) <= 1.96 * covariance[1, 1] ** 0.5
    # 50 seasons: two standard errors of a share of 95 % are 6 %
    assert held / seasons >= 0.88
    assert naive / seasons < 0.80  # weights by the figures' own errors alone see changes where there are none


def test_without_scatter_the_line_is_that_of_least_squares() -> None:
    time = np.linspace(0.0, 1.0, 10)
    values = 5.0 + 3.0 * time
    line = fit_scatter_line(values, np.full(10, 0.1), np.arange(10), line_through(time))
    assert line is not None
    assert line.coefficients == pytest.approx([6.5, 3.0])
    assert line.degrees == 8
    # errors of 0.1 at ten times over one unit: sd of the slope 0.1 / sqrt(sum of squares), by hand
    assert line.covariance[1, 1] ** 0.5 == pytest.approx(0.1 / ((time - 0.5) ** 2).sum() ** 0.5, rel=0.01)


def test_scatters_and_line_are_those_of_another_program() -> None:
    # statsmodels fits the same mixed model by restricted likelihood, for figures without errors of their own
    from statsmodels.regression.mixed_linear_model import MixedLM

    chance = np.random.default_rng(3)
    day = np.repeat(np.arange(12), 4)
    time = np.sort(chance.uniform(0.0, 1.0, 12))[day]
    values = 3.0 + 2.0 * time + chance.normal(0.0, 1.0, 12)[day] + chance.normal(0.0, 0.7, len(day))
    line = fit_scatter_line(values, np.zeros(len(day)), day, line_through(time))
    other = MixedLM(values, line_through(time), groups=day).fit(reml=True)
    assert line is not None
    assert line.flight_sd == pytest.approx(other.scale**0.5, rel=1e-3)
    assert line.day_sd == pytest.approx(float(other.cov_re[0, 0]) ** 0.5, rel=1e-3)
    assert line.coefficients == pytest.approx(other.fe_params, rel=1e-4)


def test_no_line_through_too_few_days_or_columns_that_tell_the_same() -> None:
    time = np.array([0.0, 0.0, 1.0, 1.0, 2.0, 3.0])
    day = np.array([0, 0, 1, 1, 2, 3])
    assert fit_scatter_line(time, time * 0.0 + 1.0, day, line_through(time)) is None
    same = np.column_stack([np.ones(8), np.ones(8)])
    assert fit_scatter_line(np.arange(8.0), np.ones(8), np.arange(8), same) is None
