"""What each part of a flight was worth: the results classes, in the field names of the published JSON.

Units stand in the names (`_m`, `_s`, `_mps`, `_deg`, `_kg`). Times are aware UTC datetimes. A field is None where
the flight does not tell; `note` then says why. `sink_mps` is positive downward.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from flightlog.estimates import Estimate, Wind
from flightlog.measures.thermals import ThermalDetail
from flightlog.measures.unsteadiness import Unsteadiness


@dataclass(frozen=True)
class Event:
    """Where and when the pilot left or touched the ground; `place` is the name of a known place or None."""

    time: datetime
    lat_deg: float
    lon_deg: float
    altitude_m: float | None
    place: str | None
    kind: str  # take-off: foot_launch | start_of_log | other; landing: top_landing | landing | end_of_log
    time_sd_s: float | None = None
    note: str | None = None


@dataclass(frozen=True)
class PhaseRow:
    """A phase as published: what, how, from when to when."""

    kind: str
    mode: str | None
    start: datetime
    end: datetime


@dataclass(frozen=True)
class TimePart:
    """All the time of a flight that went into one kind of flying, `kind` and `mode` as those of a phase."""

    kind: str
    mode: str | None
    count: int  # phases
    time_s: float
    share: float  # of the whole, from the first step of the launch to the first touch
    height_gained_m: float | None  # in its phases that ended higher than they began
    height_lost_m: float | None  # in the others, positive
    mean_climb_mps: Estimate | None  # height won less height lost, over the time


@dataclass(frozen=True)
class TimeBudget:
    """Where the time of a flight went; the parts add up to the whole. Kinds that did not occur are left out."""

    total_s: float
    parts: tuple[TimePart, ...]
    note: str | None = None
    silent_s: float = 0.0  # missing in the recording


@dataclass(frozen=True)
class AbortedRun:
    """A run at the launch that was given up before lift-off."""

    start: datetime
    duration_s: float
    length_m: float
    top_speed_mps: float  # over the ground


@dataclass(frozen=True)
class Launch:
    """The launch run, from the first step to lift-off."""

    run_start: datetime
    liftoff: datetime
    run_duration_s: float
    run_length_m: float
    ground_speed_mps: float | None  # at lift-off
    headwind_mps: Estimate | None
    crosswind_mps: Estimate | None  # positive from the right
    airspeed_mps: Estimate | None  # at lift-off
    lift_share_at_rest: Estimate | None
    note: str | None = None
    sink_after_liftoff_m: float | None = None  # most height lost in the first 10 s; None: none, or not known
    aborted_runs: tuple[AbortedRun, ...] | None = None  # before it; None: fixes too far apart to tell


@dataclass(frozen=True)
class Core:
    """The thermal's core as the climb shows it; `radius_m` is where the rise falls to 1/e of the core's.

    `strength_mps` is the rise of the air met there: where thermals meet, what they lift together, not one's own.
    """

    strength_mps: Estimate
    radius_m: Estimate
    lat_deg: float
    lon_deg: float
    altitude_m: float


@dataclass(frozen=True)
class Climb:
    """One climb: circling, along a ridge, or straight on.

    The circles are the mean ones while the wing circled: `circle_period_s` is the time of a full turn,
    `circle_radius_m` the way through the air of one over 2 pi, `bank_deg` that of an even turn at the mean
    airspeed and turn rate; the mean of a bank that wanders is less, by half a degree where it wanders by 8 degrees
    about 25. Fields with `interval` in their name are the same figures with their 95 % intervals.
    """

    number: int
    start: datetime
    end: datetime
    mode: str
    gain_m: float | None
    base_altitude_m: float | None
    top_altitude_m: float | None
    mean_climb_mps: Estimate | None
    best_30s_climb_mps: float | None
    turn_direction: str | None  # left | right | mixed
    turns: float
    circle_period_s: float | None
    circle_radius_m: float | None  # through the air
    bank_deg: float | None
    airmass_mps: Estimate | None
    core: Core | None
    wind: Wind | None
    note: str | None = None
    detail: ThermalDetail | None = None  # of a climb in circles
    start_lat_deg: float | None = None
    start_lon_deg: float | None = None
    end_lat_deg: float | None = None
    end_lon_deg: float | None = None
    circle_period_interval_s: Estimate | None = None
    circle_radius_interval_m: Estimate | None = None
    bank_interval_deg: Estimate | None = None


@dataclass(frozen=True)
class Glide:
    """One glide. `distance_m` is the path over the ground; ratios are path over height lost.

    `tailwind_mps` is the wind along the path, mean over time; `track_deg` the course from start to end.
    """

    number: int
    start: datetime
    end: datetime
    distance_m: float
    height_lost_m: float | None
    ground_speed_mps: float
    airspeed_mps: Estimate | None
    tailwind_mps: Estimate | None
    sink_mps: Estimate | None
    glide_ratio_ground: Estimate | None
    glide_ratio_air: Estimate | None
    track_deg: float
    note: str | None = None
    equivalent_airspeed_mps: Estimate | None = None  # `airspeed_mps` as the wing feels it: at sea-level density


@dataclass(frozen=True)
class SpeedToFly:
    """The best airspeed for one glide, and what the flown one cost against it.

    `reference` says what best means: `next_climb`, least time for the glide and the climb of `climb_mps` after it;
    `best_glide_over_ground`, least height for the way. `air_mps` is how the air moved, upward positive, as the
    glide's sink differs from the polar's. `cost_s` is the time lost, `cost_m` the height lost: one of them, never
    below zero, None where the best is not known. `note` holds the assumptions.
    """

    number: int  # of the glide
    reference: str
    climb_mps: float | None
    tailwind_mps: Estimate | None
    air_mps: Estimate | None
    flown_airspeed_mps: Estimate | None  # true
    flown_equivalent_mps: Estimate | None
    best_airspeed_mps: Estimate | None  # true
    best_equivalent_mps: Estimate | None
    cost_s: Estimate | None
    cost_m: Estimate | None
    note: str | None = None


@dataclass(frozen=True)
class SpeedCost:
    """What the flown airspeeds cost over those glides with one `reference` whose own cost is clear of none.

    `cost_s` is time, `cost_m` height, as in `SpeedToFly`: one of them. Its interval knows that the glides share
    the error of the polar, and that those of their airspeeds and sinks level out. As the glides are picked by what
    they seem to have cost, it comes out 15 to 20 % high; it held the truth on 41 of 42 simulated flights.
    """

    reference: str
    glides: tuple[int, ...]  # their numbers
    of: int  # glides with this reference whose cost is known
    cost_s: Estimate | None
    cost_m: Estimate | None


ANY_WING = "what is usual for foot-launched wings"
"""What a polar leans on whose wing is not even known by its class."""


@dataclass(frozen=True)
class PolarBasis:
    """What a polar rests on: the airspeeds glided at, and what it leans on outside them, in words.

    All airspeeds are equivalent; `circling_mps` is that of circling, as if level, None where it tells nothing.
    """

    airspeed_low_mps: float
    airspeed_high_mps: float
    leans_on: str
    circling_mps: float | None
    straight_climb_share: float  # of the straight flight


@dataclass(frozen=True)
class Polar:
    """The sink polar in still air at the reference density, with its band."""

    airspeed_mps: tuple[float, ...]
    sink_mps: tuple[float, ...]
    sink_low_mps: tuple[float, ...]
    sink_high_mps: tuple[float, ...]
    best_glide_ratio: Estimate
    best_glide_airspeed_mps: Estimate
    min_sink_mps: Estimate
    min_sink_airspeed_mps: Estimate
    glide_time_s: float
    density_reference_kgm3: float = 1.225
    note: str | None = None
    basis: PolarBasis | None = None


@dataclass(frozen=True)
class Performance:
    """What the wing achieved over all glides of the flight."""

    glide_ratio_ground: Estimate | None
    glide_ratio_air: Estimate | None
    glide_time_s: float
    polar: Polar | None
    note: str | None = None


@dataclass(frozen=True)
class WindBand:
    """The wind in one band of height."""

    altitude_low_m: float
    altitude_high_m: float
    wind: Wind


@dataclass(frozen=True)
class WindSample:
    """The wind drawn from one stretch of flight."""

    time: datetime
    altitude_m: float | None
    wind: Wind


@dataclass(frozen=True)
class WindResult:
    """The wind of a flight: its mean, its profile with height, and every estimate behind them."""

    mean: Wind | None
    profile: tuple[WindBand, ...]
    estimates: tuple[WindSample, ...]
    note: str | None = None


@dataclass(frozen=True)
class Decision:
    """The moment a pass was broken off: when, how high above the place, how far from it."""

    time: datetime
    height_m: float
    distance_m: float


@dataclass(frozen=True)
class PathPoint:
    """A pass when so much of its way to the place was left: how high, how fast, how far off the path to it.

    `off_path_m` is the height above the place at which the straight way on, at the angle just flown, would have
    crossed it: positive is above the path that ends at the place, negative below it.
    """

    to_go_m: float
    time: datetime
    height_m: float
    ground_speed_mps: float
    sink_mps: float
    off_path_m: Estimate | None


@dataclass(frozen=True)
class PassDetail:
    """A pass in the terms of a stabilised approach: path, changes of course, speed and sink, and the wind met."""

    points: tuple[PathPoint, ...]
    wind_from_deg: float | None  # true
    wind_speed_mps: float | None
    wind_se_mps: float | None  # of one component
    crosswind_mps: Estimate | None  # positive from the right
    greatest_sink_mps: float | None
    course_change_deg: float | None
    speed_spread_mps: float | None
    note: str | None = None


@dataclass(frozen=True)
class Pass:
    """One approach to a place, meant to land."""

    number: int
    place: str | None
    start: datetime
    end: datetime
    outcome: str  # landed | go_around
    certainty: str  # sure | possible
    closest_m: float
    lowest_height_m: float
    decision: Decision | None
    ground_speed_mps: float
    headwind_mps: Estimate | None
    sink_mps: float
    path_deviation_m: float | None
    line_up_deg: float | None
    height_regained_m: float | None
    note: str | None = None
    detail: PassDetail | None = None
    lowest_height_sd_m: float | None = None  # standard deviation of the lowest height
    seconds_to_next_s: float | None = None  # from its end to the end of the next sure try at the same place
    probability: float | None = None  # that it was meant to land, 0 to 1; of a landing 1


@dataclass(frozen=True)
class Approach:
    """The last descent to a landing."""

    start: datetime
    end: datetime
    pattern: str  # figure_of_eight | circuit | straight_in | other
    final_length_m: float
    final_sink_mps: float | None
    ground_speed_at_touchdown_mps: float | None
    headwind_mps: Estimate | None
    unsteady: tuple[str, ...] = ()
    note: str | None = None
    low_turns: int = 0  # turns through the air near the ground, see `low_turn_below_m` in the settings
    low_turn_deg: float = 0.0  # degrees turned in them, all together
    final_speed_spread_mps: float | None = None  # standard deviation over the ground, without the flare
    final_path_deviation_m: float | None = None  # root mean square height off the straight path
    sink_at_touchdown_mps: float | None = None
    touchdown_distance_m: float | None = None  # from the centre of the place landed at
    wind_from_deg: float | None = None  # true, at the field
    wind_speed_mps: float | None = None
    wind_se_mps: float | None = None  # of one component
    unsteady_ways: tuple[Unsteadiness, ...] = ()  # what `unsteady` says, as figures


@dataclass(frozen=True)
class Flight:
    """One flight of the log, measured."""

    number: int
    takeoff: Event
    landing: Event
    duration_s: float
    track_length_m: float
    altitude_gain_m: float | None
    max_altitude_m: float | None
    max_climb_mps: float | None
    max_sink_mps: float | None
    phases: tuple[PhaseRow, ...]
    launch: Launch | None
    climbs: tuple[Climb, ...]
    glides: tuple[Glide, ...]
    wind: WindResult
    performance: Performance
    passes: tuple[Pass, ...]
    approach: Approach | None
    notes: tuple[str, ...] = ()
    speed_to_fly: tuple[SpeedToFly, ...] = ()  # one for each glide
    speed_costs: tuple[SpeedCost, ...] = ()  # over several glides; none for a reference without a clear cost
    go_arounds: Estimate | None = None  # approaches broken off: those counted, and 95 % interval; whole numbers
    time_budget: TimeBudget | None = None
