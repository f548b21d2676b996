"""The thermal map of simulated seasons against the sources they were flown over: a few of those of the study."""

from __future__ import annotations

from tests.truth.season_study import scores_of


def test_thirty_flights_find_what_five_flights_used_and_hold_it_in_their_radii() -> None:
    score = scores_of("rolling", 30, range(41, 45))
    print(score)
    assert score.share("found 5", "used 5") >= 0.9
    assert score.counts["false sure"] <= 1
    assert score.share("false possible", "possible") <= 0.25
    assert score.held >= 0.9
