"""Spots that many climbs come from, each traced back with its own uncertainty: where, how many, how sure.

Climbs lie about as their traces are uncertain: far along the drift, little across it, and each day's drift points
another way, so that the traces of one spot cross in it. They are taken as a mixture: so many climbs from each,
the others from anywhere the traffic goes. The spots that raise the likelihood most are added one after the other;
what each adds is held against maps on which as many climbs lie by chance where the flying was.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from flightlog.arrays import Floats
from flightlog.estimates import NORMAL_95
from flightlog.measures.thermal_sources import RAYLEIGH_95
from flightlog.season.traffic import Traffic

SPOT_WIDTH_M = 70.0
"""Standard deviation of where air leaves the ground at one spot: a field, a village, a rock face (own)."""
GRID_M = 100.0
APART_M = 400.0
"""Two spots nearer than this are one: thermals stand 1 to 2 km apart, and no trace is as sure (M 10)."""
REACH = 3.0
"""Standard deviations of a climb's trace within which it can speak for a spot."""
LEAST_CLIMBS = 2.0
"""A spot that is expected to have sent fewer is none."""
SURE_CHANCE = 0.05
"""Sure: so many spots as strong, or stronger, are expected on the whole map by chance, at most."""
POSSIBLE_FALSE_SHARE = 0.25
"""Possible: of all spots at least as strong, this share at most is expected to be chance (Benjamini & Hochberg
1995, J. R. Stat. Soc. B 57:289-300, from memory)."""
NEW_PER_ROUND, ROUNDS, ROUGH_STEPS, EM_STEPS = 40, 3, 6, 20
LEAST_GAIN = 2.5
"""Log likelihood below which a spot is not looked at: chance alone gives that at every turn."""
CHANCE_MAPS, CHANCE_CLIMBS = 10, 4000
"""Chance maps drawn, and climbs on all of them at most: a large season needs fewer maps for as many peaks."""
SEED = 20260614
MOST_GRID = 1_000_000
MOST_SPOTS = 150


@dataclass(frozen=True, eq=False)
class Traces:
    """n climbs traced to the ground: places in metres, standard deviations along the drift and across it."""

    east_m: Floats
    north_m: Floats
    along_sd_m: Floats
    across_sd_m: Floats
    drift_to_rad: Floats

    def placed(self, east_m: Floats, north_m: Floats) -> Traces:
        """The same uncertainties elsewhere."""
        return replace(self, east_m=east_m, north_m=north_m)

    def precision(self) -> tuple[Floats, Floats, Floats]:
        """Inverse covariances with the spot's own width: east-east, north-north, east-north; each (n,), 1/m2."""
        along, across = (1.0 / (sd**2 + SPOT_WIDTH_M**2) for sd in (self.along_sd_m, self.across_sd_m))
        sine, cosine = np.sin(self.drift_to_rad), np.cos(self.drift_to_rad)
        return (
            along * sine**2 + across * cosine**2,
            along * cosine**2 + across * sine**2,
            (along - across) * sine * cosine,
        )


@dataclass(frozen=True)
class Spot:
    """One spot: place, radius that holds it in 95 of 100 cases, climbs it sent, evidence, and how it compares.

    `gain` is the log likelihood it adds; `chance_count` the spots of that gain or more on a map of as
    many climbs by chance; `grade` is `sure` or `possible`. `shares` (n,): how likely each climb came from it.
    """

    east_m: float
    north_m: float
    radius_m: float
    climbs: float
    gain: float
    chance_count: float
    grade: str
    shares: Floats


def find_spots(traces: Traces, traffic: Traffic) -> tuple[Spot, ...]:
    """The spots behind these climbs, those that add most first; climbs and traffic in one plane.

    References
    ----------
    Mixtures with unknown places: Laird 1978, J. Am. Stat. Assoc. 73:805-811; Lindsay 1983, Annals of Statistics
    11:86-94. Chance maps by resampling: Davison & Hinkley 1997, Bootstrap Methods, chapter 4. (From memory.)
    """
    if len(traces.east_m) < LEAST_CLIMBS:
        return ()
    background = traffic.expected_at(traces.east_m, traces.north_m)
    fitted, gains = _deconvolved(traces, background)
    chance_gains, maps = _chance_gains(traces, traffic)
    order = np.argsort(-gains, kind="stable")
    spots = []
    for rank, k in enumerate(order, start=1):
        chance = expected_by_chance(float(gains[k]), chance_gains, maps)
        if chance / rank > POSSIBLE_FALSE_SHARE:
            break
        spots.append(_spot(traces, background, fitted, int(k), float(gains[k]), chance))
    return tuple(spots)


def expected_by_chance(gain: float, chance_gains: Floats, maps: int) -> float:
    """How many peaks of that gain or more one chance map shows.

    Beyond what the chance maps reach the number falls as exp(-gain), since under chance the mean of exp(gain) at
    one place and strength is 1 (Markov's bound); that is slower than it does.
    """
    if maps == 0 or len(chance_gains) == 0:
        return 1.0
    ordered = np.sort(chance_gains)[::-1]
    anchor = min(max(maps // 3, 3), len(ordered)) - 1  # the gain that one map in three reaches
    if gain <= ordered[anchor]:
        return float(np.count_nonzero(chance_gains >= gain)) / maps
    return (anchor + 1) / maps * float(np.exp(-(gain - ordered[anchor])))


def _chance_gains(traces: Traces, traffic: Traffic) -> tuple[Floats, int]:
    """Gains of the peaks on maps drawn by chance, and how many maps."""
    count = len(traces.east_m)
    maps = int(np.clip(CHANCE_CLIMBS // count, 3, CHANCE_MAPS))
    chance = np.random.default_rng(SEED)
    gains = []
    for _ in range(maps):
        shuffled = _shuffled(traces, chance)
        drawn = shuffled.placed(*traffic.drawn(count, chance))
        background = traffic.expected_at(drawn.east_m, drawn.north_m)
        gains.append(_deconvolved(drawn, background)[1])
    return np.concatenate(gains), maps


def _deconvolved(traces: Traces, background: Floats) -> tuple[_Mixture, Floats]:
    """All spots that add anything to speak of, and what each adds; alike for climbs flown and for chance."""
    rough, _ = _pruned(traces, background, _grown(traces, background))
    return _pruned(traces, background, _fitted(traces, background, rough, EM_STEPS))


def _shuffled(traces: Traces, chance: np.random.Generator) -> Traces:
    """The uncertainties of the climbs in another order."""
    order = chance.permutation(len(traces.east_m))
    return Traces(
        *(column[order] for column in (
            traces.east_m, traces.north_m, traces.along_sd_m, traces.across_sd_m, traces.drift_to_rad
        ))
    )  # fmt: skip


def _peaks(traces: Traces, weight: Floats) -> Floats:
    """Places (k, 2) where the climbs' densities, weighed, pile up: local maxima at least `APART_M` apart."""
    from scipy.ndimage import maximum_filter

    reach = REACH * np.hypot(traces.along_sd_m, SPOT_WIDTH_M)
    west, south = float(traces.east_m.min()) - GRID_M, float(traces.north_m.min()) - GRID_M
    width, depth = float(traces.east_m.max()) - west, float(traces.north_m.max()) - south
    step = max(GRID_M, (width * depth / MOST_GRID) ** 0.5)
    columns, rows = int(width / step) + 3, int(depth / step) + 3
    field = np.zeros((rows, columns))
    ee, nn, en = traces.precision()
    height = weight * np.sqrt(ee * nn - en**2) / (2.0 * np.pi)
    for i in range(len(traces.east_m)):
        c0 = max(int((traces.east_m[i] - reach[i] - west) / step), 0)
        c1 = min(int((traces.east_m[i] + reach[i] - west) / step) + 2, columns)
        r0 = max(int((traces.north_m[i] - reach[i] - south) / step), 0)
        r1 = min(int((traces.north_m[i] + reach[i] - south) / step) + 2, rows)
        x = west + step * np.arange(c0, c1) - traces.east_m[i]
        y = south + step * np.arange(r0, r1)[:, None] - traces.north_m[i]
        field[r0:r1, c0:c1] += height[i] * np.exp(-0.5 * (ee[i] * x * x + nn[i] * y * y) - en[i] * (x * y))
    size = 2 * max(int(APART_M / step / 2.0), 1) + 1
    row, column = np.nonzero((field == maximum_filter(field, size, mode="constant")) & (field > 1.0))
    strongest = np.argsort(-field[row, column], kind="stable")[: 4 * MOST_SPOTS]
    return np.column_stack([west + step * column[strongest], south + step * row[strongest]])


def _densities(traces: Traces, places: Floats) -> Floats:
    """Density (k, n), 1/m2, at which each place puts each climb."""
    ee, nn, en = traces.precision()
    x = traces.east_m - places[:, :1]
    y = traces.north_m - places[:, 1:]
    top = np.sqrt(ee * nn - en**2) / (2.0 * np.pi)
    return np.asarray(top * np.exp(-0.5 * (ee * x * x + nn * y * y) - en * x * y))


def _gains(traces: Traces, intensity: Floats, places: Floats) -> tuple[Floats, Floats]:
    """Most log likelihood that a spot at each place adds to climbs of that intensity (n,), and its climbs."""
    if len(places) == 0:
        return np.empty(0), np.empty(0)
    ratio = _densities(traces, places) / intensity
    return _best_strength(ratio)


def _best_strength(ratio: Floats) -> tuple[Floats, Floats]:
    """Largest sum of log(1 + a r) - a over the strength a, each row of r (k, n) for itself; and that a."""
    strength = np.full(len(ratio), 3.0)
    for _ in range(8):  # Newton's method in log a: the sum is concave in a
        part = strength[:, None] * ratio / (1.0 + strength[:, None] * ratio)
        slope = part.sum(axis=1) - strength
        bend = (part * (1.0 - part)).sum(axis=1) - strength
        step = np.where(bend < 0.0, -slope / np.minimum(bend, -1e-9), np.sign(slope))
        strength = np.clip(strength * np.exp(np.clip(step, -1.0, 1.0)), LEAST_CLIMBS / 2.0, ratio.shape[1])
    return np.log1p(strength[:, None] * ratio).sum(axis=1) - strength, strength


@dataclass(frozen=True, eq=False)
class _Mixture:
    """Spots with the climbs each sent, and the share of the climbs that came from anywhere."""

    places: Floats  # (k, 2)
    climbs: Floats  # (k,)
    elsewhere: float
    densities: Floats  # (k, n)

    def intensity(self, background: Floats) -> Floats:
        """Climbs per square metre expected where each climb is (n,)."""
        return np.asarray(self.elsewhere * background + self.climbs @ self.densities)


def _grown(traces: Traces, background: Floats) -> _Mixture:
    """Spots added in rounds, the strongest first, until none adds more than `LEAST_GAIN`."""
    mixture = _mixture(traces, np.empty((0, 2)), np.empty(0), 1.0)
    for _ in range(ROUNDS):
        intensity = mixture.intensity(background)
        found = _peaks(traces, 1.0 / intensity)
        gains, climbs = _gains(traces, intensity, found)
        fresh: list[int] = []
        known = mixture.places
        for k in np.argsort(-gains, kind="stable"):
            if gains[k] < LEAST_GAIN or len(fresh) == NEW_PER_ROUND or len(known) + len(fresh) == MOST_SPOTS:
                break
            others = np.concatenate([known, found[fresh]])
            if (np.hypot(*(found[k] - others).T) >= APART_M).all():
                fresh.append(int(k))
        if not fresh:
            break
        places = np.concatenate([known, found[fresh]])
        sent = np.concatenate([mixture.climbs, climbs[fresh]])
        share = max(1.0 - float(sent.sum()) / len(background), 0.1)
        mixture = _fitted(traces, background, _mixture(traces, places, sent, share), ROUGH_STEPS)
    return mixture


def _mixture(traces: Traces, places: Floats, climbs: Floats, elsewhere: float) -> _Mixture:
    """The mixture with its densities."""
    return _Mixture(places, climbs, elsewhere, _densities(traces, places))


def _fitted(traces: Traces, background: Floats, mixture: _Mixture, steps: int) -> _Mixture:
    """Places and climbs of the spots by so many steps of expectation and maximisation."""
    if len(mixture.places) == 0:
        return mixture
    ee, nn, en = traces.precision()
    told = np.column_stack(
        [ee, nn, en, ee * traces.east_m + en * traces.north_m, en * traces.east_m + nn * traces.north_m]
    )
    for _ in range(steps):
        shares = mixture.climbs[:, None] * mixture.densities / mixture.intensity(background)
        climbs = np.maximum(shares.sum(axis=1), 1e-6)
        elsewhere = max(1.0 - float(climbs.sum()) / len(ee), 0.02)
        a, b, c, right_e, right_n = (shares @ told).T
        volume = np.maximum(a * b - c * c, 1e-30)
        places = np.column_stack([(b * right_e - c * right_n) / volume, (a * right_n - c * right_e) / volume])
        mixture = _mixture(traces, places, climbs, elsewhere)
    return mixture


def _pruned(traces: Traces, background: Floats, mixture: _Mixture) -> tuple[_Mixture, Floats]:
    """The spots without those that add too little or stand too near a stronger one; and what each adds."""
    while True:
        gains = _each_adds(background, mixture)
        if len(gains) == 0:
            return mixture, gains
        apart = np.hypot(*(mixture.places[:, None] - mixture.places).T)
        shadowed = ((apart < APART_M) & (gains[:, None] < gains)).any(axis=1)
        bad = np.flatnonzero(shadowed | (gains < LEAST_GAIN) | (mixture.climbs < LEAST_CLIMBS))
        if bad.size == 0:
            return mixture, gains
        worst = bad[np.argsort(gains[bad], kind="stable")][: max(1, bad.size // 2)]
        kept = np.delete(np.arange(len(gains)), worst)
        thinner = _mixture(traces, mixture.places[kept], mixture.climbs[kept], mixture.elsewhere)
        mixture = _fitted(traces, background, thinner, ROUGH_STEPS)


def _each_adds(background: Floats, mixture: _Mixture) -> Floats:
    """What each spot adds to the likelihood of the others."""
    if len(mixture.places) == 0:
        return np.empty(0)
    whole = mixture.intensity(background)
    parts = mixture.climbs[:, None] * mixture.densities
    without = np.maximum(whole - parts, 1e-3 * background)
    return _best_strength(mixture.densities / without)[0]


def _spot(traces: Traces, background: Floats, mixture: _Mixture, k: int, gain: float, chance: float) -> Spot:
    """One spot with its radius, by the errors of the traces in it."""
    shares = mixture.climbs[k] * mixture.densities[k] / mixture.intensity(background)
    ee, nn, en = traces.precision()
    information = np.array([[shares @ ee, shares @ en], [shares @ en, shares @ nn]])
    narrow, wide = np.sqrt(np.clip(np.linalg.eigvalsh(np.linalg.inv(information)), 0.0, None))
    radius = np.hypot(RAYLEIGH_95 * narrow, NORMAL_95 * np.sqrt(max(wide**2 - narrow**2, 0.0)))
    return Spot(
        east_m=float(mixture.places[k, 0]),
        north_m=float(mixture.places[k, 1]),
        radius_m=float(radius),
        climbs=float(mixture.climbs[k]),
        gain=gain,
        chance_count=chance,
        grade="sure" if chance <= SURE_CHANCE else "possible",
        shares=shares,
    )
