"""Flights of a log: every lift-off and every touchdown, to the second.

The spells (ground, air, vehicle) come from a chain over smoothed speed and climb, good to a few seconds. Here each
air spell is tested for being a flight at all, and its two ends are refined: lift-off where the airspeed last rises
through the speed at which the wing carries everything, touchdown where descent and speed collapse (M 2).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from flightlog.air.air import Air
from flightlog.air.surface import wind_near_ground
from flightlog.arrays import Floats, lengths, middle, quantile
from flightlog.errors import Note
from flightlog.motion.interpolation import MotionSamples, motion_at
from flightlog.motion.motion import Motion, Spell
from flightlog.phases.hovering import without_hovering
from flightlog.phases.phases import FlightSpan
from flightlog.phases.rides import without_rides
from flightlog.settings import Settings

SEA_LEVEL_DENSITY_KGM3 = 1.225
"""Of the standard atmosphere (ISO 2533:1975): equivalent and true airspeed are equal there."""
GRID_S = 0.5
"""Step at which the ends of a flight are looked at; far below what any recorder resolves."""
RUN_ACCELERATION_MPS2 = 2.0
"""Usual acceleration of a launch run: turns an error of speed into one of time (M 2)."""
SMOOTHING_BLUR_S = 0.4
"""What the smoother alone blurs at 1 s intervals (M 2)."""


@dataclass(frozen=True)
class UsualSpeed:
    """The wing's usual true airspeed in straight flight, and its standard deviation, m/s."""

    airspeed_mps: float
    sd_mps: float


def find_flights(
    motion: Motion, air: Air, spells: tuple[Spell, ...], settings: Settings
) -> tuple[FlightSpan, ...]:
    """Every flight of the log, in order of time.

    A top landing followed by a new take-off gives two flights. A stretch in the air counts as a flight when it
    lasts, and either goes far or changes height by more than ground handling does (`shortest_flight_s`,
    `least_flight_distance_m`, `least_flight_height_m`).

    Parameters
    ----------
    motion, air
        Of the whole log.
    spells : tuple of Spell
        From `find_spells`; air spells that touch are joined.
    settings : Settings
        Thresholds named above, and the wing's expected airspeed.

    Returns
    -------
    tuple of FlightSpan
        Without phases. `liftoff_sd_s` and `touchdown_sd_s` are standard deviations; a note says where they rest
        on thin evidence. A gap longer than `longest_silence_in_flight_s` between two air spells parts two flights:
        what happened in it is not known.

    Notes
    -----
    Weak: with GNSS altitude only, touchdowns on a slope; a stop shorter than about 30 s between two flights.
    """
    flights: list[FlightSpan] = []
    stretches = without_hovering(motion, _air_stretches(motion, spells, settings), spells, settings)
    stretches = without_rides(motion, air, stretches, settings)
    for index, stretch in enumerate(stretches):
        if not _is_flight(motion, stretch, settings):
            continue
        earliest = stretches[index - 1].end_s if index else motion.time_s[0]
        latest = stretches[index + 1].start_s if index + 1 < len(stretches) else motion.time_s[-1]
        within = (float(earliest), float(latest))
        flight = _bounded(motion, air, stretch, within, len(flights) + 1, settings)
        if flight.touchdown_s - flight.liftoff_s >= settings.shortest_flight_s:
            flights.append(flight)
    return tuple(_with_short_stops(flights, settings))


def _with_short_stops(flights: list[FlightSpan], settings: Settings) -> list[FlightSpan]:
    """The flights, with a note on those that a short stop parts."""
    noted = list(flights)
    for index, (before, after) in enumerate(pairwise(flights)):
        if after.start_s - before.touchdown_s < settings.short_stop_s and not before.ends_in_air:
            stop_s = after.start_s - before.touchdown_s
            note = Note("short_stop", f"{stop_s:.0f} s on the ground between two flights: may be a touch and go")
            noted[index + 1] = replace(after, notes=(*after.notes, note))
    return noted


def usual_airspeed(motion: Motion, air: Air, start_s: float, end_s: float, settings: Settings) -> UsualSpeed:
    """The wing's usual straight airspeed: what this flight shows, weighed against what its class lets us expect.

    True airspeed at the flight's mean density. A flight without wind estimate gives back the expectation of the
    class alone.
    """
    inside = slice(*np.searchsorted(motion.time_s, [start_s, end_s]))
    density = float(np.mean(air.density_kgm3[inside])) if inside.stop > inside.start else SEA_LEVEL_DENSITY_KGM3
    expected = settings.trim_airspeed_mps * math.sqrt(SEA_LEVEL_DENSITY_KGM3 / density)
    expected_sd = settings.trim_airspeed_sd_mps
    straight = np.isfinite(air.airspeed_mps[inside]) & (air.circling[inside] == 0)
    if np.count_nonzero(straight) * motion.interval_s < settings.shortest_airspeed_record_s:
        return UsualSpeed(expected, expected_sd)
    seen = middle(air.airspeed_mps[inside][straight])
    seen_sd = math.hypot(settings.usual_airspeed_sd_mps, float(np.median(air.wind_sd_mps[inside][straight])))
    weight = expected_sd**2 / (expected_sd**2 + seen_sd**2)
    return UsualSpeed(weight * seen + (1 - weight) * expected, math.sqrt(weight) * seen_sd)


def _air_stretches(motion: Motion, spells: tuple[Spell, ...], settings: Settings) -> list[Spell]:
    """Air spells, those that touch joined, those with a long silence inside parted."""
    joined: list[Spell] = []
    for spell in spells:
        if spell.kind != "air":
            continue
        if joined and spell.start_s - joined[-1].end_s <= settings.longest_bridge_s and _touching(spells, spell):
            joined[-1] = Spell("air", joined[-1].start_s, spell.end_s, joined[-1].sure and spell.sure)
        else:
            joined.append(spell)
    return [part for spell in joined for part in _parted(motion, spell, settings)]


def _touching(spells: tuple[Spell, ...], spell: Spell) -> bool:
    """Whether the spell just before this one is an air spell too."""
    at = spells.index(spell)
    return at > 0 and spells[at - 1].kind == "air"


def _parted(motion: Motion, spell: Spell, settings: Settings) -> list[Spell]:
    """The spell cut where the recorder was silent for so long that a landing may lie in between."""
    low, high = np.searchsorted(motion.time_s, [spell.start_s, spell.end_s])
    times = motion.time_s[low : high + 1]
    gaps = np.flatnonzero(np.diff(times) > settings.longest_silence_in_flight_s)
    starts = [spell.start_s, *times[gaps + 1]]
    ends = [*times[gaps], spell.end_s]
    return [Spell("air", float(a), float(b), spell.sure) for a, b in zip(starts, ends, strict=True) if b > a]


def _is_flight(motion: Motion, stretch: Spell, settings: Settings) -> bool:
    """Whether a stretch in the air is a flight and not a hop, ground handling or a fast walk."""
    low, high = np.searchsorted(motion.time_s, [stretch.start_s, stretch.end_s], side="left")
    high = max(high + 1, low + 2)
    if stretch.end_s - stretch.start_s < settings.shortest_flight_s or high - low < 3:
        return False
    altitude, east, north = motion.altitude_m[low:high], motion.east_m[low:high], motion.north_m[low:high]
    height_range = float(np.ptp(altitude))
    distance = float(lengths(east - east[0], north - north[0]).max())
    speed = lengths(motion.velocity_east_mps[low:high], motion.velocity_north_mps[low:high])
    if motion.altitude_source == "gnss":
        height_range -= settings.gnss_altitude_wander_m
    if stretch.end_s - stretch.start_s < settings.back_again_s and distance >= settings.least_flight_distance_m:
        beside = motion.east_m[[max(low - 1, 0), high - 1]], motion.north_m[[max(low - 1, 0), high - 1]]
        if float(np.hypot(np.ptp(beside[0]), np.ptp(beside[1]))) < settings.back_again_m:
            return False  # wrong fixes: out and back within seconds, as no wing turns
    walks = quantile(speed, 0.9) < settings.fastest_walk_mps
    shakes = float(np.std(motion.climb_mps[low:high])) > settings.least_climb_spread_mps
    if walks and not shakes:
        return False
    return height_range >= settings.least_flight_height_m or (
        distance >= settings.least_flight_distance_m and not walks
    )


def _bounded(
    motion: Motion, air: Air, stretch: Spell, within: tuple[float, float], number: int, settings: Settings
) -> FlightSpan:
    """The flight with its two ends refined."""
    silence_before, silence_after = _silence_s(motion, stretch.start_s), _silence_s(motion, stretch.end_s)
    begins_in_air = silence_before > settings.longest_event_gap_s
    ends_in_air = silence_after > settings.longest_event_gap_s
    stretch = _within_fixes(motion, stretch, begins_in_air, ends_in_air)
    usual = usual_airspeed(motion, air, stretch.start_s, stretch.end_s, settings)
    notes: list[Note] = []
    run, liftoff, liftoff_sd = stretch.start_s, stretch.start_s, 0.0
    if not begins_in_air:
        run, liftoff, liftoff_sd = _refined_liftoff(motion, air, stretch, within, usual, settings)
        liftoff_sd = math.hypot(liftoff_sd, _gap_sd_s(silence_before, settings))
    touchdown, touchdown_sd = stretch.end_s, 0.0
    if not ends_in_air:
        touchdown, touchdown_sd = _refined_touchdown(motion, air, stretch, within, usual, settings)
        touchdown_sd = math.hypot(touchdown_sd, _gap_sd_s(silence_after, settings))
    if begins_in_air:
        notes.append(Note("starts_in_air", "the log starts in the air; the take-off is not in it"))
    if ends_in_air:
        notes.append(Note("ends_in_air", "the log ends in the air; the landing is not in it"))
    if motion.altitude_source == "gnss":
        notes.append(Note("times_from_gnss", "take-off and landing times rest on GNSS heights: low confidence"))
    first = int(np.searchsorted(motion.time_s, run, side="left"))
    stop = int(np.searchsorted(motion.time_s, touchdown, side="right"))
    return FlightSpan(
        number, run, liftoff, touchdown, begins_in_air, ends_in_air, liftoff_sd, touchdown_sd, first, stop,
        notes=tuple(notes),
    )  # fmt: skip


def _within_fixes(motion: Motion, stretch: Spell, begins_in_air: bool, ends_in_air: bool) -> Spell:
    """The stretch without the silence at an end that lies in the air: nothing is known of the pilot in there."""
    start, end = stretch.start_s, stretch.end_s
    if begins_in_air:
        start = float(motion.time_s[np.searchsorted(motion.time_s, start)])
    if ends_in_air:
        end = float(motion.time_s[np.searchsorted(motion.time_s, end, side="right") - 1])
    return replace(stretch, start_s=start, end_s=end)


def _silence_s(motion: Motion, at_s: float) -> float:
    """How long the recorder was silent around a time, s: infinite before the first and after the last fix."""
    after = int(np.searchsorted(motion.time_s, at_s))
    first, last = float(motion.time_s[0]), float(motion.time_s[-1])
    if at_s <= first + 1.0 or at_s >= last - 1.0:
        return math.inf
    near = slice(max(after - 2, 0), after + 2)  # the end of a spell may lie a fix beside the gap
    return float(np.diff(motion.time_s[near]).max())


def _gap_sd_s(silence_s: float, settings: Settings) -> float:
    """What a gap adds to the standard deviation of a time that may lie in it: that of an even spread."""
    return silence_s / math.sqrt(12.0) if silence_s > settings.longest_bridge_s else 0.0


def _refined_liftoff(
    motion: Motion, air: Air, stretch: Spell, within: tuple[float, float], usual: UsualSpeed, settings: Settings
) -> tuple[float, float, float]:
    """Start of the run, lift-off and its standard deviation, s (M 2)."""
    start = stretch.start_s
    times = np.arange(
        max(within[0], start - settings.longest_run_s), min(stretch.end_s, start + settings.longest_run_s), GRID_S
    )
    samples = motion_at(motion, times)
    wind = wind_near_ground(motion, air, start, start + settings.launch_wind_from_s)
    along, headwind, headwind_sd = _along_the_run(times, samples, start, wind, usual)
    crosswind = 0.0 if wind is None else _cross(times, samples, start, wind)
    enough = settings.liftoff_speed_share * usual.airspeed_mps
    needed = math.sqrt(max(enough**2 - crosswind**2, 1.0)) - headwind  # speed over ground along the run
    crossing = _last_rise_through(times, along, needed, start, settings)
    interval = motion.interval_s
    if crossing is None:  # lifted off standing, or the run is not in the log
        liftoff = _leaves_the_ground(times, samples, start)
        return liftoff, liftoff, math.sqrt(1.0 + (interval / 4) ** 2)
    speed_sd = math.hypot(headwind_sd, 0.5)
    sd = math.sqrt(SMOOTHING_BLUR_S**2 + (interval / 4) ** 2 + (speed_sd / RUN_ACCELERATION_MPS2) ** 2)
    return _run_start(times, along, crossing, settings), crossing, sd


def _along_the_run(
    times: Floats, samples: MotionSamples, start: float, wind: tuple[float, float, float] | None, usual: UsualSpeed
) -> tuple[Floats, float, float]:
    """Ground speed along the run direction (n,), headwind and its standard deviation, m/s.

    Two sources of headwind are weighed: the wind of the first minute, and what the usual airspeed lacks once the
    wing flies.
    """
    direction = _run_direction(times, samples, start, wind)
    along = samples.velocity_east_mps * direction[0] + samples.velocity_north_mps * direction[1]
    flying = (times >= start + 4.0) & (times <= start + 12.0) & np.isfinite(along)
    plateau = float(np.median(along[flying])) if flying.any() else 0.0
    from_speed, from_speed_sd = usual.airspeed_mps - plateau, math.hypot(usual.sd_mps, 1.0)
    if wind is None:
        return along, from_speed, from_speed_sd
    from_wind = -(wind[0] * direction[0] + wind[1] * direction[1])
    weight = from_speed_sd**2 / (from_speed_sd**2 + wind[2] ** 2)
    return along, weight * from_wind + (1 - weight) * from_speed, math.sqrt(weight) * wind[2]


def _run_direction(
    times: Floats, samples: MotionSamples, start: float, wind: tuple[float, float, float] | None
) -> tuple[float, float]:
    """Unit vector (east, north) of the run: the mean velocity 3 to 8 s after the chain's start (M 2).

    Where the pilot hardly moves over the ground, the run is taken to point into the wind.
    """
    early = (times >= start + 3.0) & (times <= start + 8.0)
    east, north = np.nan_to_num(samples.velocity_east_mps[early]), np.nan_to_num(samples.velocity_north_mps[early])
    mean = (float(east.mean()), float(north.mean())) if early.any() else (0.0, 0.0)
    if math.hypot(*mean) < 1.0 and wind is not None:
        mean = (-wind[0], -wind[1])
    size = math.hypot(*mean)
    return (mean[0] / size, mean[1] / size) if size > 0.05 else (0.0, 1.0)


def _cross(times: Floats, samples: MotionSamples, start: float, wind: tuple[float, float, float]) -> float:
    """Wind across the run, m/s: it carries the wing too."""
    direction = _run_direction(times, samples, start, wind)
    return wind[0] * direction[1] - wind[1] * direction[0]


def _last_rise_through(
    times: Floats, along: Floats, needed: float, start: float, settings: Settings
) -> float | None:
    """When the speed along the run last rises through what lift-off needs, before it levels out; else None."""
    known = np.isfinite(along)
    times, along = times[known], along[known]
    near = (times >= start - settings.longest_run_s / 2) & (times <= start + settings.longest_run_s / 2)
    if not near.any():
        return None
    top = float(along[near].max())
    needed = min(needed, 0.9 * top)  # a launch slower than the wing's usual speed still lifts off
    fast = np.flatnonzero(near & (along >= max(needed, 0.95 * top)))
    if len(fast) == 0 or needed <= 0.5:
        return None
    below = np.flatnonzero(along[: fast[0] + 1] < needed)
    if len(below) == 0:
        return None
    last = below[-1]
    share = (needed - along[last]) / (along[last + 1] - along[last])
    return float(times[last] + share * (times[last + 1] - times[last]))


def _run_start(times: Floats, along: Floats, liftoff: float, settings: Settings) -> float:
    """When the speed along the run first exceeds a step's pace for good, before lift-off."""
    before = times < liftoff
    slow = np.flatnonzero(before & (np.nan_to_num(along) < settings.run_speed_mps))
    start = float(times[slow[-1] + 1]) if len(slow) else float(times[0])
    return start if liftoff - start >= GRID_S else liftoff  # less is no run


def _leaves_the_ground(times: Floats, samples: MotionSamples, start: float) -> float:
    """When the height last leaves that of the ground before, near the chain's start; else the chain's start.

    For wings lifted off standing in wind: the ground speed tells nothing there, the height does.
    """
    before = (times < start - 2.0) & np.isfinite(samples.altitude_m)
    if np.count_nonzero(before) < 4:
        return start
    ground = float(np.median(samples.altitude_m[before]))
    clear = 1.0 + 2.0 * float(np.std(samples.altitude_m[before]))
    after = (times >= start - 4.0) & (times <= start + 8.0)
    away = np.abs(samples.altitude_m - ground) > clear
    first = np.flatnonzero(after & away)
    if len(first) == 0:
        return start
    climb = max(abs(float(np.nan_to_num(samples.climb_mps[first[0]]))), 0.3)
    return float(np.clip(times[first[0]] - clear / climb, start - 4.0, start + 4.0))


def _refined_touchdown(
    motion: Motion, air: Air, stretch: Spell, within: tuple[float, float], usual: UsualSpeed, settings: Settings
) -> tuple[float, float]:
    """First touch and its standard deviation, s.

    The middle one of three views: the chain's end, the collapse of airspeed, and the end of the descent.
    """
    end = stretch.end_s
    times = np.arange(max(stretch.start_s, end - 30.0), min(within[1], end + 20.0), GRID_S)
    samples = motion_at(motion, times)
    wind = wind_near_ground(motion, air, end - settings.launch_wind_from_s, end)
    by_speed = _speed_collapse(times, samples, end, wind, usual, settings)
    by_height = _descent_end(times, samples, end)
    known = [view for view in (end, by_speed, by_height) if view is not None]
    if by_speed is None and by_height is not None:
        known.append(by_height)  # parked into the wind, speed tells nothing: the chain is late then, height is not
    touchdown = float(np.median(known))
    spread = float(np.std(known)) if len(known) > 1 else 1.0
    sd = math.sqrt(0.5**2 + (motion.interval_s / 4) ** 2 + (spread / 2) ** 2)
    return float(np.clip(touchdown, stretch.start_s, within[1])), sd


def _speed_collapse(
    times: Floats,
    samples: MotionSamples,
    end: float,
    wind: tuple[float, float, float] | None,
    usual: UsualSpeed,
    settings: Settings,
) -> float | None:
    """When the speed through the air last falls through what carries the wing; None where it tells nothing."""
    east, north = samples.velocity_east_mps, samples.velocity_north_mps
    if wind is None:
        ground_speed = lengths(east, north)
        flying = ground_speed[(times >= end - 12.0) & (times <= end - 4.0)]
        if not np.isfinite(flying).any() or np.nanmedian(flying) < 3.0:
            return None
        airspeed, limit = ground_speed, 0.5 * float(np.nanmedian(flying))
    else:
        airspeed = lengths(east - wind[0], north - wind[1])
        calm = math.hypot(wind[0], wind[1])
        limit = settings.touchdown_speed_share * usual.airspeed_mps
        if calm > limit - 1.0:  # standing still, the wind alone reads as flying
            return None
    carried = np.flatnonzero((airspeed >= limit) & (times <= end + 8.0))
    if len(carried) == 0 or carried[-1] + 1 >= len(times):
        return None
    return float(times[carried[-1]] + GRID_S / 2)


def _descent_end(times: Floats, samples: MotionSamples, end: float) -> float | None:
    """When the height comes down to that of the ground stood on afterwards; None without time on the ground."""
    after = (times >= end + 3.0) & np.isfinite(samples.altitude_m)
    if np.count_nonzero(after) < 6:
        return None
    ground = float(np.median(samples.altitude_m[after]))
    high = np.flatnonzero((samples.altitude_m - ground > 0.7) & (times <= end + 6.0))
    if len(high) == 0 or times[high[-1]] < end - 15.0 or not np.isfinite(samples.altitude_m[high[-1] + 1]):
        return None
    return float(times[high[-1]] + GRID_S)
