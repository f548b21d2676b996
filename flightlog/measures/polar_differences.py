"""Whether two sets of glides show two different polars, and whether one shows another than the maker's.

Two polars fitted one by one, each with the expectation of its class, must not simply be subtracted: the one from
few glides is drawn to the middle of the class and the one from many is not, so that a wing far from the middle
would differ from itself; and where both are short of glides, both are drawn to the same middle and a real
difference fades. Here both share one expectation. The class says something about the mean of the two (next to
nothing about how good it is, much about the shape of its polar), and their difference is expected to be nought,
give or take so much that no two settings, and hardly two wings, lie farther apart. With so wide a spread what is
left of the pull to nought is small and stands within the interval. What is believed of both at once is drawn by
weighing pairs of draws (Gelman et al., Bayesian Data Analysis, 3rd ed. 2013, ch. 5 and 10.4).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from flightlog.air.polar_statistics import FLOWN_SPEED_SHARE, FLOWN_SPEED_SPREAD, sample_polars
from flightlog.air.wing_polars import COARSE_SHAPE, WingExpectation, candidates, polar_coefficients, student
from flightlog.arrays import Floats
from flightlog.estimates import Estimate
from flightlog.measures.polars import LEAST_GLIDE_S, GlideBlocks
from flightlog.wings import Wing

MEAN_RATIO_SD = 0.5
"""Of the logarithm of the mean best glide ratio of two sets of glides: 4 to 25 (wide on purpose)."""
RATIO_DIFFERENCE_SD = 0.3
"""Of its difference: 0.3 is a third better; flaps, harness and sail give a tenth to a third (trade, no source)."""
AIRSPEED_DIFFERENCE_SD = 0.08
"""Of the logarithm of the best-glide airspeed; a tightened sail or flaps move it by a tenth (trade, no source)."""
SHARE_DIFFERENCE_SD = 0.06
"""Of the least-sink airspeed as a share of it (wide on purpose: classes differ by 0.07)."""
DRAWS_EACH = 500
PAIRS = 4000
FLOWN_RANGE = (0.02, 0.98)
"""Quantiles of the airspeeds of the blocks between which a polar is said to be flown."""
SPEED_STEP_MPS = 1.0


@dataclass(frozen=True)
class PolarDifference:
    """One figure of the second polar less that of the first (or of the maker's), with its 95 % interval.

    `figure` is `best_glide_ratio`, `min_sink_mps` or `sink_mps`, the last at `airspeed_mps` (equivalent).
    `tells_apart` is whether the interval leaves out nought.
    """

    figure: str
    airspeed_mps: float | None
    difference: Estimate
    tells_apart: bool


def flown_range_mps(blocks: GlideBlocks) -> tuple[float, float]:
    """Equivalent airspeeds between which the blocks lie, but for a hair to either side."""
    low, high = np.quantile(blocks.pieces.airspeed_mps, FLOWN_RANGE)
    return float(low), float(high)


def common_airspeeds_mps(low_mps: float, high_mps: float) -> tuple[float, ...]:
    """Whole metres a second between the two; the middle where none lies there, nothing where they are crossed.

    >>> common_airspeeds_mps(9.3, 12.2), common_airspeeds_mps(9.3, 9.7), common_airspeeds_mps(11.0, 9.0)
    ((10.0, 11.0, 12.0), (9.5,), ())
    """
    if high_mps < low_mps:
        return ()
    first, last = math.ceil(low_mps / SPEED_STEP_MPS), math.floor(high_mps / SPEED_STEP_MPS)
    if last < first:
        return (round((low_mps + high_mps) / 2.0, 2),)
    return tuple(SPEED_STEP_MPS * k for k in range(first, last + 1))


def compare_polars(
    first: GlideBlocks, second: GlideBlocks, expected: tuple[WingExpectation, ...]
) -> tuple[PolarDifference, ...]:
    """Second less first: best glide ratio, least sink, and sink at the airspeeds flown in both.

    Empty where either has less than two minutes of glide.

    Measured on made-up blocks in rough air (sets of 10 to 60 minutes, 30 pairs of each kind, three classes): 0.93
    to 1.00 of the intervals hold the true difference, whether it is 0, 20 or 30 %, near the middle of the class or
    far from it; equal wings are told apart wrongly in 0 to 7 % of pairs. Two hours of glide in all give the
    difference of the best glide to about a sixth, half an hour each to a quarter. The air of each set is taken to
    differ from still air independently; the speed of circling is left out, since one habit is in both sets.
    What no log tells: if one set was flown along better lines, in better air or by another pilot, that is in the
    difference.
    """
    if min(first.glide_time_s, second.glide_time_s) < LEAST_GLIDE_S:
        return ()
    one, other = _pairs(first, second, _shared(expected), expected)
    ranges = [flown_range_mps(blocks) for blocks in (first, second)]
    speeds = common_airspeeds_mps(max(low for low, _ in ranges), min(high for _, high in ranges))
    before, after = _figures(one, speeds), _figures(other, speeds)
    return tuple(_difference(name, speed, after[name, speed] - before[name, speed]) for name, speed in before)


def compare_with_maker(
    blocks: GlideBlocks, wing: Wing, expected: tuple[WingExpectation, ...]
) -> tuple[PolarDifference, ...]:
    """What the glides show less what the maker says: best glide ratio, least sink, and sink at airspeeds flown.

    `expected` is the class's, which here says nothing of how good the wing is, so that neither the class nor the
    maker draws the answer. Between the maker's points the curve through them is taken (Fritsch & Carlson 1980);
    outside them nothing is compared. Empty with fewer than two points, or less than two minutes of glide.
    """
    if len(wing.polar) < 2 or blocks.glide_time_s < LEAST_GLIDE_S:
        return ()
    draws = sample_polars(blocks.pieces, (_shared(expected),), blocks.lift_share, blocks.circling_mps)
    low, high = flown_range_mps(blocks)
    speeds = common_airspeeds_mps(max(low, wing.polar[0][0]), min(high, wing.polar[-1][0]))
    makers = makers_figures(wing, speeds)
    found = _figures(draws, speeds)
    return tuple(_difference(name, speed, found[name, speed] - value) for (name, speed), value in makers.items())


def _difference(figure: str, airspeed_mps: float | None, draws: Floats) -> PolarDifference:
    """One figure from its draws."""
    value, low, high = (float(v) for v in np.quantile(draws, [0.5, 0.025, 0.975]))
    return PolarDifference(figure, airspeed_mps, Estimate(value, low, high), not low <= 0.0 <= high)


def _figures(draws: Floats, speeds_mps: tuple[float, ...]) -> dict[tuple[str, float | None], Floats]:
    """Draws of every figure that is compared, from draws of best ratio, its airspeed and the least-sink share."""
    ratio, airspeed, share = draws.T
    a, b, c = polar_coefficients(ratio, airspeed, share).T
    figures: dict[tuple[str, float | None], Floats] = {
        ("best_glide_ratio", None): ratio,
        ("min_sink_mps", None): airspeed * (1.0 + share) / (2.0 * ratio),
    }
    return figures | {("sink_mps", speed): (a * speed + b) * speed + c for speed in speeds_mps}


def makers_figures(wing: Wing, speeds_mps: tuple[float, ...]) -> dict[tuple[str, float | None], float]:
    """The same figures of the maker's polar; best glide and least sink only where they lie inside its points."""
    from scipy.interpolate import PchipInterpolator

    points = np.array(wing.polar, dtype=np.float64)
    curve = PchipInterpolator(points[:, 0], points[:, 1])
    fine = np.linspace(points[0, 0], points[-1, 0], 2001)
    sink = curve(fine)
    figures: dict[tuple[str, float | None], float] = {}
    best, least = int(np.argmax(fine / sink)), int(np.argmin(sink))
    if len(points) >= 3 and 0 < best < fine.size - 1:
        figures["best_glide_ratio", None] = float(fine[best] / sink[best])
    if len(points) >= 3 and 0 < least < fine.size - 1:
        figures["min_sink_mps", None] = float(sink[least])
    return figures | {("sink_mps", speed): float(curve(speed)) for speed in speeds_mps}


def _moments(expected: tuple[WingExpectation, ...]) -> tuple[Floats, Floats]:
    """Mean and standard deviation of log best ratio, log airspeed and share over all that is expected."""
    polars = candidates(expected, COARSE_SHAPE)
    figures = np.stack([polars.log_ratio, polars.log_airspeed, polars.share])
    mean = figures @ polars.weight
    return mean, np.sqrt((figures - mean[:, None]) ** 2 @ polars.weight)


def _spreads(expected: tuple[WingExpectation, ...]) -> tuple[Floats, Floats, Floats]:
    """Mean of both sets, its standard deviation, and that of their difference, in log E, log V* and share."""
    mean, sd = _moments(expected)
    sd[0] = MEAN_RATIO_SD
    return mean, sd, np.array([RATIO_DIFFERENCE_SD, AIRSPEED_DIFFERENCE_SD, SHARE_DIFFERENCE_SD])


def _shared(expected: tuple[WingExpectation, ...]) -> WingExpectation:
    """What is expected of either set for itself: the spread of the mean and half of the difference."""
    mean, mean_sd, difference_sd = _spreads(expected)
    sd = np.hypot(mean_sd, difference_sd / 2.0)
    return WingExpectation(
        "comparison",
        1.0,
        best_glide_ratio=math.exp(mean[0]),
        best_glide_ratio_sd_share=float(sd[0]),
        best_glide_airspeed_mps=math.exp(mean[1]),
        best_glide_airspeed_sd_share=float(sd[1]),
        min_sink_speed_share=float(mean[2]),
        min_sink_speed_share_sd=float(sd[2]),
    )


def _log_expected(log: Floats, mean: Floats, sd: Floats) -> Floats:
    """Logarithm of what is expected of (..., 3) log E, log V* and share: normal in the first, else with tails."""
    ratio = -0.5 * ((log[..., 0] - mean[0]) / sd[0]) ** 2
    speed, share = (np.log(student(log[..., k], float(mean[k]), float(sd[k]))) for k in (1, 2))
    return np.asarray(ratio + speed + share)


def _pairs(
    first: GlideBlocks, second: GlideBlocks, shared: WingExpectation, expected: tuple[WingExpectation, ...]
) -> tuple[Floats, Floats]:
    """(PAIRS, 3) twice: polars of both sets as they may be together."""
    draws, logs, log_weights = [], [], []
    mean, mean_sd, difference_sd = _spreads(expected)
    alone_sd = np.hypot(mean_sd, difference_sd / 2.0)
    for blocks in (first, second):
        all_draws = sample_polars(blocks.pieces, (shared,), blocks.lift_share)
        some = all_draws[:: max(1, len(all_draws) // DRAWS_EACH)]
        log = np.stack([np.log(some[:, 0]), np.log(some[:, 1]), some[:, 2]], axis=1)
        # each set was drawn with its own expectation and its own usual gliding speed: both are taken out again
        off = np.log(float(np.mean(blocks.pieces.airspeed_mps)) / FLOWN_SPEED_SHARE) - log[:, 1]
        own = _log_expected(log, mean, alone_sd) - 0.5 * (off / FLOWN_SPEED_SPREAD) ** 2
        draws.append(some)
        logs.append(log)
        log_weights.append(-own)
    both = (logs[0][:, None, :] + logs[1][None, :, :]) / 2.0
    apart = logs[1][None, :, :] - logs[0][:, None, :]
    speeds = np.concatenate([first.pieces.airspeed_mps, second.pieces.airspeed_mps])
    off = np.log(float(np.mean(speeds)) / FLOWN_SPEED_SHARE) - both[..., 1]
    weight = log_weights[0][:, None] + log_weights[1][None, :]
    weight = weight + _log_expected(both, mean, mean_sd) - 0.5 * ((apart / difference_sd) ** 2).sum(axis=-1)
    weight = weight - 0.5 * (off / FLOWN_SPEED_SPREAD) ** 2
    share = np.exp(weight - weight.max()).ravel()
    places = np.searchsorted(np.cumsum(share) / share.sum(), (np.arange(PAIRS) + 0.5) / PAIRS)
    rows, columns = np.divmod(np.minimum(places, share.size - 1), logs[1].shape[0])
    return draws[0][rows], draws[1][columns]
