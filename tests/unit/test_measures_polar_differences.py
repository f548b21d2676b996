"""Differences of polars from made-up blocks of glide whose wings are known."""

from __future__ import annotations

import numpy as np
import pytest

from flightlog.air.wing_polars import expectations
from flightlog.measures.polar_differences import (
    PolarDifference,
    common_airspeeds_mps,
    compare_polars,
    compare_with_maker,
)
from flightlog.measures.polars import fit_polar
from tests.unit.made_glides import Figures, blocks_of, coefficients, makers_wing

CLASS = expectations("paraglider")


def true_difference(first: Figures, second: Figures, item: PolarDifference) -> float:
    values = []
    for ratio, airspeed, share in (first, second):
        a, b, c = coefficients((ratio, airspeed, share))
        if item.figure == "best_glide_ratio":
            values.append(ratio)
        elif item.figure == "min_sink_mps":
            values.append(c - b * b / (4 * a))
        else:
            assert item.airspeed_mps is not None
            values.append((a * item.airspeed_mps + b) * item.airspeed_mps + c)
    return float(values[1] - values[0])


def best_glide(differences: tuple[PolarDifference, ...]) -> PolarDifference:
    return next(item for item in differences if item.figure == "best_glide_ratio")


@pytest.mark.parametrize("share", [0.0, 0.2])
@pytest.mark.slow
def test_intervals_hold_the_true_difference_as_often_as_they_say(share: float) -> None:
    # 16 pairs of wings spread over the class, unequal amounts of glide; fewer than 13 happen once in 100 by chance
    rng = np.random.default_rng(3)
    inside: dict[str, list[bool]] = {}
    for seed in range(16):
        first = (rng.uniform(8.0, 10.5), rng.uniform(9.8, 10.9), rng.uniform(0.8, 0.88))
        second = (first[0] * (1 + share), first[1] * (1 + 0.3 * share), first[2])
        minutes = (40.0, 14.0) if seed % 2 else (20.0, 20.0)
        found = compare_polars(
            blocks_of(first, minutes[0], 2 * seed), blocks_of(second, minutes[1], 2 * seed + 1), CLASS
        )
        for item in found:
            true = true_difference(first, second, item)
            inside.setdefault(item.figure, []).append(item.difference.low <= true <= item.difference.high)
    for held in inside.values():
        assert np.mean(held) >= 13 / 16


def test_the_class_makes_no_difference_between_equal_wings_far_from_its_middle() -> None:
    # much glide against little, of one and the same wing, two fifths better than the class lets expect
    wing = (13.0, 10.8, 0.85)
    together, parted, told = [], [], []
    for seed in range(300, 316, 2):
        one, other = blocks_of(wing, 80, seed), blocks_of(wing, 6, seed + 1)
        found = best_glide(compare_polars(one, other, CLASS))
        together.append(found.difference.value)
        told.append(found.tells_apart)
        polars = [fit_polar(blocks, CLASS) for blocks in (one, other)]
        assert polars[0] is not None
        assert polars[1] is not None
        parted.append(polars[1].best_glide_ratio.value - polars[0].best_glide_ratio.value)
    assert np.mean(parted) < -1.0  # what subtracting two polars of the class would make of it
    assert abs(np.mean(together)) < 0.6 * abs(np.mean(parted))
    assert not any(told)


def test_a_real_difference_is_not_drawn_to_nought() -> None:
    first, second = (8.0, 10.2, 0.85), (10.4, 10.6, 0.85)
    found = best_glide(
        compare_polars(blocks_of(first, 60, 1, rough=0.2), blocks_of(second, 60, 2, rough=0.2), CLASS)
    )
    assert found.difference.value == pytest.approx(2.4, abs=0.3)
    assert found.tells_apart


def test_a_set_against_itself_differs_by_nought() -> None:
    one = blocks_of((9.3, 10.4, 0.85), 30, 4)
    for item in compare_polars(one, one, CLASS):
        assert item.difference.low < 0.0 < item.difference.high
        assert abs(item.difference.value) < 0.1 * (item.difference.high - item.difference.low)


def test_the_other_way_round_the_difference_turns_its_sign() -> None:
    one, other = blocks_of((9.0, 10.4, 0.85), 20, 5), blocks_of((10.5, 10.8, 0.85), 30, 6)
    there, back = (best_glide(compare_polars(*pair, CLASS)).difference for pair in ((one, other), (other, one)))
    assert back.value == pytest.approx(-there.value, abs=0.1)
    assert back.low == pytest.approx(-there.high, abs=0.3)


def test_sinks_are_compared_only_where_both_were_flown() -> None:
    slow = blocks_of((9.3, 10.4, 0.85), 20, 7, speed_mps=9.5)
    fast = blocks_of((9.3, 10.4, 0.85), 20, 8, speed_mps=11.0)
    speeds = [item.airspeed_mps for item in compare_polars(slow, fast, CLASS) if item.figure == "sink_mps"]
    ends = [np.quantile(blocks.pieces.airspeed_mps, [0.02, 0.98]) for blocks in (slow, fast)]
    assert speeds
    assert all(max(ends[0][0], ends[1][0]) <= speed <= min(ends[0][1], ends[1][1]) for speed in speeds if speed)
    apart = compare_polars(slow, blocks_of((9.3, 10.4, 0.85), 20, 8, speed_mps=18.0), CLASS)
    assert [item.figure for item in apart] == ["best_glide_ratio", "min_sink_mps"]


def test_too_little_glide_is_not_compared() -> None:
    assert compare_polars(blocks_of((9.3, 10.4, 0.85), 1.5, 9), blocks_of((9.3, 10.4, 0.85), 30, 9), CLASS) == ()
    assert common_airspeeds_mps(10.0, 10.0) == (10.0,)


def test_a_wing_as_its_maker_says_is_not_told_from_it() -> None:
    figures = (10.2, 10.6, 0.85)
    inside = [
        not item.tells_apart
        for seed in range(20)  # the figures of one seed miss together
        for item in compare_with_maker(blocks_of(figures, 40, seed), makers_wing(figures), CLASS)
    ]
    assert np.mean(inside) >= 0.9


def test_a_makers_promise_is_neither_believed_nor_drawn_to_the_class() -> None:
    flown, promised = (8.2, 10.4, 0.85), (10.8, 10.4, 0.85)
    found = compare_with_maker(blocks_of(flown, 60, 3, rough=0.2), makers_wing(promised), CLASS)
    assert best_glide(found).difference.value == pytest.approx(-2.6, abs=0.3)
    assert best_glide(found).tells_apart
    for item in found:
        true = true_difference(promised, flown, item)
        assert item.difference.low - 0.02 <= true <= item.difference.high + 0.02


def test_the_maker_is_asked_only_inside_its_points() -> None:
    figures = (9.3, 10.4, 0.85)
    found = compare_with_maker(blocks_of(figures, 20, 1), makers_wing(figures, (9.6, 10.3)), CLASS)
    assert [item.figure for item in found] == ["sink_mps"]
    assert found[0].airspeed_mps == 10.0
    assert compare_with_maker(blocks_of(figures, 20, 1), makers_wing(figures, (9.6,)), CLASS) == ()
