"""The sink polar of the wing, and what it achieved: from all glides of one flight, or of many.

Every glide is cut into blocks of 20 s. Speed traded for height inside a block is taken out
(dz + (V2^2 - V1^2) / 2g), speeds and sinks are brought to sea-level density (times the root of the density ratio),
and turns are left out. What remains scatters widely, because the air itself rises and sinks:
`flightlog.air.polar_statistics` weighs it against what the class of wing lets expect (M 6).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from flightlog.air.air import Air
from flightlog.air.polar_statistics import Pieces, sample_polars
from flightlog.air.stretches import GROUND_WAY_SHARE
from flightlog.air.turns import bank_from_turn_deg, load_factor
from flightlog.air.wing_polars import (
    PolarCandidates,
    WingExpectation,
    expectations,
    polar_coefficients,
    usual_weights,
)
from flightlog.arrays import Bools, Floats
from flightlog.earth.atmosphere import SEA_LEVEL_DENSITY_KGM3, STANDARD_GRAVITY_MPS2
from flightlog.estimates import NORMAL_95, Estimate
from flightlog.measures.results import ANY_WING, Glide, Performance, Polar, PolarBasis
from flightlog.motion.motion import Motion
from flightlog.phases.phases import FlightSpan, Phase
from flightlog.settings import Settings
from flightlog.wings import Wing

BLOCK_S = 20.0
CURVE_STEP_MPS = 0.5
LIFT_WORTH_A_WORD = 0.05
SLOWEST_SHARE, FASTEST_SHARE = 0.6, 1.8
"""Mean speed of glides in shares of the best-glide speed: from below the stall to beyond any full-speed flight."""
MEDIAN, ENDS = (0.5,), (0.025, 0.975)
"""The likeliest value and the ends of the 95 % interval, as quantiles."""
LEAST_GLIDE_S = 120.0
"""Less glide says next to nothing: no polar is given."""
LEAST_CIRCLING_S = 120.0
"""Less may be a single climb, flown as its thermal asked for."""


_NO_PIECES = Pieces(np.zeros(0, dtype=np.int64), *(np.zeros(0) for _ in range(5)))


@dataclass(frozen=True, eq=False)
class GlideBlocks:
    """Blocks of straight glide, k of them, in order of flight, glide and time; flights can be pooled."""

    pieces: Pieces
    straight_s: float = 0.0  # time of straight flight, whether climbing or gliding
    straight_climb_s: float = 0.0  # of it, climbing
    block_s: float = BLOCK_S
    circling_s: float = 0.0  # time in circles of climbs
    circling_way_m: float = 0.0  # through the air in it, at equivalent airspeeds as if the wings were level

    @property
    def glide_time_s(self) -> float:
        """Time that the blocks cover."""
        return self.pieces.glide.size * self.block_s

    @property
    def lift_share(self) -> float:
        """Share of the straight flight in which the pilot climbed, 0 to 1."""
        return self.straight_climb_s / self.straight_s if self.straight_s > 0 else 0.0

    @property
    def circling_mps(self) -> float | None:
        """Equivalent airspeed at which the pilot circles in climbs, the bank's share taken out (V / sqrt n).

        None from less than two minutes of circles.
        """
        return self.circling_way_m / self.circling_s if self.circling_s >= LEAST_CIRCLING_S else None


def glide_blocks(motion: Motion, air: Air, span: FlightSpan, settings: Settings) -> GlideBlocks:
    """Blocks of 20 s of all straight flight between climbs, launch and approach.

    Left out: the first and last seconds of every glide (`glide_settling_s`: speeding up, entering lift), blocks
    with a mean bank above `glide_greatest_bank_deg`, with a gap of the recording, and without a known airspeed.
    Lift flown straight through stays in, as sink does: leaving out the one alone would make the wing worse.
    """
    numbers, edges = [], []
    for number, (start_s, end_s) in enumerate(_straight_runs(span.phases, settings)):
        start_s, end_s = start_s + settings.glide_settling_s, end_s - settings.glide_settling_s
        count = int((end_s - start_s) // BLOCK_S)
        if count < 1:
            continue
        begin_s = start_s + 0.5 * (end_s - start_s - count * BLOCK_S)
        run: Floats = begin_s + BLOCK_S * np.arange(count + 1, dtype=np.float64)
        numbers.append(np.full(count, number))
        edges.append(np.stack([run[:-1], run[1:]]))
    climbing_s = sum(phase.end_s - phase.start_s for phase in span.phases if phase.mode == "straight")
    gliding_s = sum(phase.end_s - phase.start_s for phase in span.phases if phase.kind == "glide")
    circling_s, way_m = _circling(motion, air, span)
    pieces = _NO_PIECES
    if edges:
        good, columns = _columns(motion, air, np.concatenate(edges, axis=1), settings)
        pieces = Pieces(np.concatenate(numbers)[good], *(column[good] for column in columns))
    return GlideBlocks(pieces, gliding_s + climbing_s, climbing_s, circling_s=circling_s, circling_way_m=way_m)


def _circling(motion: Motion, air: Air, span: FlightSpan) -> tuple[float, float]:
    """Time in circles of climbs, s, and the way through the air in it, m, at level equivalent airspeeds.

    A turn of load factor n is flown sqrt(n) faster than level flight at the same angle of attack (references
    TRN-11); n is that of the mean airspeed and turn rate of a climb's circles.
    """
    climbs = [(p.start_s, p.end_s) for p in span.phases if p.kind == "climb" and p.mode == "circling"]
    if not climbs:
        return 0.0, 0.0
    fixes = np.flatnonzero((air.circling != 0) & np.isfinite(air.airspeed_mps) & np.isfinite(air.turn_rate_degps))
    columns = np.stack([air.airspeed_mps[fixes], np.abs(air.turn_rate_degps[fixes]), air.density_kgm3[fixes]])
    sums = np.concatenate([np.zeros((3, 1)), np.cumsum(columns, axis=1)], axis=1)
    first, stop = np.searchsorted(fixes, np.searchsorted(motion.time_s, np.array(climbs))).T
    known = stop > first
    count = (stop - first)[known]
    airspeed, turn_rate, density = (sums[:, stop] - sums[:, first])[:, known] / count
    load = load_factor(bank_from_turn_deg(airspeed, turn_rate))
    level = airspeed * np.sqrt(density / SEA_LEVEL_DENSITY_KGM3 / load)
    return float(count.sum()) * motion.interval_s, float(count @ level) * motion.interval_s


def pool_blocks(blocks: Iterable[GlideBlocks]) -> GlideBlocks:
    """The blocks of several flights of one wing as one; glides keep apart."""
    parts, offset, times = [], 0, np.zeros(4)
    for one in blocks:
        times += one.straight_s, one.straight_climb_s, one.circling_s, one.circling_way_m
        parts.append(replace(one.pieces, glide=one.pieces.glide + offset))
        offset += int(one.pieces.glide.max()) + 1 if one.pieces.glide.size else 0
    if not parts:
        return GlideBlocks(_NO_PIECES)
    names = ("glide", "time_s", "airspeed_mps", "sink_mps", "airspeed_sd_mps")
    joined = [np.concatenate([getattr(part, name) for part in parts]) for name in names]
    joined.append(
        np.concatenate([np.broadcast_to(part.airspeed_variance_m2ps2, part.glide.shape) for part in parts])
    )
    straight_s, climbing_s, circling_s, way_m = times.tolist()
    return GlideBlocks(Pieces(*joined), straight_s, climbing_s, circling_s=circling_s, circling_way_m=way_m)


def _straight_runs(phases: Sequence[Phase], settings: Settings) -> list[tuple[float, float]]:
    """Glides, joined across lift flown straight through."""
    runs: list[tuple[float, float]] = []
    for before, phase, after in zip((None, *phases), phases, (*phases[1:], None), strict=False):
        crossing = (
            phase.mode == "straight"
            and phase.end_s - phase.start_s <= settings.glide_crossing_s
            and before is not None
            and before.kind == "glide"
            and after is not None
            and after.kind == "glide"
        )
        if phase.kind != "glide" and not crossing:
            continue
        if runs and runs[-1][1] == phase.start_s:
            runs[-1] = (runs[-1][0], phase.end_s)
        else:
            runs.append((phase.start_s, phase.end_s))
    return runs


def _columns(motion: Motion, air: Air, edges: Floats, settings: Settings) -> tuple[Bools, list[Floats]]:
    """Which blocks between edges (2, k) are usable, and the columns of `Pieces` after the first, of all."""
    inner = np.linspace(0.0, BLOCK_S, 21)
    times = edges[0][:, None] + inner
    airspeed, turn_rate, density, wind_sd = (
        np.interp(times, motion.time_s, values)
        for values in (air.airspeed_mps, air.turn_rate_degps, air.density_kgm3, air.wind_sd_mps)
    )
    before_m, after_m = np.interp(edges, motion.time_s, motion.altitude_m)
    mean = airspeed.mean(axis=1)
    traded_m = (airspeed[:, -3:].mean(axis=1) ** 2 - airspeed[:, :3].mean(axis=1) ** 2) / (
        2 * STANDARD_GRAVITY_MPS2
    )
    sink = -(after_m - before_m + traded_m) / BLOCK_S
    root = np.sqrt(density.mean(axis=1) / SEA_LEVEL_DENSITY_KGM3)
    bank = np.degrees(np.arctan(mean * np.radians(np.abs(turn_rate).mean(axis=1)) / STANDARD_GRAVITY_MPS2))
    sd = np.hypot(wind_sd.mean(axis=1), 0.1) * root
    good = np.isfinite(mean) & np.isfinite(sink) & np.isfinite(sd) & (bank <= settings.glide_greatest_bank_deg)
    good &= (mean * root >= settings.glide_least_airspeed_mps) & _unbroken(motion, edges)
    middle = edges[0] + BLOCK_S / 2
    return good, [middle, mean * root, sink * root, sd, airspeed.var(axis=1) * root**2]


def _unbroken(motion: Motion, edges: Floats) -> Bools:
    """Which blocks have no gap of the recording in them."""
    last = motion.time_s.size - 1
    before = np.clip(np.searchsorted(motion.time_s, edges[0], side="right") - 1, 0, last)
    after = np.clip(np.searchsorted(motion.time_s, edges[1]), 0, last)
    return np.asarray(motion.piece[before] == motion.piece[after])


def draw_polars(blocks: GlideBlocks, expected: tuple[WingExpectation, ...]) -> PolarCandidates | None:
    """Polars the wing may have, after its glides: drawn for intervals, weighted for values (`usual_weights`).

    None from too little glide, and from glides at speeds that no wing of the class flies: something else is wrong.
    """
    if blocks.glide_time_s < LEAST_GLIDE_S:
        return None
    mean_mps = float(np.mean(blocks.pieces.airspeed_mps))
    shares = [mean_mps / one.best_glide_airspeed_mps for one in expected]
    if not any(SLOWEST_SHARE <= share <= FASTEST_SHARE for share in shares):
        return None
    ratio, airspeed, share = sample_polars(blocks.pieces, expected, blocks.lift_share, blocks.circling_mps).T
    even = np.full(ratio.size, 1.0 / ratio.size)
    told = blocks.circling_mps is not None
    draws = PolarCandidates(np.log(ratio), np.log(airspeed), share, even, (0.0, 0.0, 0.0), told)
    return replace(draws, weight=usual_weights(draws, expected))


def fit_polar(
    blocks: GlideBlocks, expected: tuple[WingExpectation, ...], draws: PolarCandidates | None = None
) -> Polar | None:
    """Sink polar in still air from blocks of glide and what the class lets expect; None from too little glide.

    `draws` are those of `draw_polars` for the same blocks, where they are already there.

    The value is the likeliest for a wing of its class (`usual_weights`); the interval is not drawn to the middle
    of the class, so that it holds the uncommon wings too.

    Measured on 528 wings of two simulators, drawn all over their classes and a little beyond, of other seeds
    than those by which it was made: the intervals held the best glide ratio in 0.96 and the least sink in 0.98
    of the wings, by class in 0.94 to 0.97 and 0.96 to 1.00, and in 0.90 and 0.96 of the 132 that lie beyond
    their class. Root mean square errors of wings within their class are 6.4 % and 0.066 m/s from an hour of
    thermic glide (paragliders 5.7 % and 0.062, hang gliders 8.6 % and 0.089, rigid wings 4.2 % and 0.036; 44 of
    each), 3.3 % and 0.037 m/s from half an hour of calm glide. On 186 wings of two more simulators, made by
    others, the hour gave 5.7 % and 0.060 m/s. (The speed of circling was measured on 216 of the 528, and set to
    what was measured there, 1.055 times that of least sink, on the others.)

    What stands in the way of better is the air. Vertical air of 0.6 m/s over 600 m, as simulated, leaves 0.09
    m/s to chance in the mean of an hour: 9 % of a hang glider's sink. On 24 such hours the errors of speed and
    height came to less than 0.02 m/s beside it. On 72 hours in thermic air, a fit that is told the very ranges
    from which the simulator draws its wings has 6.3 % and 0.062 m/s, where this one has 6.4 % and 0.060. Values
    weighed like intervals, without regard to what is usual, have 6.7 % on those 72 and 6.1 % on the 186; that of
    a wing well beyond its class is nearer by so (6.7 % in place of 7.9 % on the 132).

    The speeds of best glide and least sink lean on the class and on how pilots fly, unless the pilot flew at
    several speeds. Where pilots circle as is usual (`CIRCLING_SPEED_SHARE`), that lowers the error of the least
    sink by 6 to 8 %; where all circle 15 % faster or slower it rises by up to a tenth, and 0.95 to 0.98 of the
    intervals hold it. What no track can tell: a pilot who always finds the better line looks like one with a
    better wing.
    """
    draws = draws or draw_polars(blocks, expected)
    if draws is None:
        return None
    ratio, airspeed, share = np.exp(draws.log_ratio), np.exp(draws.log_airspeed), draws.share
    least_sink = airspeed * (1.0 + share) / (2.0 * ratio)
    figures = _estimates(np.stack([ratio, airspeed, least_sink, airspeed * share]), draws.weight).T.tolist()
    best_ratio, best_airspeed, min_sink, min_sink_airspeed = (Estimate(*row) for row in figures)
    ((low, high),) = _quantiles(blocks.pieces.airspeed_mps[None], (0.02, 0.98)).tolist()
    first = min(low, min_sink_airspeed.value)
    last = max(high, best_airspeed.value + 2.0)
    speeds = np.arange(math.floor(first / CURVE_STEP_MPS), math.ceil(last / CURVE_STEP_MPS) + 1) * CURVE_STEP_MPS
    a, b, c = polar_coefficients(ratio, airspeed, share).T
    sink = _estimates((a * speeds[:, None] + b) * speeds[:, None] + c, draws.weight).tolist()
    basis = PolarBasis(low, high, _leans_on(expected), blocks.circling_mps, blocks.lift_share)
    return Polar(
        airspeed_mps=tuple(speeds.tolist()),
        sink_mps=tuple(sink[0]),
        sink_low_mps=tuple(sink[1]),
        sink_high_mps=tuple(sink[2]),
        best_glide_ratio=best_ratio,
        best_glide_airspeed_mps=best_airspeed,
        min_sink_mps=min_sink,
        min_sink_airspeed_mps=min_sink_airspeed,
        glide_time_s=blocks.glide_time_s,
        density_reference_kgm3=SEA_LEVEL_DENSITY_KGM3,
        note=basis_words(blocks.glide_time_s, basis),
        basis=basis,
    )


def _leans_on(expected: tuple[WingExpectation, ...]) -> str:
    """What a polar leans on where the glides say little, in words."""
    if len(expected) != 1:
        return ANY_WING
    name = expected[0].name.replace("_", " ")
    return "the maker's polar" if name == "maker" else f"what is usual for a {name}"


def _metres_a_second(airspeed_mps: float, decimals: int = 0) -> str:
    """An airspeed without its unit."""
    return f"{airspeed_mps:.{decimals}f}"


def basis_words(
    glide_time_s: float,
    basis: PolarBasis,
    speed: Callable[[float], str] | None = None,
    unit: str = "m/s",
) -> str:
    """What a polar rests on, in words; `speed` and `unit` say airspeeds as a reader wants them, else in m/s.

    >>> basis_words(840.0, PolarBasis(9.2, 11.8, "what is usual for a paraglider", None, 0.0))
    'from 14 minutes of glide at 9 to 12 m/s; outside that range it leans on what is usual for a paraglider'
    """
    low, high = ((speed or _metres_a_second)(end) for end in (basis.airspeed_low_mps, basis.airspeed_high_mps))
    words = [
        f"from {glide_time_s / 60:.0f} minutes of glide at {low} to {high} {unit}",
        f"outside that range it leans on {basis.leans_on}",
    ]
    if basis.circling_mps is not None:
        circling = speed(basis.circling_mps) if speed else _metres_a_second(basis.circling_mps, 1)
        words.append(f"circling at {circling} {unit}, as if level, tells of the speed of least sink")
    if basis.straight_climb_share > LIFT_WORTH_A_WORD:
        share = f"{100.0 * basis.straight_climb_share:.0f} %"
        words.append(f"{share} of the straight flight climbed, so the air may have flattered the wing")
    return "; ".join(words)


def _estimates(draws: Floats, weight: Floats) -> Floats:
    """(3, k): value, low and high of each of k figures, from its draws (k, n) in rows and their weight (n,).

    The value is the median of the weighted draws, the interval that of all alike (`usual_weights`).
    """
    low, high = _quantiles(draws, ENDS).T
    places = np.searchsorted(np.cumsum(weight), (np.arange(weight.size) + 0.5) / weight.size)
    usual = np.take(draws, np.minimum(places, weight.size - 1), axis=1)
    value = np.clip(_quantiles(usual, MEDIAN)[:, 0], low, high)
    return np.stack([value, low, high])


def _quantiles(draws: Floats, shares: Sequence[float]) -> Floats:
    """Quantiles (k, q) of every row of the draws (k, n), as `np.quantile`; sorting whole rows is much faster."""
    ordered = np.sort(draws, axis=1)
    places = np.array(shares) * (draws.shape[1] - 1)
    before = places.astype(np.int64)
    low, high = ordered[:, before], ordered[:, np.minimum(before + 1, draws.shape[1] - 1)]
    return np.asarray(low + (high - low) * (places - before))


def measure_performance(
    glides: Sequence[Glide],
    blocks: GlideBlocks,
    settings: Settings,
    wing: Wing | None = None,
    draws: PolarCandidates | None = None,
) -> Performance:
    """What the wing achieved over all glides: way over height lost, lift and sink met included, and its polar.

    The intervals of the achieved ratios hold the errors of measurement alone; only `polar` speaks of still air.
    """
    time_s = float(sum(_duration_s(glide) for glide in glides))
    lost_m, lost_sd_m = _height_lost(glides)
    polar = fit_polar(blocks, expectations(settings.wing_class, wing), draws)
    if not (
        time_s > 0 and lost_m >= settings.glide_least_loss_m and lost_m / time_s >= settings.glide_least_sink_mps
    ):
        reason = "no glides" if time_s <= 0 else "the glides lost too little height for a ratio"
        return Performance(None, None, time_s, polar, reason)
    ground = _ratio(sum(g.distance_m for g in glides), GROUND_WAY_SHARE, lost_m, lost_sd_m)
    note = None if polar is not None else _why_no_polar(blocks)
    return Performance(ground, _air_ratio(glides, time_s, settings), time_s, polar, note)


def _why_no_polar(blocks: GlideBlocks) -> str:
    """Why `fit_polar` gave none."""
    if blocks.glide_time_s >= LEAST_GLIDE_S:
        return "no polar: the glides were flown at airspeeds that no wing of the class flies"
    return "too little straight glide at a known airspeed for a polar"


def _air_ratio(glides: Sequence[Glide], time_s: float, settings: Settings) -> Estimate | None:
    """Way through the air over height lost; None unless the airspeed is known in most of the glide time."""
    known = [(glide, glide.airspeed_mps) for glide in glides if glide.airspeed_mps is not None]
    known_s = sum(_duration_s(glide) for glide, _ in known)
    lost_m, lost_sd_m = _height_lost([glide for glide, _ in known])
    if known_s < 0.8 * time_s or not lost_m >= settings.glide_least_loss_m:
        return None
    way_m = sum(airspeed.value * _duration_s(glide) for glide, airspeed in known)
    # the wind's error is partly one vector for the whole flight, partly new in every glide: take the worse
    errors = np.array([_half_width(airspeed) * _duration_s(glide) for glide, airspeed in known])
    course = np.radians([glide.track_deg for glide, _ in known])
    shared_m = math.hypot(float((errors * np.sin(course)).sum()), float((errors * np.cos(course)).sum()))
    way_sd_m = max(shared_m, float(np.sqrt((errors**2).sum())))
    return _ratio(way_m, way_sd_m / way_m, lost_m, lost_sd_m)


def _height_lost(glides: Sequence[Glide]) -> tuple[float, float]:
    """Height lost over all glides and its standard deviation; NaN where that of a glide is not known."""
    lost_m, variance_m2 = 0.0, 0.0
    for glide in glides:
        if glide.height_lost_m is None or glide.sink_mps is None:
            return math.nan, math.nan
        lost_m += glide.height_lost_m
        variance_m2 += (_half_width(glide.sink_mps) * _duration_s(glide)) ** 2
    return lost_m, math.sqrt(variance_m2)


def _duration_s(glide: Glide) -> float:
    """Time of a glide, from its way and speed (its instants are rounded)."""
    return glide.distance_m / glide.ground_speed_mps if glide.ground_speed_mps > 0 else 0.0


def _half_width(estimate: Estimate) -> float:
    """Standard deviation behind a normal estimate."""
    return (estimate.high - estimate.low) / (2.0 * NORMAL_95)


def _ratio(way_m: float, way_sd_share: float, lost_m: float, lost_sd_m: float) -> Estimate:
    """Glide ratio with its log-normal interval."""
    spread = math.exp(NORMAL_95 * math.hypot(way_sd_share, lost_sd_m / lost_m))
    return Estimate(way_m / lost_m, way_m / lost_m / spread, way_m / lost_m * spread)
