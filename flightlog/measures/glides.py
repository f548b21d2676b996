"""What every glide was worth: way, height lost, speeds, and glide ratios over the ground and through the air."""

from __future__ import annotations

import math

from flightlog.air.air import Air
from flightlog.air.stretches import Stretch
from flightlog.earth.atmosphere import SEA_LEVEL_DENSITY_KGM3
from flightlog.estimates import NORMAL_95, Estimate, known, known_estimate, normal_estimate
from flightlog.measures.overview import instant
from flightlog.measures.phases_flown import PhasesFlown, phases_flown
from flightlog.measures.results import Glide
from flightlog.motion.motion import Motion
from flightlog.phases.phases import FlightSpan
from flightlog.settings import Settings

AIRSPEED_FLOOR_SD_MPS = 0.1
"""Error of the mean ground speed of a glide: the slow part of GNSS noise (M 1)."""


def measure_glides(
    motion: Motion, air: Air, span: FlightSpan, settings: Settings, flown: PhasesFlown | None = None
) -> tuple[Glide, ...]:
    """Every glide phase of the flight, in order of time.

    `distance_m` is the path over the ground and the ratios are path over height lost, as flown: neither is
    corrected for the speed that was traded for height at its ends (at most 2 m of height for 10 to 12 m/s); the
    polar is. A ratio is None, and the note says so, where less height was lost than twice its own error or than
    `glide_least_loss_m`, or where the sink was below `glide_least_sink_mps`: it would only say "far". Through the
    air, it also is None where the wind is not known. Error of the airspeed: that of the wind along the way (M 6).
    `tailwind_mps` is the wind's part along the track, mean over time: round a corner, that of each leg counts for
    as long as it took. It is ground speed less airspeed but for what the drift angle costs: crosswind squared over
    twice the airspeed.
    `flown` are the flight's `phases_flown`, where they are at hand.
    """
    flown = phases_flown(motion, air, span, settings) if flown is None else flown
    glides = [(phase, part) for phase, part in flown if phase.kind == "glide"]
    return tuple(
        _glide(number, motion, part, phase.start_s, settings)
        for number, (phase, part) in enumerate(glides, start=1)
    )


def _glide(number: int, motion: Motion, flown: Stretch, start_s: float, settings: Settings) -> Glide:
    """One glide from its sums."""
    lost_m = -flown.gain_m
    notes = []
    ratio_ground = ratio_air = None
    if _has_ratio(flown, settings):
        ratio_ground = ratio_estimate(flown.way_m, flown.way_sd_share, lost_m, flown.gain_sd_m)
        if flown.air_way_m is not None and flown.along_sd_mps is not None:
            share = airspeed_sd_mps(flown.along_sd_mps) * flown.duration_s / flown.air_way_m
            share = math.hypot(share, flown.way_sd_share)
            ratio_air = ratio_estimate(flown.air_way_m, share, lost_m, flown.gain_sd_m)
    else:
        lost = f"lost only {lost_m:.0f} m" if lost_m > 0 else "lost no height"
        notes.append(f"{lost if math.isfinite(lost_m) else 'the height lost is not known'}: no glide ratio")
    if flown.air_way_m is None:
        notes.append("the wind is not known here")
    if flown.silent_s > 0:
        notes.append(f"{flown.silent_s:.0f} s of it are missing in the recording")
    return Glide(
        number=number,
        start=instant(start_s, motion),
        end=instant(start_s + flown.duration_s, motion),
        distance_m=flown.way_m,
        height_lost_m=known(lost_m),
        ground_speed_mps=flown.way_m / flown.duration_s,
        airspeed_mps=_airspeed(flown),
        tailwind_mps=_tailwind(flown),
        sink_mps=known_estimate(lost_m / flown.duration_s, flown.gain_sd_m / flown.duration_s),
        glide_ratio_ground=ratio_ground,
        glide_ratio_air=ratio_air,
        track_deg=flown.course_deg,
        note="; ".join(notes) or None,
        equivalent_airspeed_mps=_equivalent_airspeed(flown),
    )


def _has_ratio(flown: Stretch, settings: Settings) -> bool:
    """Whether enough height was lost for a glide ratio to mean something."""
    lost_m = -flown.gain_m
    return (
        lost_m >= max(settings.glide_least_loss_m, 2.0 * flown.gain_sd_m)
        and lost_m / flown.duration_s >= settings.glide_least_sink_mps
    )


def _airspeed(flown: Stretch) -> Estimate | None:
    """Mean true airspeed; None where the wind is not known."""
    if flown.air_way_m is None or flown.along_sd_mps is None:
        return None
    return normal_estimate(flown.air_way_m / flown.duration_s, airspeed_sd_mps(flown.along_sd_mps))


def _equivalent_airspeed(flown: Stretch) -> Estimate | None:
    """The airspeed that feels the same at sea-level density; None where the true one is not known."""
    true = _airspeed(flown)
    if true is None:
        return None
    root = math.sqrt(flown.density_kgm3 / SEA_LEVEL_DENSITY_KGM3)
    return Estimate(true.value * root, true.low * root, true.high * root)


def _tailwind(flown: Stretch) -> Estimate | None:
    """Wind along the path, mean over time; None where it is not known."""
    if flown.path_tailwind_mps is None or flown.along_sd_mps is None:
        return None
    return normal_estimate(flown.path_tailwind_mps, flown.along_sd_mps)


def airspeed_sd_mps(wind_sd_mps: float) -> float:
    """Standard deviation of a mean airspeed, m/s: the wind's along the way, and a little of the ground speed's."""
    return math.hypot(wind_sd_mps, AIRSPEED_FLOOR_SD_MPS)


def ratio_estimate(way_m: float, way_sd_share: float, lost_m: float, lost_sd_m: float) -> Estimate:
    """Glide ratio with its interval, taken as log-normal: never below zero, wider upwards.

    >>> ratio_estimate(1000.0, 0.0, 100.0, 0.0)
    Estimate(value=10.0, low=10.0, high=10.0)
    """
    spread = math.exp(NORMAL_95 * math.hypot(way_sd_share, lost_sd_m / lost_m))
    ratio = way_m / lost_m
    return Estimate(ratio, ratio / spread, ratio * spread)
