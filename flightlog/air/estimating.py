"""From movement over the ground to wind and movement through the air.

Wind needs circles and circles are only round through the air. Two passes cut that ring: search windows find the
wind without any circle known; with it the circles are found through the air; windows placed inside them, and in
straight flight on several headings, give the final wind.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from flightlog.air.air import Air, CircleRuns, WindField, WindWindows
from flightlog.air.chords import Chords, find_chords
from flightlog.air.field import average_wind, evaluate_field, field_wind, fit_field
from flightlog.air.straight_windows import straight_windows
from flightlog.air.triangles import direction_deg
from flightlog.air.turn_rates import air_turn_rate_degps
from flightlog.air.windows import (
    circling_windows,
    join_windows,
    learned_airspeed,
    search_windows,
    turning_airspeed,
)
from flightlog.arrays import Bools, Floats, Ints, frozen_floats, frozen_ints, lengths
from flightlog.earth.atmosphere import density_kgm3
from flightlog.errors import Note
from flightlog.motion.circles import find_turnings
from flightlog.motion.motion import Motion, Spell, Turning
from flightlog.settings import Settings

MOST_NODES = 4000


def estimate_air(motion: Motion, spells: Iterable[Spell], settings: Settings) -> Air:
    """The wind everywhere in the log and the motion through the air, one value a fix.

    Parameters
    ----------
    motion : Motion
        Cleaned movement, n fixes.
    spells : iterable of Spell
        Only time in the air gives wind and circles; the columns are filled for every fix.
    settings : Settings
        What the class of wing lets expect, and all limits.

    Returns
    -------
    Air
        Columns (n,). NaN where the wind is not known; the turn rate then is that over the ground. Airspeed while
        circling is the one fitted to the circles, since velocities smoothed at 2 s and more cut circles short.

    Notes
    -----
    Recorders slower than 6.5 s, and flights that never turned through 120 degrees, give no wind. An airspeed that
    varies once a circle shifts the wind by just that much; nothing in a track can tell.
    """
    in_air = tuple(spell for spell in spells if spell.kind == "air")
    chords = find_chords(motion, settings)
    nodes = _node_fixes(motion, settings)
    air_nodes = nodes[_within(motion.time_s[nodes], in_air)]
    first = search_windows(motion, chords, in_air, settings)
    field = _field(motion, first, air_nodes, settings)
    turnings = _turnings(motion, chords, field, nodes, in_air, settings)
    windows = _final_windows(motion, chords, in_air, turnings, settings)
    field = _field(motion, windows, air_nodes, settings, turnings)
    if (
        first.start_s.size == 0 and field is not None
    ):  # straight flight alone gave the wind: look for circles again
        turnings = _turnings(motion, chords, field, nodes, in_air, settings)
        windows = _final_windows(motion, chords, in_air, turnings, settings)
        field = _field(motion, windows, air_nodes, settings, turnings)
    return _air(motion, chords, windows, field, turnings, nodes, settings)


def _final_windows(
    motion: Motion,
    chords: Chords,
    in_air: tuple[Spell, ...],
    turnings: tuple[Turning, ...],
    settings: Settings,
) -> WindWindows:
    """Circling windows, and straight ones between the circling runs."""
    circling = circling_windows(motion, chords, turnings, settings)
    runs = _between(motion, in_air, turnings)
    straight = straight_windows(motion, chords, runs, learned_airspeed(circling, settings), settings)
    return join_windows(circling, straight)


def _field(
    motion: Motion,
    windows: WindWindows,
    nodes: Ints,
    settings: Settings,
    turnings: tuple[Turning, ...] | None = None,
) -> WindField | None:
    """Wind field through the windows; a rough one before the circles are known."""
    altitude = _filled(motion.altitude_m)
    circles = _circle_runs(motion.time_s, altitude, turnings or ())
    return fit_field(
        windows, motion.time_s[nodes], altitude[nodes], settings, circles=circles, rough=turnings is None
    )


def _circle_runs(time_s: Floats, altitude_m: Floats, turnings: tuple[Turning, ...]) -> CircleRuns:
    """The circling runs by time and height."""
    first = np.array([turn.start for turn in turnings], dtype=np.int64)
    last = np.array([turn.stop - 1 for turn in turnings], dtype=np.int64)
    return CircleRuns(
        start_s=frozen_floats(time_s[first]),
        end_s=frozen_floats(time_s[last]),
        start_altitude_m=frozen_floats(altitude_m[first]),
        end_altitude_m=frozen_floats(altitude_m[last]),
        turned_deg=frozen_floats([turn.turned_deg for turn in turnings]),
    )


def _turnings(
    motion: Motion,
    chords: Chords,
    field: WindField | None,
    nodes: Ints,
    in_air: tuple[Spell, ...],
    settings: Settings,
) -> tuple[Turning, ...]:
    """Circling runs through the air, as well as the wind is known; over the ground without any wind."""
    if not in_air:
        return ()
    if field is None:
        east, north = np.zeros(motion.time_s.size), np.zeros(motion.time_s.size)
    else:
        time = motion.time_s[nodes]
        columns = field_wind(field, time, _filled(motion.altitude_m)[nodes])
        east, north = (np.interp(motion.time_s, time, column) for column in columns)
    rate = air_turn_rate_degps(motion, chords, east, north, settings)
    return tuple(find_turnings(motion, rate, settings, within=in_air))


def _air(
    motion: Motion,
    chords: Chords,
    windows: WindWindows,
    field: WindField | None,
    turnings: tuple[Turning, ...],
    nodes: Ints,
    settings: Settings,
) -> Air:
    """All columns of the air."""
    if field is None:
        east, north, sd = (np.full(motion.time_s.size, np.nan) for _ in range(3))
    else:
        east, north, sd = _at_fixes(motion, field, nodes)
        unknown = ~(sd <= settings.wind_sd_limit_mps)
        east, north, sd = (np.where(unknown, np.nan, column) for column in (east, north, sd))
    known = np.isfinite(sd)
    air_east, air_north = motion.velocity_east_mps - east, motion.velocity_north_mps - north
    airspeed = lengths(air_east, air_north)
    airspeed, lonely = _with_fitted_airspeed(motion, windows, turnings, airspeed)
    for turning, own in zip(
        lonely, turning_airspeed(motion, chords, lonely, (east, north), settings), strict=True
    ):
        if np.isfinite(own):
            airspeed[turning.start : turning.stop] = own
    airspeed[~known] = np.nan
    mean = None if field is None else average_wind(field, -np.inf, np.inf, None, None)
    return Air(
        windows=windows,
        wind_east_mps=frozen_floats(east),
        wind_north_mps=frozen_floats(north),
        wind_sd_mps=frozen_floats(sd),
        airspeed_mps=frozen_floats(airspeed),
        heading_deg=frozen_floats(np.where(known, direction_deg(air_east, air_north), np.nan)),
        turn_rate_degps=frozen_floats(
            air_turn_rate_degps(motion, chords, np.where(known, east, 0.0), np.where(known, north, 0.0), settings)
        ),
        density_kgm3=frozen_floats(density_kgm3(motion.altitude_m)),
        circling=frozen_ints(_labels(motion, turnings)),
        turnings=turnings,
        mean_wind=mean,
        notes=_notes(motion, windows, settings),
        field=field,
    )


def _with_fitted_airspeed(
    motion: Motion, windows: WindWindows, turnings: tuple[Turning, ...], airspeed: Floats
) -> tuple[Floats, tuple[Turning, ...]]:
    """Airspeeds with circling stretches taken from the circle fits, and the turnings where there is none."""
    round_ones = windows.straight == 0
    middle, fitted = (windows.start_s + windows.end_s)[round_ones] / 2.0, windows.airspeed_mps[round_ones]
    airspeed, lonely = airspeed.copy(), []
    for turning in turnings:
        fixes = slice(turning.start, turning.stop)
        time = motion.time_s[fixes]
        mine = (middle >= time[0]) & (middle <= time[-1])
        if mine.any():
            airspeed[fixes] = np.interp(time, middle[mine], fitted[mine])
        else:
            lonely.append(turning)
    return airspeed, tuple(lonely)


def _at_fixes(motion: Motion, field: WindField, nodes: Ints) -> tuple[Floats, Floats, Floats]:
    """Wind and its sd at every fix, by way of the nodes."""
    time = motion.time_s[nodes]
    columns = evaluate_field(field, time, _filled(motion.altitude_m)[nodes])
    east, north, sd = (np.interp(motion.time_s, time, column) for column in columns)
    return east, north, sd


def _node_fixes(motion: Motion, settings: Settings) -> Ints:
    """Fixes at which the field is computed: one a minute, and the last; fewer in logs of many days."""
    bin_number = np.floor((motion.time_s - motion.time_s[0]) / settings.wind_node_s)
    nodes = np.flatnonzero(np.diff(bin_number, prepend=-1.0) > 0)
    nodes = nodes[:: max(1, len(nodes) // MOST_NODES)]
    return np.unique(np.append(nodes, motion.time_s.size - 1))


def _filled(altitude_m: Floats) -> Floats:
    """Altitudes with missing ones replaced by the mean: the field then changes with time alone."""
    known = np.isfinite(altitude_m)
    if known.all():
        return altitude_m
    return np.where(known, altitude_m, altitude_m[known].mean() if known.any() else 0.0)


def _within(time_s: Floats, in_air: tuple[Spell, ...]) -> Bools:
    """Times inside any of the spells."""
    inside = np.zeros(time_s.size, dtype=np.bool_)
    for spell in in_air:
        inside |= (time_s >= spell.start_s) & (time_s <= spell.end_s)
    return inside


def _between(
    motion: Motion, in_air: tuple[Spell, ...], turnings: tuple[Turning, ...]
) -> list[tuple[float, float]]:
    """Stretches of flight without circles, as (start, end)."""
    circles = [(float(motion.time_s[turn.start]), float(motion.time_s[turn.stop - 1])) for turn in turnings]
    runs = []
    for spell in in_air:
        begin = spell.start_s
        for start, end in circles:
            if spell.start_s <= start <= spell.end_s:
                runs.append((begin, start))
                begin = end
        runs.append((begin, spell.end_s))
    return runs


def _labels(motion: Motion, turnings: tuple[Turning, ...]) -> Ints:
    """1 in right-hand circles, -1 in left-hand ones, else 0."""
    label = np.zeros(motion.time_s.size, dtype=np.int64)
    for turning in turnings:
        label[turning.start : turning.stop] = 1 if turning.direction == "right" else -1
    return label


def _notes(motion: Motion, windows: WindWindows, settings: Settings) -> tuple[Note, ...]:
    """Why the wind is unknown, or that it rests on straight flight alone."""
    if windows.start_s.size == 0:
        if motion.interval_s > settings.longest_chord_s:
            return (Note("slow_recorder", f"fixes {motion.interval_s:.0f} s apart are too few to find the wind"),)
        return (Note("no_wind", "neither circles nor straight flight on several headings: the wind is unknown"),)
    if (windows.straight == 1).all():
        return (Note("wind_from_straight_flight", "no circles: the wind rests on the airspeed expected"),)
    return ()
