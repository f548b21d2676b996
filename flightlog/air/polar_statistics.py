"""A sink polar from many short pieces of glide: what the pieces say, what the class lets us expect, both at once.

The air between two thermals is not still. Sink of neighbouring pieces is alike (the same large eddy), and all
pieces of one glide share something (the same line through lift or sink, the same error of the wind). The model:

    sink_ij = a V^2 + b V + c + u_i + e_ij,    u_i ~ N(0, sg^2),    cov(e) = sr^2 exp(-|dt| / tau)

sg, sr and tau are weighed by restricted likelihood on a grid (Laird & Ware 1982), the polar by going through every
polar the class allows (Gelman et al., Bayesian Data Analysis, 3rd ed. 2013, ch. 3: a posterior on a grid).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from flightlog.air.wing_polars import PolarCandidates, WingExpectation, candidates, grid_candidates
from flightlog.arrays import Floats, Ints

EDDY_TIMES_S = (8.0, 20.0, 45.0, 90.0)
"""tau: eddies of 100 to 1000 m met at flying speed."""
PIECE_SDS_MPS = (0.10, 0.15, 0.2, 0.3, 0.4, 0.55, 0.7, 0.9, 1.2)
GLIDE_SDS_MPS = (0.0, 0.08, 0.16, 0.24, 0.32, 0.4, 0.5)
SETTINGS_KEPT = 6
"""Of the settings of (tau, sr, sg) so many likeliest are carried on; together they hold nearly all weight."""
GLIDE_SD_SHARE = 0.25
"""What a whole glide shares, beside the spread of its pieces: 0.15 of 0.6 m/s in thermic, 0.05 of 0.2 in calm air
(M 6); one standard deviation of what is expected, so that a few glides cannot feign more."""
LEAST_BIAS_SD_MPS, BIAS_PER_LIFT_SHARE_MPS, GREATEST_BIAS_SD_MPS = 0.03, 2.0, 0.4
CHANCE_LIFT_SHARE = 0.03
"""Mean rise of the air met in all glides, one standard deviation: next to none where air rises as often as it
sinks, and then 3 % of straight flight climb by chance (simulated thermic air); more where the pilot followed lines
of lift. On alpine cross-country days with a tenth to a sixth of the straight flight spent climbing, paragliders
came out better by 0.2-0.3 m/s than any is (no published source)."""
SINK_PER_AIRSPEED = 0.1
"""Near best glide an error of the airspeed counts as this much of an error of the sink: 1 / E."""
FLOWN_SPEED_SHARE, FLOWN_SPEED_SPREAD = 1.05, 0.13
"""Pilots glide at about the speed of best glide or a little above, give or take (trade knowledge, no source)."""
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


@dataclass(frozen=True, eq=False)
class _Evidence:
    """Normal equations of one setting: log likelihood of a polar beta is -0.5 beta' S beta + r' beta + const."""

    information: Floats  # (3, 3)
    response: Floats  # (3,)
    weight: float


def sample_polars(pieces: Pieces, expected: tuple[WingExpectation, ...], lift_share: float = 0.0) -> Floats:
    """(SAMPLES, 3): best glide ratio, its airspeed, share of least-sink speed, drawn from what is now believed.

    `lift_share` is the share of straight flight in which the pilot climbed: where it is large, the air of the
    glides cannot be taken to rise and sink alike, and the pieces say less about the wing. The draws are evenly
    spread and seeded: the same pieces give the same draws.
    """
    centre = float(np.mean(pieces.airspeed_mps))
    pieces = _calibrated(pieces)
    polars = _as_flown(candidates(expected), centre)
    prior = _prior_moments(polars, centre)
    weight = np.ones(pieces.glide.size)
    for _ in range(2):  # once plainly, once with the far-off pieces held back
        evidence = _evidence(pieces, weight, centre, prior)
        weight = _robust_weight(pieces, centre, evidence[0], prior)
    chosen = max(lift_share - CHANCE_LIFT_SHARE, 0.0)
    bias_sd_mps = min(LEAST_BIAS_SD_MPS + BIAS_PER_LIFT_SHARE_MPS * chosen, GREATEST_BIAS_SD_MPS)
    evidence = [_with_bias(one, bias_sd_mps) for one in _evidence(pieces, weight, centre, prior)]
    fine = grid_candidates(_ranges(polars, _posterior(polars, evidence[:1], centre)), expected)
    polars = _as_flown(fine, centre)
    return _draw(polars, _posterior(polars, evidence, centre))


def _with_bias(evidence: _Evidence, bias_sd_mps: float) -> _Evidence:
    """The evidence when all sinks may be off by one and the same amount, normal with this sd."""
    column = evidence.information[:, 0]
    pull = 1.0 / (1.0 / bias_sd_mps**2 + column[0])
    return replace(
        evidence,
        information=evidence.information - pull * np.outer(column, column),
        response=evidence.response - pull * column * evidence.response[0],
    )


def _as_flown(polars: PolarCandidates, mean_airspeed_mps: float) -> PolarCandidates:
    """Polars weighted by how well their best-glide airspeed fits the speed at which the pilot glided."""
    off = np.log(mean_airspeed_mps / FLOWN_SPEED_SHARE) - polars.log_airspeed
    weight = polars.weight * np.exp(-0.5 * (off / FLOWN_SPEED_SPREAD) ** 2)
    return replace(polars, weight=weight / max(float(weight.sum()), 1e-300))


def _calibrated(pieces: Pieces) -> Pieces:
    """Airspeeds drawn in by as much of their differences as is error of the wind, not choice of the pilot.

    Without it the errors of the speeds would flatten the polar (regression calibration: Carroll et al.,
    Measurement Error in Nonlinear Models, 2nd ed. 2006, ch. 4). Done between glides: within one, the wind's error
    is the same.
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
    return replace(pieces, airspeed_mps=pieces.airspeed_mps - (1.0 - kept) * (mean - centre)[place])


def _evidence(pieces: Pieces, weight: Floats, centre: float, prior: tuple[Floats, Floats]) -> list[_Evidence]:
    """Normal equations of the likeliest settings of the air, each with its weight, likeliest first."""
    parts = [_settings(_whitened(pieces, weight, centre, tau_s), prior) for tau_s in EDDY_TIMES_S]
    score = np.concatenate([part[0] for part in parts])
    information = np.concatenate([part[1] for part in parts])
    response = np.concatenate([part[2] for part in parts])
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
    """Pieces freed of the likeness of neighbours: sums over each glide of products of columns."""

    products: Floats  # (5, 5) of [1, d, d^2, u, y], u: the glide's own column
    glide_products: Floats  # (glides, 5) of u with each column
    airspeed_sd_mps: Floats  # (glides,)
    log_scale: float
    count: int


def _whitened(pieces: Pieces, weight: Floats, centre: float, tau_s: float) -> _Whitened:
    """Take out of every piece what its neighbour before already said (unit variance)."""
    d = pieces.airspeed_mps - centre
    columns = np.stack([np.ones_like(d), d, d * d, np.ones_like(d), pieces.sink_mps], axis=1)
    same = np.concatenate([[False], np.diff(pieces.glide) == 0])
    step_s = np.concatenate([[0.0], np.diff(pieces.time_s)])
    likeness = np.where(same, np.exp(-np.abs(step_s) / tau_s), 0.0)
    scale = 1.0 / np.sqrt(1.0 - likeness**2)
    before = np.concatenate([columns[:1], columns[:-1]])
    white = (columns - likeness[:, None] * before) * (scale * np.sqrt(weight))[:, None]
    glides, place = np.unique(pieces.glide, return_inverse=True)
    glide_products = np.zeros((glides.size, 5))
    np.add.at(glide_products, place, white[:, 3:4] * white)
    sd = np.bincount(place, weights=pieces.airspeed_sd_mps) / np.bincount(place)
    return _Whitened(white.T @ white, glide_products, sd, float(np.log(scale).sum()), d.size)


def _settings(white: _Whitened, prior: tuple[Floats, Floats]) -> tuple[Floats, Floats, Floats]:
    """Log restricted likelihood (k,) of all settings of sr and sg, with normal equations (k, 3, 3), (k, 3)."""
    prior_mean, prior_information = prior
    sr, sg = (part.ravel() for part in np.meshgrid(PIECE_SDS_MPS, GLIDE_SDS_MPS, indexing="ij"))
    own = white.glide_products[:, 3]
    sg2 = (sg[:, None] ** 2 + (SINK_PER_AIRSPEED * white.airspeed_sd_mps) ** 2) / sr[:, None] ** 2  # (k, glides)
    pairs = white.glide_products[:, :, None] * white.glide_products[:, None, :]
    shared = np.tensordot(sg2 / (1.0 + sg2 * own), pairs, axes=1)  # (k, 5, 5)
    products = (white.products - shared) / sr[:, None, None] ** 2
    information, response = products[:, :3, :3], products[:, :3, 4]
    total = information + prior_information
    right = response + prior_information @ prior_mean
    solved = np.linalg.solve(total, right[..., None])[..., 0]
    fit = products[:, 4, 4] + prior_mean @ prior_information @ prior_mean - (right * solved).sum(axis=1)
    score = -0.5 * (fit + np.linalg.slogdet(total)[1] + np.log1p(sg2 * own).sum(axis=1))
    score += -white.count * np.log(sr) + white.log_scale
    # mild expectations of the air itself: 0.4 m/s between pieces, a quarter of that between glides (M 6)
    score += -0.5 * (np.log(sr / 0.4) / 0.7) ** 2 - 0.5 * (sg / (GLIDE_SD_SHARE * sr)) ** 2
    return score, information, response


def _posterior(polars: PolarCandidates, evidence: list[_Evidence], centre: float) -> Floats:
    """(k,) weight of every polar after the evidence; sums to 1."""
    beta = _centred(polars.coefficients(), centre)
    total = np.zeros(polars.weight.size)
    for one in evidence:
        log_likelihood = beta @ one.response - 0.5 * np.sum((beta @ one.information) * beta, axis=1)
        log_weight = log_likelihood + np.log(polars.weight + 1e-300)
        share = np.exp(log_weight - log_weight.max())
        total += one.weight * share / share.sum()
    return np.asarray(total / total.sum(), dtype=np.float64)


def _robust_weight(pieces: Pieces, centre: float, evidence: _Evidence, prior: tuple[Floats, Floats]) -> Floats:
    """(k,) weight of every piece: 1, less for one that lies beyond 2.5 spreads (a thermal crossed)."""
    right = evidence.response + prior[1] @ prior[0]
    beta = np.linalg.solve(evidence.information + prior[1], right)
    d = pieces.airspeed_mps - centre
    left = pieces.sink_mps - ((beta[2] * d + beta[1]) * d + beta[0])
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
