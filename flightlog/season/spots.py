"""Spots that many climbs come from, each traced back with its own uncertainty: where, how many, how sure.

Climbs lie about as their traces are uncertain: far along the drift, little across it, and each day's drift points
another way, so that the traces of one spot cross in it. They are taken as a mixture: so many climbs from each,
the others from anywhere the traffic goes. The spots that raise the likelihood most are added one after the other;
what each adds is held against maps on which as many climbs lie by chance where the flying was.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from flightlog.arrays import Floats
from flightlog.season.meetings import Meetings
from flightlog.season.spot_places import place_spots, season_drift
from flightlog.season.traces import SPOT_WIDTH_M, Traces

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
"""Possible: of all that are possible, this share at most is expected to be chance (Benjamini & Hochberg 1995,
J. R. Stat. Soc. B 57:289-300, from memory)."""
DRIFT_ROUNDS = 2
"""Fits after which the climbs are traced anew with the drift that the spots tell."""
NEW_PER_ROUND, ROUNDS, ROUGH_STEPS, EM_STEPS = 40, 3, 6, 20
LEAST_GAIN = 2.5
"""Log likelihood below which a spot is not looked at: chance alone gives that at every turn."""
CHANCE_MAPS, CHANCE_CLIMBS = 10, 4000
"""Chance maps drawn, and climbs on all of them at most: a large season needs fewer maps for as many peaks."""
SEED = 20260614
MOST_GRID = 1_000_000
MOST_SPOTS = 150


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


def find_spots(traces: Traces, meetings: Meetings) -> tuple[Spot, ...]:
    """The spots behind these climbs, those that add most first; traces and meetings of the same climbs.

    References
    ----------
    Mixtures with unknown places: Laird 1978, J. Am. Stat. Assoc. 73:805-811; Lindsay 1983, Annals of Statistics
    11:86-94. Chance maps by resampling: Davison & Hinkley 1997, Bootstrap Methods, chapter 4. (From memory.)
    """
    if len(traces.east_m) < LEAST_CLIMBS:
        return ()
    background = meetings.background
    fitted, gains = _deconvolved(traces, background)
    for _ in range(DRIFT_ROUNDS):
        if len(gains):
            longer = season_drift(traces, fitted.shares(background))
            fitted, gains = _deconvolved(traces.drifted(longer), background)
    if len(gains) == 0:
        return ()
    order = np.argsort(-gains, kind="stable")
    counts = _chance_counts(traces, meetings, gains[order])
    sure = int(np.count_nonzero(counts <= SURE_CHANCE))
    shares = fitted.shares(background)[order]
    left = np.flatnonzero(shares[:sure].sum(axis=0) < 0.5)
    if sure and len(left) >= LEAST_CLIMBS:  # what those that are sure explain is no chance for the others
        counts[sure:] = _chance_counts(traces.chosen(left), meetings.chosen(left), gains[order[sure:]])
    told = sure + possible_ones(counts[sure:])
    places = place_spots(traces, shares)
    return tuple(
        Spot(
            east_m=places[at].east_m,
            north_m=places[at].north_m,
            radius_m=places[at].radius_m,
            climbs=float(fitted.climbs[k]),
            gain=float(gains[k]),
            chance_count=float(counts[at]),
            grade="sure" if at < sure else "possible",
            shares=shares[at],
        )
        for at, k in enumerate(order[:told])
    )


def possible_ones(chance_counts: Floats) -> int:
    """How many spots are possible beyond the sure ones, by what chance puts on a map of the climbs left (k,).

    Those that are sure say nothing for the others: what chance puts among the possible ones is held against their
    own number.

    >>> possible_ones(np.array([0.2, 0.4, 3.0]))
    2
    """
    fits = np.flatnonzero(chance_counts <= POSSIBLE_FALSE_SHARE * np.arange(1, len(chance_counts) + 1))
    return int(fits[-1]) + 1 if fits.size else 0


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


def _chance_counts(traces: Traces, meetings: Meetings, gains: Floats) -> Floats:
    """How many peaks of each gain or more a map drawn by chance shows."""
    maps = int(np.clip(CHANCE_CLIMBS // len(traces.east_m), 3, CHANCE_MAPS))
    chance = np.random.default_rng(SEED)
    drawn = np.concatenate([_deconvolved(*meetings.drawn(traces, chance))[1] for _ in range(maps)])
    return np.array([expected_by_chance(float(gain), drawn, maps) for gain in gains])


def _deconvolved(traces: Traces, background: Floats) -> tuple[_Mixture, Floats]:
    """All spots that add anything to speak of, and what each adds; alike for climbs flown and for chance."""
    rough, _ = _pruned(traces, background, _grown(traces, background))
    return _pruned(traces, background, _fitted(traces, background, rough, EM_STEPS))


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

    def shares(self, background: Floats) -> Floats:
        """How likely each climb is from each spot (k, n)."""
        return np.asarray(self.climbs[:, None] * self.densities / self.intensity(background))


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
        shares = mixture.shares(background)
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
