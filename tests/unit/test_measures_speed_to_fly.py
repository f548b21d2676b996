"""The speed to fly of glides whose air, wind and polar are known."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from itertools import pairwise

import numpy as np
import pytest

from flightlog.air.wing_polars import PolarCandidates
from flightlog.estimates import Estimate, normal_estimate
from flightlog.measures.glides import measure_glides
from flightlog.measures.results import Climb, SpeedToFly
from flightlog.measures.speed_to_fly import SpeedReview, measure_speed_to_fly
from flightlog.phases.phases import FlightSpan, Phase
from flightlog.settings import PARAGLIDER, UNKNOWN_WING, Settings
from flightlog.wings import Wing
from tests.unit.synthetic_motion import EPOCH_S, Leg, fly, observed

ROOT = float(np.sqrt(1.11 / 1.225))
"""Equivalent over true airspeed in the synthetic air."""
A, B, C = 0.01, -0.16, 1.64
"""Least sink 1.000 at 8.000 m/s, best glide ratio 10.40312 at 12.80625 m/s, all equivalent."""
EXACT = PolarCandidates(
    np.full(2000, np.log(10.403124)), np.full(2000, np.log(12.806248)), np.full(2000, 8.0 / 12.806248),
    np.full(2000, 1 / 2000), (0.0, 0.0, 0.0),
)  # fmt: skip
MAKERS = Wing(
    "Invented", "hang_glider", 30.0, 120.0, polar=tuple((v, (A * v + B) * v + C) for v in (8.0, 11.0, 14.0, 17.0))
)


def still_sink(true_mps: float) -> float:
    """True sink of the polar at this true airspeed, in the synthetic air."""
    eas = true_mps * ROOT
    return ((A * eas + B) * eas + C) / ROOT


def climb(after_s: float, mean_mps: float, gain_m: float = 600.0) -> Climb:
    start = datetime.fromtimestamp(EPOCH_S + after_s, tz=UTC)
    mean = Estimate(mean_mps, mean_mps - 0.05, mean_mps + 0.05)
    return Climb(
        1, start, start + timedelta(seconds=gain_m / mean_mps), "circling", gain_m, 1000.0, 1000.0 + gain_m, mean,
        None, "left", 6.0, None, None, None, None, None, None,
    )  # fmt: skip


def judged(
    legs: list[Leg],
    climbs: list[Climb],
    *,
    polars: PolarCandidates | None = EXACT,
    wing: Wing | None = None,
    wind: tuple[float, float] = (0.0, 0.0),
    is_wind_known: bool = True,
    settings: Settings = UNKNOWN_WING,
) -> list[SpeedToFly]:
    """What is said of a flight in which every leg is a glide."""
    path = fly(legs, wind=wind, altitude_m=2000.0)
    motion, air = observed(path, wind=wind if is_wind_known else None)
    edges = [*path.leg_starts_s, float(motion.time_s[-1])]
    phases = tuple(Phase("glide", None, a, b) for a, b in pairwise(edges))
    span = FlightSpan(1, edges[0], edges[0], edges[-1], True, True, 0.5, 0.5, 0, motion.time_s.size, phases)
    glides = measure_glides(motion, air, span, settings)
    return list(measure_speed_to_fly(motion, air, glides, climbs, settings, wing, polars).speeds)


def about(estimate: Estimate | None, value: float, within: float) -> None:
    """The estimate has this value and holds it in its interval."""
    assert estimate is not None
    assert estimate.value == pytest.approx(value, abs=within)
    assert estimate.low <= value <= estimate.high


def test_the_best_speed_to_a_known_climb_is_maccreadys() -> None:
    # closed form: equivalent sqrt((1.64 + M) / 0.01) with M in equivalent speed
    true_speed = 12.0
    (row,) = judged([Leg(300, true_speed, -still_sink(true_speed))], [climb(300, 2.0)])
    assert row.reference == "next_climb"
    assert row.climb_mps == 2.0
    expected = float(np.sqrt((C + 2.0 * ROOT) / A))
    about(row.best_equivalent_mps, expected, 0.05)
    about(row.best_airspeed_mps, expected / ROOT, 0.05)
    about(row.air_mps, 0.0, 0.02)
    about(row.flown_equivalent_mps, true_speed * ROOT, 0.02)


def test_the_cost_in_time_is_that_of_flying_the_same_way_twice() -> None:
    true_speed, climb_mps, seconds = 10.0, 2.0, 300.0
    (row,) = judged([Leg(seconds, true_speed, -still_sink(true_speed))], [climb(seconds, climb_mps)])
    way = true_speed * seconds
    best = float(np.sqrt((C + climb_mps * ROOT) / A)) / ROOT
    took, least = (way / v * (1 + still_sink(v) / climb_mps) for v in (true_speed, best))
    about(row.cost_s, took - least, 2.0)
    assert row.cost_m is None


def test_rising_air_slows_and_sinking_air_hurries() -> None:
    v = 13.0
    rows = [judged([Leg(300, v, -still_sink(v) + air)], [climb(300, 1.0)])[0] for air in (0.5, 0.0, -0.5)]
    for row, air in zip(rows, (0.5, 0.0, -0.5), strict=True):
        about(row.air_mps, air, 0.02)
        about(row.best_equivalent_mps, float(np.sqrt((C + (1.0 - air) * ROOT) / A)), 0.05)


@pytest.mark.parametrize(("tailwind", "speed"), [(-5.0, 15.44031), (0.0, 12.80625), (5.0, 11.40122)])
def test_the_last_glide_is_judged_over_the_ground(tailwind: float, speed: float) -> None:
    # closed form on the polar at sea level (derived), the wind in equivalent speed
    flown = 12.0
    leg = Leg(300, flown, -still_sink(flown), heading_deg=90.0)
    (row,) = judged([leg], [], wind=(tailwind / ROOT, 0.0))
    assert (row.reference, row.climb_mps, row.cost_s) == ("best_glide_over_ground", None, None)
    about(row.best_equivalent_mps, speed, 0.05)
    ground = (flown + tailwind / ROOT) * 300.0
    best = speed / ROOT
    least = ground * still_sink(best) / (best + tailwind / ROOT)
    about(row.cost_m, still_sink(flown) * 300.0 - least, 1.5)


def test_costs_are_never_negative_and_small_at_the_best_speed() -> None:
    best = float(np.sqrt((C + 1.0 * ROOT) / A)) / ROOT
    (row,) = judged([Leg(600, best, -still_sink(best))], [climb(600, 1.0)])
    assert row.cost_s is not None
    assert 0.0 == row.cost_s.low < row.cost_s.value < 3.0


def test_only_a_climb_that_follows_counts() -> None:
    legs = [Leg(200, 12.0, -1.2), Leg(200, 12.0, -1.2)]
    rows = judged(legs, [climb(200, 1.5)])
    assert [row.reference for row in rows] == ["next_climb", "best_glide_over_ground"]
    assert [row.number for row in rows] == [1, 2]


def test_a_climb_that_gained_nothing_is_no_goal() -> None:
    (row,) = judged([Leg(200, 12.0, -1.2)], [climb(200, 0.02)])
    assert row.reference == "best_glide_over_ground"
    assert row.climb_mps == 0.02
    assert "next to nothing" in (row.note or "")


def test_unknown_airspeed_gives_nothing() -> None:
    (row,) = judged([Leg(200, 12.0, -1.2)], [climb(200, 1.0)], is_wind_known=False)
    assert row.note == "the airspeed is not known"
    assert row.climb_mps == 1.0
    assert (row.air_mps, row.best_airspeed_mps, row.cost_s, row.cost_m, row.tailwind_mps) == (None,) * 5


def test_without_a_polar_nothing_is_said() -> None:
    (row,) = judged([Leg(100, 12.0, -1.2)], [climb(100, 1.0)], polars=None)
    assert "no polar" in (row.note or "")
    assert row.flown_equivalent_mps is not None  # what was flown needs no polar
    assert row.flown_airspeed_mps is not None
    assert row.flown_equivalent_mps.value == pytest.approx(row.flown_airspeed_mps.value * ROOT, rel=1e-6)
    assert row.best_airspeed_mps is None


def test_the_wing_files_polar_serves_where_none_was_fitted() -> None:
    flown = 12.0
    (row,) = judged([Leg(100, flown, -still_sink(flown))], [climb(100, 0.5)], polars=None, wing=MAKERS)
    assert "wing file" in (row.note or "")
    about(row.best_equivalent_mps, float(np.sqrt((C + 0.5 * ROOT) / A)), 0.3)


def test_a_vaguer_polar_gives_wider_intervals() -> None:
    rng = np.random.default_rng(1)
    vague = replace(EXACT, log_ratio=EXACT.log_ratio + 0.1 * rng.standard_normal(2000))
    flown = 12.0
    widths = []
    for polars in (EXACT, vague):
        (row,) = judged([Leg(300, flown, -still_sink(flown))], [climb(300, 1.0)], polars=polars)
        assert row.best_airspeed_mps is not None
        assert row.air_mps is not None
        widths.append((row.best_airspeed_mps.high - row.best_airspeed_mps.low, row.air_mps.high - row.air_mps.low))
    assert widths[1][0] > 1.2 * widths[0][0]
    assert widths[1][1] > 1.2 * widths[0][1]


def test_nobody_is_asked_to_fly_faster_than_the_wing_can() -> None:
    (row,) = judged([Leg(200, 12.0, -still_sink(12.0))], [climb(200, 6.0)], wing=MAKERS)
    assert row.best_equivalent_mps is not None
    assert row.best_equivalent_mps.value == pytest.approx(17.0)
    assert "more than the wing can fly" in (row.note or "")
    (row,) = judged([Leg(200, 12.0, -still_sink(12.0))], [climb(200, 9.0)], settings=PARAGLIDER)
    assert row.best_equivalent_mps is not None
    assert row.best_equivalent_mps.value == pytest.approx(1.45 * 12.80625, abs=0.01)


def test_air_that_rose_faster_than_the_climb_leaves_no_speed_to_fly() -> None:
    # the glide itself rose at 1.5 m/s: more than the climb of 1.0 that followed
    (row,) = judged([Leg(200, 9.0, 1.5)], [climb(200, 1.0)])
    assert row.best_airspeed_mps is None
    assert row.cost_s is None
    assert "no speed to fly" in (row.note or "")
    (row,) = judged([Leg(200, 9.0, 0.5)], [])
    assert row.cost_m is None
    assert "held the wing up" in (row.note or "")


def test_a_climb_broken_off_early_is_counted_with_the_next() -> None:
    glide = [Leg(400, 12.0, -1.5)]  # loses 600 m
    (row,) = judged(glide, [climb(400, 0.4, gain_m=20.0), climb(500, 0.05, gain_m=30.0), climb(1200, 2.0)])
    assert row.reference == "next_climb"
    assert row.climb_mps == pytest.approx(620.0 / (50.0 + 300.0))
    assert "less than a third of the height" in (row.note or "")
    (plain,) = judged(glide, [climb(400, 0.4, gain_m=260.0), climb(1200, 2.0)])
    assert plain.climb_mps == 0.4
    assert "less than" not in (plain.note or "")


def test_a_height_not_won_back_is_judged_over_the_ground() -> None:
    (row,) = judged([Leg(400, 12.0, -1.5)], [climb(400, 1.0, gain_m=50.0), climb(600, 1.0, gain_m=50.0)])
    assert (row.reference, row.climb_mps, row.cost_s) == ("best_glide_over_ground", 1.0, None)
    assert "less than a third of the height was won back" in (row.note or "")
    assert row.cost_m is not None


def test_the_same_flight_gives_the_same_figures() -> None:
    legs = [Leg(300, 11.0, -1.3)]
    assert judged(legs, [climb(300, 1.0)]) == judged(legs, [climb(300, 1.0)])


def four_slow_glides(polars: PolarCandidates, airspeed_sd_mps: float) -> SpeedReview:
    """Four glides alike, flown at 11 m/s where some 18 would have been best, their airspeeds known so well."""
    path = fly([Leg(300, 11.0, -still_sink(11.0))] * 4, altitude_m=4000.0)
    motion, air = observed(path)
    edges = [*path.leg_starts_s, float(motion.time_s[-1])]
    phases = tuple(Phase("glide", None, a, b) for a, b in pairwise(edges))
    span = FlightSpan(1, edges[0], edges[0], edges[-1], True, True, 0.5, 0.5, 0, motion.time_s.size, phases)
    glides = [
        replace(one, airspeed_mps=normal_estimate(one.airspeed_mps.value, airspeed_sd_mps))
        for one in measure_glides(motion, air, span, UNKNOWN_WING)
        if one.airspeed_mps is not None
    ]
    assert len(glides) == 4
    return measure_speed_to_fly(motion, air, glides, [climb(1200, 2.0)], UNKNOWN_WING, None, polars)


def half_width(estimate: Estimate | None) -> float:
    assert estimate is not None
    return (estimate.high - estimate.low) / 2.0


def test_errors_of_each_glide_level_out_in_the_whole_and_those_of_the_polar_add_up() -> None:
    rng = np.random.default_rng(1)
    vague = replace(EXACT, log_ratio=EXACT.log_ratio + 0.05 * rng.standard_normal(2000))
    for polars, airspeed_sd_mps, share in ((EXACT, 0.3, 0.5), (vague, 0.001, 1.0)):  # 0.5: root of four in four
        review = four_slow_glides(polars, airspeed_sd_mps)
        (total,) = review.costs
        assert (total.reference, total.glides, total.of, total.cost_m) == ("next_climb", (1, 2, 3, 4), 4, None)
        singles = sum(half_width(one.cost_s) for one in review.speeds)
        assert half_width(total.cost_s) == pytest.approx(share * singles, rel=0.1)
        assert total.cost_s is not None
        assert total.cost_s.value == pytest.approx(sum(one.cost_s.value for one in review.speeds), rel=0.03)
