"""Rates and shares with intervals, against statsmodels and printed values."""

from __future__ import annotations

import pytest
from statsmodels.stats.proportion import proportion_confint
from statsmodels.stats.rates import confint_poisson

from flightlog.measures.rates import binomial_share, poisson_rate


@pytest.mark.parametrize(("count", "exposure"), [(0, 1.0), (0, 12.0), (1, 3.0), (7, 19.0), (400, 31.0)])
def test_the_exact_poisson_interval_is_that_of_statsmodels(count, exposure):
    rate = poisson_rate(count, exposure)
    low, high = confint_poisson(count, exposure, method="exact-c")
    assert rate.value == count / exposure
    assert rate.low == pytest.approx(0.0 if count == 0 else low, abs=1e-9)
    assert rate.high == pytest.approx(high, rel=1e-9)


@pytest.mark.parametrize(("count", "total"), [(0, 20), (20, 20), (1, 29), (15, 148), (81, 263)])
def test_the_score_interval_is_that_of_statsmodels(count, total):
    share = binomial_share(count, total)
    low, high = proportion_confint(count, total, method="wilson")
    assert (share.low, share.high) == pytest.approx((low, high), abs=1e-12)


@pytest.mark.parametrize(("count", "low", "high"), [(0, 0.0, 3.689), (1, 0.0253, 5.572), (10, 4.795, 18.39)])
def test_garwood_limits_as_tabled(count, low, high):
    """Garwood 1936, 95 % limits of a Poisson count; as commonly tabled, from memory."""
    rate = poisson_rate(count, 1.0)
    assert rate.low == pytest.approx(low, abs=5e-4)
    assert rate.high == pytest.approx(high, abs=5e-3)


@pytest.mark.parametrize(
    ("count", "total", "low", "high"),
    [(81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605), (0, 20, 0.0, 0.1611), (1, 29, 0.0061, 0.1718)],
)
def test_wilson_limits_as_printed(count, total, low, high):
    """Newcombe 1998, Statistics in Medicine 17:857, table I, method 3; values from memory."""
    share = binomial_share(count, total)
    assert (share.low, share.high) == pytest.approx((low, high), abs=5.1e-5)


def test_nothing_seen_in_nothing_is_unknown():
    assert poisson_rate(0, 0.0) is None
    assert binomial_share(0, 0) is None


def test_absurd_counts_are_a_programmers_error():
    with pytest.raises(ValueError, match="negative"):
        poisson_rate(-1, 1.0)
    with pytest.raises(ValueError, match="between"):
        binomial_share(3, 2)
