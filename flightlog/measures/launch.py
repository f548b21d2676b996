"""The launch run: how long, how fast, into how much wind, and how much of the wing the wind carried."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from flightlog.air.air import Air
from flightlog.air.surface import wind_near_ground
from flightlog.arrays import Floats, evenly, lengths
from flightlog.estimates import NORMAL_95, Estimate, known, normal_estimate
from flightlog.measures.aborted_runs import find_aborted_runs
from flightlog.measures.overview import instant
from flightlog.measures.results import Launch
from flightlog.motion.interpolation import MotionSamples, moment_at, motion_at_each
from flightlog.motion.motion import Motion
from flightlog.phases.phases import FlightSpan
from flightlog.settings import Settings
from flightlog.wings import Wing

STEP_S = 0.25
"""Step along which the run's length is added up; a pilot's stride."""


def measure_launch(
    motion: Motion,
    air: Air,
    span: FlightSpan,
    settings: Settings,
    wing: Wing | None = None,
    *,
    earliest_s: float | None = None,
) -> Launch | None:
    """The launch run of a flight, or None where the take-off is not in the log.

    Parameters
    ----------
    motion, air
        Of the whole log.
    span : FlightSpan
        The flight; its run goes from `start_s` to `liftoff_s`.
    settings : Settings
        `launch_wind_from_s`: the wind of so long after lift-off stands for that at the launch.
    wing : Wing, optional
        Its `all_up_kg` and `empty_kg` give `lift_share_at_rest`.
    earliest_s : float, optional
        Touchdown of the flight before, UTC seconds: runs given up are looked for from there on.

    Returns
    -------
    Launch
        Headwind, crosswind (positive from the right), airspeed and lift share are None where the log does not
        tell the wind; `note` then says so. All four share one wind, so their errors go together.

    Notes
    -----
    Weak: the wind is that met in the first minute of flight, taken down to the launch unchanged; wind near the
    ground, and above a brow, differs from it by more than the interval says.

    References
    ----------
    Lift goes with the square of airspeed at a fixed angle of attack (any text on aerodynamics), so in a headwind h
    a wing that lifts all of W at the airspeed V carries W (h/V)^2 at rest.
    """
    if span.starts_in_air:
        return None
    velocity = _velocity_at_liftoff(motion, span, settings)
    run, after = motion_at_each(motion, [_run_times(span), _times_after_liftoff(span, settings)])
    length, direction = _run(run, span)
    wind = wind_near_ground(motion, air, span.liftoff_s, span.liftoff_s + settings.launch_wind_from_s)
    if direction is None and wind is not None:
        direction = _unit(-wind[0], -wind[1])
    flown = _WindMet() if wind is None or direction is None else _wind_met(wind, direction, velocity, wing)
    notes = [flown.note] if flown.note else []
    if not math.isfinite(velocity[0]):
        notes.append("the recorder was silent at lift-off: no speed")
    if span.start_s == span.liftoff_s:
        notes.append("no run in the log: lifted off standing, or too few fixes")
    return Launch(
        run_start=instant(span.start_s, motion),
        liftoff=instant(span.liftoff_s, motion),
        run_duration_s=span.liftoff_s - span.start_s,
        run_length_m=length,
        ground_speed_mps=known(math.hypot(*velocity)),
        headwind_mps=flown.headwind_mps,
        crosswind_mps=flown.crosswind_mps,
        airspeed_mps=flown.airspeed_mps,
        lift_share_at_rest=flown.lift_share,
        note="; ".join(notes) or None,
        sink_after_liftoff_m=_sink_after_liftoff_m(after),
        aborted_runs=find_aborted_runs(
            motion,
            span,
            float(motion.time_s[0]) if earliest_s is None else earliest_s,
            direction or _first_direction(motion, span),
            settings,
        ),
    )


@dataclass(frozen=True)
class _WindMet:
    """The wind along and across the run, and what it did for the wing; nothing where it is not known."""

    headwind_mps: Estimate | None = None
    crosswind_mps: Estimate | None = None
    airspeed_mps: Estimate | None = None
    lift_share: Estimate | None = None
    note: str | None = "the wind at launch is not known: no headwind, airspeed or lift share"


def _wind_met(
    wind: tuple[float, float, float],
    direction: tuple[float, float],
    velocity: tuple[float, float],
    wing: Wing | None,
) -> _WindMet:
    """The wind (east, north, sd) beside the direction of the run and the velocity at lift-off."""
    east, north, sd = wind
    headwind = normal_estimate(0.0 - east * direction[0] - north * direction[1], sd)
    crosswind = normal_estimate(north * direction[0] - east * direction[1], sd)
    if not math.isfinite(velocity[0]):
        return _WindMet(headwind, crosswind, note=None)
    airspeed = _speed_estimate(math.hypot(velocity[0] - east, velocity[1] - north), sd)
    share, why = _lift_share(headwind, airspeed, wing)
    return _WindMet(headwind, crosswind, airspeed, share, why)


def _times_after_liftoff(span: FlightSpan, settings: Settings) -> Floats:
    """The first `sink_after_liftoff_s` of a flight."""
    end_s = min(span.liftoff_s + settings.sink_after_liftoff_s, span.touchdown_s)
    return np.arange(span.liftoff_s, end_s, STEP_S)


def _sink_after_liftoff_m(after: MotionSamples) -> float | None:
    """Most height lost just after lift-off; None where none was, or heights are missing."""
    heights = after.altitude_m
    if not len(heights) or not np.isfinite(heights).all():
        return None
    lost = float(heights[0] - heights.min())
    return lost if lost > 0.0 else None


def _first_direction(motion: Motion, span: FlightSpan) -> tuple[float, float]:
    """East and north of the first ten seconds of flight, a unit vector."""
    start = moment_at(motion, span.liftoff_s)
    later = moment_at(motion, min(span.liftoff_s + 10.0, span.touchdown_s))
    east, north = later.east_m - start.east_m, later.north_m - start.north_m
    return _unit(east, north) if math.isfinite(east) else _unit(0.0, 0.0)


def _velocity_at_liftoff(motion: Motion, span: FlightSpan, settings: Settings) -> tuple[float, float]:
    """East and north velocity over the ground at lift-off, m/s.

    Taken `liftoff_smear_s` later: at lift-off itself the smoother blends the flight with the slower run.
    """
    late_s = min(span.liftoff_s + settings.liftoff_smear_s, span.touchdown_s)
    at = moment_at(motion, late_s)
    if not math.isfinite(at.velocity_east_mps):
        at = moment_at(motion, span.liftoff_s)
    return at.velocity_east_mps, at.velocity_north_mps


def lift_share_at_rest(
    headwind_mps: float, liftoff_airspeed_mps: float, all_up_kg: float, wing_kg: float
) -> float:
    """The share of the wing's own weight that the wind carries while the pilot stands: (h/V)^2 W/w.

    More than 1: the wind lifts the wing off the shoulders. A tailwind carries nothing.

    >>> round(lift_share_at_rest(4.0, 10.0, 120.0, 32.0), 3)
    0.6
    """
    return (max(headwind_mps, 0.0) / liftoff_airspeed_mps) ** 2 * all_up_kg / wing_kg


def _run_times(span: FlightSpan) -> Floats:
    """Every stride of the run; without a run, of the first 4 s of flight."""
    end = span.liftoff_s if span.liftoff_s - span.start_s > 1.0 else span.liftoff_s + 4.0
    return evenly(span.start_s, end, max(int((end - span.start_s) / STEP_S), 2) + 1)


def _run(run: MotionSamples, span: FlightSpan) -> tuple[float, tuple[float, float] | None]:
    """Length of the run over the ground, m, and its direction (east, north) as a unit vector.

    Without a run the direction of the first 4 s of flight; None where the pilot hardly moves then.
    """
    east, north = run.east_m, run.north_m
    count = int(np.count_nonzero(run.time_s <= span.liftoff_s + 1e-6))
    steps = lengths(east[1:count] - east[: count - 1], north[1:count] - north[: count - 1])
    length = float(np.nansum(steps))
    moved = (float(east[-1] - east[0]), float(north[-1] - north[0]))
    if not math.isfinite(moved[0]) or math.hypot(*moved) < 2.0:
        return length, None
    return length, _unit(*moved)


def _unit(east: float, north: float) -> tuple[float, float]:
    """The vector shrunk to length 1; north for a vector of no length."""
    size = math.hypot(east, north)
    return (east / size, north / size) if size > 0 else (0.0, 1.0)


def _speed_estimate(speed_mps: float, sd_mps: float) -> Estimate:
    """A speed with its interval, which does not go below 0."""
    return Estimate(speed_mps, max(speed_mps - NORMAL_95 * sd_mps, 0.0), speed_mps + NORMAL_95 * sd_mps)


def _lift_share(headwind: Estimate, airspeed: Estimate, wing: Wing | None) -> tuple[Estimate | None, str | None]:
    """The lift share with its interval, or None and why.

    Airspeed is ground speed plus headwind: a headwind too high by 1 m/s makes the airspeed too high by 1 m/s. The
    ends of the interval move both together.
    """
    if wing is None:
        return None, "lift share needs a wing file"
    if airspeed.value < 1.0:
        return None, "airspeed at lift-off too low to be true: no lift share"
    values = [
        lift_share_at_rest(h, max(airspeed.value + h - headwind.value, 1.0), wing.all_up_kg, wing.empty_kg)
        for h in (headwind.low, headwind.value, headwind.high)
    ]
    return Estimate(values[1], min(values), max(values)), None
