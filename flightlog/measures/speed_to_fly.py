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
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import timedelta

import numpy as np

from flightlog.air.air import Air
from flightlog.air.wing_polars import COARSE_SHAPE, PolarCandidates, candidates, expectations
from flightlog.arrays import Bools, Floats
from flightlog.earth.atmosphere import SEA_LEVEL_DENSITY_KGM3
from flightlog.estimates import NORMAL_95, Estimate, normal_estimate
from flightlog.measures.results import Climb, Glide, SpeedToFly
from flightlog.motion.motion import Motion
from flightlog.settings import Settings
from flightlog.wings import Wing

DRAWS = 400
SEED = 58
LEAST_CLIMB_MPS = 0.1
"""A climb that gained less was no goal to hurry to: the theory would ask for a share of an hour."""
FASTEST_SHARE = {"paraglider": 1.45}
OTHER_FASTEST_SHARE = 1.7
"""Top airspeed over best-glide airspeed: paragliders at full speed system, other wings at the bar's end (trade
knowledge, no source); the fastest point of a wing file's polar goes before it."""
_SETTLED = timedelta(seconds=1.5)
_UNKNOWN_AIRSPEED = "the airspeed is not known"
_NO_POLAR = "no polar: too little glide, and no wing file"

NEXT_CLIMB, OVER_GROUND = "next_climb", "best_glide_over_ground"
_ASSUMED = {
    NEXT_CLIMB: (
        "as if the climb that followed had been known beforehand and drifted with the wind, "
        "and the air had moved the same at any speed"
    ),
    OVER_GROUND: "the flattest glide over the ground, as if air and wind had been the same at any speed",
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


def measure_speed_to_fly(
    motion: Motion,
    air: Air,
    glides: Sequence[Glide],
    climbs: Sequence[Climb],
    settings: Settings,
    wing: Wing | None = None,
    polars: PolarCandidates | None = None,
) -> tuple[SpeedToFly, ...]:
    """The speed to fly of every glide.

    `polars` are the draws of the wing's polar after the flight's glides; without them the polar of the wing file
    serves, and without that nothing is said. The interval of every figure passes on the polar's, that of the
    airspeed and that of the sink. A polar fitted to the same glides takes their mean air motion for none.
    """
    drawn, source = _polar_draws(settings, wing, polars)
    noise = np.random.default_rng(SEED).standard_normal((2, DRAWS))
    fastest_mps = None if drawn is None else _fastest_mps(drawn, settings, wing)
    rows = []
    for glide in glides:
        bare = _bare(glide, climbs)
        if drawn is None or fastest_mps is None or glide.airspeed_mps is None:
            rows.append(replace(bare, note=_UNKNOWN_AIRSPEED if drawn is not None else _NO_POLAR))
            continue
        root = _density_root(motion, air, glide)
        rows.append(_judged(bare, _Flown.of(glide, drawn, noise, root), fastest_mps, source))
    return tuple(rows)


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
    following = [
        climb.mean_climb_mps.value
        for climb in climbs
        if climb.mean_climb_mps is not None and climb.start >= glide.end - _SETTLED
    ]
    climb_mps = following[0] if following else None
    is_goal = climb_mps is not None and climb_mps >= LEAST_CLIMB_MPS
    return SpeedToFly(
        number=glide.number,
        reference=NEXT_CLIMB if is_goal else OVER_GROUND,
        climb_mps=climb_mps,
        tailwind_mps=glide.tailwind_mps,
        air_mps=None,
        flown_airspeed_mps=glide.airspeed_mps,
        flown_equivalent_mps=None,
        best_airspeed_mps=None,
        best_equivalent_mps=None,
        cost_s=None,
        cost_m=None,
    )


def _density_root(motion: Motion, air: Air, glide: Glide) -> float:
    """Equivalent over true airspeed, mean of the glide."""
    start_s, end_s = glide.start.timestamp(), glide.end.timestamp()
    times = np.linspace(start_s, end_s, 9)
    return math.sqrt(float(np.interp(times, motion.time_s, air.density_kgm3).mean()) / SEA_LEVEL_DENSITY_KGM3)


@dataclass(frozen=True, eq=False)
class _Flown:
    """One glide as drawn DRAWS times, in equivalent speeds; `root` makes them true."""

    coefficients: Floats  # (DRAWS, 3)
    airspeed_mps: Floats  # (DRAWS,)
    sink_mps: Floats
    air_mps: Floats
    ground_speed_mps: float
    duration_s: float
    root: float

    @classmethod
    def of(cls, glide: Glide, drawn: Floats, noise: Floats, root: float) -> _Flown:
        """The glide's speeds with their errors; the air is what its sink has over the polar's."""
        speed, lost = glide.airspeed_mps, glide.sink_mps
        if speed is None or lost is None:
            raise ValueError("the airspeed or the sink of the glide is not known")
        airspeed = root * np.maximum(speed.value + noise[0] * _sd(speed), 1.0)
        sink = root * (lost.value + noise[1] * _sd(lost))
        ground = root * glide.ground_speed_mps
        duration_s = glide.distance_m / glide.ground_speed_mps if glide.ground_speed_mps > 0 else 0.0
        return cls(drawn, airspeed, sink, _sink(drawn, airspeed) - sink, ground, duration_s, root)


def _sd(estimate: Estimate) -> float:
    """Standard deviation behind a normal estimate."""
    return (estimate.high - estimate.low) / (2.0 * NORMAL_95)


def _judged(bare: SpeedToFly, flown: _Flown, fastest_mps: Floats, source: str) -> SpeedToFly:
    """The best speed and the cost of the flown one."""
    speed = bare.flown_airspeed_mps
    row = replace(
        bare,
        air_mps=_estimate(flown.air_mps / flown.root),
        flown_equivalent_mps=None
        if speed is None
        else normal_estimate(speed.value * flown.root, _sd(speed) * flown.root),
    )
    limit = np.maximum(fastest_mps, flown.airspeed_mps)
    if bare.reference == NEXT_CLIMB and bare.climb_mps is not None:
        climb = bare.climb_mps * flown.root
        wanted = speed_to_next_climb_mps(flown.coefficients, climb, flown.air_mps)
        best = np.minimum(wanted, limit)
        cost = _time_cost_s(flown, best, climb)
        nothing = "the air on the way rose faster than the climb that followed: there is no speed to fly"
    else:
        tailwind = flown.ground_speed_mps - flown.airspeed_mps
        wanted = speed_over_ground_mps(flown.coefficients, tailwind, flown.air_mps)
        best = np.minimum(wanted, limit)
        cost = _height_cost_m(flown, best)
        nothing = "the air held the wing up, or the wind stopped it: there is no best glide"
    known: Bools = np.isfinite(cost)
    if known.mean() < 0.5:
        return replace(row, note=nothing)
    best = best[known]
    cost_estimate = _cost(np.maximum(cost[known], 0.0), flown.airspeed_mps[known] - best)
    is_time = bare.reference == NEXT_CLIMB
    return replace(
        row,
        best_airspeed_mps=_estimate(best / flown.root),
        best_equivalent_mps=_estimate(best),
        cost_s=cost_estimate if is_time else None,
        cost_m=None if is_time else cost_estimate,
        note=_note(bare, source, capped=bool(np.mean(wanted[known] > limit[known]) > 0.5)),
    )


def _time_cost_s(flown: _Flown, best_mps: Floats, climb_mps: float) -> Floats:
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


def _cost(cost: Floats, off_mps: Floats) -> Estimate:
    """Cost with its interval, from 0 where the flown speed may have been the best: then draws only come near 0."""
    estimate, off = _estimate(cost), _estimate(off_mps)
    return replace(estimate, low=0.0) if off.low <= 0.0 <= off.high else estimate


def _note(bare: SpeedToFly, source: str, *, capped: bool) -> str:
    """The assumptions in words."""
    words = [f"by {source}", _ASSUMED[bare.reference]]
    if bare.reference == OVER_GROUND and bare.climb_mps is not None:
        words.append("the climb that followed gained next to nothing")
    if capped:
        words.append("theory asks for more than the wing can fly: its greatest speed is given")
    return "; ".join(words)


def _estimate(draws: Floats) -> Estimate:
    """Median and 95 % interval of draws, to the nearest draw."""
    ordered = np.sort(draws)
    value, low, high = (float(ordered[round(share * (draws.size - 1))]) for share in (0.5, 0.025, 0.975))
    return Estimate(value, low, high)
