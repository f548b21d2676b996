"""Task points against published values.

Sources: JHF-GAP2000, the GAP 2000 rule pages of the Japanese hang and paragliding federation (points allocation,
table of speed points); GAP-2017, FAI/CIVL GAP, annex to the Sporting Code Section 7, edition 2017, in a public
transcription. Values that only follow from those formulas, computed apart from this code, are marked "derived".
"""

from __future__ import annotations

import numpy as np
import pytest

from flightlog.comparing.points_formula import (
    arrival_share,
    distance_validity,
    launch_validity,
    leading_coefficient,
    stopped_distance_m,
    stopped_validity,
    time_share,
    time_validity,
    weights,
)
from flightlog.comparing.points_rules import PointsRules

HOUR = 3600.0


def test_weights_with_a_quarter_in_goal():
    """JHF-GAP2000, points allocation: 582, 293, 73, 52."""
    found = weights(0.25, 0.0, 1.0, is_paragliding=False)
    shares = (found.distance, found.time, found.leading, found.arrival)
    assert [1000.0 * share for share in shares] == pytest.approx([582, 293, 73, 52], abs=0.5)
    assert sum(shares) == pytest.approx(1.0)


def test_leading_points_with_thirty_percent_in_goal():
    """GAP-2017, leading example: 81 points."""
    assert 1000.0 * weights(0.3, 0.0, 1.0, is_paragliding=False).leading == pytest.approx(81, abs=0.5)


def test_nobody_at_the_end_of_speed():
    """GAP-2017, allocation: 900 distance points and 18 for leading, 918 at most."""
    found = weights(0.0, 50e3, 100e3, is_paragliding=False)
    assert 1000.0 * found.distance == pytest.approx(900, abs=0.5)
    assert 1000.0 * found.leading == pytest.approx(18, abs=0.51)
    assert 1000.0 * (found.distance + found.leading) == pytest.approx(918, abs=0.51)


def test_paragliding_leading_without_goal():
    """GAP-2017: 0.1 of best distance over task distance, and no arrival points; twice the leading in goal."""
    assert weights(0.0, 50e3, 100e3, is_paragliding=True).leading == pytest.approx(0.05)
    pair = [weights(0.4, 1.0, 1.0, is_paragliding=is_paragliding) for is_paragliding in (True, False)]
    assert pair[0].leading == pytest.approx(2.0 * pair[1].leading)
    assert pair[0].arrival == 0.0


def test_launch_validity():
    """GAP-2017: about 0.1 with 20 % of the pilots in the air; derived: 50 and 90 of 100 at 96 %."""
    assert launch_validity(20, 100, 0.96) == pytest.approx(0.1, abs=0.02)
    assert launch_validity(20, 100, 1.0) == pytest.approx(0.1065, abs=5e-5)
    assert launch_validity(50, 100, 0.96) == pytest.approx(0.530691, abs=1e-6)
    assert launch_validity(90, 100, 0.96) == pytest.approx(0.987275, abs=1e-6)
    assert launch_validity(96, 100, 0.96) == pytest.approx(1.0)


@pytest.mark.parametrize(("ratio", "expected"), [(0.25, 0.333016), (0.5, 0.717625), (0.75, 0.925672), (1.0, 1.0)])
def test_time_validity(ratio: float, expected: float):
    """GAP-2017, formula; values derived."""
    rules = PointsRules(nominal_time_s=5400.0, nominal_distance_m=80e3)
    assert time_validity(ratio * 5400.0, 0.0, rules) == pytest.approx(expected, abs=1e-6)
    assert time_validity(None, ratio * 80e3, rules) == pytest.approx(expected, abs=1e-6)


@pytest.mark.parametrize(
    ("best_h", "times", "tolerance_s"),
    [
        (1.0, ("1:05", "1:21", "2:00"), 60.0),
        (2.0, ("2:08", "2:30", "3:24"), 60.0),
        (3.0, ("3:09", "3:37", "4:42"), 120.0),
        (4.0, ("4:11", "4:43", "6:00"), 60.0),
    ],
)
def test_times_for_eighty_fifty_and_no_percent(best_h: float, times: tuple[str, ...], tolerance_s: float):
    """JHF-GAP2000 table of speed points, repeated in GAP-2017: when 80, 50 and 0 % are left."""
    every_s = np.arange(best_h * HOUR, 8.0 * HOUR)
    left = time_share(every_s, best_h * HOUR, 2.0 / 3.0)
    for share, text in zip((0.8, 0.5, 0.0), times, strict=True):
        hours, minutes = text.split(":")
        at_s = every_s[int(np.argmax(left <= share + 1e-12))]
        assert at_s == pytest.approx(60.0 * (60 * int(hours) + int(minutes)), abs=tolerance_s)


def test_times_by_the_later_exponent():
    """Exponent 5/6 of later paragliding editions, from memory; times derived: 1:08.7, 1:26.1; 2:12.3, 2:36.9."""
    for best_h, expected in ((1.0, (68.7, 86.1)), (2.0, (132.3, 156.9))):
        for share, minutes in zip((0.8, 0.5), expected, strict=True):
            found = time_share(np.array([minutes * 60.0]), best_h * HOUR, 5.0 / 6.0)
            assert float(found[0]) == pytest.approx(share, abs=0.005)
        zero = best_h + best_h**0.5
        assert float(time_share(np.array([zero * HOUR]), best_h * HOUR, 5.0 / 6.0)[0]) == pytest.approx(
            0.0, abs=1e-9
        )


def test_arrival_of_ten():
    """GAP-2017, formula; values derived. The last of many keeps a fifth."""
    expected = [1.0, 0.8001, 0.6369, 0.5067, 0.4057, 0.3301, 0.2761, 0.2399, 0.2177, 0.2056]
    assert arrival_share(np.arange(1.0, 11.0), 10) == pytest.approx(expected, abs=1e-4)
    assert float(arrival_share(np.array(10_000.0), 10_000)) >= 0.2


def straight_way(seconds: float, until: float, late: float = 0.0):
    """Steps of one second at constant speed over a section of 60 km flown in so many seconds."""
    time = np.arange(0.0, until + 0.5)
    return time + late, 60e3 * (1.0 - time / seconds)


def test_leading_coefficient_at_constant_speed():
    """Derived from the definition in GAP-2017: T / 5400 in the limit, 1.000278 in steps of a second, and a third
    more if 600 s late."""
    time, to_go = straight_way(5400.0, 5400.0)
    assert leading_coefficient(time, to_go, 60e3, 0.0) == pytest.approx(1.000278, abs=1e-6)
    late, to_go = straight_way(5400.0, 5400.0, late=600.0)
    assert leading_coefficient(late, to_go, 60e3, 0.0) == pytest.approx(1.000278 + 0.333333, abs=1e-5)
    time, to_go = straight_way(2700.0, 2700.0)
    assert leading_coefficient(time, to_go, 60e3, 0.0) == pytest.approx(0.5, abs=1e-3)


def test_leading_coefficient_of_a_landing_half_way():
    """Derived from the rules of GAP-2017: landed after 2700 s, the last pilot at the end of speed after 5400 s:
    1.250208; with the way left counted from the own landing, as for those who land after all others: 0.875208."""
    time, to_go = straight_way(5400.0, 2700.0)
    assert leading_coefficient(time, to_go, 60e3, 5400.0) == pytest.approx(1.250208, abs=1e-5)
    assert leading_coefficient(time, to_go, 60e3, 2700.0) == pytest.approx(0.875208, abs=1e-5)


def test_distance_validity_by_hand():
    """GAP-2017, formula: sum of distances over the minimum against n (g + 1)(nominal - minimum) / 2."""
    rules = PointsRules(nominal_distance_m=50e3, minimum_distance_m=5e3, nominal_goal_share=0.2)
    flown = np.array([40e3, 20e3, 5e3, 5e3])
    assert distance_validity(flown, rules) == pytest.approx((35 + 15) / (4 * 1.2 * 45 / 2))
    far = np.array([90e3, 20e3, 5e3, 5e3])
    assert distance_validity(far, rules) == pytest.approx((85 + 15) / (4 * (1.2 * 45 + 0.2 * 40) / 2))
    assert distance_validity(np.full(4, 100e3), rules) == 1.0


def test_a_stopped_task():
    """GAP-2017: 4 m (paragliding) or 5 m (hang gliding) a metre above goal, as far as goal. The validity is from
    memory; by hand: best 60, mean 40, left 40 + 1 km, spread 20 km, 1 of 2 landed before."""
    assert stopped_distance_m(40e3, 500.0, 60e3, "paragliding") == 42e3
    assert stopped_distance_m(40e3, 500.0, 60e3, "hang_gliding") == 42.5e3
    assert stopped_distance_m(59e3, 500.0, 60e3, "paragliding") == 60e3
    assert stopped_distance_m(40e3, -500.0, 60e3, "paragliding") == 40e3
    flown = np.array([60e3, 20e3])
    by_hand = np.sqrt(20.0 / 41.0 * np.sqrt(20.0 / 5.0)) + 0.5**3
    assert stopped_validity(flown, 100e3, 1, anybody_at_speed_end=False) == pytest.approx(min(1.0, by_hand))
    assert stopped_validity(np.array([60e3, 59e3]), 200e3, 0, anybody_at_speed_end=False) < 0.1
    assert stopped_validity(flown, 100e3, 0, anybody_at_speed_end=True) == 1.0
