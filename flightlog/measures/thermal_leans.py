"""How circles moved while they rose: the drift of their centres, the lean of their line, how far upwind."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from flightlog.arrays import Floats
from flightlog.estimates import NORMAL_95, Estimate, normal_estimate

if TYPE_CHECKING:
    from flightlog.measures.results import Climb

LEAST_CIRCLES = 3.0
"""Fewer tell neither a way in and out nor a drift."""
CENTRE_OFF_M = 25.0
"""Circles lie off their core by so much, per axis, another way at either end of the climb (M 5: 24-50 m)."""
CENTRE_WANDER = 1.5
"""Centres of neighbouring circles wander together: their slope is so much less sure than independent ones say."""


@dataclass(frozen=True)
class ThermalLean:
    """How the circles moved while they rose; a lean is an angle from the vertical.

    `drift_mps` is the speed of the circles' centres over the ground, towards `towards_deg`; `track_lean_deg` the
    lean of their line, atan(drift / climb); `air_lean_deg` that of a thermal drifting freely, atan(wind / rise of
    the air); `upwind_mps` how much slower than the wind the centres drifted, along the wind: above 0 the pilot
    kept working upwind.
    """

    drift_mps: Estimate
    towards_deg: float
    track_lean_deg: Estimate
    air_lean_deg: Estimate | None
    upwind_mps: Estimate | None


def lean_of(drift: tuple[float, float, float] | None, climb: Climb) -> ThermalLean | None:
    """The lean of a climb by the drift of its centres (`centre_drift_mps`); None where that is not known."""
    if drift is None or climb.mean_climb_mps is None or climb.mean_climb_mps.value <= 0.0:
        return None
    east, north, sd = drift
    speed = math.hypot(east, north)
    rise = climb.mean_climb_mps.value
    air_lean = upwind = None
    if climb.wind is not None:
        wind = climb.wind
        along = (east * wind.east_mps + north * wind.north_mps) / max(wind.speed_mps, 1e-6)
        upwind = normal_estimate(wind.speed_mps - along, math.hypot(sd, wind.se_mps))
        if climb.airmass_mps is not None and climb.airmass_mps.low > 0.0:
            rise_sd = (climb.airmass_mps.high - climb.airmass_mps.low) / (2.0 * NORMAL_95)
            air_lean = lean_deg(wind.speed_mps, wind.se_mps, climb.airmass_mps.value, rise_sd)
    return ThermalLean(
        drift_mps=Estimate(speed, max(0.0, speed - NORMAL_95 * sd), speed + NORMAL_95 * sd),
        towards_deg=math.degrees(math.atan2(east, north)) % 360.0,
        track_lean_deg=lean_deg(speed, sd, rise, 0.0),
        air_lean_deg=air_lean,
        upwind_mps=upwind,
    )


def lean_deg(level_mps: float, level_sd_mps: float, rise_mps: float, rise_sd_mps: float) -> Estimate:
    """Lean from the vertical, atan(level speed / rise), with its interval; between 0 and 90 degrees.

    >>> round(lean_deg(3.0, 0.3, 3.0, 0.0).value, 6)
    45.0
    """
    ratio = level_mps / rise_mps
    sd = math.hypot(level_sd_mps / rise_mps, ratio * rise_sd_mps / rise_mps)
    low, value, high = (math.degrees(math.atan(max(0.0, ratio + k * NORMAL_95 * sd))) for k in (-1.0, 0.0, 1.0))
    return Estimate(value, low, high)


def centre_drift_mps(
    time_s: Floats, east_m: Floats, north_m: Floats, period_s: float
) -> tuple[float, float, float] | None:
    """Drift east and north of the centres of whole circles, and the sd of one component; None under 3 circles.

    A centre is the mean over one circle; its scatter about the line, and how far circles lie off their core, give
    the standard deviation of the thermal's own drift.
    """
    circles = int((time_s[-1] - time_s[0]) / period_s + 1e-6)
    if circles < LEAST_CIRCLES:
        return None
    edges = time_s[0] + np.arange(circles + 1) * (time_s[-1] - time_s[0]) / circles
    middles = 0.5 * (edges[1:] + edges[:-1])
    since = middles - np.add.reduce(middles) / circles
    squared = float(since @ since)
    place = east_m + 1j * north_m
    area = np.zeros(time_s.size, dtype=np.complex128)
    np.cumsum((time_s[1:] - time_s[:-1]) * (0.5 * (place[1:] + place[:-1])), out=area[1:])
    at_edges = np.interp(edges, time_s, area)
    centres = (at_edges[1:] - at_edges[:-1]) / (edges[1:] - edges[:-1])
    slope = complex(since @ centres) / squared
    off = centres - np.add.reduce(centres) / circles - slope * since
    variance = float(np.vdot(off, off).real) / 2.0 / max(circles - 2, 1)
    sd = CENTRE_WANDER * math.sqrt(variance / squared)
    return slope.real, slope.imag, math.hypot(sd, CENTRE_OFF_M / float(time_s[-1] - time_s[0]))
