"""The thermal map of simulated seasons: a few of those that `python -m tests.truth.season_study` flies."""

from __future__ import annotations

import pytest

from tests.truth.season_study import HEAD, Score, scores_of, told


@pytest.fixture(scope="module")
def rolling() -> Score:
    few, many = scores_of("rolling", 30, range(41, 45)), scores_of("rolling", 100, [45])
    print(HEAD, told("rolling", 30, few), told("rolling", 100, many), sep="\n")  # shown with -s, or on a failure
    few.add(many)
    return few


def test_sources_that_five_days_used_are_found(rolling: Score) -> None:
    assert rolling.counts["used 5"] >= 30
    assert rolling.share("found 5", "used 5") >= 0.9


def test_spots_come_from_sources(rolling: Score) -> None:
    assert rolling.counts["sure"] >= 30
    assert rolling.counts["false sure"] <= 1
    assert rolling.share("false possible", "possible") <= 0.3


def test_radii_hold_the_source_down_one_wind_too(rolling: Score) -> None:
    # 0.85 held their source down one wind before drifts were drawn toward the season's and the lowest layer's was
    # an unknown; tests/unit/test_season_spots.py holds the radius to its closed form
    one_wind = scores_of("one wind", 30, range(51, 55))
    print(HEAD, told("one wind", 30, one_wind), sep="\n")
    assert len(one_wind.off_m) >= 25
    assert one_wind.held >= 0.9
    assert rolling.held >= 0.92


def test_pilots_in_one_thermal_make_no_spot() -> None:
    # with a vote for each flight, not each day, the meet showed 11 spots, 6 of them sure
    meet = scores_of("nothing lasts, meet", 48, [62])
    club = scores_of("nothing lasts, club", 60, (61, 62))
    for score in (meet, club):
        assert score.counts["sure"] == 0
        assert score.counts["possible"] <= 2


def test_climbs_by_chance_where_the_flying_was_make_no_spot() -> None:
    # 1 of 20 maps may show a sure one
    assert scores_of("thrown on ways", 30, range(71, 74)).counts["sure"] <= 1
