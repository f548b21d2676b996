"""From what the file said to how the pilot moved: odd fixes out, gaps marked, positions and heights smoothed."""

from __future__ import annotations

import math

import numpy as np

from flightlog.arrays import Bools, Complexes, Floats, Ints, frozen_floats, frozen_ints, middle
from flightlog.earth.geodesy import LocalPlane, wrapped_deg
from flightlog.errors import Note, TrackFileError
from flightlog.motion.altitudes import Altitudes, choose_altitudes
from flightlog.motion.clock import in_order, rising
from flightlog.motion.kinematics import longest_bridge_s, smoothed_height, smoothed_level
from flightlog.motion.motion import Motion
from flightlog.motion.outliers import jumps, rounding_step_deg, spikes, stale_repeats
from flightlog.settings import Settings
from flightlog.tracks.track import Track

_DEGREE_M = 111_200.0  # one degree of latitude


def clean_motion(track: Track, settings: Settings) -> Motion:
    """How the pilot moved, from what the file said.

    Left out, each with a note: fixes without position or time, those at 0/0, times that repeat or step back,
    blocks recorded twice, jumps away and back, spikes, positions repeated while moving on. A silence longer than
    `longest_bridge_s` (or 2.5 intervals) starts a new piece, which is smoothed by itself.

    Raises
    ------
    TrackFileError
        Fewer than `fewest_fixes` fixes are of use.
    """
    notes: list[Note] = []
    fix = _usable_fixes(track, settings, notes)
    plane = _plane(track, fix)
    east, north = plane.to_plane(track.latitude_deg[fix], track.longitude_deg[fix])
    place = east + 1j * north
    kept = _believable(track, fix, place, settings, notes)
    fix, place = fix[kept], place[kept]
    _enough(track, fix, settings)
    piece, whole = _pieces(track, fix, place, settings, notes)
    fix, place, piece = fix[whole], place[whole], piece[whole]
    _enough(track, fix, settings)
    _not_endless(track, fix, piece, settings)
    time_s = track.time_s[fix]
    altitudes = choose_altitudes(
        time_s, _column(track.pressure_altitude_m, fix), _column(track.gnss_altitude_m, fix), settings
    )
    return _smoothed_motion(track, fix, piece, plane, place, altitudes, settings, (*notes, *altitudes.notes))


def _column(values: Floats | None, fix: Ints) -> Floats | None:
    """The values at these fixes, if the log has such a column."""
    return None if values is None else values[fix]


def _enough(track: Track, fix: Ints, settings: Settings) -> None:
    """Raise where too little is left of the track."""
    if len(fix) < settings.fewest_fixes:
        raise TrackFileError(
            f"{len(fix)} usable fixes of {track.records_read}",
            f"at least {settings.fewest_fixes} are needed; is it the whole flight file?",
            track.file,
        )


def _not_endless(track: Track, fix: Ints, piece: Ints, settings: Settings) -> None:
    """Raise where the recording lasts longer, silences left out, than anybody flies."""
    covered_s = float(np.diff(track.time_s[fix])[np.diff(piece) == 0].sum())
    if covered_s > settings.longest_recording_s:
        found = f"a recording of {covered_s / 86400.0:.0f} days without its silences"
        raise TrackFileError(found, "split the log by day", track.file)


def _note(notes: list[Note], track: Track, dropped: Ints, code: str, message: str) -> None:
    """Add a note about the fixes left out (indices into the track), if there are any."""
    if len(dropped):
        line = int(track.line[dropped[0]])
        notes.append(Note(code, message, line if line > 0 else None, len(dropped)))


def _usable_fixes(track: Track, settings: Settings, notes: list[Note]) -> Ints:
    """Indices of the fixes that have a place and a time, in order of time, each time once."""
    lat, lon, time_s = track.latitude_deg, track.longitude_deg, track.time_s
    known = np.isfinite(lat) & np.isfinite(lon) & np.isfinite(time_s) & (np.abs(lat) <= 90.0)
    origin = known & (np.abs(lat) < 1e-4) & (np.abs(lon) < 1e-4)
    if origin.mean() < 0.5:  # a flight around 0/0 would be at sea
        known &= ~origin
    _note(notes, track, np.flatnonzero(~known), "no_position", "fixes without a position or time are left out")
    fix = np.flatnonzero(known)
    _enough(track, fix, settings)
    fix = fix[in_order(track.segment[fix], time_s[fix])]
    keep = rising(time_s[fix], settings.closest_fixes_s)
    again = np.abs(np.diff(time_s[fix], prepend=np.inf)) < settings.closest_fixes_s
    _note(notes, track, fix[~keep & again], "duplicate_time", "fixes with the time of the one before are left out")
    _note(
        notes, track, fix[~keep & ~again], "backward_time",
        "the time steps back: fixes recorded again, or before the clock was set, are left out",
    )  # fmt: skip
    return fix[keep]


def _plane(track: Track, fix: Ints) -> LocalPlane:
    """A plane around the middle of the track."""
    lat, lon = track.latitude_deg[fix], track.longitude_deg[fix]
    middle_deg = lon[0] + middle(wrapped_deg(lon - lon[0]))
    return LocalPlane(middle(lat), float(wrapped_deg(middle_deg)))


def _believable(track: Track, fix: Ints, place: Complexes, settings: Settings, notes: list[Note]) -> Bools:
    """Mark the fixes that are neither spikes, jumps away and back, nor stale."""
    time_s = track.time_s[fix]
    step_deg = rounding_step_deg(track.latitude_deg[fix])
    stale = stale_repeats(time_s, place, step_deg * _DEGREE_M)
    _note(notes, track, fix[stale], "stale_fix", "positions repeated while the pilot moved on are left out")
    place = np.where(stale, np.nan, place) if stale.any() else place
    away = jumps(time_s, place, settings.fastest_travel_mps, 30.0, settings.longest_jump_s)
    place = np.where(away, np.nan, place) if away.any() else place
    slack_m = settings.spike_slack_m + max(0.0, step_deg * _DEGREE_M - 2.0)
    spike = spikes(time_s, place, slack_m, settings.spike_curvature_mps2)
    _note(notes, track, fix[away | spike], "spike", "positions that jump away and back are left out")
    return ~(stale | away | spike)


def _pieces(
    track: Track, fix: Ints, place: Complexes, settings: Settings, notes: list[Note]
) -> tuple[Ints, Bools]:
    """Number of the unbroken piece each fix belongs to, and the fixes of pieces long enough to use."""
    time_s = track.time_s[fix]
    step = np.diff(time_s)
    interval = middle(step)
    if interval > 4.0:
        notes.append(Note("slow_recording", f"one fix every {interval:.0f} s: circles and landings are less sure"))
    longest = longest_bridge_s(interval, settings)
    gap = step > longest
    if gap.any():
        first = int(track.line[fix[1:][gap][0]])
        message = (
            f"silences of the recorder longer than {longest:.0f} s are not bridged: {step[gap].sum():.0f} s in all"
        )
        notes.append(Note("gap", message, first if first > 0 else None, int(gap.sum())))
    broken = gap | _discontinuous(track, fix, place, settings)
    piece = np.concatenate([[0], np.cumsum(broken)])
    whole = np.bincount(piece)[piece] >= 3
    numbers = np.cumsum(np.bincount(piece) >= 3) - 1
    return np.asarray(numbers[piece], dtype=np.int64), whole


def _discontinuous(track: Track, fix: Ints, place: Complexes, settings: Settings) -> Bools:
    """Mark steps where the clock was set back (or a recording ends) and the movement does not join up."""
    time_s = track.time_s[fix]
    step = np.diff(time_s)
    velocity = (place[1:] - place[:-1]) * (1.0 / step)
    fast = np.abs(velocity) > settings.fastest_travel_mps
    joint = (np.diff(track.segment[fix]) != 0) | _clock_set(track, fix)
    joint[[0, -1]] = False
    at = np.flatnonzero(joint)
    usual = 0.5 * (velocity[at - 1] + velocity[at + 1])
    off = np.abs(velocity[at] - usual) * step[at]
    out = np.zeros(len(step), dtype=np.bool_)
    out[at] = off > settings.spike_slack_m + settings.spike_curvature_mps2 * step[at] ** 2
    return np.asarray(out | (fast & (step > 1.0)))


def _clock_set(track: Track, fix: Ints) -> Bools:
    """Mark steps between kept fixes over which the clock of the file stepped back by a second or more."""
    back = np.concatenate([[0], np.cumsum(np.diff(track.time_s) < -0.5)])
    return np.asarray(np.diff(back[fix]) != 0)


def _rounding_m(latitude_deg: Floats, plane: LocalPlane) -> float:
    """Step to which the file rounds its positions, the mean of both directions, m."""
    both = 0.5 + 0.5 * math.cos(math.radians(plane.origin_lat_deg)) ** 2
    return rounding_step_deg(latitude_deg) * _DEGREE_M * math.sqrt(both)


def _smoothed_motion(
    track: Track,
    fix: Ints,
    piece: Ints,
    plane: LocalPlane,
    place: Complexes,
    altitudes: Altitudes,
    settings: Settings,
    notes: tuple[Note, ...],
) -> Motion:
    """Smooth everything and turn the velocities from the plane's north to true north."""
    time_s = track.time_s[fix]
    lat = track.latitude_deg[fix]
    interval = middle(np.diff(time_s))
    noise_m = float(np.hypot(settings.position_noise_m, _rounding_m(lat, plane) / 12**0.5))
    level = smoothed_level(time_s, piece, place, noise_m, interval, settings)
    altitude, climb = smoothed_height(
        time_s, piece, altitudes.measured_m, altitudes.noise_m, level.bend_mps2, interval, settings
    )
    east, north = place.real, place.imag
    to_true = 1.0 / plane.turned_and_stretched(east, north)
    velocity, acceleration = level.velocity_mps * to_true, level.acceleration_mps2 * to_true
    return Motion(
        fix=frozen_ints(fix),
        time_s=frozen_floats(time_s),
        piece=frozen_ints(piece),
        plane=plane,
        measured_east_m=frozen_floats(east),
        measured_north_m=frozen_floats(north),
        measured_altitude_m=frozen_floats(altitudes.measured_m),
        east_m=frozen_floats(level.place_m.real),
        north_m=frozen_floats(level.place_m.imag),
        altitude_m=frozen_floats(altitude),
        velocity_east_mps=frozen_floats(velocity.real),
        velocity_north_mps=frozen_floats(velocity.imag),
        climb_mps=frozen_floats(climb),
        acceleration_east_mps2=frozen_floats(acceleration.real),
        acceleration_north_mps2=frozen_floats(acceleration.imag),
        altitude_source=altitudes.source,
        altitude_scale=altitudes.scale,
        altitude_offset_m=altitudes.offset_m,
        altitude_scale_sd=altitudes.scale_sd,
        altitude_lag_sd_s=altitudes.lag_sd_s,
        interval_s=interval,
        notes=notes,
        position_noise_m=noise_m,
        altitude_noise_m=altitudes.noise_m,
    )
