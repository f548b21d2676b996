"""How many approaches were broken off, and how sure that is: each low point counts with its own probability."""

from __future__ import annotations

import math
from collections.abc import Iterable

import numpy as np

from flightlog.estimates import Estimate
from flightlog.phases.approaches import PassSpan

OFFSET, SLOPE = 0.5, 0.9
"""Of the log odds that tell attempts: how often 1700 of them at each score were true (five simulated seasons)."""
EITHER_WAY = 0.5
"""Of what looks like an attempt but stayed too high, or beside the place: half of such were."""
TAIL = 0.025
"""Left out at each end of a 95 % interval."""


def attempt_probability(one: PassSpan) -> float:
    """The probability that a pass was meant to land; 1 where it did.

    Notes
    -----
    From simulated pilots (`OFFSET`, `SLOPE`): of real ones, no passes with known intentions were at hand.
    """
    if one.outcome == "landed":
        return 1.0
    probability = 1.0 / (1.0 + math.exp(-(OFFSET + SLOPE * one.score)))
    return probability if one.certainty == "sure" else min(probability, EITHER_WAY)


def go_around_count(passes: Iterable[PassSpan]) -> Estimate:
    """Approaches of a flight that were broken off: those counted, and the 95 % interval of how many there were.

    Parameters
    ----------
    passes : iterable of PassSpan
        Of one flight, from `find_passes`; those that are only possible widen the interval.

    Returns
    -------
    Estimate
        Whole numbers. The interval is that of the sum of independent events of these probabilities (Poisson's
        binomial distribution; Y. H. Wang, On the number of successes in independent trials, Statistica Sinica 3,
        1993, from memory), widened to hold the count.

    Notes
    -----
    What is not listed at all, and what the recorder slept through, is not in it.
    """
    broken = [one for one in passes if one.outcome == "go_around"]
    return counted_with_interval(sum(one.certainty == "sure" for one in broken), map(attempt_probability, broken))


def counted_with_interval(count: int, probabilities: Iterable[float]) -> Estimate:
    """A count with the 95 % interval of how many of independent events of these probabilities happened.

    >>> counted_with_interval(1, [0.99, 0.3])
    Estimate(value=1.0, low=1.0, high=2.0)
    """
    counted = float(count)
    shares = np.array([1.0])  # of each number of events
    for probability in probabilities:
        shares = np.convolve(shares, [1.0 - probability, probability])
    reached = np.cumsum(shares)
    low = float(np.searchsorted(reached, TAIL, side="right"))
    high = float(np.searchsorted(reached, 1.0 - TAIL - 1e-12))
    return Estimate(counted, min(low, counted), max(high, counted))
