"""The arithmetic of sink polars against closed forms, and the fit against polars it must give back.

The closed forms follow from w = a V^2 + b V + c: least sink at -b / 2a, best glide ratio 1 / (2 sqrt(ac) + b) at
sqrt(c / a). They are derived, not read in a publication; the ranges of foot-launched wings are trade knowledge.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import norm
from scipy.stats import t as student_t

from flightlog.air import polar_statistics
from flightlog.air.polar_statistics import Pieces, sample_polars
from flightlog.air.turns import glide_ratio_over_ground
from flightlog.air.wing_polars import (
    EXPECTATIONS,
    GRID_SHAPE,
    PolarCandidates,
    candidates,
    expectations,
    polar_coefficients,
    sinks_in_turn_mps,
    usual_weights,
)
from flightlog.errors import SettingsError
from flightlog.measures.polars import fit_polar
from flightlog.wings import Wing
from tests.unit.made_glides import blocks_of

A, B, C = 0.01, -0.16, 1.64
"""w = 0.01 v^2 - 0.16 v + 1.64: least sink 1.000 at 8.000 m/s, best glide 10.40312 at 12.80625 m/s."""
BEST_RATIO, BEST_MPS, LEAST_SINK_SHARE = 10.40312, 12.80625, 8.0 / 12.80625


def test_three_figures_give_the_closed_form_polar() -> None:
    (found,) = polar_coefficients(np.array([BEST_RATIO]), np.array([BEST_MPS]), np.array([LEAST_SINK_SHARE]))
    assert found == pytest.approx([A, B, C], rel=1e-5)


def test_least_sink_of_the_closed_form_polar() -> None:
    a, b, c = polar_coefficients(np.array([BEST_RATIO]), np.array([BEST_MPS]), np.array([LEAST_SINK_SHARE]))[0]
    assert -b / (2 * a) == pytest.approx(8.0, abs=1e-5)
    assert c - b * b / (4 * a) == pytest.approx(1.0, abs=1e-5)


@pytest.mark.parametrize(
    ("tailwind_mps", "speed_mps", "ratio"),
    [(-5.0, 15.44031, 6.72015), (-2.0, 13.66190, 8.83095), (2.0, 12.14214, 12.07107), (5.0, 11.40122, 14.70061)],
)
def test_best_glide_over_ground_in_wind(tailwind_mps: float, speed_mps: float, ratio: float) -> None:
    # closed form on the polar above: v = -t + sqrt(t^2 + (c - b t) / a)
    a, b, c = polar_coefficients(np.array([BEST_RATIO]), np.array([BEST_MPS]), np.array([LEAST_SINK_SHARE]))[0]
    speeds = np.linspace(5.0, 25.0, 400_001)
    over_ground = glide_ratio_over_ground(speeds / ((a * speeds + b) * speeds + c), speeds, tailwind_mps)
    assert over_ground.max() == pytest.approx(ratio, abs=1e-4)
    assert speeds[over_ground.argmax()] == pytest.approx(speed_mps, abs=2e-3)


def makers_wing(speeds: tuple[float, ...]) -> Wing:
    """A wing file whose points lie on the closed-form polar."""
    return Wing("Invented", "paraglider", 5.0, 95.0, polar=tuple((v, (A * v + B) * v + C) for v in speeds))


def test_the_makers_points_give_the_makers_figures() -> None:
    (one,) = expectations("unknown", makers_wing((8.0, 10.0, 12.0, 14.0)))
    assert one.best_glide_ratio == pytest.approx(BEST_RATIO, rel=1e-5)
    assert one.best_glide_airspeed_mps == pytest.approx(BEST_MPS, rel=1e-5)
    assert one.min_sink_speed_share == pytest.approx(LEAST_SINK_SHARE, rel=1e-5)


@pytest.mark.parametrize("points", [(), (9.0, 12.0)])
def test_too_few_points_leave_the_class(points: tuple[float, ...]) -> None:
    (one,) = expectations("unknown", makers_wing(points))
    assert one.name == "paraglider"


def test_points_that_no_wing_has_leave_the_class() -> None:
    bent = Wing("Invented", "paraglider", 5.0, 95.0, polar=((8.0, 1.0), (10.0, 3.0), (12.0, 1.0)))
    assert expectations("unknown", bent)[0].name == "paraglider"


def test_an_unknown_class_is_refused() -> None:
    with pytest.raises(SettingsError, match="balloon"):
        expectations("balloon")


def test_classes_lie_in_the_ranges_of_the_trade() -> None:
    # paraglider best glide 8-11, trim 36-39 km/h; flex wing 10-17, least sink at 32-38 km/h; rigid 17-20
    ranges = {"paraglider": (8, 11), "hang_glider": (10, 17), "rigid_wing": (17, 20)}
    for one in EXPECTATIONS:
        assert ranges[one.name][0] <= one.best_glide_ratio <= ranges[one.name][1]
    flex = EXPECTATIONS[1]
    assert 32 / 3.6 <= flex.best_glide_airspeed_mps * flex.min_sink_speed_share <= 38 / 3.6


def test_an_unknown_wing_may_have_any_ratio_from_seven_to_nineteen() -> None:
    polars = candidates(EXPECTATIONS)
    low, high = np.exp(polars.log_ratio.min()), np.exp(polars.log_ratio.max())
    assert low < 7.0
    assert high > 19.0
    assert np.all(polars.coefficients()[:, [0, 2]] > 0)


def test_sink_in_a_turn_grows_with_the_load() -> None:
    # n^1.5 at 45 degrees: 1.6818 (Welch & Irving, The Complete Soaring Pilot's Handbook)
    polars = candidates(expectations("unknown", makers_wing((8.0, 10.0, 12.0, 14.0))))
    load = np.sqrt(2.0)
    speeds = np.array([9.0, 9.0 * np.sqrt(load)])
    (level, banked), (sd, _) = sinks_in_turn_mps(polars, speeds, np.array([1.0, load]), np.ones(2))
    assert banked / level == pytest.approx(1.6818, abs=1e-3)
    assert 0.0 < sd < 0.3


def pieces(count: int, noise_mps: float, seed: int, polar: tuple[float, float, float] = (A, B, C)) -> Pieces:
    """Blocks of still-air glide at 9 to 16 m/s, nine to a glide."""
    generator = np.random.default_rng(seed)
    a, b, c = polar
    speed = generator.uniform(9.0, 16.0, count)
    sink = (a * speed + b) * speed + c + noise_mps * generator.standard_normal(count)
    number = np.arange(count)
    return Pieces(number // 9, number * 20.0 + (number // 9) * 300.0, speed, sink, np.full(count, 0.1))


@pytest.mark.parametrize("wing_class", ["paraglider", "unknown"])
def test_a_still_air_polar_comes_back(wing_class: str) -> None:
    ratio, speed, share = sample_polars(pieces(180, 0.05, 1), expectations(wing_class)).T
    assert np.median(ratio) == pytest.approx(BEST_RATIO, rel=0.02)
    assert np.median(speed * (1 + share) / (2 * ratio)) == pytest.approx(1.0, abs=0.03)


def seen_through(ratio: float, error: float, polars: PolarCandidates) -> PolarCandidates:
    """The polars after a measurement of the best glide ratio with this normal error of its logarithm."""
    weight = polars.weight * norm.pdf(polars.log_ratio, np.log(ratio), error)
    return replace(polars, weight=weight / weight.sum())


@pytest.mark.parametrize("ratio", [7.5, 9.5, 11.5])
def test_the_likeliest_ratio_is_that_of_a_wing_of_its_class(ratio: float) -> None:
    # the class as Student's distribution over the ratio, four degrees; the mean by quadrature (QUADPACK, scipy)
    (paraglider,) = expectations("paraglider")
    seen = seen_through(ratio, 0.08, candidates((paraglider,), (400, 6, 4)))
    spread, middle = paraglider.best_glide_ratio_usual_sd_share, np.log(paraglider.best_glide_ratio)

    def density(log_ratio: float) -> float:
        usual = student_t.pdf(log_ratio, 4, middle, spread)
        return float(usual * norm.pdf(log_ratio, np.log(ratio), 0.08))

    scale = quad(density, 1.6, 2.8)[0]
    mean = quad(lambda x: x * density(x), 1.6, 2.8)[0] / scale
    assert usual_weights(seen, (paraglider,)) @ seen.log_ratio == pytest.approx(mean, abs=2e-4)


def test_the_spread_of_a_class_is_that_of_the_range_it_is_known_by() -> None:
    # 8-11, 10-17 (flex wings from single surface to topless), 15-20 (references GLD-06, and older rigid wings)
    for one, (low, high) in zip(EXPECTATIONS, ((8, 11), (10, 17), (15, 20)), strict=True):
        even = np.linspace(np.log(low), np.log(high), 10001)
        assert one.best_glide_ratio_usual_sd_share == pytest.approx(even.std(), abs=6e-4)
        assert np.log(one.best_glide_ratio) == pytest.approx(even.mean(), abs=0.01)


def test_values_lean_on_the_class_and_intervals_do_not() -> None:
    generator = np.random.default_rng(11)
    (paraglider,) = expectations("paraglider")
    plainly, told = [], []
    for seed, ratio in enumerate(generator.uniform(8.0, 11.0, 40)):
        blocks = blocks_of((ratio, 10.4, 0.85), 15, seed, rough=2.0)
        ratios = sample_polars(blocks.pieces, (paraglider,))[:, 0]
        polar = fit_polar(blocks, (paraglider,))
        assert polar is not None
        ends = polar.best_glide_ratio.low, polar.best_glide_ratio.high
        assert ends == pytest.approx(np.quantile(ratios, [0.025, 0.975]))
        plainly.append(np.median(ratios) / ratio - 1)
        told.append(polar.best_glide_ratio.value / ratio - 1)
    assert np.std(told) < 0.95 * np.std(plainly)


def test_a_polar_fitted_with_the_makers_is_weighed_once() -> None:
    expected = expectations("paraglider", makers_wing((9.0, 11.0, 13.0, 15.0)))
    polars = candidates(expected, GRID_SHAPE)
    assert usual_weights(polars, expected) == pytest.approx(polars.weight)


def test_the_same_pieces_give_the_same_polars() -> None:
    some = pieces(60, 0.3, 2)
    assert np.array_equal(sample_polars(some, EXPECTATIONS), sample_polars(some, EXPECTATIONS))


def test_one_wild_piece_does_not_move_the_polar() -> None:
    good = pieces(180, 0.1, 3)
    sink = good.sink_mps.copy()
    sink[40] -= 8.0  # a thermal crossed, or a height spike
    wild = Pieces(good.glide, good.time_s, good.airspeed_mps, sink, good.airspeed_sd_mps)
    ratios = [np.median(sample_polars(some, EXPECTATIONS)[:, 0]) for some in (good, wild)]
    assert ratios[1] == pytest.approx(ratios[0], rel=0.03)


def test_the_interval_holds_the_truth_as_often_as_it_says() -> None:
    # 30 wings of the class, 40 minutes of rough air each: 95 % intervals, at least 26 of 30 by chance of 1 in 100
    generator = np.random.default_rng(7)
    inside = []
    for seed in range(30):
        ratio, speed, share = (
            generator.uniform(8.2, 10.6),
            generator.uniform(9.8, 11.2),
            generator.uniform(0.78, 0.9),
        )
        polar = polar_coefficients(np.array([ratio]), np.array([speed]), np.array([share]))[0]
        draws = sample_polars(pieces(120, 0.4, seed, tuple(polar)), expectations("paraglider"))
        low, high = np.quantile(draws[:, 0], [0.025, 0.975])
        inside.append(low <= ratio <= high)
    assert sum(inside) >= 26


def test_a_pilot_who_answers_to_the_air_does_not_bend_the_polar(monkeypatch: pytest.MonkeyPatch) -> None:
    # 0.8 m/s faster for each m/s of sink, as a pilot does who flies by the classical theory with a lag
    a, b, c = polar_coefficients(np.array([12.7]), np.array([12.5]), np.array([0.78]))[0]

    def best_speed_error() -> float:
        errors = []
        for seed in range(8):
            generator = np.random.default_rng(seed)
            air = 0.4 * generator.standard_normal(180)  # sink
            speed = (
                np.repeat(generator.uniform(10.5, 15.0, 20), 9) + 0.8 * air + 0.2 * generator.standard_normal(180)
            )
            sink = (a * speed + b) * speed + c + air
            number = np.arange(180)
            some = Pieces(number // 9, number * 20.0 + (number // 9) * 300.0, speed, sink, np.full(180, 0.1))
            errors.append(np.median(sample_polars(some, expectations("hang_glider"))[:, 1]) / 12.5 - 1.0)
        return float(np.mean(errors))

    assert abs(best_speed_error()) < 0.025
    monkeypatch.setattr(polar_statistics, "REACTION", 1e-3)
    assert best_speed_error() < -0.04


def test_what_the_airspeed_varies_inside_a_piece_is_not_laid_on_the_wing() -> None:
    # sink of a piece is a mean(V^2) + b mean(V) + c, and mean(V^2) = mean(V)^2 + variance
    steady = pieces(180, 0.05, 5)
    varied = replace(steady, sink_mps=steady.sink_mps + A * 6.0, airspeed_variance_m2ps2=np.full(180, 6.0))
    one, other = (np.median(sample_polars(some, expectations("hang_glider"))[:, 0]) for some in (steady, varied))
    assert other == pytest.approx(one, rel=0.005)
    worse = np.median(
        sample_polars(replace(varied, airspeed_variance_m2ps2=0.0), expectations("hang_glider"))[:, 0]
    )
    assert worse < 0.97 * one


def test_climbs_that_chance_gives_do_not_make_the_polar_less_sure() -> None:
    # air of 0.6 m/s spread lifts a rigid wing of 0.85 m/s sink in Phi(-1.4) = 8 % of the time, never in calm air
    polar = tuple(polar_coefficients(np.array([17.5]), np.array([13.8]), np.array([0.77]))[0])
    widths = {
        (noise, share): np.ptp(
            np.quantile(
                sample_polars(pieces(180, noise, 6, polar), expectations("rigid_wing"), share)[:, 0],
                [0.025, 0.975],
            )
        )
        for noise in (0.1, 0.6)
        for share in (0.0, 0.09)
    }
    assert widths[0.6, 0.09] == pytest.approx(widths[0.6, 0.0], rel=0.01)
    assert widths[0.1, 0.09] > 1.5 * widths[0.1, 0.0]


def test_inside_its_class_no_ratio_is_likelier_than_another() -> None:
    for one in EXPECTATIONS:
        polars = candidates((one,))
        logs, place = np.unique(polars.log_ratio, return_inverse=True)
        weight = np.bincount(place, weights=polars.weight)
        apart, half = logs - np.log(one.best_glide_ratio), one.best_glide_ratio_half_range
        middle = weight[np.abs(apart) < 0.6 * half]
        assert middle.min() > 0.9 * middle.max()
        # an even range blurred by Student's t with four degrees of freedom, by scipy
        below, above = (student_t.cdf((apart + end) / one.best_glide_ratio_sd_share, 4) for end in (half, -half))
        assert weight == pytest.approx((below - above) / (below - above).sum(), abs=1e-9)


def test_lines_of_lift_make_the_polar_less_sure() -> None:
    some = pieces(180, 0.2, 4)
    widths = [
        np.ptp(np.quantile(sample_polars(some, EXPECTATIONS, share)[:, 0], [0.025, 0.975]))
        for share in (0.0, 0.15)
    ]
    assert widths[1] > 2 * widths[0]
