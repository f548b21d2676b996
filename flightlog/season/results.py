"""What a season of flights comes to: the results classes, in the field names of the published JSON.

Units stand in the names. Dates are those of the clock that the review was made for. A field is None where the
flights do not tell; `note` then says why.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from flightlog.errors import Note
from flightlog.estimates import Estimate


@dataclass(frozen=True)
class TrendPoint:
    """One flight's figure."""

    time: datetime
    file: str
    flight: int
    figure: Estimate
    level: int  # number of its `TrendLevel`


@dataclass(frozen=True)
class TrendLine:
    """The line at one day: best value and 95 % interval."""

    time: datetime
    figure: Estimate


@dataclass(frozen=True)
class TrendLevel:
    """The flights of one pilot on one wing, which have a level of their own beside the slope that all share.

    `number` is the same in every figure, 1 for those with most flights. `line` is the line at this level, at its
    first flight and at its last; empty where no line is drawn.
    """

    number: int
    pilot: str | None
    wing: str | None
    flights: int
    mean: Estimate | None
    line: tuple[TrendLine, ...]


@dataclass(frozen=True)
class Trend:
    """How one figure went over the season.

    `figure` names it by its field; its unit ends the name. `mean` is that of the season, over flights with errors
    of their own and scatter between them; `flight_sd` and `day_sd` are that scatter. `change` is the line at the
    last day less that at the first; `verdict`: `higher`, `lower` or `no_change_told`. Where several wings or
    pilots flew, each has a level of its own (`levels`, as many as `groups`), and `line` lies at their mean.
    """

    figure: str
    points: tuple[TrendPoint, ...]
    groups: int
    levels: tuple[TrendLevel, ...]
    mean: Estimate | None
    flight_sd: float | None
    day_sd: float | None
    line: tuple[TrendLine, ...]
    change: Estimate | None
    change_per_30_days: Estimate | None
    verdict: str | None
    note: str | None = None


@dataclass(frozen=True)
class SeasonDay:
    """A day on which somebody flew."""

    date: str
    flights: int
    duration_s: float
    altitude_gain_m: float | None


@dataclass(frozen=True)
class SeasonMonth:
    """A month of the season. Go-arounds count where passes are looked for, and so do the landings beside them."""

    month: str
    days: int
    flights: int
    duration_s: float
    altitude_gain_m: float | None
    climbs: int
    launches: int
    aborted_runs: int | None
    reviewed_landings: int
    go_arounds: int
    go_arounds_per_landing: Estimate | None


@dataclass(frozen=True)
class GoAroundChange:
    """Go-arounds per landing over the season, and in its two halves, split where half of the landings are reached.

    `p_value` is the chance of halves at least as far apart if nothing changed; `verdict`: `more`, `fewer` or
    `no_change_told`.
    """

    go_arounds: int
    reviewed_landings: int
    per_landing: Estimate | None
    first_half: Estimate | None
    second_half: Estimate | None
    second_half_from: str | None
    p_value: float | None
    verdict: str | None
    note: str | None = None


@dataclass(frozen=True)
class LaunchTotals:
    """Launches on foot, and the runs before them that were given up; `median_run_s`: first step to lift-off."""

    foot_launches: int
    reviewed_launches: int  # at which given-up runs could be seen
    aborted_runs: int
    aborted_per_launch: Estimate | None
    median_run_s: float | None
    median_headwind_mps: float | None


@dataclass(frozen=True)
class PlaceContact:
    """One take-off or touchdown."""

    lat_deg: float
    lon_deg: float
    is_takeoff: bool


@dataclass(frozen=True)
class SeasonPlace:
    """A place that was taken off from or landed at; places of one `region` fit on one map."""

    number: int
    name: str
    is_named: bool
    region: int
    lat_deg: float
    lon_deg: float
    altitude_m: float | None
    takeoffs: int
    landings: int
    first_date: str | None
    last_date: str | None
    contacts: tuple[PlaceContact, ...]


@dataclass(frozen=True)
class Quartiles:
    """Middle of several figures, and the range of the middle half; in the unit of the key that holds it."""

    low: float
    median: float
    high: float


@dataclass(frozen=True)
class HourCount:
    """Climbs in one hour of the day, on the clock of the review."""

    hour: int
    climbs: float


@dataclass(frozen=True)
class ThermalSpot:
    """A spot that many climbs come from; it lies within `radius_m` of its place in 95 of 100 cases.

    `climbs` is how many it sent, each climb counted by its chance to be from here; `expected_climbs` how many the
    flying over 400 m around would find if the spot were like the country about it. `chance_count`: as strong spots
    that chance alone puts on such a map; `grade` is `sure` or `possible`. `flights` are all that climbed from it.
    """

    number: int
    lat_deg: float
    lon_deg: float
    radius_m: float
    grade: str
    chance_count: float
    climbs: float
    expected_climbs: float
    flights: int
    hours_flown: float  # within 400 m
    strength_mps: Quartiles | None
    gain_m: Quartiles | None
    hours: tuple[HourCount, ...]


@dataclass(frozen=True)
class ThermalCell:
    """One square of the map: hours flown in it, climbs traced to it, and climbs per hour.

    The rate counts twelve minutes at the mean rate of the region beside what was flown, so that a few minutes with
    one climb make no best spot.
    """

    lat_deg: float
    lon_deg: float
    hours_flown: float
    climbs: float
    climbs_per_hour: float


@dataclass(frozen=True)
class ThermalRegion:
    """The thermal map of one region: spots, squares, and what it is made of.

    `has_recorded_ways`: hours are those of the ways recorded; else of straight lines between climbs.
    """

    number: int
    lat_deg: float
    lon_deg: float
    flights: int
    climbs: int
    traced_climbs: int  # votes: climbs of one day from one spot count once
    hours_flown: float
    has_recorded_ways: bool
    strength_mps: Quartiles | None
    hours: tuple[HourCount, ...]
    spots: tuple[ThermalSpot, ...]
    cell_m: float
    cells: tuple[ThermalCell, ...]
    note: str | None = None


@dataclass(frozen=True)
class SeasonReview:
    """Everything that a season of flights tells."""

    logs: int
    flights: int
    first_date: str | None
    last_date: str | None
    zone: str
    duration_s: float
    altitude_gain_m: float | None
    days: tuple[SeasonDay, ...]
    months: tuple[SeasonMonth, ...]
    trends: tuple[Trend, ...]
    go_arounds: GoAroundChange
    launches: LaunchTotals
    places: tuple[SeasonPlace, ...]
    thermals: tuple[ThermalRegion, ...]
    problems: tuple[Note, ...]
    cautions: tuple[str, ...]
