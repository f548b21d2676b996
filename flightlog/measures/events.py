"""Where and when the pilot left the ground and came back to it."""

from __future__ import annotations

import math

import numpy as np

from flightlog.estimates import known
from flightlog.measures.overview import instant
from flightlog.measures.results import Event
from flightlog.motion.interpolation import index_at, moment_at
from flightlog.motion.motion import Motion
from flightlog.phases.grounds import Ground
from flightlog.phases.phases import FlightSpan
from flightlog.places import Place
from flightlog.settings import Settings


def measure_takeoff(motion: Motion, span: FlightSpan, places: tuple[Place, ...], settings: Settings) -> Event:
    """Lift-off of a flight: `foot_launch`, or `start_of_log` where the log starts in the air.

    A flight that left the ground faster and longer than feet can run is of the kind `other` (tow, cart).
    """
    if span.starts_in_air:
        return _event(motion, span.liftoff_s, places, settings, "start_of_log", None, "the log starts in the air")
    kind, note = "foot_launch", None
    if span.liftoff_s - span.start_s > 0.5 and _start_speed(motion, span) > settings.fastest_run_mps:
        kind, note = "other", "left the ground faster than feet can run"
    return _event(motion, span.liftoff_s, places, settings, kind, span.liftoff_sd_s, note)


def measure_landing(
    motion: Motion, span: FlightSpan, grounds: tuple[Ground, ...], places: tuple[Place, ...], settings: Settings
) -> Event:
    """First touch of a flight: `top_landing`, `landing`, or `end_of_log` where the log ends in the air.

    A top landing is one at a place whose use says so; without places, one near a take-off of this log at about
    its height (`top_landing_reach_m`, `top_landing_level_m`).
    """
    if span.ends_in_air:
        return _event(motion, span.touchdown_s, places, settings, "end_of_log", None, "the log ends in the air")
    here = [ground for ground in grounds if span.number in ground.landings]
    kind = "top_landing" if any("top_landing" in ground.use for ground in here) else "landing"
    return _event(motion, span.touchdown_s, places, settings, kind, span.touchdown_sd_s)


def _start_speed(motion: Motion, span: FlightSpan) -> float:
    """Ground speed at lift-off, m/s."""
    at = moment_at(motion, span.liftoff_s)
    return math.hypot(at.velocity_east_mps, at.velocity_north_mps)


def _event(
    motion: Motion,
    time_s: float,
    places: tuple[Place, ...],
    settings: Settings,
    kind: str,
    sd_s: float | None,
    note: str | None = None,
) -> Event:
    """Event at a time, at the smoothed position; in a silence of the recorder at the fix nearest in time."""
    at = moment_at(motion, time_s)
    if not math.isfinite(at.east_m):
        at = moment_at(motion, float(motion.time_s[index_at(motion, time_s)]))
        note = "while the recorder was silent; the place is that of the fix nearest in time"
    lat, lon = motion.plane.to_degrees(np.array([at.east_m]), np.array([at.north_m]))
    place = _place_here(motion, at.east_m, at.north_m, at.altitude_m, places, settings)
    in_air = kind in ("start_of_log", "end_of_log")
    name = None if place is None or in_air else place.name
    return Event(
        instant(time_s, motion),
        float(lat[0]),
        float(lon[0]),
        known(at.altitude_m),
        name,
        kind,
        sd_s,
        note,
    )


def _place_here(
    motion: Motion, east_m: float, north_m: float, altitude_m: float, places: tuple[Place, ...], settings: Settings
) -> Place | None:
    """The nearest place within whose radius, and at about whose height, a point lies."""
    found = None
    nearest = math.inf
    for place in places:
        x, y = motion.plane.to_plane(np.array([place.lat_deg]), np.array([place.lon_deg]))
        apart = math.hypot(float(x[0]) - east_m, float(y[0]) - north_m)
        if (
            apart <= place.radius_m
            and abs(altitude_m - place.elevation_m) < settings.place_level_m
            and apart < nearest
        ):
            found, nearest = place, apart
    return found
