"""Cleaned movement: the shape that the motion layer hands on."""

from __future__ import annotations

from dataclasses import dataclass

from flightlog.arrays import Floats, Ints
from flightlog.earth.geodesy import LocalPlane
from flightlog.errors import Note


@dataclass(frozen=True, eq=False)
class Motion:
    """How the pilot moved: the n fixes worth using, smoothed, in metres and seconds.

    East and north of velocities and accelerations are true directions at the fix; east and north of positions
    are those of the local plane. All arrays are (n,), n >= 2, and read-only.
    """

    fix: Ints  # index into the track of each fix used
    time_s: Floats  # strictly increasing
    piece: Ints  # fixes with one number have no gap between them; 0, 1, 2 in order of time
    plane: LocalPlane
    measured_east_m: Floats  # as recorded, spikes removed
    measured_north_m: Floats
    measured_altitude_m: Floats  # chosen source, calibrated to mean sea level; NaN where missing
    east_m: Floats  # smoothed
    north_m: Floats
    altitude_m: Floats  # smoothed, above mean sea level
    velocity_east_mps: Floats
    velocity_north_mps: Floats
    climb_mps: Floats  # up positive
    acceleration_east_mps2: Floats
    acceleration_north_mps2: Floats
    altitude_source: str  # "pressure" | "gnss"
    altitude_scale: float  # b of methods: heights = z (1 + b) + a; 0 without both altitudes
    altitude_offset_m: float
    altitude_scale_sd: float
    interval_s: float  # median time between fixes
    notes: tuple[Note, ...] = ()
    altitude_lag_sd_s: float = 0.0  # how uncertain the time of the heights is: sensors and their filters are late
    position_noise_m: float = 1.0  # of one coordinate of a fix, rounding included: standard deviation
    altitude_noise_m: float = 1.0  # of a measured altitude, likewise


@dataclass(frozen=True)
class Spell:
    """A stretch of the log in which the pilot was on the ground, in the air or in a vehicle."""

    kind: str  # "ground" | "air" | "vehicle"
    start_s: float  # UTC seconds, as Track.time_s
    end_s: float
    sure: bool = True  # False: decided on thin evidence (GNSS altitude only, short stop)


@dataclass(frozen=True)
class Turning:
    """A run of full circles, found in the air frame."""

    start: int  # first fix (index into Motion), inclusive
    stop: int  # last fix, exclusive
    direction: str  # "left" | "right"
    turned_deg: float  # total heading change, positive
