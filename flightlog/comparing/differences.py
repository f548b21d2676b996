"""Where the time went: the difference between two pilots, shared out among what they did differently (M 9).

On a leg with the way D p flown gliding at the speed V, losing e for each metre, climbing at c, with the height dH
brought or found elsewhere and the time o spent on anything else, the time is by definition

    T = ts + p / V + (p e - dH) / c + o

with ts from the gate to the own start. Each of the seven is switched from one pilot's value to the other's in
every order; the mean change of T over all orders is its part (Shapley 1953). The parts add up to the difference.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache
from itertools import product

import numpy as np

from flightlog.arrays import Floats
from flightlog.comparing.crossings import Reached
from flightlog.comparing.pilots import Piece, PilotRecord
from flightlog.comparing.results import PARTS, Difference, LegDifference, Parts
from flightlog.comparing.words import difference_text
from flightlog.tasks.task import Task

LEAST_CLIMB_S, LEAST_CLIMB_MPS = 30.0, 0.1
"""A shorter or weaker climb of a leg counts as search: its rate would divide everything by next to nothing."""
LEAST_GLIDE_M = 200.0
"""A shorter way glided counts as search: its speed and slope say nothing."""
NO_HEIGHTS = "One of the logs has no altitudes: climbs count as search, and height and glide ratio are left out."
SAMPLES = 100
BOUNDARY_SD_S = 3.0
"""Of the moment at which one phase ends and the next begins (M 3: median 1 s, nine in ten within 3 to 6 s)."""
_VALUES = ("start_s", "glide_m", "glide_s", "loss_m", "climb_s", "gain_m", "other_s")
_DETOUR, _SPEED, _SLOPE, _CLIMB, _OTHER, _HEIGHT = 1, 2, 3, 4, 5, 6  # places in PARTS; 0 is the start


@dataclass(frozen=True)
class LegSums:
    """What one pilot did on a leg: times, way and heights of its glides and climbs, and their errors."""

    start_s: float
    glide_m: float
    glide_s: float
    loss_m: float
    climb_s: float
    gain_m: float
    other_s: float
    glide_sd_share: float = 0.0
    loss_sd_m: float = 0.0
    gain_sd_m: float = 0.0
    climb_edge_sd_s: float = 0.0
    other_edge_sd_s: float = 0.0
    has_heights: bool = True

    @property
    def time_s(self) -> float:
        """The whole time, from the gate on the first leg."""
        return math.fsum((self.start_s, self.glide_s, self.climb_s, self.other_s))


def leg_sums(pieces: Sequence[Piece], start_s: float = 0.0) -> LegSums:
    """The sums of a leg; what is too short to have a rate, or has no height, is taken as search."""
    by_kind = {
        kind: [piece.flown for piece in pieces if piece.kind == kind] for kind in ("glide", "climb", "search")
    }
    glides, climbs, others = by_kind["glide"], by_kind["climb"], by_kind["search"]
    sums = LegSums(
        start_s=start_s,
        glide_m=math.fsum(part.way_m for part in glides),
        glide_s=math.fsum(part.duration_s for part in glides),
        loss_m=-math.fsum(part.gain_m for part in glides),
        climb_s=math.fsum(part.duration_s for part in climbs),
        gain_m=math.fsum(part.gain_m for part in climbs),
        other_s=math.fsum(part.duration_s for part in others),
        glide_sd_share=max((part.way_sd_share for part in glides), default=0.0) / math.sqrt(max(len(glides), 1)),
        loss_sd_m=math.sqrt(math.fsum(part.gain_sd_m**2 for part in glides)),
        gain_sd_m=math.sqrt(math.fsum(part.gain_sd_m**2 for part in climbs)),
        climb_edge_sd_s=BOUNDARY_SD_S * math.sqrt(2 * len(climbs)),
        other_edge_sd_s=BOUNDARY_SD_S * math.sqrt(2 * len(others)),
    )
    if not math.isfinite(sums.loss_m + sums.gain_m):  # no altitudes: only times and ways are left to compare
        sums = replace(sums, loss_m=0.0, gain_m=0.0, loss_sd_m=0.0, gain_sd_m=0.0, has_heights=False)
    if sums.glide_m < LEAST_GLIDE_M:
        sums = replace(sums, glide_m=0.0, glide_s=0.0, loss_m=0.0, other_s=sums.other_s + sums.glide_s)
    climb_mps = sums.gain_m / sums.climb_s if sums.climb_s > 0.0 else 0.0
    if not climb_mps >= LEAST_CLIMB_MPS or sums.climb_s < LEAST_CLIMB_S:
        sums = replace(sums, climb_s=0.0, gain_m=0.0, other_s=sums.other_s + sums.climb_s)
    return sums


def without_heights(sums: LegSums) -> LegSums:
    """The leg by times and ways alone, climbs taken as search: where one of two logs has no altitudes."""
    return replace(sums, loss_m=0.0, gain_m=0.0, loss_sd_m=0.0, climb_s=0.0, other_s=sums.other_s + sums.climb_s)


def shared_out(own: LegSums, other: LegSums) -> Floats:
    """Seconds that `own` took more than `other` on a leg, by PARTS, (7,); they add up to the difference."""
    values = [{name: np.full(1, getattr(one, name)) for name in _VALUES} for one in (own, other)]
    factors = _factors(values[0], values[1]), _factors(values[1], values[0])
    has_climbs = own.climb_s > 0.0 or other.climb_s > 0.0
    return _shapley(factors[0], factors[1], has_climbs=has_climbs)[:, 0]


def _shapley(own: Floats, other: Floats, *, has_climbs: bool) -> Floats:
    """Parts of the difference in time, (7, k), between factors (7, k) of both."""
    chosen = _coalitions()[:, :, None]
    mixed = np.where(chosen, own[None], other[None])  # (128, 7, k)
    time_s = mixed[:, 0] + mixed[:, _DETOUR] / mixed[:, _SPEED] + mixed[:, _OTHER]
    if has_climbs:
        needed_m = mixed[:, _DETOUR] * mixed[:, _SLOPE] - mixed[:, _HEIGHT]
        time_s = time_s + needed_m / mixed[:, _CLIMB]
    return np.asarray(_weights() @ time_s)


@cache
def _coalitions() -> np.ndarray[tuple[int, int], np.dtype[np.bool_]]:
    """Every choice of the factors that are the own ones, (128, 7)."""
    return np.array(list(product((False, True), repeat=len(PARTS))))


@cache
def _weights() -> Floats:
    """What each choice counts in each part, (7, 128): the share of orders in which the part is switched there."""
    chosen = _coalitions()
    count = len(PARTS)
    size = chosen.sum(axis=1)
    before = np.array([math.factorial(k) * math.factorial(count - k - 1) for k in range(count)], dtype=np.float64)
    before /= math.factorial(count)
    rows = [
        np.where(chosen[:, part], before[np.maximum(size - 1, 0)], -before[np.minimum(size, count - 1)])
        for part in range(count)
    ]
    return np.array(rows)


def difference(record: PilotRecord, against: PilotRecord, task: Task) -> Difference | None:
    """How much more time one pilot took than another, and on what; None where they share no finished leg."""
    last = min(len(record.legs), len(against.legs), task.speed_end - task.start)
    if last < 1:
        return None
    note = None
    legs, parts, spread = [], np.zeros(len(PARTS)), np.zeros(len(PARTS))
    for leg in range(last):
        own, other = (_sums_of(one, leg) for one in (record, against))
        if not (own.has_heights and other.has_heights):
            own, other, note = without_heights(own), without_heights(other), NO_HEIGHTS
        found = shared_out(own, other)
        parts += found
        spread += _variance(own, other, seed=leg)
        names = (task.cylinders[task.start + leg].name, task.cylinders[task.start + leg + 1].name)
        legs.append(LegDifference(*names, math.fsum(found), Parts(*map(float, found))))
    starts = [one.progress.reached[0] for one in (record, against) if one.progress.gate_s is not None]
    spread[0] = math.fsum(start.time_sd_s**2 for start in starts)
    ends = [one.progress.reached[k] for one in (record, against) for k in (0, last)]
    total = Parts(*map(float, parts))
    to = task.cylinders[task.start + last].name
    total_sd_s = math.sqrt(math.fsum(end.time_sd_s**2 for end in _that_count(ends, record, against)))
    bare = Difference(
        pilot=record.name,
        against=against.name,
        total_s=math.fsum(parts),
        parts=total,
        to=to,
        total_sd_s=total_sd_s,
        parts_sd=Parts(*(float(value) for value in np.sqrt(spread))),
        legs=tuple(legs),
        text="",
        note=note,
    )
    return replace(bare, text=" ".join(filter(None, (difference_text(bare), note))))


def _that_count(ends: Sequence[Reached], record: PilotRecord, against: PilotRecord) -> list[Reached]:
    """The crossings whose errors stand in the sum: those of the start do not where the time runs from a gate."""
    counted = []
    for number, end in enumerate(ends):
        one = record if number < 2 else against
        if number % 2 == 1 or one.progress.gate_s is None:
            counted.append(end)
    return counted


def _sums_of(record: PilotRecord, leg: int) -> LegSums:
    """The sums of one leg; the first one has the time from the gate to the start."""
    progress = record.progress
    start_s = 0.0
    if leg == 0 and progress.gate_s is not None:
        start_s = progress.reached[0].time_s - progress.gate_s
    return leg_sums([piece for piece in record.pieces if piece.leg == leg], start_s)


def _variance(own: LegSums, other: LegSums, seed: int) -> Floats:
    """Variance of each part, (7,): from the errors of heights, ways and ends of phases; the times of legs stay."""
    rng = np.random.default_rng(seed)
    drawn = _drawn(own, rng), _drawn(other, rng)
    factors = [_factors(drawn[one], drawn[1 - one]) for one in (0, 1)]
    has_climbs = own.climb_s > 0.0 or other.climb_s > 0.0
    return np.asarray(_shapley(factors[0], factors[1], has_climbs=has_climbs).var(axis=1))


def _drawn(sums: LegSums, rng: np.random.Generator) -> dict[str, Floats]:
    """The leg as it may have been, so many times, each with the same whole time: the fields of LegSums, (k,)."""
    draws = rng.standard_normal((5, SAMPLES))
    most_s = 0.3 * min(sums.glide_s, sums.climb_s)
    to_climb = np.clip(draws[0] * sums.climb_edge_sd_s, -most_s, most_s)
    most_s = 0.3 * min(sums.glide_s, sums.other_s)
    to_other = np.clip(draws[1] * sums.other_edge_sd_s, -most_s, most_s)
    return {
        "start_s": np.full(SAMPLES, sums.start_s),
        "glide_m": sums.glide_m * (1.0 + draws[2] * sums.glide_sd_share),
        "glide_s": sums.glide_s - to_climb - to_other,
        "loss_m": sums.loss_m + draws[4] * sums.loss_sd_m * (sums.glide_s > 0.0),
        "climb_s": sums.climb_s + to_climb,
        "gain_m": np.maximum(sums.gain_m + draws[3] * sums.gain_sd_m, 0.3 * sums.gain_m) * (sums.climb_s > 0.0),
        "other_s": sums.other_s + to_other,
    }


def _factors(sums: dict[str, Floats], other: dict[str, Floats]) -> Floats:
    """The seven factors of a leg, (7, k), in the order of PARTS; one that it has no value of is the other's.

    Both hold k values of each field; a leg has glides or climbs in all of them or in none.
    """
    ones, noughts = np.ones_like(sums["start_s"]), np.zeros_like(sums["start_s"])
    glided = sums if sums["glide_s"][0] > 0.0 else other
    climbed = sums if sums["climb_s"][0] > 0.0 else other
    has_glide, has_climb = glided["glide_s"][0] > 0.0, climbed["climb_s"][0] > 0.0
    return np.stack([
        sums["start_s"],
        sums["glide_m"],
        glided["glide_m"] / glided["glide_s"] if has_glide else ones,
        glided["loss_m"] / glided["glide_m"] if has_glide else noughts,
        climbed["gain_m"] / climbed["climb_s"] if has_climb else ones,
        sums["other_s"],
        sums["loss_m"] - sums["gain_m"],
    ])  # fmt: skip
