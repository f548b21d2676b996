"""A sink polar from many short pieces of glide: what the pieces say, what the class lets us expect, both at once.

The air between two thermals is not still. Sink of neighbouring pieces is alike (the same large eddy), and all
pieces of one glide share something (the same line through lift or sink, the same error of the wind). The model:

    sink_ij = a V^2 + b V + c + k (V - V_i) + u_i + e_ij,    u_i ~ N(0, sg^2),    cov(e) = sr^2 exp(-|dt| / tau)

with V_i the mean airspeed of the glide and k the pilot's answer to the air inside it (`_without_reaction`).

sg, sr and tau are weighed by restricted likelihood on a grid (Laird & Ware 1982), the polar by going through every
polar the class allows (Gelman et al., Bayesian Data Analysis, 3rd ed. 2013, ch. 3: a posterior on a grid).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from flightlog.air.wing_polars import (
    FINE_SHAPE,
    MIDDLE_SHAPE,
    PolarCandidates,
    WingExpectation,
    candidates,
    grid_candidates,
    student,
)
from flightlog.arrays import Floats, Ints

EDDY_TIMES_S = (12.0, 22.0, 40.0, 75.0)
USUAL_EDDY_TIME_S, EDDY_TIME_SPREAD = 30.0, 0.5
"""tau: eddies of 100 to 1000 m met at flying speed. Most likely 20-30 s in three real cross-country days, 20 and
45 s in two simulators; the spread is of the logarithm."""
PIECE_SDS_MPS = (0.10, 0.15, 0.2, 0.3, 0.4, 0.55, 0.7, 0.9, 1.2)
GLIDE_SDS_MPS = (0.0, 0.08, 0.16, 0.24, 0.32, 0.4, 0.5)
SETTINGS_KEPT = 6
"""Of the settings of (tau, sr, sg) so many likeliest are carried on; together they hold nearly all weight."""
GLIDE_SD_SHARE = 0.25
"""What a whole glide shares, beside the spread of its pieces: most likely 0.2 to 0.3 of it in three real
cross-country days, 0 to 0.3 in two simulators; one standard deviation of what is expected, so that a few glides
cannot feign more."""
REACTION = 1.0
"""How much faster pilots fly in air that sinks 1 m/s faster (m/s, one standard deviation). The best speed to fly
asks for 1.4 of a paraglider to 4 of a rigid wing, 1 / (2 a V); pilots follow with a lag, or not at all."""
LEAST_BIAS_SD_MPS, BIAS_PER_LIFT_SHARE_MPS, GREATEST_BIAS_SD_MPS = 0.03, 2.0, 0.4
"""Mean rise of the air met in all glides, one standard deviation: next to none where air rises as often as it
sinks; more where the pilot followed lines of lift, and so climbed in more of the straight flight than chance
gives. On alpine cross-country days with a tenth to a sixth of the straight flight spent climbing, paragliders came
out better by 0.2-0.3 m/s than any is (no published source)."""
LEAST_CHANCE_SHARE = 0.03
"""Even in calm air so much of the straight flight is the way into and out of lift."""
PIECES_AN_EDDY = 4.0
"""Pieces of 20 s that share one eddy, as far as the error of a mean goes: (1 + l) / (1 - l), likeness l 0.6."""
SINK_PER_AIRSPEED = 0.1
"""Near best glide an error of the airspeed counts as this much of an error of the sink: 1 / E."""
FLOWN_SPEED_SHARE, FLOWN_SPEED_SPREAD = 1.05, 0.13
"""Pilots glide at about the speed of best glide or a little above, give or take (trade knowledge, no source)."""
CIRCLING_SPEED_SHARE, CIRCLING_SPEED_SPREAD = 1.05, 0.09
"""In climbs they circle at about the speed of least sink, or a little above it for the sake of control; give or
take, with the tails of Student's distribution for a pilot who does otherwise (trade knowledge, no source)."""
SAMPLES = 2000
SEED = 20


@dataclass(frozen=True, eq=False)
class Pieces:
    """k pieces of glide, in order of glide and time."""

    glide: Ints  # (k,) number of the glide a piece belongs to
    time_s: Floats  # (k,) middle
    airspeed_mps: Floats  # (k,) equivalent
    sink_mps: Floats  # (k,) equivalent, corrected for change of speed
    airspeed_sd_mps: Floats  # (k,) shared by the pieces of a glide: the wind's error
    airspeed_variance_m2ps2: Floats | float = 0.0  # (k,) inside a piece, by which the mean of V^2 is more


@dataclass(frozen=True, eq=False)
class _Evidence:
    """Normal equations of one setting: log likelihood of a polar beta is -0.5 beta' S beta + r' beta + const."""

    information: Floats  # (3, 3)
    response: Floats  # (3,)
    weight: float


def sample_polars(
    pieces: Pieces,
    expected: tuple[WingExpectation, ...],
    lift_share: float = 0.0,
    circling_mps: float | None = None,
) -> Floats:
    """(SAMPLES, 3): best glide ratio, its airspeed, share of least-sink speed, drawn from what is now believed.

    `lift_share` is the share of straight flight in which the pilot climbed: where it is more than chance gives,
    the air of the glides cannot be taken to rise and sink alike, and the pieces say less about the wing.
    `circling_mps` is the equivalent airspeed in the circles of climbs, as if the wings were level. The draws are
    evenly spread and seeded: the same pieces give the same draws.
    """
    centre = float(np.mean(pieces.airspeed_mps))
    pieces = _calibrated(pieces)
    polars = _as_flown(candidates(expected, MIDDLE_SHAPE), centre, circling_mps)
    prior = _prior_moments(polars, centre)
    weight = np.ones(pieces.glide.size)
    for _ in range(2):  # once plainly, once with the far-off pieces held back
        evidence = _evidence(pieces, weight, centre, prior)
        weight = _robust_weight(pieces, centre, evidence[0], prior)
    chosen = _chosen_lift_share(lift_share, pieces, float(prior[0][0]))
    bias_sd_mps = min(LEAST_BIAS_SD_MPS + BIAS_PER_LIFT_SHARE_MPS * chosen, GREATEST_BIAS_SD_MPS)
    evidence = [_with_bias(one, bias_sd_mps) for one in _evidence(pieces, weight, centre, prior)]
    fine = grid_candidates(_ranges(polars, _posterior(polars, evidence[:1], centre)), expected, FINE_SHAPE)
    polars = _as_flown(fine, centre, circling_mps)
    return _draw(polars, _posterior(polars, evidence, centre))


def _chosen_lift_share(lift_share: float, pieces: Pieces, still_sink_mps: float) -> float:
    """Share of climbing flight beyond what air that rises and sinks alike gives a wing of this sink.

    Air of normal spread s carries a wing of sink w in the share Phi(-w / s) of the time; a standard error of that
    share over the eddies met is let pass. On 171 simulated wings in thermic air 0.032, 0.028 and 0.058 were
    expected so, and 0.024, 0.025 and 0.037 met (paragliders, hang gliders, rigid wings).
    """
    spread = max(float(pieces.sink_mps.std()), 1e-6)
    chance = 0.5 * math.erfc(still_sink_mps / (spread * math.sqrt(2.0)))
    error = math.sqrt(chance * (1.0 - chance) * PIECES_AN_EDDY / pieces.sink_mps.size)
    return max(lift_share - max(chance + error, LEAST_CHANCE_SHARE), 0.0)


def _with_bias(evidence: _Evidence, bias_sd_mps: float) -> _Evidence:
    """The evidence when all sinks may be off by one and the same amount, normal with this sd."""
    column = evidence.information[:, 0]
    pull = 1.0 / (1.0 / bias_sd_mps**2 + column[0])
    return replace(
        evidence,
        information=evidence.information - pull * np.outer(column, column),
        response=evidence.response - pull * column * evidence.response[0],
    )


def _as_flown(polars: PolarCandidates, mean_airspeed_mps: float, circling_mps: float | None) -> PolarCandidates:
    """Polars weighted by how well their speeds fit those at which the pilot glided, and circled where he did."""
    off = np.log(mean_airspeed_mps / FLOWN_SPEED_SHARE) - polars.log_airspeed
    weight = polars.weight * np.exp(-0.5 * (off / FLOWN_SPEED_SPREAD) ** 2)
    if circling_mps is not None:
        least_sink = polars.log_airspeed + np.log(polars.share)
        weight = weight * student(least_sink, math.log(circling_mps / CIRCLING_SPEED_SHARE), CIRCLING_SPEED_SPREAD)
    return replace(polars, weight=weight / max(float(weight.sum()), 1e-300))


def _calibrated(pieces: Pieces) -> Pieces:
    """Airspeeds drawn in by as much of their differences as is error of the wind, not choice of the pilot.

    Without it the errors of the speeds would flatten the polar (regression calibration: Carroll et al.,
    Measurement Error in Nonlinear Models, 2nd ed. 2006, ch. 4). Done between glides: within one, the wind's error
    is the same. What stays unknown of a speed adds to the mean of its square.
    """
    glides, place = np.unique(pieces.glide, return_inverse=True)
    if glides.size < 3:
        return pieces
    count = np.bincount(place)
    mean = np.bincount(place, weights=pieces.airspeed_mps) / count
    centre = float(pieces.airspeed_mps.mean())
    between = float((count * (mean - centre) ** 2).sum() / count.sum())
    error = float((pieces.airspeed_sd_mps**2).mean())
    kept = max(between - error, 0.2 * between) / max(between, 1e-9)
    return replace(
        pieces,
        airspeed_mps=pieces.airspeed_mps - (1.0 - kept) * (mean - centre)[place],
        airspeed_variance_m2ps2=pieces.airspeed_variance_m2ps2 + (1.0 - kept) * kept * between,
    )


def _evidence(pieces: Pieces, weight: Floats, centre: float, prior: tuple[Floats, Floats]) -> list[_Evidence]:
    """Normal equations of the likeliest settings of the air, each with its weight, likeliest first."""
    score, information, response = _settings(_whitened(pieces, weight, centre), prior)
    best = np.argsort(-score, kind="stable")[:SETTINGS_KEPT]
    share = np.exp(score[best] - score[best[0]])
    share = share / share.sum()
    return [_Evidence(information[i], response[i], float(w)) for i, w in zip(best, share, strict=True)]


def _prior_moments(polars: PolarCandidates, centre: float) -> tuple[Floats, Floats]:
    """Mean and inverse covariance of the class's polars, as normal, in powers of V - centre."""
    beta = _centred(polars.coefficients(), centre)
    mean = polars.weight @ beta
    spread = beta - mean
    covariance = (spread * polars.weight[:, None]).T @ spread
    return mean, np.asarray(np.linalg.inv(covariance + 1e-9 * np.eye(3)), dtype=np.float64)


def _centred(coefficients: Floats, centre: float) -> Floats:
    """(k, 3): the polars as powers 0, 1, 2 of V - centre."""
    a, b, c = coefficients.T
    return np.stack([(a * centre + b) * centre + c, 2 * a * centre + b, a], axis=-1)


@dataclass(frozen=True, eq=False)
class _Whitened:
    """Pieces freed of the likeness of neighbours, for each of t eddy times: sums of products of columns.

    Columns are 1, d, d^2 (d: airspeed less a centre), d less the mean of its glide, the glide's own u, the sink.
    """

    products: Floats  # (t, 6, 6)
    glide_products: Floats  # (t, 6, glides) of u with each column
    airspeed_sd_mps: Floats  # (glides,)
    log_scale: Floats  # (t,)
    within_mps2: float  # variance of the airspeeds within glides
    count: int


def _whitened(pieces: Pieces, weight: Floats, centre: float) -> _Whitened:
    """Take out of every piece what its neighbour before already said (unit variance)."""
    d = pieces.airspeed_mps - centre
    same = np.concatenate([[False], pieces.glide[1:] == pieces.glide[:-1]])
    starts = np.flatnonzero(~same)
    counts = np.diff(starts, append=d.size)
    within = d - np.repeat(np.add.reduceat(d, starts) / counts, counts)
    ones = np.ones_like(d)
    columns = np.stack([ones, d, d * d + pieces.airspeed_variance_m2ps2, within, ones, pieces.sink_mps])
    step_s = np.concatenate([[0.0], np.abs(pieces.time_s[1:] - pieces.time_s[:-1])])
    likeness = np.where(same, np.exp(-step_s / np.array(EDDY_TIMES_S)[:, None]), 0.0)  # (t, k)
    scale = 1.0 / np.sqrt(1.0 - likeness**2)
    before = np.concatenate([columns[:, :1], columns[:, :-1]], axis=1)
    white = (columns - likeness[:, None, :] * before) * (scale * np.sqrt(weight))[:, None, :]
    return _Whitened(
        products=white @ white.transpose(0, 2, 1),
        glide_products=np.add.reduceat(white[:, 4:5] * white, starts, axis=2),
        airspeed_sd_mps=np.add.reduceat(pieces.airspeed_sd_mps, starts) / counts,
        log_scale=np.log(scale).sum(axis=1),
        within_mps2=float((within**2).mean()),
        count=d.size,
    )


def _settings(white: _Whitened, prior: tuple[Floats, Floats]) -> tuple[Floats, Floats, Floats]:
    """Log restricted likelihood (k,) of all tau, sr and sg, with normal equations (k, 3, 3), (k, 3)."""
    prior_mean, prior_information = prior
    sr, sg = (part.ravel() for part in np.meshgrid(PIECE_SDS_MPS, GLIDE_SDS_MPS, indexing="ij"))
    own = white.glide_products[:, None, 4]  # (t, 1, glides)
    sg2 = (sg[:, None] ** 2 + (SINK_PER_AIRSPEED * white.airspeed_sd_mps) ** 2) / sr[:, None] ** 2
    grown = 1.0 + sg2 * own  # (t, settings, glides)
    times, columns, glides = white.glide_products.shape
    pairs = (white.glide_products[:, :, None] * white.glide_products[:, None]).reshape(times, columns**2, glides)
    shared = ((sg2 / grown) @ pairs.transpose(0, 2, 1)).reshape(times, sr.size, columns, columns)
    products = (white.products[:, None] - shared) / sr[:, None, None] ** 2
    slope_sd = REACTION * sr**2 / max(white.within_mps2, 1e-3)
    products, lost = _without_reaction(products, slope_sd)
    information, response = products[..., :3, :3], products[..., :3, 4]
    total = information + prior_information
    right = response + prior_information @ prior_mean
    explained, log_determinant = _eliminated(total, right)
    fit = products[..., 4, 4] + prior_mean @ prior_information @ prior_mean - explained
    score = -0.5 * (fit + log_determinant + lost + np.log(grown).sum(axis=-1))
    score += white.log_scale[:, None] - white.count * np.log(sr)
    # mild expectations of the air itself: 0.4 m/s between pieces, a quarter of that between glides (M 6)
    score += -0.5 * (np.log(sr / 0.4) / 0.7) ** 2 - 0.5 * (sg / (GLIDE_SD_SHARE * sr)) ** 2
    tau = np.log(np.array(EDDY_TIMES_S) / USUAL_EDDY_TIME_S) / EDDY_TIME_SPREAD
    score += -0.5 * tau[:, None] ** 2
    return score.ravel(), information.reshape(-1, 3, 3), response.reshape(-1, 3)


def _eliminated(matrix: Floats, right: Floats) -> tuple[Floats, Floats]:
    """R' M^-1 r and the logarithm of the determinant of many symmetric systems M (..., 3, 3) with r (..., 3).

    By elimination of all at once, which takes a tenth of the time of a call to LAPACK for each.
    """
    by_first = matrix[..., 0, 1:] / matrix[..., 0, :1]
    x, (y, z) = right[..., 0], np.moveaxis(right[..., 1:] - by_first * right[..., :1], -1, 0)
    left = matrix[..., 1:, 1:] - by_first[..., :, None] * matrix[..., 0, None, 1:]
    first, second, by_second = matrix[..., 0, 0], left[..., 0, 0], left[..., 0, 1] / left[..., 0, 0]
    third, z = left[..., 1, 1] - by_second * left[..., 0, 1], z - by_second * y
    return x * x / first + y * y / second + z * z / third, np.log(np.abs(first * second * third))


def _without_reaction(products: Floats, slope_sd: Floats) -> tuple[Floats, Floats]:
    """Products (t, k, 5, 5) when the fourth column has a slope of its own, normal with this sd; its log variance.

    A pilot who speeds up where the air sinks makes the polar look steeper than it is, its best-glide speed too low
    (by 6 % where a simulated pilot gave 0.8 m/s for each m/s of sink). Such reactions show within a glide; between
    glides speed is chosen. So what a piece's speed differs from the mean of its glide has a slope of its own, that
    of the air, as large as a reaction can be (regression within and between groups: Mundlak 1978, Econometrica
    46:69-85). Where speeds differ much and the air is calm that is next to nothing, and all pieces count.
    """
    column = products[..., 3, :]
    variance = slope_sd**2
    grown = 1.0 + variance * column[..., 3]
    pull = (variance / grown)[..., None, None]
    left = products - pull * column[..., :, None] * column[..., None, :]
    keep = np.array([0, 1, 2, 4, 5])
    return left[..., keep[:, None], keep], np.log(grown)


def _posterior(polars: PolarCandidates, evidence: list[_Evidence], centre: float) -> Floats:
    """(k,) weight of every polar after the evidence; sums to 1."""
    beta = _centred(polars.coefficients(), centre)
    squares = np.stack([beta[:, i] * beta[:, j] for i, j in _PAIRS] + [beta[:, i] for i in range(3)])
    form = np.array([_form(one) for one in evidence])  # (evidence, 9)
    log_weight = form @ squares + np.log(polars.weight + 1e-300)
    share = np.exp(log_weight - log_weight.max(axis=1, keepdims=True))
    scale = np.array([one.weight for one in evidence]) / share.sum(axis=1)
    total = scale @ share
    return np.asarray(total / total.sum(), dtype=np.float64)


_PAIRS = ((0, 0), (1, 1), (2, 2), (0, 1), (0, 2), (1, 2))


def _form(one: _Evidence) -> list[float]:
    """Factors of the squares, the products and the coefficients themselves in the log likelihood of a polar."""
    factors = [-(0.5 if i == j else 1.0) * float(one.information[i, j]) for i, j in _PAIRS]
    return factors + [float(v) for v in one.response]


def _robust_weight(pieces: Pieces, centre: float, evidence: _Evidence, prior: tuple[Floats, Floats]) -> Floats:
    """(k,) weight of every piece: 1, less for one that lies beyond 2.5 spreads (a thermal crossed)."""
    right = evidence.response + prior[1] @ prior[0]
    beta = np.linalg.solve(evidence.information + prior[1], right)
    d, variance = pieces.airspeed_mps - centre, pieces.airspeed_variance_m2ps2
    left = pieces.sink_mps - ((beta[2] * d + beta[1]) * d + beta[2] * variance + beta[0])
    left = np.abs(left - np.median(left))
    spread = max(1.4826 * float(np.median(left)), 0.1)
    return np.asarray(np.minimum(1.0, 2.5 * spread / np.maximum(left, 1e-9)), dtype=np.float64)


def _ranges(polars: PolarCandidates, posterior: Floats) -> list[tuple[float, float]]:
    """Where the weight lies: the range of each figure that holds all but a hair of it, and a step more."""
    ranges = []
    for values, cell in zip((polars.log_ratio, polars.log_airspeed, polars.share), polars.cell, strict=True):
        mean = float(posterior @ values)
        sd = max(float(np.sqrt(posterior @ (values - mean) ** 2)), 0.3 * cell)
        low, high = mean - 4.0 * sd, mean + 4.0 * sd
        ranges.append((max(low, float(values.min())), min(high, float(values.max()))))
    return ranges


def _draw(polars: PolarCandidates, posterior: Floats) -> Floats:
    """Evenly spread draws from the grid, each shifted at random within its cell."""
    generator = np.random.default_rng(SEED)
    places = np.searchsorted(np.cumsum(posterior), (np.arange(SAMPLES) + 0.5) / SAMPLES)
    places = np.minimum(places, posterior.size - 1)
    shift = (generator.random((SAMPLES, 3)) - 0.5) * np.array(polars.cell)
    figures = (
        np.stack([polars.log_ratio[places], polars.log_airspeed[places], polars.share[places]], axis=1) + shift
    )
    return np.stack([np.exp(figures[:, 0]), np.exp(figures[:, 1]), np.minimum(figures[:, 2], 0.98)], axis=1)
