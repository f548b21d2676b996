"""What of a flight is worth telling: facts drawn from several of its results, and how telling each of them is.

How telling a fact is, is its stake times how clear it is. The stake is the share of the flight that it moves: time
lost or won over the time of the flight, a change of the wind over the airspeed, and so on, so that unlike things
can be put in one order. Clear is 0 while the 95 % interval holds the value that would say nothing (no wind, no
cost, a well centred circle), 0.5 where it just leaves it out, and 1 from twice that far on. Both are this
project's own convention: they choose what is said first, and are shown to nobody. All thresholds stand here.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from flightlog.air.air import Air
from flightlog.air.wing_polars import expectations
from flightlog.estimates import NORMAL_95, Estimate, Wind
from flightlog.measures.polar_differences import PolarDifference, compare_with_maker, makers_figures
from flightlog.measures.polars import glide_blocks
from flightlog.measures.results import Climb, Flight, Glide, Pass, SpeedToFly, WindBand
from flightlog.motion.motion import Motion
from flightlog.phases.phases import FlightSpan
from flightlog.settings import Settings
from flightlog.wings import Wing

PLAIN = 0.0
"""A fact that is told only where nothing more telling fills the room."""
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
LEAST_TELLING = 0.01
"""A hundredth of the flight, quite clear: less is left to the tables."""
LEAST_CLIMBS_MATCHED = 2
"""With one climb there is nothing to hold it against."""
LEAST_COST_M = 20.0
"""Of all the ways in and out of thermals together: less is within the errors of their heights."""
SEARCH_SHARE = 0.1
"""Of the flight: a tenth and more spent searching is told."""
SEARCH_TRUST = 0.83
"""How well search is told from other flying, F1 by the second (accuracy table of the README)."""
SILENT_SHARE = 0.02
"""Of the flight missing in the recording: more is told."""
WIND_CHANGE_95 = math.sqrt(5.991464547107979)
"""Radius of the 95 % region of a vector in the plane, in standard deviations of a component: root of the 0.95
quantile of chi-square with two degrees of freedom (any table of it)."""


def clearness(figure: Estimate, against: float = 0.0) -> float:
    """How clear of a value an estimate is: 0 where its interval holds it, then 0.5 at the edge up to 1.

    >>> [clearness(Estimate(value, value - 2.0, value + 2.0)) for value in (1.0, 2.0, -3.0, -9.0)]
    [0.0, 0.5, 0.75, 1.0]
    """
    off = figure.value - against
    half = figure.value - figure.low if off > 0 else figure.high - figure.value
    if abs(off) < half or off == 0.0:
        return 0.0
    return 1.0 if half <= 0.0 else min(abs(off) / half / 2.0, 1.0)


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
    telling = GROUND_STAKE + min(_share_of(later_s, flight), 1.0)
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
    stake = _share_of(flight.performance.glide_time_s, flight) * abs(quotient.value - 1.0)
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
    stake = _share_of(flight.performance.glide_time_s, flight) * abs(shown.difference.value) / makers
    return Claim(shown, makers, max(clearness(shown.difference) * stake, ASKED_STAKE))


@dataclass(frozen=True)
class WindChange:
    """The wind of the lowest and of the highest band, and the length of the vector between them."""

    low: WindBand
    high: WindBand
    change_mps: Estimate
    telling: float


def wind_change(flight: Flight) -> WindChange | None:
    """How the wind changed from the lowest band of height to the highest; None where that is within the errors.

    The two are fixed beforehand, so that no pair is picked because chance set it apart; their errors count as if
    they knew nothing of each other. It stakes half of the change over the airspeed: so much the ground speed lies
    off its mean at either end.
    """
    profile = flight.wind.profile
    if len(profile) < 2:
        return None
    low, high = profile[0], profile[-1]
    change = math.hypot(high.wind.east_mps - low.wind.east_mps, high.wind.north_mps - low.wind.north_mps)
    se = math.hypot(low.wind.se_mps, high.wind.se_mps)
    if change <= WIND_CHANGE_95 * se:
        return None
    half = NORMAL_95 * se
    figure = Estimate(change, max(change - half, 0.0), change + half)
    return WindChange(low, high, figure, clearness(figure) * change / 2.0 / _airspeed_mps(flight))


LEAST_AIRSPEED_MPS = 1.0
"""Whatever an odd log says, nothing flies slower."""
USUAL_AIRSPEED_MPS = 10.0
"""Of a foot-launched wing, where no glide tells it (trade knowledge, no source)."""


def _airspeed_mps(flight: Flight) -> float:
    """Mean airspeed of the glides."""
    known = [glide.airspeed_mps.value for glide in flight.glides if glide.airspeed_mps is not None]
    return max(sum(known) / len(known), LEAST_AIRSPEED_MPS) if known else USUAL_AIRSPEED_MPS


@dataclass(frozen=True)
class WeakClimbing:
    """Time in circles that climbed less than half as fast as the best half minute of its climb."""

    climbs: int
    weak_s: float
    circling_s: float
    telling: float


def weak_climbing(flight: Flight) -> WeakClimbing | None:
    """The weak part of all climbs in circles; at least half of its time is what it stakes."""
    known = [
        (_duration_s(climb), climb.detail.weak_s)
        for climb in flight.climbs
        if climb.detail is not None and climb.detail.weak_s is not None
    ]
    if not known:
        return None
    weak_s = sum(weak for _, weak in known)
    return WeakClimbing(len(known), weak_s, sum(whole for whole, _ in known), _share_of(weak_s / 2.0, flight))


@dataclass(frozen=True)
class WaysInAndOut:
    """The entries and exits of all thermals together."""

    climbs: int
    seconds_s: float
    cost_m: float
    telling: float


def ways_in_and_out(flight: Flight) -> WaysInAndOut | None:
    """What entering and leaving thermals cost, as time at their own steady climb; None where that is little."""
    seconds, cost_m, cost_s, count = 0.0, 0.0, 0.0, 0
    for climb in flight.climbs:
        detail = climb.detail
        if detail is None or detail.steady_climb_mps is None or not detail.steady_climb_mps > 0.0:
            continue
        lost_m = (detail.entry_loss_m or 0.0) + (detail.leaving_loss_m or 0.0)
        seconds += (detail.entry_s or 0.0) + (detail.leaving_s or 0.0)
        cost_m += lost_m
        cost_s += lost_m / detail.steady_climb_mps
        count += 1
    if cost_m < LEAST_COST_M:
        return None
    return WaysInAndOut(count, seconds, cost_m, _share_of(cost_s, flight))


@dataclass(frozen=True)
class OffCentre:
    """The climb in which circles off the core cost most time."""

    number: int
    centred_share: Estimate
    telling: float


def off_centre(flight: Flight) -> OffCentre | None:
    """The climb that lay furthest off its core, by the time lost; None where none surely did."""
    found = [
        OffCentre(
            climb.number,
            share,
            clearness(share, 1.0) * _share_of(_duration_s(climb) * (1.0 - share.value), flight),
        )
        for climb in flight.climbs
        if climb.detail is not None and (share := climb.detail.centred_share) is not None and share.high < 1.0
    ]
    return max(found, key=lambda one: one.telling, default=None)


@dataclass(frozen=True)
class BestClimb:
    """The climb in circles that saved most time against the others, and how fast those were."""

    climb: Climb
    mean_climb_mps: Estimate
    others: int
    others_mps: float
    telling: float


def best_climb(flight: Flight) -> BestClimb | None:
    """The climb in circles that gave its height in so much less time than at the mean of all others in circles.

    Slopes are left out: who soars at one level does not mean to climb.
    """
    known = [
        (climb, climb.mean_climb_mps, climb.gain_m)
        for climb in flight.climbs
        if climb.mode == "circling" and climb.mean_climb_mps is not None and climb.gain_m is not None
    ]
    if len(known) < LEAST_CLIMBS_MATCHED:
        return None
    gain_m, time_s = sum(gain for _, _, gain in known), sum(_duration_s(climb) for climb, _, _ in known)
    found = []
    for climb, mean, gain in known:
        others = (gain_m - gain) / max(time_s - _duration_s(climb), 1.0)
        if others > 0.0:
            saved_s = gain / others - _duration_s(climb)
            stake = _share_of(saved_s, flight) if saved_s > 0.0 else 0.0
            found.append(BestClimb(climb, mean, len(known) - 1, others, clearness(mean, others) * min(stake, 1.0)))
    best = max(found, key=lambda one: one.telling, default=None)
    return best if best is not None and best.telling > 0.0 else None


def searching(flight: Flight) -> float | None:
    """How telling the time spent searching is; None where it is little."""
    budget = flight.time_budget
    share = sum(part.share for part in budget.parts if part.kind == "search") if budget else 0.0
    return share * SEARCH_TRUST if share >= SEARCH_SHARE else None


@dataclass(frozen=True)
class SpeedCost:
    """The glides whose airspeed surely cost something, as time or as height, and the one that cost most."""

    glides: int
    of: int
    cost: Estimate
    most: SpeedToFly
    telling: float


def speed_cost(flight: Flight, kind: str) -> SpeedCost | None:
    """What flown airspeeds cost on the glides where the interval leaves out none; `kind` is `time` or `height`.

    Lows and highs are added up as if all glides erred together, which they do in the polar they share.
    """
    costs = [(one, one.cost_s if kind == "time" else one.cost_m) for one in flight.speed_to_fly]
    known = [(one, cost) for one, cost in costs if cost is not None]
    clear = [(one, cost) for one, cost in known if cost.low > 0.0]
    if not clear:
        return None
    cost = Estimate(*(sum(getattr(each, end) for _, each in clear) for end in ("value", "low", "high")))
    most, _ = max(clear, key=lambda pair: pair[1].value)
    whole = flight.duration_s if kind == "time" else _height_lost_m(flight.glides)
    return SpeedCost(len(clear), len(known), cost, most, clearness(cost) * cost.value / max(whole, cost.value))


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


def _duration_s(item: Climb) -> float:
    """How long a climb took."""
    return (item.end - item.start).total_seconds()


def _share_of(seconds_s: float, flight: Flight) -> float:
    """Time as a share of the flight."""
    return seconds_s / max(flight.duration_s, 1.0)
