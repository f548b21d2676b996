"""What a class of wing lets us expect of its sink polar, before any data of the flight.

A polar is sink = a V^2 + b V + c (m/s, positive downward) in equivalent airspeed, the speed that feels the same
at every altitude. Pilots know three figures of it, and those carry the expectations: the best glide ratio E, the
airspeed of it V*, and the airspeed of least sink as a share r of V*. Then a = 1 / (2 E V* (1 - r)),
b = -2 a r V*, c = a V*^2, and the least sink is V* (1 + r) / (2 E); a and c are positive whatever is drawn.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from flightlog.arrays import Floats
from flightlog.errors import SettingsError
from flightlog.wings import Wing

GRID_SHAPE = (44, 30, 12)
"""Steps of the grid in E, V* and r; with 4.5 standard deviations to either side a step in E is 0.2 of one."""
MIDDLE_SHAPE = (32, 20, 8)
"""Enough to find where the weight lies."""
FINE_SHAPE = (32, 24, 12)
"""Enough over four standard deviations of the posterior to either side: a step is a quarter of one in E."""
COARSE_SHAPE = (18, 14, 6)
"""Enough where only a mean and a standard deviation are asked for."""
GRID_REACH_SD = 4.5
CIRCLING_SPREAD = 0.12
"""How far the airspeed of one climb's circles may lie from that of least sink (trade knowledge, no source)."""
TAIL_DEGREES = 4.0
"""Degrees of freedom of what is expected of V* and r: most wings are near their class, a few far from it, and an
hour of calm glide must be able to say so (`test_a_still_air_polar_comes_back`: both 3.5 deviations off)."""


@dataclass(frozen=True)
class WingExpectation:
    """One class of wing: each figure with its standard deviation (as a share for the ratio and the airspeed).

    Where the ratio has a half range, its interval is not drawn to the middle of the class from inside that range,
    so that intervals hold the wings at its ends nearly as often as those in the middle; the deviation is how it
    falls off beyond. What is told as the likeliest value is drawn by `best_glide_ratio_usual_sd_share`
    (`usual_weights`).
    """

    name: str
    weight: float
    best_glide_ratio: float
    best_glide_ratio_sd_share: float
    best_glide_airspeed_mps: float  # equivalent
    best_glide_airspeed_sd_share: float
    min_sink_speed_share: float = 0.82  # of the best-glide airspeed
    min_sink_speed_share_sd: float = 0.06
    best_glide_ratio_half_range: float = 0.0  # of its logarithm: so far to either side all are as likely
    best_glide_ratio_usual_sd_share: float = 0.0  # spread of the wings of the class; 0: as the ratio's own


EXPECTATIONS: tuple[WingExpectation, ...] = (
    # Best glide 8-11, trim 36-39 km/h; 10-17, least sink at 32-38 km/h; 17-20, older ones from 15 (trade
    # knowledge, no source). For intervals, all ratios in those ranges, and of the first two a little beyond (load,
    # harness, age), are as likely. The last figure, for values, is the standard deviation of wings spread evenly
    # over 8-11, 10-17 and 15-20: ln(11/8) / sqrt(12) and so on.
    WingExpectation("paraglider", 0.60, 9.35, 0.045, 10.4, 0.05, 0.85, 0.05, 0.20, 0.092),
    WingExpectation("hang_glider", 0.30, 13.0, 0.065, 12.5, 0.055, 0.78, 0.045, 0.28, 0.153),
    WingExpectation("rigid_wing", 0.10, 17.3, 0.04, 13.8, 0.05, 0.77, 0.045, 0.144, 0.083),
)
SAILPLANE = WingExpectation("sailplane", 1.0, 32.0, 0.30, 25.0, 0.15, 0.82)
MAKERS_RATIO_SD_SHARE = 0.10
"""A maker's polar against the wing as flown: harness, load and wear (trade knowledge, no source)."""
MAKERS_AIRSPEED_SD_SHARE = 0.05


def expectations(wing_class: str, wing: Wing | None = None) -> tuple[WingExpectation, ...]:
    """What to expect of a wing: its maker's polar where three points of it are known, else its class.

    Of an `unknown` wing all foot-launched classes are possible, weighted by how common they are.

    Raises
    ------
    SettingsError
        A class that is not known.
    """
    made = None if wing is None else _from_maker(wing)
    if made is not None:
        return (made,)
    name = wing_class if wing is None or wing_class != "unknown" else wing.wing_class
    if name == "unknown":
        return EXPECTATIONS
    for one in (*EXPECTATIONS, SAILPLANE):
        if one.name == name:
            return (one,)
    raise SettingsError(f"wing class {name!r} is not known", "use paraglider, hang_glider, rigid_wing or unknown")


def _from_maker(wing: Wing) -> WingExpectation | None:
    """The maker's polar as an expectation; None unless its points make a polar that a wing can have."""
    points = np.array(wing.polar, dtype=np.float64).reshape(-1, 2)
    if len(np.unique(points[:, 0])) < 3:
        return None
    a, b, c = (float(v) for v in np.polyfit(points[:, 0], points[:, 1], 2))
    if not (a > 0 and c > 0 and b < 0 and 4 * a * c > b * b):
        return None
    best_mps = math.sqrt(c / a)
    share = -b / (2 * a) / best_mps
    ratio = 1.0 / (2 * math.sqrt(a * c) + b)
    return WingExpectation(
        "maker", 1.0, ratio, MAKERS_RATIO_SD_SHARE, best_mps, MAKERS_AIRSPEED_SD_SHARE, min(share, 0.95), 0.03
    )


@dataclass(frozen=True, eq=False)
class PolarCandidates:
    """Many polars a wing may have, with the weight of each: (k,) arrays, weights sum to 1.

    `cell` is the spacing of the grid they stand on, in log E, log V* and r. `circling_told` says that the speed at
    which the pilot circles is weighed in already.
    """

    log_ratio: Floats
    log_airspeed: Floats
    share: Floats
    weight: Floats
    cell: tuple[float, float, float]
    circling_told: bool = False

    def coefficients(self) -> Floats:
        """(k, 3): a, b, c of every polar."""
        return polar_coefficients(np.exp(self.log_ratio), np.exp(self.log_airspeed), self.share)


def polar_coefficients(ratio: Floats, airspeed_mps: Floats, share: Floats) -> Floats:
    """(k, 3): a, b, c of the polars with this best glide ratio at this airspeed, least sink at `share` of it.

    >>> polar_coefficients(np.array([10.0]), np.array([10.0]), np.array([0.8])).round(6).tolist()
    [[0.025, -0.4, 2.5]]
    """
    a = 1.0 / (2.0 * ratio * airspeed_mps * (1.0 - share))
    return np.stack([a, -2.0 * a * share * airspeed_mps, a * airspeed_mps**2], axis=-1)


def thinned(polars: PolarCandidates, count: int) -> PolarCandidates:
    """Some `count` of the draws, evenly picked; all of them where there are no more."""
    step = max(1, polars.weight.size // count)
    weight = polars.weight[::step]
    return PolarCandidates(
        polars.log_ratio[::step],
        polars.log_airspeed[::step],
        polars.share[::step],
        weight / weight.sum(),
        polars.cell,
        polars.circling_told,
    )


def candidates(expected: tuple[WingExpectation, ...], shape: tuple[int, int, int] = GRID_SHAPE) -> PolarCandidates:
    """Polars on an even grid over all that is expected, weighted by how likely each is."""
    ranges = []
    for middle, spread in (
        (
            [math.log(e.best_glide_ratio) for e in expected],
            [e.best_glide_ratio_sd_share + e.best_glide_ratio_half_range / GRID_REACH_SD for e in expected],
        ),
        (
            [math.log(e.best_glide_airspeed_mps) for e in expected],
            [e.best_glide_airspeed_sd_share for e in expected],
        ),
        ([e.min_sink_speed_share for e in expected], [e.min_sink_speed_share_sd for e in expected]),
    ):
        ranges.append(
            (
                min(m - GRID_REACH_SD * s for m, s in zip(middle, spread, strict=True)),
                max(m + GRID_REACH_SD * s for m, s in zip(middle, spread, strict=True)),
            )
        )
    ranges[2] = (max(ranges[2][0], 0.4), min(ranges[2][1], 0.97))
    return grid_candidates(ranges, expected, shape)


def grid_candidates(
    ranges: list[tuple[float, float]],
    expected: tuple[WingExpectation, ...],
    shape: tuple[int, int, int] = GRID_SHAPE,
) -> PolarCandidates:
    """Polars on an even grid over these ranges of log E, log V* and r, weighted by the expectations."""
    axes = [np.linspace(low, high, count) for (low, high), count in zip(ranges, shape, strict=True)]
    density = _density(axes[0][:, None, None], axes[1][:, None], axes[2], expected)
    mesh = np.meshgrid(*axes, indexing="ij")
    log_ratio, log_airspeed, share = (np.ascontiguousarray(part).ravel() for part in mesh)
    cell = (float(axes[0][1] - axes[0][0]), float(axes[1][1] - axes[1][0]), float(axes[2][1] - axes[2][0]))
    return PolarCandidates(log_ratio, log_airspeed, share, density.ravel() / density.sum(), cell)


def _density(
    log_ratio: Floats,
    log_airspeed: Floats,
    share: Floats,
    expected: tuple[WingExpectation, ...],
    usual: bool = False,
) -> Floats:
    """Density of polars, not scaled to one: as intervals are made by, or as wings of the class usually are."""
    total: Floats = np.zeros(np.broadcast_shapes(log_ratio.shape, log_airspeed.shape, share.shape))
    for one in expected:
        spread = one.best_glide_ratio_usual_sd_share if usual else 0.0
        middle = math.log(one.best_glide_ratio)
        x = student(log_ratio, middle, spread) if spread > 0.0 else _ratio_density(log_ratio, one)
        y = student(log_airspeed, math.log(one.best_glide_airspeed_mps), one.best_glide_airspeed_sd_share)
        z = student(share, one.min_sink_speed_share, one.min_sink_speed_share_sd)
        total += one.weight * x * y * z
    return total


def usual_weights(polars: PolarCandidates, expected: tuple[WingExpectation, ...]) -> Floats:
    """(k,) weights, sum 1, that make of polars drawn for intervals polars as wings of the class usually are.

    The best single guess of a wing leans on how common such wings are; an interval that is to hold the uncommon
    ones as well must not (empirical Bayes with robust intervals: Armstrong, Kolesar & Plagborg-Moller 2022,
    Econometrica 90:2567-2602; from memory). Of a maker's polar both are one.
    """
    figures = polars.log_ratio, polars.log_airspeed, polars.share
    as_drawn, as_usual = _density(*figures, expected), _density(*figures, expected, usual=True)
    weight = polars.weight * as_usual / np.maximum(as_drawn, 1e-300)
    return np.asarray(weight / weight.sum())


def _ratio_density(axis: Floats, one: WingExpectation) -> Floats:
    """Density of log E: normal, or even over a range and falling off beyond it as `student` does."""
    apart, sd = axis - math.log(one.best_glide_ratio), one.best_glide_ratio_sd_share
    half = one.best_glide_ratio_half_range
    if half <= 0.0:
        return np.asarray(np.exp(-0.5 * (apart / sd) ** 2) / sd)
    return np.asarray((_student_below((apart + half) / sd) - _student_below((apart - half) / sd)) / (2.0 * half))


def _student_below(t: Floats) -> Floats:
    """Share of Student's distribution with four degrees of freedom below t (Abramowitz & Stegun 1964, 26.7.4)."""
    sine = t / np.sqrt(4.0 + t * t)
    return np.asarray(0.5 + 0.75 * (sine - sine**3 / 3.0))


def student(axis: Floats, middle: float, scale: float) -> Floats:
    """Density, not scaled to one: near the middle about normal, with tails that leave room for an unusual wing."""
    apart = (axis - middle) / scale
    density: Floats = (1.0 + apart**2 / TAIL_DEGREES) ** (-(TAIL_DEGREES + 1.0) / 2.0) / scale
    return density


def sinks_in_turn_mps(
    polars: PolarCandidates, airspeed_mps: Floats, load: Floats, density_ratio: Floats
) -> tuple[Floats, Floats]:
    """A wing's own sink in k turns, and its standard deviations, m/s, (k,) each.

    `airspeed_mps` is the true airspeed in the turn, `load` its load factor 1 / cos(bank), `density_ratio` the air
    density over 1.225 kg/m3, (k,) each.

    Sink n^1.5 w(V_eas / sqrt n) / sqrt(density ratio), M 5. The flown speed says something about the wing as
    well, unless it is weighed in already: pilots circle near the speed of least sink (`CIRCLING_SPREAD`).
    """
    flown = (airspeed_mps * np.sqrt(density_ratio / load))[:, None]
    least_sink = polars.share * np.exp(polars.log_airspeed)
    spread = math.inf if polars.circling_told else CIRCLING_SPREAD
    weight = polars.weight * np.exp(-0.5 * (np.log(flown / least_sink) / spread) ** 2)
    total = weight.sum(axis=1, keepdims=True)
    weight = np.where(total > 0, weight / np.where(total > 0, total, 1.0), polars.weight)
    a, b, c = polars.coefficients().T
    speed = np.maximum(flown, 0.9 * least_sink)  # below it the quadratic no longer describes a flying wing
    sink = (load**1.5 / np.sqrt(density_ratio))[:, None] * ((a * speed + b) * speed + c)
    mean = (weight * sink).sum(axis=1)
    error = np.sqrt(np.maximum((weight * (sink - mean[:, None]) ** 2).sum(axis=1), 1e-6))
    return np.asarray(mean), np.asarray(error)
