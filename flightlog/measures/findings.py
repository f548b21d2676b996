"""What of a flight is worth telling: facts drawn from several of its results, and how telling each of them is.

`tellings.py` says what that means; what the climbs tell stands in `climb_findings.py`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

from flightlog.air.air import Air
from flightlog.air.wing_polars import expectations
from flightlog.estimates import NORMAL_95, Estimate, Wind
from flightlog.measures.polar_differences import PolarDifference, compare_with_maker, makers_figures
from flightlog.measures.polars import glide_blocks
from flightlog.measures.results import ANY_WING, Flight, Glide, Pass, SpeedToFly, WindBand
from flightlog.measures.tellings import PLAIN, clearness, share_of
from flightlog.motion.motion import Motion
from flightlog.phases.phases import FlightSpan
from flightlog.settings import Settings
from flightlog.wings import Wing

GROUND_STAKE = 0.3
"""Of what happens near the ground: it lasts seconds, but it is what a flight can end by."""
UNPUBLISHED = 0.25
"""Limits of a steady approach are published for aeroplanes only, and most landings on foot go beyond one of ours
(three of four on simulated days): what leans on them, or is a bare count, is a quarter."""
CLEAR_RUN_MPS = 2.5
"""What a run to 4 m/s shows once smoothed (simulated): handling the wing looks like it before one launch in 900;
slower ones are left to the launch table."""
NO_WIND_STAKE = 0.1
"""Without a wind every figure through the air is open: that is said before any small cost."""
ASKED_STAKE = 0.05
"""Who names a polar asks how it was met: that these glides cannot tell is said too."""
SEARCH_SHARE = 0.1
"""Of the flight: a tenth and more spent searching is told."""
SEARCH_TRUST = 0.83
"""How well search is told from other flying, F1 by the second (accuracy table of DEVELOPERS.md)."""
SILENT_SHARE = 0.02
"""Of the flight missing in the recording: more is told."""
WIND_CHANGE_95 = math.sqrt(5.991464547107979)
"""Radius of the 95 % region of a vector in the plane, in standard deviations of a component: root of the 0.95
quantile of chi-square with two degrees of freedom (any table of it)."""

WIND_CHANGE_TIME_S = Settings().wind_change_time_s
"""Winds further apart in time have little to do with each other: as the wind field has it."""
LEAST_WINDS = 3
"""Estimates of the wind that a band of height must rest on to be held against another (own)."""


@dataclass(frozen=True)
class GoArounds:
    """The passes surely broken off, and how well the height above the place was known at worst."""

    passes: tuple[Pass, ...]
    height_sd_m: float | None
    telling: float


def go_arounds(flight: Flight) -> GoArounds | None:
    """The go-arounds of a flight; they stake the time to the next tries, and what stands near the ground."""
    broken = tuple(one for one in flight.passes if one.outcome == "go_around" and one.certainty == "sure")
    if not broken:
        return None
    later_s = sum(one.seconds_to_next_s or 0.0 for one in broken)
    errors = [one.lowest_height_sd_m for one in broken if one.lowest_height_sd_m is not None]
    telling = GROUND_STAKE + min(share_of(later_s, flight), 1.0)
    return GoArounds(broken, max(errors, default=None), telling)


@dataclass(frozen=True)
class OddLaunch:
    """What set a launch apart; None, or 0, where it did not."""

    tailwind_mps: Estimate | None
    crosswind_mps: Estimate | None  # positive from the right
    aborted: int
    telling: float


def odd_launch(flight: Flight) -> OddLaunch | None:
    """Wind clearly from behind, clearly across and more so than along, or runs given up; None where none of it."""
    launch = flight.launch
    if launch is None:
        return None
    along, across = launch.headwind_mps, launch.crosswind_mps
    is_tail = along is not None and along.high < 0.0
    is_across = (
        across is not None and along is not None and clearness(across) > 0 and along.value < abs(across.value)
    )
    aborted = sum(run.top_speed_mps >= CLEAR_RUN_MPS for run in launch.aborted_runs or ())
    if not (is_tail or is_across or aborted):
        return None
    clear = max(
        clearness(along) if is_tail and along else 0.0,
        clearness(across) if is_across and across else 0.0,
        UNPUBLISHED if aborted else 0.0,
    )
    return OddLaunch(
        _turned(along) if is_tail and along else None,
        across if is_across else None,
        aborted,
        GROUND_STAKE * clear,
    )


def _turned(figure: Estimate) -> Estimate:
    """The figure with its sign turned."""
    return Estimate(-figure.value, -figure.high, -figure.low)


def unsteady_landing(flight: Flight) -> float | None:
    """How telling an unsteady landing is; None where it was steady, or none was seen."""
    if flight.approach is None or not flight.approach.unsteady:
        return None
    return GROUND_STAKE * UNPUBLISHED


@dataclass(frozen=True)
class GlidesInWind:
    """The glide ratios of all glides, and whether the wind's part in them is clear of none."""

    over_ground: Estimate
    through_air: Estimate | None
    is_clear: bool
    telling: float


def glides_in_wind(flight: Flight) -> GlidesInWind | None:
    """Whether the wind made the glides flatter or steeper over the ground than through the air.

    Both ratios have the height lost in common, so the interval of the one through the air, which holds the error
    of the wind too, is wide enough for their quotient.
    """
    ground, air = flight.performance.glide_ratio_ground, flight.performance.glide_ratio_air
    if ground is None:
        return None
    if air is None:
        return GlidesInWind(ground, None, False, PLAIN)
    quotient = Estimate(ground.value / air.value, ground.value / air.high, ground.value / air.low)
    clear = clearness(quotient, 1.0)
    stake = share_of(flight.performance.glide_time_s, flight) * abs(quotient.value - 1.0)
    return GlidesInWind(ground, air, clear > 0.0, clear * stake)


@dataclass(frozen=True)
class Claim:
    """The glides beside the maker's polar in the figure that shows most, else the best glide; `makers` is his."""

    difference: PolarDifference
    makers: float
    telling: float


def beside_the_maker(
    motion: Motion, air: Air, span: FlightSpan, flight: Flight, settings: Settings, wing: Wing | None
) -> Claim | None:
    """Whether the glides can be told from the maker's polar; None without such a polar, or with too little glide.

    As `compare_with_maker`: neither the maker nor the class says how good the wing is. Of the figures that are
    told apart the clearest is given; where none is, that of the best glide, else the first.
    """
    if wing is None or len(wing.polar) < 2:
        return None
    blocks = glide_blocks(motion, air, span, settings)
    differences = compare_with_maker(blocks, wing, expectations(settings.wing_class))
    if not differences:
        return None
    shown = max(
        differences, key=lambda one: (clearness(one.difference), one.figure == "best_glide_ratio"), default=None
    )
    if shown is None:
        return None
    speeds = () if shown.airspeed_mps is None else (shown.airspeed_mps,)
    makers = makers_figures(wing, speeds)[shown.figure, shown.airspeed_mps]
    stake = share_of(flight.performance.glide_time_s, flight) * abs(shown.difference.value) / makers
    return Claim(shown, makers, max(clearness(shown.difference) * stake, ASKED_STAKE))


@dataclass(frozen=True)
class WindChange:
    """The wind of a low and of a high band, how far apart in time they were met, and the vector between them."""

    low: WindBand
    high: WindBand
    change_mps: Estimate
    apart_s: float
    telling: float


def wind_change(flight: Flight) -> WindChange | None:
    """How the wind changed from a low band of height to a high one; None where that is within the errors.

    Of the bands that rest on `LEAST_WINDS` estimates or more, those two furthest apart in height that were met
    within `WIND_CHANGE_TIME_S` of each other, by the mean times of their estimates: else the change may be one of
    the hour. No wind takes part in that choice, so that no pair is picked because chance set it apart. Their
    errors count as if they knew nothing of each other. It stakes half of the change over the airspeed: so much the
    ground speed lies off its mean at either end.
    """
    pair = _bands_apart(flight)
    if pair is None:
        return None
    low, high, apart_s = pair
    change = math.hypot(high.wind.east_mps - low.wind.east_mps, high.wind.north_mps - low.wind.north_mps)
    se = math.hypot(low.wind.se_mps, high.wind.se_mps)
    if change <= WIND_CHANGE_95 * se:
        return None
    half = NORMAL_95 * se
    figure = Estimate(change, max(change - half, 0.0), change + half)
    return WindChange(low, high, figure, apart_s, clearness(figure) * change / 2.0 / _airspeed_mps(flight))


def _bands_apart(flight: Flight) -> tuple[WindBand, WindBand, float] | None:
    """The two bands furthest apart in height that were met near each other in time, and how near."""
    met = [(band, when_s) for band in flight.wind.profile if (when_s := _when_met_s(flight, band)) is not None]
    pairs = [
        (low, high, abs(later_s - sooner_s))
        for (low, sooner_s), (high, later_s) in combinations(met, 2)
        if abs(later_s - sooner_s) <= WIND_CHANGE_TIME_S
    ]
    return max(pairs, key=lambda pair: pair[1].altitude_low_m - pair[0].altitude_low_m, default=None)


def _when_met_s(flight: Flight, band: WindBand) -> float | None:
    """Mean time of the estimates in a band; None where it rests on next to nothing."""
    times = [
        one.time.timestamp()
        for one in flight.wind.estimates
        if one.altitude_m is not None and band.altitude_low_m <= one.altitude_m < band.altitude_high_m
    ]
    return sum(times) / len(times) if len(times) >= LEAST_WINDS else None


LEAST_AIRSPEED_MPS = 1.0
"""Whatever an odd log says, nothing flies slower."""
USUAL_AIRSPEED_MPS = 10.0
"""Of a foot-launched wing, where no glide tells it (trade knowledge, no source)."""


def _airspeed_mps(flight: Flight) -> float:
    """Mean airspeed of the glides."""
    known = [glide.airspeed_mps.value for glide in flight.glides if glide.airspeed_mps is not None]
    return max(sum(known) / len(known), LEAST_AIRSPEED_MPS) if known else USUAL_AIRSPEED_MPS


def searching(flight: Flight) -> float | None:
    """How telling the time spent searching is; None where it is little."""
    budget = flight.time_budget
    share = sum(part.share for part in budget.parts if part.kind == "search") if budget else 0.0
    return share * SEARCH_TRUST if share >= SEARCH_SHARE else None


@dataclass(frozen=True)
class DearSpeeds:
    """The glides whose airspeed surely cost something, as time or as height, and the one that cost most."""

    glides: int
    of: int
    cost: Estimate
    most: SpeedToFly
    telling: float


def speed_cost(flight: Flight, kind: str) -> DearSpeeds | None:
    """What flown airspeeds cost on the glides where the interval leaves out none; `kind` is `time` or `height`.

    The interval of the whole is that of `SpeedCost` in the results. None too where the whole is not clear of none,
    and where not even the class of the wing is known: on three real days it came out 1.4 to 2.4 times as long so
    as for a paraglider.
    """
    polar = flight.performance.polar
    if polar is not None and polar.basis is not None and polar.basis.leans_on == ANY_WING:
        return None
    totals = [(one, one.cost_s if kind == "time" else one.cost_m) for one in flight.speed_costs]
    total, cost = next(((one, cost) for one, cost in totals if cost is not None), (None, None))
    if total is None or cost is None or cost.low <= 0.0:
        return None
    most = max((one for one in flight.speed_to_fly if one.number in total.glides), key=_cost)
    whole = flight.duration_s if kind == "time" else _height_lost_m(flight.glides)
    telling = clearness(cost) * cost.value / max(whole, cost.value)
    return DearSpeeds(len(total.glides), total.of, cost, most, telling)


def _cost(one: SpeedToFly) -> float:
    """What one glide's speed cost, s or m."""
    cost = one.cost_s or one.cost_m
    return 0.0 if cost is None else cost.value


def _height_lost_m(glides: Sequence[Glide]) -> float:
    """Height lost in all glides."""
    return sum(glide.height_lost_m or 0.0 for glide in glides)


def silence(flight: Flight) -> float | None:
    """How telling it is that the recorder was silent; None where it hardly was."""
    budget = flight.time_budget
    share = budget.silent_s / budget.total_s if budget else 0.0
    return share if share >= SILENT_SHARE else None


def wind_half_width_mps(wind: Wind) -> float:
    """Half width of the 95 % interval of a wind's components."""
    return NORMAL_95 * wind.se_mps
