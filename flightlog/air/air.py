"""The air: what the wind did, and how the wing moved through it."""

from __future__ import annotations

from dataclasses import dataclass, field

from flightlog.arrays import Floats, Ints, frozen_floats
from flightlog.errors import Note
from flightlog.estimates import Wind
from flightlog.motion.motion import Turning
from flightlog.settings import Settings


@dataclass(frozen=True, eq=False)
class WindWindows:
    """The k short stretches of flight from which the wind was drawn, each with its own estimate."""

    start_s: Floats  # (k,)
    end_s: Floats  # (k,)
    altitude_m: Floats  # (k,) mean
    east_mps: Floats  # (k,) wind, where the air goes
    north_mps: Floats  # (k,)
    covariance_mps2: Floats  # (k, 2, 2)
    airspeed_mps: Floats  # (k,) true airspeed fitted with it
    turned_deg: Floats  # (k,) total turn in the window, positive
    straight: Ints  # (k,) 1: from straight flight on several headings, 0: from circling
    airspeed_sd_mps: Floats = field(default_factory=lambda: frozen_floats([]))  # (k,) of the fitted airspeed
    together_mps: Floats = field(default_factory=lambda: frozen_floats([]))
    """(k, 2), or none: the part of the wind's error, one standard deviation of it, that all windows of straight
    flight share, for all rest on the same airspeed of the flight. The covariance holds it."""


@dataclass(frozen=True)
class WindChange:
    """How far the wind strays from the day's mean on this flight, per component: slowly, and locally."""

    slow_sd_mps: float  # over hours and kilometres of height
    local_sd_mps: float  # from one thermal or slope to the next


@dataclass(frozen=True, eq=False)
class CircleRuns:
    """The circling runs a wind was drawn from, for counting the circles in a stretch or a band of height."""

    start_s: Floats  # (r,)
    end_s: Floats
    start_altitude_m: Floats
    end_altitude_m: Floats
    turned_deg: Floats


NO_CIRCLES = CircleRuns(*(frozen_floats([]) for _ in range(5)))


@dataclass(frozen=True, eq=False)
class WindField:
    """The wind over time and height, ready to be asked: m sites where it was measured and how they hang together.

    `node_...` sample the flight's path in the air, so that means over a stretch or a band of height can be taken.
    """

    time_s: Floats  # (m,)
    altitude_m: Floats  # (m,)
    weights: Floats  # (m, 2) of the kernel at each site, for east and north
    inverse: Floats  # (m, m) inverse covariance of the measured winds, the mean of east's and north's
    node_time_s: Floats  # (q,)
    node_altitude_m: Floats  # (q,)
    circles: CircleRuns
    change: WindChange
    settings: Settings


@dataclass(frozen=True, eq=False)
class Air:
    """The wind everywhere in the log, and motion through the air, one value a fix of the Motion.

    Wind columns are NaN where the log does not tell (no window near enough in time and height, or none at all);
    then the columns through the air are NaN too.
    """

    windows: WindWindows
    wind_east_mps: Floats  # (n,)
    wind_north_mps: Floats  # (n,)
    wind_sd_mps: Floats  # (n,) of one component
    airspeed_mps: Floats  # (n,) true
    heading_deg: Floats  # (n,) direction of motion through the air
    turn_rate_degps: Floats  # (n,) in the air frame, right positive; in the ground frame where wind is unknown
    density_kgm3: Floats  # (n,) standard atmosphere at that altitude
    circling: Ints  # (n,) 1 right, -1 left, 0 not circling
    turnings: tuple[Turning, ...]
    mean_wind: Wind | None  # over all time in the air
    notes: tuple[Note, ...] = ()
    field: WindField | None = None  # None: no window, the wind is not known anywhere
