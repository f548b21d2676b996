"""Flights of a log: every lift-off and every touchdown, to the second.

The spells (ground, air, vehicle) come from a chain over smoothed speed and climb, good to a few seconds. Here each
air spell is tested for being a flight at all; `flight_ends.py` refines its two ends.
"""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np

from flightlog.air.air import Air
from flightlog.arrays import lengths, quantile
from flightlog.errors import Note
from flightlog.motion.motion import Motion, Spell
from flightlog.phases.flight_ends import refined_liftoff, refined_touchdown, usual_airspeed
from flightlog.phases.hovering import without_hovering
from flightlog.phases.phases import FlightSpan
from flightlog.phases.rides import without_rides
from flightlog.settings import Settings


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
        run, liftoff, liftoff_sd = refined_liftoff(motion, air, stretch, within, usual, settings)
        liftoff_sd = math.hypot(liftoff_sd, _gap_sd_s(silence_before, settings))
    touchdown, touchdown_sd = stretch.end_s, 0.0
    if not ends_in_air:
        touchdown, touchdown_sd = refined_touchdown(motion, air, stretch, within, usual, settings)
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
