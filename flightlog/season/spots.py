"""Spots that many climbs come from, each traced back with its own uncertainty: where, how many, how sure.

Climbs lie about as their traces are uncertain: far along the drift, little across it, and each day's drift points
another way, so that the traces of one spot cross in it. They are taken as a mixture: so many climbs from each,
the others from anywhere the traffic goes. The spots that raise the likelihood most are added one after the other;
what each adds is held against maps on which as many climbs lie by chance where the flying was.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from flightlog.arrays import Floats, Ints
from flightlog.season.meetings import Meetings
from flightlog.season.spot_places import place_spots, season_drift
from flightlog.season.traces import DRIFT_MEAN, Kernel, Traces, kernel_of

GRID_M = 100.0
APART_M = 400.0
"""Two spots nearer than this are one: thermals stand 1 to 2 km apart, and no trace is as sure (M 10)."""
REACH = 3.0
"""Standard deviations of a climb's trace within which it can speak for a spot."""
LEAST_CLIMBS = 2.0
"""A spot that is expected to have sent fewer is none."""
SURE_CHANCE = 0.05
"""Sure: so many spots as strong, or stronger, are expected on the whole map by chance, at most."""
POSSIBLE_FALSE_SHARE = 0.15
"""Possible: of all that are possible, this share at most is expected to be chance (Benjamini & Hochberg 1995,
J. R. Stat. Soc. B 57:289-300, from memory). The page promises a quarter: climbs of known spots that were traced
amiss make some more."""
DRIFT_ROUNDS, DRIFT_GAIN, DRIFT_SPOTS = 2, 9.0, 3
"""Fits after which the climbs are traced anew with the drift that strong spots tell: so many of such a gain, which
one chance map in fifty shows one of. Drift fitted to chance spots would make them stronger than chance does."""
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
    fitted, gains = _deconvolved(kernel_of(traces), background)
    for _ in range(DRIFT_ROUNDS):
        strong = gains >= DRIFT_GAIN
        if np.count_nonzero(strong) >= DRIFT_SPOTS:
            longer = (1.0 + season_drift(traces, fitted.shares(background)[strong])) / DRIFT_MEAN - 1.0
            fitted, gains = _deconvolved(kernel_of(traces.drifted(longer)), background)
    if len(gains) == 0:
        return ()
    order = np.argsort(-gains, kind="stable")
    counts = _chance_counts(traces, meetings, gains[order])
    sure = int(np.count_nonzero(counts <= SURE_CHANCE))
    shares = fitted.shares(background)[order]
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
    """How many spots are possible beyond the sure ones, by how many as strong chance puts on a map (k,).

    Those that are sure say nothing for the others: what chance puts among the possible ones is held against their
    own number.

    >>> possible_ones(np.array([0.2, 0.3, 3.0]))  # of two 0.3 are chance, of three all
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
    anchor = min(max(maps, 3), len(ordered)) - 1  # the gain that a map reaches once: more would be few to count
    if gain <= ordered[anchor]:
        return float(np.count_nonzero(chance_gains >= gain)) / maps
    return (anchor + 1) / maps * float(np.exp(-(gain - ordered[anchor])))


def _chance_counts(traces: Traces, meetings: Meetings, gains: Floats) -> Floats:
    """How many peaks of each gain or more a map drawn by chance shows."""
    maps = int(np.clip(CHANCE_CLIMBS // len(traces.east_m), 3, CHANCE_MAPS))
    chance = np.random.default_rng(SEED)
    gained = []
    for _ in range(maps):
        placed, background = meetings.drawn(traces, chance)
        gained.append(_deconvolved(kernel_of(placed), background)[1])
    drawn = np.concatenate(gained)
    return np.array([expected_by_chance(float(gain), drawn, maps) for gain in gains])


def _deconvolved(kernel: Kernel, background: Floats) -> tuple[_Mixture, Floats]:
    """All spots that add anything to speak of, and what each adds; alike for climbs flown and for chance."""
    rough, _ = _pruned(kernel, background, _grown(kernel, background))
    return _pruned(kernel, background, _fitted(kernel, background, rough, EM_STEPS))


def _peaks(kernel: Kernel, weight: Floats) -> Floats:
    """Places (k, 2) where the climbs' densities, weighed, pile up: local maxima at least `APART_M` apart."""
    from scipy.ndimage import maximum_filter

    west, south = float(kernel.east_m.min()) - GRID_M, float(kernel.north_m.min()) - GRID_M
    width, depth = float(kernel.east_m.max()) - west, float(kernel.north_m.max()) - south
    step = max(GRID_M, (width * depth / MOST_GRID) ** 0.5)
    columns, rows = int(width / step) + 3, int(depth / step) + 3
    field = np.zeros((rows, columns))
    volume = kernel.ee * kernel.nn - kernel.en**2
    reach_e, reach_n = REACH * np.sqrt(kernel.nn / volume), REACH * np.sqrt(kernel.ee / volume)
    first_column, last_column = _reached(kernel.east_m - west, reach_e, step, columns)
    first_row, last_row = _reached(kernel.north_m - south, reach_n, step, rows)
    height = kernel.repeated(weight) * kernel.height
    every_east, every_north = west + step * np.arange(columns), south + step * np.arange(rows)
    reached = np.stack([first_column, last_column, first_row, last_row], axis=1).tolist()
    for i, (c0, c1, r0, r1) in enumerate(reached):
        x, y = every_east[c0:c1] - kernel.east_m[i], every_north[r0:r1] - kernel.north_m[i]
        part = np.multiply.outer(y, -kernel.en[i] * x)
        part -= (0.5 * kernel.ee[i]) * x * x
        part -= ((0.5 * kernel.nn[i]) * y * y)[:, None]
        np.exp(part, out=part)
        part *= height[i]
        field[r0:r1, c0:c1] += part
    size = 2 * max(int(APART_M / step / 2.0), 1) + 1
    row, column = np.nonzero((field == maximum_filter(field, size, mode="constant")) & (field > 1.0))
    strongest = np.argsort(-field[row, column], kind="stable")[: 4 * MOST_SPOTS]
    return np.column_stack([west + step * column[strongest], south + step * row[strongest]])


def _reached(at_m: Floats, reach_m: Floats, step_m: float, count: int) -> tuple[Ints, Ints]:
    """First and last row or column, the last not included, within reach of places (m,)."""
    first = np.clip((at_m - reach_m) / step_m, 0, count).astype(np.int64)
    return first, np.clip((at_m + reach_m) / step_m + 2.0, 0, count).astype(np.int64)


def _gains(kernel: Kernel, intensity: Floats, places: Floats) -> tuple[Floats, Floats]:
    """Most log likelihood that a spot at each place adds to climbs of that intensity (n,), and its climbs."""
    if len(places) == 0:
        return np.empty(0), np.empty(0)
    return _best_strength(kernel.summed(kernel.densities(places)) / intensity)


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
    parts: Floats  # (k, m) densities of the kernel's parts
    densities: Floats  # (k, n)

    def intensity(self, background: Floats) -> Floats:
        """Climbs per square metre expected where each climb is (n,)."""
        return np.asarray(self.elsewhere * background + self.climbs @ self.densities)

    def shares(self, background: Floats) -> Floats:
        """How likely each climb is from each spot (k, n)."""
        return np.asarray(self.climbs[:, None] * self.densities / self.intensity(background))


def _grown(kernel: Kernel, background: Floats) -> _Mixture:
    """Spots added in rounds, the strongest first, until none adds more than `LEAST_GAIN`."""
    mixture = _mixture(kernel, np.empty((0, 2)), np.empty(0), 1.0)
    for _ in range(ROUNDS):
        intensity = mixture.intensity(background)
        found = _peaks(kernel, 1.0 / intensity)
        gains, climbs = _gains(kernel, intensity, found)
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
        mixture = _fitted(kernel, background, _mixture(kernel, places, sent, share), ROUGH_STEPS)
    return mixture


def _mixture(kernel: Kernel, places: Floats, climbs: Floats, elsewhere: float) -> _Mixture:
    """The mixture with its densities."""
    parts = kernel.densities(places)
    return _Mixture(places, climbs, elsewhere, parts, kernel.summed(parts))


def _fitted(kernel: Kernel, background: Floats, mixture: _Mixture, steps: int) -> _Mixture:
    """Places and climbs of the spots by so many steps of expectation and maximisation."""
    if len(mixture.places) == 0:
        return mixture
    ee, nn, en = kernel.ee, kernel.nn, kernel.en
    told = np.column_stack(
        [ee, nn, en, ee * kernel.east_m + en * kernel.north_m, en * kernel.east_m + nn * kernel.north_m]
    )
    for _ in range(steps):
        found = mixture.climbs[:, None] / mixture.intensity(background)
        climbs = np.maximum((found * mixture.densities).sum(axis=1), 1e-6)
        elsewhere = max(1.0 - float(climbs.sum()) / kernel.climbs, 0.02)
        by_part = np.concatenate([found] * (len(ee) // kernel.climbs), axis=1) * mixture.parts
        a, b, c, right_e, right_n = (by_part @ told).T
        volume = np.maximum(a * b - c * c, 1e-30)
        places = np.column_stack([(b * right_e - c * right_n) / volume, (a * right_n - c * right_e) / volume])
        mixture = _mixture(kernel, places, climbs, elsewhere)
    return mixture


def _pruned(kernel: Kernel, background: Floats, mixture: _Mixture) -> tuple[_Mixture, Floats]:
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
        thinner = _mixture(kernel, mixture.places[kept], mixture.climbs[kept], mixture.elsewhere)
        mixture = _fitted(kernel, background, thinner, ROUGH_STEPS)


def _each_adds(background: Floats, mixture: _Mixture) -> Floats:
    """What each spot adds to the likelihood of the others."""
    if len(mixture.places) == 0:
        return np.empty(0)
    whole = mixture.intensity(background)
    parts = mixture.climbs[:, None] * mixture.densities
    without = np.maximum(whole - parts, 1e-3 * background)
    return _best_strength(mixture.densities / without)[0]
