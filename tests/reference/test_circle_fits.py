"""Circle fits against published examples and against an independent package."""

import circle_fit
import numpy as np
import pytest

from flightlog.air.circle_fits import (
    Circles,
    fit_geometric,
    fit_kasa,
    fit_taubin,
    fit_taubin_to_runs,
    running_sums,
)

GANDER = ([1, 2, 5, 7, 9, 3], [7, 6, 8, 7, 5, 7])
EXERCISE = ([0.7, 3.3, 5.6, 7.5, 6.4, 4.4, 0.3, -1.1], [4, 4.7, 4, 1.3, -1.1, -3, -2.5, 1.3])
TUTORIAL = ([11.88, 10.34, 2.58, -0.29], [0.08, 8.59, 9.54, 1.95])


def one(fit, points, **options) -> tuple[float, float, float]:
    x, y = (np.array([values], dtype=float) for values in points)
    circle: Circles = fit(x, y, **options)
    return float(circle.x[0]), float(circle.y[0]), float(circle.radius[0])


def test_geometric_circle_of_gander_golub_strebel():
    # Gander, Golub & Strebel 1994, BIT 34, 558-578, section 3 (numbers from memory)
    assert one(fit_geometric, GANDER, steps=200) == pytest.approx((4.7398, 2.9835, 4.7142), abs=5e-5)


def test_linear_circle_of_the_same_points():
    # derived: least squares in (2a, 2b, c); the three fits differ widely on this short arc
    assert one(fit_kasa, GANDER) == pytest.approx((4.742331, 3.835123, 4.108762), abs=1e-6)


def test_points_of_the_numerical_methods_exercise():
    # data of a public ETH exercise in numerical methods; solutions derived
    assert one(fit_kasa, EXERCISE) == pytest.approx((3.060304, 0.743607, 4.109137), abs=1e-5)
    assert one(fit_geometric, EXERCISE) == pytest.approx((3.0432382, 0.7456783, 4.1058558), abs=1e-5)
    # `circle-fit` 0.2.1, after N. Chernov's code
    assert one(fit_taubin, EXERCISE) == pytest.approx((3.058823, 0.741951, 4.109394), abs=1e-5)


def test_points_of_the_regression_tutorial():
    # data of the OSGeo tutorial "regression circle"; solutions derived
    assert one(fit_kasa, TUTORIAL) == pytest.approx((6.081443, 3.634645, 6.699184), abs=1e-6)
    assert one(fit_geometric, TUTORIAL) == pytest.approx((6.0811315, 3.6299512, 6.6987317), abs=1e-6)


@pytest.mark.parametrize("arc_deg", [100.0, 200.0, 360.0, 900.0])
def test_agrees_with_the_circle_fit_package(arc_deg):
    random = np.random.default_rng(5)
    angle = np.radians(np.sort(random.uniform(0.0, arc_deg, (20, 40)), axis=1))
    x = 3.0 + 10.0 * np.cos(angle) + random.normal(0.0, 0.5, angle.shape)
    y = -2.0 + 10.0 * np.sin(angle) + random.normal(0.0, 0.5, angle.shape)
    taubin, geometric = fit_taubin(x, y), fit_geometric(x, y)
    for k in range(len(x)):
        points = np.column_stack([x[k], y[k]])
        for ours, oracle, tolerance in (
            (taubin, circle_fit.taubinSVD, 1e-6),
            (geometric, circle_fit.least_squares_circle, 1e-4),
        ):
            assert (ours.x[k], ours.y[k], ours.radius[k]) == pytest.approx(oracle(points)[:3], rel=tolerance)


def test_padding_and_weights_do_not_change_the_circle():
    x, y = (np.array([values], dtype=float) for values in EXERCISE)
    padded_x, padded_y = np.pad(x, ((0, 1), (0, 5))), np.pad(y, ((0, 1), (0, 5)))
    weight = np.zeros_like(padded_x)
    weight[0, : x.shape[1]] = 1.0
    for fit in (fit_kasa, fit_taubin, fit_geometric):
        plain, padded = fit(x, y), fit(padded_x, padded_y, weight)
        assert padded.x[0] == pytest.approx(plain.x[0])
        assert padded.radius[0] == pytest.approx(plain.radius[0])
        assert np.isnan(padded.x[1])  # a set of padding alone has no circle


def test_points_on_a_line_give_no_small_circle():
    x = np.arange(10.0)[None, :]
    circle = fit_taubin(x, 2.0 * x)
    assert not circle.radius[0] < 1e3


def test_circles_of_overlapping_runs_are_those_of_each_run_alone():
    rng = np.random.default_rng(7)
    angle = np.cumsum(rng.normal(0.3, 0.1, 3000))
    x, y = 8.0 + 10.0 * np.cos(angle) + rng.normal(0, 0.5, 3000), 10.0 * np.sin(angle) + rng.normal(0, 0.5, 3000)
    first = np.arange(0, 2900, 20)
    stop = first + rng.integers(6, 45, len(first))
    stop[3] = first[3]  # one without any point
    circles = fit_taubin_to_runs(running_sums(x, y), first, stop)
    assert np.isnan(circles.radius[3])
    for k in (0, 50, 144):
        alone = fit_taubin(x[None, first[k] : stop[k]], y[None, first[k] : stop[k]])
        assert circles.x[k] == pytest.approx(alone.x[0], abs=1e-7)
        assert circles.y[k] == pytest.approx(alone.y[0], abs=1e-7)
        assert circles.radius[k] == pytest.approx(alone.radius[0], abs=1e-7)
