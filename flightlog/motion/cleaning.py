"""From what the file said to how the pilot moved: odd fixes out, gaps marked, positions and heights smoothed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from flightlog.arrays import Bools, Floats, Ints, frozen_floats, frozen_ints
from flightlog.earth.geodesy import LocalPlane, wrapped_deg
from flightlog.errors import Note, TrackFileError
from flightlog.motion.altitudes import Altitudes, choose_altitudes
from flightlog.motion.clock import in_order, rising
from flightlog.motion.motion import Motion
from flightlog.motion.outliers import blocks_of, jumps, rounding_step_deg, spikes, stale_repeats
from flightlog.motion.smoothing import (
    probe_spacing,
    smooth,
    steps_between,
    variances,
    wiener_precision,
)
from flightlog.settings import Settings
from flightlog.tracks.track import Track

_DEGREE_M = 111_200.0  # one degree of latitude
_FULL_TURN_ACCELERATION_MPS2 = 2.5  # V omega while circling is 3 to 4 m/s2
_STRAIGHT_ACCELERATION_MPS2 = 1.0
_TURNING_FACTORS = ([0.2, 1.0, 2.0, 3.0, 4.0, 5.0, 10.0], [1.0, 1.0, 1.1, 1.5, 1.8, 2.0, 3.0])


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
    kept = _believable(track, fix, np.stack([east, north], axis=1), settings, notes)
    fix, east, north = fix[kept], east[kept], north[kept]
    _enough(track, fix, settings)
    piece, whole = _pieces(track, fix, np.stack([east, north], axis=1), settings, notes)
    fix, east, north, piece = fix[whole], east[whole], north[whole], piece[whole]
    _enough(track, fix, settings)
    _not_endless(track, fix, piece, settings)
    time_s = track.time_s[fix]
    altitudes = choose_altitudes(
        time_s, _column(track.pressure_altitude_m, fix), _column(track.gnss_altitude_m, fix), settings
    )
    return _smoothed_motion(track, fix, piece, plane, east, north, altitudes, settings, (*notes, *altitudes.notes))


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
    middle = float(lon[0] + np.median(wrapped_deg(lon - lon[0])))
    return LocalPlane(float(np.median(lat)), float(wrapped_deg(middle)))


def _believable(track: Track, fix: Ints, place: Floats, settings: Settings, notes: list[Note]) -> Bools:
    """Mark the fixes that are neither spikes, jumps away and back, nor stale."""
    time_s = track.time_s[fix]
    step_deg = rounding_step_deg(track.latitude_deg[fix])
    stale = stale_repeats(time_s, place, step_deg * _DEGREE_M)
    _note(notes, track, fix[stale], "stale_fix", "positions repeated while the pilot moved on are left out")
    place = np.where(stale[:, None], np.nan, place)
    away = jumps(time_s, place, settings.fastest_travel_mps, 30.0, settings.longest_jump_s)
    place = np.where(away[:, None], np.nan, place)
    slack_m = settings.spike_slack_m + max(0.0, step_deg * _DEGREE_M - 2.0)
    spike = spikes(time_s, place, slack_m, settings.spike_curvature_mps2)
    _note(notes, track, fix[away | spike], "spike", "positions that jump away and back are left out")
    return ~(stale | away | spike)


def _pieces(track: Track, fix: Ints, place: Floats, settings: Settings, notes: list[Note]) -> tuple[Ints, Bools]:
    """Number of the unbroken piece each fix belongs to, and the fixes of pieces long enough to use."""
    time_s = track.time_s[fix]
    step = np.diff(time_s)
    interval = float(np.median(step))
    if interval > 4.0:
        notes.append(Note("slow_recording", f"one fix every {interval:.0f} s: circles and landings are less sure"))
    longest = _longest_bridge_s(interval, settings)
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


def _longest_bridge_s(interval_s: float, settings: Settings) -> float:
    """Longest silence that is bridged: some seconds, or a few intervals of a slow recorder."""
    slow = min(settings.longest_bridge_intervals * interval_s, settings.longest_slow_bridge_s)
    return max(settings.longest_bridge_s, slow)


def _discontinuous(track: Track, fix: Ints, place: Floats, settings: Settings) -> Bools:
    """Mark steps where the clock was set back (or a recording ends) and the movement does not join up."""
    time_s = track.time_s[fix]
    step = np.diff(time_s)
    velocity = np.diff(place, axis=0) / step[:, None]
    fast = np.sqrt((velocity**2).sum(axis=1)) > settings.fastest_travel_mps
    joint = (np.diff(track.segment[fix]) != 0) | _clock_set(track, fix)
    joint[[0, -1]] = False
    at = np.flatnonzero(joint)
    usual = 0.5 * (velocity[at - 1] + velocity[at + 1])
    off = np.sqrt(((velocity[at] - usual) ** 2).sum(axis=1)) * step[at]
    out = np.zeros(len(step), dtype=np.bool_)
    out[at] = off > settings.spike_slack_m + settings.spike_curvature_mps2 * step[at] ** 2
    return np.asarray(out | (fast & (step > 1.0)))


def _clock_set(track: Track, fix: Ints) -> Bools:
    """Mark steps between kept fixes over which the clock of the file stepped back by a second or more."""
    back = np.concatenate([[0], np.cumsum(np.diff(track.time_s) < -0.5)])
    return np.asarray(np.diff(back[fix]) != 0)


@dataclass(frozen=True, eq=False)
class _Horizontal:
    """Smoothed plane coordinates with their rates, and the standard deviation of one velocity component."""

    states: Floats  # (n, 3, 2)
    velocity_sd_mps: Floats
    acceleration_mps2: Floats  # root mean square over 12 s: 3 to 4 in circles, below 1 in straight flight


def _noise_variance(time_s: Floats, variance: float) -> Floats:
    """Variance of each fix: fixes closer than 1 s share their errors, so that more of them tell no more."""
    step = np.minimum(np.diff(time_s), 1.0)
    spacing = np.concatenate([[step[0]], 0.5 * (step[:-1] + step[1:]), [step[-1]]])
    return np.asarray(variance / np.minimum(spacing, 1.0))


def _stride(interval_s: float) -> int:
    """Standard deviations are computed every so many fixes: about each 2.5 s, they change slowly."""
    return int(max(1, 2.5 // interval_s))


def _horizontal(
    time_s: Floats, piece: Ints, place: Floats, rounding_m: float, interval_s: float, settings: Settings
) -> _Horizontal:
    """Smooth the plane coordinates with the integrated-Wiener prior of third order, more loosely in turns.

    The jerk of a steady turn is V omega^2 for about 1 / omega: a density of a^3 / (2 V) beside that of gusts.
    """
    variance = settings.position_noise_m**2 + rounding_m**2 / 12.0
    noise = _noise_variance(time_s, variance)
    steps = steps_between(time_s, piece)
    base = settings.jerk_density_m2ps5
    middle = place.mean(axis=0)
    acceleration = _running_rms(time_s, _bend(time_s, piece, place, interval_s), 6.0)
    turning = acceleration**3 / (2.0 * settings.trim_airspeed_mps)
    density = base + settings.turning_jerk_share * 0.5 * (turning[1:] + turning[:-1])
    smoothed = smooth(place - middle, 1.0 / noise, wiener_precision(steps, density, 3))
    smoothed.states[:, 0] += middle
    spacing = probe_spacing(interval_s, float(np.median(noise)), base, 3)
    sd = np.sqrt(variances(smoothed, 1, spacing, _stride(interval_s)))
    factor = _turning_factor(acceleration, interval_s)
    return _Horizontal(smoothed.states, sd * factor, acceleration)


def _bend(time_s: Floats, piece: Ints, place: Floats, interval_s: float) -> Floats:
    """Acceleration from three places some seconds apart, (n, 2); the noise of the fixes makes it 0.4 m/s2 at most.

    0 at the ends of pieces. The 2.5 s to either side cut the acceleration in a 15 s circle by 4 %.
    """
    reach = max(2.5, interval_s)
    before, after = np.searchsorted(time_s, time_s - reach), np.searchsorted(time_s, time_s + reach)
    last = len(time_s) - 1
    inside = (time_s - reach >= time_s[0]) & (time_s + reach <= time_s[-1])
    inside &= (piece[np.maximum(before - 1, 0)] == piece) & (piece[np.minimum(after, last)] == piece)
    bend = np.empty((len(time_s), 2))
    for column in range(2):
        there = np.interp(time_s + reach, time_s, place[:, column])
        back = np.interp(time_s - reach, time_s, place[:, column])
        bend[:, column] = (there - 2.0 * place[:, column] + back) / reach**2
    return np.where(inside[:, None], bend, 0.0)


def _running_rms(time_s: Floats, vectors: Floats, half_width_s: float) -> Floats:
    """Root mean square length of the vectors within so many seconds to either side."""
    running = np.concatenate([[0.0], np.cumsum((vectors**2).sum(axis=1))])
    low = np.searchsorted(time_s, time_s - half_width_s)
    high = np.searchsorted(time_s, time_s + half_width_s, side="right")
    return np.asarray(np.sqrt(np.maximum((running[high] - running[low]) / (high - low), 0.0)))


def _turning_share(acceleration_mps2: Floats) -> Floats:
    """0 in straight flight, 1 in circles, by the acceleration."""
    span = _FULL_TURN_ACCELERATION_MPS2 - _STRAIGHT_ACCELERATION_MPS2
    return np.clip((acceleration_mps2 - _STRAIGHT_ACCELERATION_MPS2) / span, 0.0, 1.0)


def _turning_factor(acceleration_mps2: Floats, interval_s: float) -> Floats:
    """By how much errors in circles exceed the posterior (measured on simulated flights, see M 1)."""
    full = float(np.interp(interval_s, *_TURNING_FACTORS))
    return np.asarray(1.0 + (full - 1.0) * _turning_share(acceleration_mps2))


def _vertical(
    time_s: Floats,
    piece: Ints,
    altitudes: Altitudes,
    acceleration_mps2: Floats,
    interval_s: float,
    settings: Settings,
) -> tuple[Floats, Floats, Floats]:
    """Smoothed altitude, climb and the standard deviation of climb; NaN further from any height than a bridge."""
    known = np.isfinite(altitudes.measured_m)
    if not known.any():
        nothing = np.full(len(time_s), np.nan)
        return nothing, nothing, nothing
    noise = _noise_variance(time_s, altitudes.noise_m**2)
    share = _turning_share(0.5 * (acceleration_mps2[1:] + acceleration_mps2[:-1]))
    base = settings.climb_density_m2ps3
    density = base + (settings.turning_climb_density_m2ps3 - base) * share
    precision = wiener_precision(steps_between(time_s, piece), density, 2)
    middle = float(np.nanmedian(altitudes.measured_m))
    smoothed = smooth((altitudes.measured_m - middle)[:, None], 1.0 / noise, precision)
    spacing = probe_spacing(interval_s, float(np.median(noise)), base, 2)
    sd = np.sqrt(variances(smoothed, 1, spacing, _stride(interval_s)))
    if altitudes.source == "gnss":
        sd = 3.0 * sd  # the errors of GNSS heights wander over seconds to minutes (M 1)
    longest = _longest_bridge_s(interval_s, settings)
    unknown = _far_from_known(time_s, piece, known, longest)
    values = smoothed.states[:, 0, 0] + middle, smoothed.states[:, 1, 0], sd
    altitude, climb, climb_sd = (np.where(unknown, np.nan, column) for column in values)
    return altitude, climb, climb_sd


def _far_from_known(time_s: Floats, piece: Ints, known: Bools, longest_s: float) -> Bools:
    """Mark fixes inside stretches without a height that last longer than a bridge."""
    far = np.zeros(len(time_s), dtype=np.bool_)
    if known.all():
        return far
    starts, stops = blocks_of(~known)
    for start, stop in zip(starts, stops, strict=True):
        last = len(time_s) - 1
        if time_s[min(stop, last)] - time_s[max(start - 1, 0)] > longest_s:
            far[start:stop] = True
    whole = np.bincount(piece, weights=known) < 2
    return np.asarray(far | whole[piece])


def _smoothed_motion(
    track: Track,
    fix: Ints,
    piece: Ints,
    plane: LocalPlane,
    east: Floats,
    north: Floats,
    altitudes: Altitudes,
    settings: Settings,
    notes: tuple[Note, ...],
) -> Motion:
    """Smooth everything and turn the velocities from the plane's north to true north."""
    time_s = track.time_s[fix]
    lat = track.latitude_deg[fix]
    interval = float(np.median(np.diff(time_s)))
    rounding_m = (
        rounding_step_deg(lat)
        * _DEGREE_M
        * float(np.sqrt(0.5 + 0.5 * np.cos(np.radians(plane.origin_lat_deg)) ** 2))
    )
    level = _horizontal(time_s, piece, np.stack([east, north], axis=1), rounding_m, interval, settings)
    altitude, climb, climb_sd = _vertical(time_s, piece, altitudes, level.acceleration_mps2, interval, settings)
    turn = np.radians(plane.convergence_at_deg(east, north))
    cosine, sine = np.cos(turn), np.sin(turn)
    rates = level.states[:, 1:, :] / plane.scale(east)[:, None, None]
    true_east = rates[:, :, 0] * cosine[:, None] + rates[:, :, 1] * sine[:, None]
    true_north = rates[:, :, 1] * cosine[:, None] - rates[:, :, 0] * sine[:, None]
    return Motion(
        fix=frozen_ints(fix),
        time_s=frozen_floats(time_s),
        piece=frozen_ints(piece),
        plane=plane,
        measured_east_m=frozen_floats(east),
        measured_north_m=frozen_floats(north),
        measured_altitude_m=frozen_floats(altitudes.measured_m),
        east_m=frozen_floats(level.states[:, 0, 0]),
        north_m=frozen_floats(level.states[:, 0, 1]),
        altitude_m=frozen_floats(altitude),
        velocity_east_mps=frozen_floats(true_east[:, 0]),
        velocity_north_mps=frozen_floats(true_north[:, 0]),
        climb_mps=frozen_floats(climb),
        acceleration_east_mps2=frozen_floats(true_east[:, 1]),
        acceleration_north_mps2=frozen_floats(true_north[:, 1]),
        velocity_sd_mps=frozen_floats(level.velocity_sd_mps),
        climb_sd_mps=frozen_floats(climb_sd),
        altitude_source=altitudes.source,
        altitude_scale=altitudes.scale,
        altitude_offset_m=altitudes.offset_m,
        altitude_scale_sd=altitudes.scale_sd,
        altitude_lag_sd_s=altitudes.lag_sd_s,
        interval_s=interval,
        notes=notes,
    )
