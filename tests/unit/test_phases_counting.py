"""How many go-arounds, and how sure: sums of independent events against counting them out by hand."""

from __future__ import annotations

from itertools import product

import numpy as np

from flightlog.arrays import frozen_floats
from flightlog.phases.approaches import PassSpan
from flightlog.phases.counting import attempt_probability, go_around_count
from flightlog.phases.grounds import Ground

NOTHING = frozen_floats([])
MEADOW = Ground(
    None, 0.0, 0.0, 30.0, ("top_landing",), None, frozen_floats([0.0]), frozen_floats([0.0]), 1.0, NOTHING, NOTHING
)  # fmt: skip


def tried(score, certainty="sure", outcome="go_around"):
    return PassSpan(MEADOW, 0.0, 9.0, outcome, certainty, 9.0, 8.0, 5.0, 10.0, 100.0, score)


def test_plain_passes_are_counted_without_doubt():
    count = go_around_count([tried(8.0)] * 4 + [tried(0.0, outcome="landed")])
    assert (count.value, count.low, count.high) == (4.0, 4.0, 4.0)


def test_no_pass_is_none():
    count = go_around_count([])
    assert (count.value, count.low, count.high) == (0.0, 0.0, 0.0)


def test_a_doubtful_pass_widens_the_interval_to_both_sides_of_it():
    count = go_around_count([tried(8.0), tried(0.2), tried(-1.5, "possible")])
    assert (count.value, count.low, count.high) == (2.0, 1.0, 3.0)


def test_what_looks_like_an_attempt_but_stayed_high_counts_half():
    assert attempt_probability(tried(7.0, "possible")) == 0.5
    assert attempt_probability(tried(7.0)) > 0.99
    assert attempt_probability(tried(-9.0, outcome="landed")) == 1.0


def test_interval_is_that_of_all_ways_counted_out():
    passes = [tried(s, "sure" if s > 0 else "possible") for s in (2.5, 0.3, 1.1, -0.4, -2.0)]
    chances = [attempt_probability(one) for one in passes]
    ways = np.zeros(len(passes) + 1)
    for way in product((0, 1), repeat=len(passes)):
        ways[sum(way)] += np.prod([p if flown else 1 - p for p, flown in zip(chances, way, strict=True)])
    count = go_around_count(passes)
    numbers = np.arange(len(ways))
    assert ways[numbers < count.low].sum() <= 0.025
    assert ways[numbers > count.high].sum() <= 0.025
    assert ways[numbers <= count.low].sum() > 0.025
    assert ways[numbers >= count.high].sum() > 0.025
