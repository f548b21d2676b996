"""The speed to fly of every glide: what would have been best in the air that was met, and what another speed cost.

Classical theory (MacCready, "Optimum Airspeed Selector", Soaring 1958; Reichmann, Streckensegelflug, 1978): with a
sink polar w(V) = a V^2 + b V + c, air that moves up by m, and a climb of M waiting at the end, the time for the
way and the climb together is least where V w'(V) = w(V) + M - m, which is V = sqrt((c + M - m) / a). On the last
glide, with no climb to come, the flattest way over the ground is flown where (V + t) w'(V) = w(V) - m, t being the
tailwind: V = -t + sqrt(t^2 + (c - m - b t) / a). All in equivalent airspeed: true speeds, winds and sinks are
multiplied by the root of the density ratio, which leaves every ratio as it is.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from flightlog.air.air import Air
from flightlog.air.wing_polars import COARSE_SHAPE, PolarCandidates, candidates, expectations
from flightlog.arrays import Bools, Floats
from flightlog.earth.atmosphere import SEA_LEVEL_DENSITY_KGM3
from flightlog.estimates import NORMAL_95, Estimate
from flightlog.measures.climbs_to_come import climb_to_come
from flightlog.measures.results import Climb, Glide, SpeedCost, SpeedToFly
from flightlog.motion.motion import Motion
from flightlog.settings import Settings
from flightlog.wings import Wing

DRAWS = 400
SEED = 58
FASTEST_SHARE = {"paraglider": 1.45}
OTHER_FASTEST_SHARE = 1.7
"""Top airspeed over best-glide airspeed: paragliders at full speed system, other wings at the bar's end (trade
knowledge, no source); the fastest point of a wing file's polar goes before it."""
_UNKNOWN_AIRSPEED = "the airspeed is not known"
_NO_POLAR = "no polar of the wing, neither from these glides nor from a wing file"

NEXT_CLIMB, OVER_GROUND = "next_climb", "best_glide_over_ground"
_ASSUMED = {
    NEXT_CLIMB: (
        "as if the climb that followed had been known beforehand, won the height back at its mean rate and "
        "drifted with the wind, and the air had moved the same at any speed"
    ),
    OVER_GROUND: "the flattest glide over the ground, as if air and wind had been the same at any speed",
}

_NO_BEST = {
    NEXT_CLIMB: "the air on the way rose faster than the climb that followed: there is no speed to fly",
    OVER_GROUND: "the air held the wing up, or the wind stopped it: there is no best glide",
}


def speed_to_next_climb_mps(
    coefficients: Floats, climb_mps: Floats | float, air_mps: Floats | float = 0.0
) -> Floats:
    """Airspeed that takes least time to the top of the next climb.

    Parameters
    ----------
    coefficients : (..., 3) array
        a, b, c of sinks a V^2 + b V + c, m/s.
    climb_mps, air_mps : float or (...) array
        The climb to come, and how the air moves on the way, both upward positive, at the polar's density.

    Returns
    -------
    (...) array, m/s
        NaN where the air rises faster on the way than the climb will: nobody should hurry to that.

    Examples
    --------
    >>> float(speed_to_next_climb_mps(np.array([0.01, -0.16, 1.64]), 1.0).round(5))
    16.24808
    """
    a, b, c = np.moveaxis(np.asarray(coefficients, dtype=np.float64), -1, 0)
    wanted = climb_mps - np.asarray(air_mps, dtype=np.float64)
    reachable = c - b * b / (4.0 * a) + wanted > 0.0
    return np.sqrt(np.where(reachable, (c + wanted) / a, np.nan))


def speed_over_ground_mps(
    coefficients: Floats, tailwind_mps: Floats | float, air_mps: Floats | float = 0.0
) -> Floats:
    """Airspeed of the best glide ratio over the ground, arguments as in `speed_to_next_climb_mps`.

    NaN where the air holds the wing up, or where the wind is so strong that no airspeed with a best exists.

    >>> float(speed_over_ground_mps(np.array([0.01, -0.16, 1.64]), -5.0).round(5))
    15.44031
    """
    a, b, c = np.moveaxis(np.asarray(coefficients, dtype=np.float64), -1, 0)
    air = np.asarray(air_mps, dtype=np.float64)
    sinking = c - b * b / (4.0 * a) - air > 0.0
    inside = tailwind_mps**2 + (c - air - b * tailwind_mps) / a
    return np.sqrt(np.where(sinking & (inside > 0.0), inside, np.nan)) - tailwind_mps


def cross_country_speed_mps(
    coefficients: Floats, airspeed_mps: Floats | float, climb_mps: Floats | float, air_mps: Floats | float = 0.0
) -> Floats:
    """Mean speed through the air of glides at this airspeed and climbs that win the height back.

    >>> float(cross_country_speed_mps(np.array([0.01, -0.16, 1.64]), 16.24808, 1.0).round(5))
    6.06202
    """
    sink = _sink(np.asarray(coefficients, dtype=np.float64), np.asarray(airspeed_mps, dtype=np.float64)) - air_mps
    return np.asarray(airspeed_mps * climb_mps / (climb_mps + sink), dtype=np.float64)


def _sink(coefficients: Floats, airspeed_mps: Floats) -> Floats:
    """Sink of the polars at these airspeeds."""
    a, b, c = np.moveaxis(coefficients, -1, 0)
    return np.asarray((a * airspeed_mps + b) * airspeed_mps + c)


@dataclass(frozen=True)
class SpeedReview:
    """The speed to fly of every glide, and the totals of their costs, one for each kind of goal that has any."""

    speeds: tuple[SpeedToFly, ...]
    costs: tuple[SpeedCost, ...] = ()


def measure_speed_to_fly(
    motion: Motion,
    air: Air,
    glides: Sequence[Glide],
    climbs: Sequence[Climb],
    settings: Settings,
    wing: Wing | None = None,
    polars: PolarCandidates | None = None,
) -> SpeedReview:
    """The speed to fly of every glide, and what the flown ones cost together.

    `polars` are the draws of the wing's polar after the flight's glides; without them the polar of the wing file
    serves, and without that nothing is said. The interval of every figure passes on the polar's, that of the
    airspeed and that of the sink; that of the climb to come, a few hundredths of a m/s, is left out. A polar
    fitted to the same glides takes their mean air motion for none.
    """
    drawn, source = _polar_draws(settings, wing, polars)
    rows = [_bare(glide, climbs) for glide in glides]
    if drawn is None:
        return SpeedReview(tuple(replace(row, note=_NO_POLAR) for row in rows))
    noise = np.random.default_rng(SEED).standard_normal((len(glides), 2, DRAWS))
    costs: list[SpeedCost] = []
    fastest_mps = _fastest_mps(drawn, settings, wing)
    told = [i for i, glide in enumerate(glides) if glide.airspeed_mps is not None and glide.sink_mps is not None]
    rows = [row if i in told else replace(row, note=_UNKNOWN_AIRSPEED) for i, row in enumerate(rows)]
    for reference in (NEXT_CLIMB, OVER_GROUND):
        places = [i for i in told if rows[i].reference == reference]
        if not places:
            continue
        flown = _Flown.of([glides[i] for i in places], drawn, noise[places], motion, air)
        bests = _bests([rows[i] for i in places], flown, fastest_mps)
        judged = list(_judged([rows[i] for i in places], flown, bests, source))
        costs += _total(judged, bests.cost)
        for i, row in zip(places, judged, strict=True):
            rows[i] = row
    return SpeedReview(tuple(rows), tuple(costs))


def _polar_draws(
    settings: Settings, wing: Wing | None, polars: PolarCandidates | None
) -> tuple[Floats | None, str]:
    """(DRAWS, 3): a, b, c of polars of equal weight, and where they come from; None where no polar is known."""
    source = "the polar fitted to this flight"
    if polars is None:
        expected = expectations(settings.wing_class, wing)
        if expected[0].name != "maker":
            return None, ""
        polars, source = candidates(expected, COARSE_SHAPE), "the polar of the wing file"
    places = np.searchsorted(np.cumsum(polars.weight), (np.arange(DRAWS) + 0.5) / DRAWS)
    return polars.coefficients()[np.minimum(places, polars.weight.size - 1)], source


def _fastest_mps(drawn: Floats, settings: Settings, wing: Wing | None) -> Floats:
    """(DRAWS,) the greatest equivalent airspeed that the wing can be asked for."""
    if wing is not None and len(wing.polar) >= 3:
        return np.full(DRAWS, wing.polar[-1][0])
    share = FASTEST_SHARE.get(settings.wing_class, OTHER_FASTEST_SHARE)
    return np.asarray(share * np.sqrt(drawn[:, 2] / drawn[:, 0]))


def _bare(glide: Glide, climbs: Sequence[Climb]) -> SpeedToFly:
    """What is known without a polar."""
    goal = climb_to_come(glide, climbs)
    return SpeedToFly(
        number=glide.number,
        reference=NEXT_CLIMB if goal.won_back else OVER_GROUND,
        climb_mps=goal.climb_mps,
        tailwind_mps=glide.tailwind_mps,
        air_mps=None,
        flown_airspeed_mps=glide.airspeed_mps,
        flown_equivalent_mps=glide.equivalent_airspeed_mps,
        best_airspeed_mps=None,
        best_equivalent_mps=None,
        cost_s=None,
        cost_m=None,
        note=goal.remark,
    )


def _density_roots(motion: Motion, air: Air, glides: Sequence[Glide]) -> Floats:
    """Equivalent over true airspeed, mean of each glide."""
    ends = np.array([(glide.start.timestamp(), glide.end.timestamp()) for glide in glides]).reshape(-1, 2)
    times = np.linspace(ends[:, 0], ends[:, 1], 9, axis=1)
    density = np.interp(times, motion.time_s, air.density_kgm3).mean(axis=1)
    return np.asarray(np.sqrt(density / SEA_LEVEL_DENSITY_KGM3))


@dataclass(frozen=True, eq=False)
class _Flown:
    """The k glides, each as drawn DRAWS times, in equivalent speeds; `root` makes them true."""

    coefficients: Floats  # (DRAWS, 3)
    airspeed_mps: Floats  # (k, DRAWS)
    sink_mps: Floats
    air_mps: Floats
    ground_speed_mps: Floats  # (k, 1)
    duration_s: Floats
    root: Floats

    @classmethod
    def of(cls, glides: Sequence[Glide], drawn: Floats, noise: Floats, motion: Motion, air: Air) -> _Flown:
        """The speeds of glides with their errors; the air is what their sink has over the polar's."""
        root = _density_roots(motion, air, glides)[:, None]
        speed, speed_sd = _columns([glide.airspeed_mps for glide in glides])
        lost, lost_sd = _columns([glide.sink_mps for glide in glides])
        ground = np.array([glide.ground_speed_mps for glide in glides])[:, None]
        way = np.array([glide.distance_m for glide in glides])[:, None]
        airspeed = root * np.maximum(speed + noise[:, 0] * speed_sd, 1.0)
        sink = root * (lost + noise[:, 1] * lost_sd)
        duration = np.divide(way, ground, out=np.zeros_like(ground), where=ground > 0)
        return cls(drawn, airspeed, sink, _sink(drawn, airspeed) - sink, root * ground, duration, root)


def _columns(estimates: Sequence[Estimate | None]) -> tuple[Floats, Floats]:
    """Values and standard deviations of normal estimates, (k, 1) each; NaN where one is not known."""
    pairs = [(one.value, _sd(one)) if one is not None else (math.nan, math.nan) for one in estimates]
    table = np.array(pairs).reshape(-1, 2)
    return table[:, :1], table[:, 1:]


def _sd(estimate: Estimate) -> float:
    """Standard deviation behind a normal estimate."""
    return (estimate.high - estimate.low) / (2.0 * NORMAL_95)


@dataclass(frozen=True, eq=False)
class _Bests:
    """Of glides with one kind of goal, (k, DRAWS) each."""

    wanted_mps: Floats  # best speed by theory
    best_mps: Floats  # the same as far as the wing can fly it
    cost: Floats  # s or m; NaN where there is no best


def _bests(rows: Sequence[SpeedToFly], flown: _Flown, fastest_mps: Floats) -> _Bests:
    """The best speeds of glides with one kind of goal, and what the flown ones cost."""
    is_time = rows[0].reference == NEXT_CLIMB
    climb_mps = np.array([row.climb_mps for row in rows], dtype=np.float64)[:, None] * flown.root
    wanted = _wanted_mps(flown, climb_mps if is_time else None)
    best = np.minimum(wanted, np.maximum(fastest_mps, flown.airspeed_mps))
    cost = _time_cost_s(flown, best, climb_mps) if is_time else _height_cost_m(flown, best)
    return _Bests(wanted, best, np.where(np.isfinite(cost), np.maximum(cost, 0.0), np.nan))


def _judged(rows: Sequence[SpeedToFly], flown: _Flown, bests: _Bests, source: str) -> Iterator[SpeedToFly]:
    """The best speed of glides with one kind of goal, and the cost of the flown one."""
    is_time = rows[0].reference == NEXT_CLIMB
    best, cost = bests.best_mps, bests.cost
    known: Bools = np.isfinite(cost)
    count = known.sum(axis=1)
    capped = ((bests.wanted_mps > best) & known).sum(axis=1) > 0.5 * count
    best = np.where(known, best, np.nan)
    draws = np.concatenate(
        [
            flown.air_mps / flown.root,
            best / flown.root,
            best,
            flown.airspeed_mps - best,
            cost,
        ]
    )
    found = _estimates(draws)
    true_air, true_best, equivalent, off, lost = (found[k * len(rows) : (k + 1) * len(rows)] for k in range(5))
    for i, row in enumerate(rows):
        if count[i] < 0.5 * DRAWS:
            note = _NO_BEST[row.reference]
            yield replace(row, air_mps=true_air[i], note=note)
            continue
        cost_estimate = _cost(lost[i], off[i])
        yield replace(
            row,
            air_mps=true_air[i],
            best_airspeed_mps=true_best[i],
            best_equivalent_mps=equivalent[i],
            cost_s=cost_estimate if is_time else None,
            cost_m=None if is_time else cost_estimate,
            note=_note(row, source, capped=bool(capped[i])),
        )


def _total(rows: Sequence[SpeedToFly], costs: Floats) -> Iterator[SpeedCost]:
    """What the glides whose own interval leaves out none cost together; nothing where there is no such glide.

    Every draw of `costs` (k, DRAWS) is summed over the glides: the polar's error, which they share, adds up, and
    the errors of each glide's own speed and sink, taken as independent, level out.
    """
    is_time = rows[0].reference == NEXT_CLIMB
    known = [row.cost_s if is_time else row.cost_m for row in rows]
    clear = [i for i, cost in enumerate(known) if cost is not None and cost.low > 0.0]
    if not clear:
        return
    (total,) = _estimates(_filled(costs[clear]).sum(axis=0, keepdims=True))
    yield SpeedCost(
        reference=rows[0].reference,
        glides=tuple(rows[i].number for i in clear),
        of=sum(cost is not None for cost in known),
        cost_s=total if is_time else None,
        cost_m=None if is_time else total,
    )


def _filled(draws: Floats) -> Floats:
    """The draws with the usual one of the glide in place of those that are not known."""
    return np.where(np.isfinite(draws), draws, np.nanmedian(draws, axis=1)[:, None])


def _wanted_mps(flown: _Flown, climb_mps: Floats | None) -> Floats:
    """The best speed by theory for the climb that followed, or over the ground where there is none."""
    if climb_mps is not None:
        return speed_to_next_climb_mps(flown.coefficients, climb_mps, flown.air_mps)
    tailwind = flown.ground_speed_mps - flown.airspeed_mps
    return speed_over_ground_mps(flown.coefficients, tailwind, flown.air_mps)


def _time_cost_s(flown: _Flown, best_mps: Floats, climb_mps: Floats) -> Floats:
    """Time of the glide and of climbing back what it lost, less that at the best speed, over the same air."""
    sink = _sink(flown.coefficients, best_mps) - flown.air_mps
    took = 1.0 + flown.sink_mps / climb_mps
    least = flown.airspeed_mps / best_mps * (1.0 + sink / climb_mps)
    return np.asarray(flown.duration_s * (took - least))


def _height_cost_m(flown: _Flown, best_mps: Floats) -> Floats:
    """Height lost, less that at the best speed, over the same ground; NaN where it would not get on at all."""
    speed = best_mps + flown.ground_speed_mps - flown.airspeed_mps
    sink = _sink(flown.coefficients, best_mps) - flown.air_mps
    share = flown.ground_speed_mps / np.where(speed > 0.0, speed, np.nan)
    return np.asarray(flown.duration_s / flown.root * (flown.sink_mps - share * sink))


def _cost(cost: Estimate, off_mps: Estimate) -> Estimate:
    """Cost with its interval, from 0 where the flown speed may have been the best: then draws only come near 0."""
    return replace(cost, low=0.0) if off_mps.low <= 0.0 <= off_mps.high else cost


def _note(bare: SpeedToFly, source: str, *, capped: bool) -> str:
    """The assumptions in words."""
    words = [f"by {source}", _ASSUMED[bare.reference]]
    if bare.note is not None:
        words.append(bare.note)
    if capped:
        words.append("theory asks for more than the wing can fly: its greatest speed is given")
    return "; ".join(words)


def _estimates(draws: Floats) -> list[Estimate]:
    """Median and 95 % interval of the known draws of each row, to the nearest draw."""
    ordered = np.sort(draws, axis=1)  # what is not known goes to the end
    last = np.maximum(np.isfinite(draws).sum(axis=1) - 1, 0)
    places = np.rint(last[:, None] * np.array([0.5, 0.025, 0.975])).astype(np.int64)
    return [Estimate(*row) for row in np.take_along_axis(ordered, places, axis=1).tolist()]
