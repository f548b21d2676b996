"""The comparison of pilots on one task, in the field names of the published JSON.

Units stand in the names (`_m`, `_s`, `_mps`, `_deg`). Times are aware UTC datetimes. A field is None where the
logs do not tell, or where the pilot did not get so far. A trailing underscore (`from_`) keeps a Python word apart;
the JSON has none.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from typing import TYPE_CHECKING

from flightlog.arrays import Floats
from flightlog.estimates import Estimate

if TYPE_CHECKING:
    from flightlog.comparing.points import TaskPoints

PARTS = ("start", "detour", "glide_speed", "glide_ratio", "climbing", "searching", "height")
"""The parts of a difference in time, in the order of the flight's arithmetic (M 9)."""


@dataclass(frozen=True)
class RoutePoint:
    """One corner of the shortest route."""

    lat_deg: float
    lon_deg: float


@dataclass(frozen=True)
class TaskCylinder:
    """One cylinder as it was judged. `inner_m` and `outer_m` bound the band of its tolerance.

    `to_here_m` is the length of the shortest route up to it.
    """

    name: str
    role: str  # launch | start | turnpoint | speed_end | goal
    lat_deg: float
    lon_deg: float
    radius_m: float
    direction: str  # enter | exit
    line: bool  # a goal line of that half length instead of a cylinder
    inner_m: float
    outer_m: float
    to_here_m: float


@dataclass(frozen=True)
class TaskResult:
    """The task and its shortest route, measured from the centre of the first cylinder."""

    name: str
    kind: str  # race | elapsed
    distance_m: float
    speed_section_m: float
    route: tuple[RoutePoint, ...]  # the centre of the first cylinder, then a point for each later one in order
    cylinders: tuple[TaskCylinder, ...]
    start_opens: datetime | None
    gates: tuple[datetime, ...]
    deadline: datetime | None
    tolerance: str  # the rule and its edition, in words
    file: str


@dataclass(frozen=True)
class Crossing:
    """The moment a cylinder was reached: on its true boundary, between two fixes."""

    name: str
    role: str
    time: datetime
    altitude_m: float | None
    time_sd_s: float
    in_band: bool = False  # counted by the tolerance alone: the true boundary was not crossed


@dataclass(frozen=True)
class LegResult:
    """One leg, or all of them together: the time and what it was spent on.

    `climb_time_s`, `glide_time_s` and `search_time_s` add up to `time_s`; search holds all that is neither climb
    nor glide. `glide_speed_mps` is over the ground. `glide_ratio_ground` and `glide_ratio_air` are way over height
    lost while gliding, None where no height was lost. `flown_m` is the way over the ground, circles included.
    """

    from_: str
    to: str
    time_s: float
    climb_time_s: float
    glide_time_s: float
    search_time_s: float
    mean_climb_mps: float | None
    glide_speed_mps: float | None
    glide_ratio_ground: float | None
    glide_ratio_air: float | None
    flown_m: float
    shortest_m: float
    climb_gain_m: float | None = None
    glide_m: float = 0.0  # way over the ground while gliding
    glide_loss_m: float | None = None
    start_altitude_m: float | None = None
    end_altitude_m: float | None = None
    wind_from_deg: float | None = None  # mean of the wind met
    wind_speed_mps: float | None = None
    tailwind_mps: float | None = None  # along the straight way from start to end of the leg
    note: str | None = None


@dataclass(frozen=True)
class PilotResult:
    """One pilot on the task. `reached` counts the cylinders reached in order, the start included.

    `turnpoints` has an entry for each turnpoint of the task. `gate` is the start gate taken in a race;
    `task_time_s` runs from it, or from `started` in an elapsed-time task, to the end of the speed section. `rank`:
    those at goal by their time, then the others by distance.
    """

    name: str
    file: str
    rank: int
    reached: int
    started: datetime | None
    turnpoints: tuple[datetime | None, ...]
    speed_end: datetime | None
    goal: datetime | None
    distance_m: float
    task_time_s: float | None
    legs: tuple[LegResult, ...]
    gate: datetime | None = None
    takeoff: datetime | None = None
    landing: datetime | None = None
    crossings: tuple[Crossing, ...] = ()  # of the cylinders reached in order
    total: LegResult | None = None  # from the start to the end of the last leg
    wing: str | None = None
    sha256: str = ""
    to_speed_end_m: float | None = None  # shortest way left to the end of the speed section; 0: reached
    note: str | None = None


@dataclass(frozen=True)
class Parts:
    """Seconds of a difference in time, by what they were lost on (positive) or gained on (negative)."""

    start: float
    detour: float
    glide_speed: float
    glide_ratio: float
    climbing: float
    searching: float
    height: float


@dataclass(frozen=True)
class LegDifference:
    """The difference on one leg; `total_s` is the sum of its parts."""

    from_: str
    to: str
    total_s: float
    parts: Parts


@dataclass(frozen=True)
class Difference:
    """How many seconds `pilot` took more than `against`, from the gate or start to `to`, and on what.

    The parts add up to `total_s`. `parts_sd` are their standard deviations: parts trade off against each other, so
    that the sum is far surer (`total_sd_s`) than any of them. `text` says it in a paragraph.
    """

    pilot: str
    against: str
    total_s: float
    parts: Parts
    to: str
    total_sd_s: float
    parts_sd: Parts | None
    legs: tuple[LegDifference, ...]
    text: str
    note: str | None = None


@dataclass(frozen=True)
class ThermalUse:
    """How one pilot used a thermal that others used too."""

    pilot: str
    start: datetime
    end: datetime
    base_altitude_m: float | None
    top_altitude_m: float | None
    gain_m: float | None
    mean_climb_mps: Estimate | None
    best_30s_climb_mps: float | None
    turn_direction: str | None
    circle_radius_m: float | None
    bank_deg: float | None


@dataclass(frozen=True)
class SharedThermal:
    """One thermal and all who climbed in it, in the order in which they came."""

    number: int
    lat_deg: float
    lon_deg: float
    uses: tuple[ThermalUse, ...]


@dataclass(frozen=True)
class Problem:
    """Something odd about one pilot's log on this task; `code` is a short stable word."""

    file: str
    code: str
    message: str


@dataclass(frozen=True, eq=False)
class PilotCourse:
    """One pilot's way in samples of equal spacing in time, from take-off to landing, for pictures and for points.

    Arrays have one length, times are UTC seconds. `to_goal_m` and `to_speed_end_m` are the shortest ways left
    through the cylinders not yet reached, never growing; before the start they are those of the whole task.
    """

    name: str
    time_s: Floats
    lat_deg: Floats
    lon_deg: Floats
    altitude_m: Floats
    climb_mps: Floats
    to_goal_m: Floats
    to_speed_end_m: Floats


@dataclass(frozen=True, eq=False)
class Comparison:
    """Everything that the logs of one task tell together. `courses` stand in the order of `pilots` (by rank)."""

    task: TaskResult
    pilots: tuple[PilotResult, ...]
    differences: tuple[Difference, ...]
    thermals: tuple[SharedThermal, ...] = ()
    problems: tuple[Problem, ...] = ()
    courses: tuple[PilotCourse, ...] = field(default=())
    cautions: tuple[str, ...] = ()
    points: TaskPoints | None = None  # by `with_points`
