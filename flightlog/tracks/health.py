"""The health of a log: what a pilot should know of the recording before trusting what is drawn from it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from flightlog.arrays import Bools, Floats
from flightlog.errors import Note
from flightlog.tracks.notebook import Notebook
from flightlog.tracks.track import Track

GAP_S = 15.0
"""A longer silence is a gap (the analysis bridges no longer one, M 1)."""
_STALE_FIXES = 3  # so many equal positions in a row, then a leap: the recorder repeated itself
_MOVING_MPS = 2.0  # a wing in flight that stands still over the ground for a moment leaps nowhere after it (M 1)
_LEAP_MPS = 100.0  # faster than any soaring wing in any wind
_METRES_A_DEGREE = 111_195.0  # of latitude, on the mean sphere: enough to tell a leap


@dataclass(frozen=True)
class Gap:
    """A silence of the recorder: from a fix to the next, and the line of the latter."""

    start_s: float
    end_s: float
    line: int


@dataclass(frozen=True)
class Health:
    """What is odd about a log, and its plain facts; None where the log gives no evidence."""

    problems: tuple[Note, ...]
    records: int  # met in the file
    fixes: int  # in the track
    fixes_with_position: int
    interval_s: float | None  # the usual one: median of the steps forward
    intervals: tuple[tuple[float, int], ...]  # seconds (rounded to tenths) and how often, most frequent first
    gaps: tuple[Gap, ...]
    duplicate_times: int
    backward_times: int
    has_pressure_altitude: bool
    has_gnss_altitude: bool
    pressure_share: float  # of fixes that have it, 0 to 1
    gnss_share: float
    pressure_less_gnss_m: float | None  # median difference of the two altitudes
    gnss_datum: str
    recorded: tuple[str, ...]  # the recorder's own columns


def check_track(track: Track) -> Health:
    """Health of a track: the reader's notes, what shows only in the whole of it, and the facts."""
    steps = np.diff(track.time_s)
    known = ~np.isnan(track.latitude_deg) & ~np.isnan(track.longitude_deg)
    notebook = Notebook(track.notes)
    gaps = _gaps(track, steps)
    if gaps:
        longest = max(gap.end_s - gap.start_s for gap in gaps)
        message = f"the recorder was silent for more than {GAP_S:.0f} s, {longest:.0f} s at most"
        notebook.add("gap", message, gaps[0].line, len(gaps))
    _note_leaps(track, known, notebook)
    forward = steps[steps > 0]
    pressure, gnss = track.pressure_altitude_m, track.gnss_altitude_m
    return Health(
        problems=notebook.notes(),
        records=track.records_read,
        fixes=track.time_s.size,
        fixes_with_position=int(known.sum()),
        interval_s=float(np.median(forward)) if forward.size else None,
        intervals=_histogram(forward),
        gaps=gaps,
        duplicate_times=int((steps == 0).sum()),
        backward_times=int((steps < 0).sum()),
        has_pressure_altitude=pressure is not None,
        has_gnss_altitude=gnss is not None,
        pressure_share=_share(pressure),
        gnss_share=_share(gnss),
        pressure_less_gnss_m=_median_difference(pressure, gnss),
        gnss_datum=track.gnss_datum,
        recorded=tuple(sorted(track.recorded)),
    )


def _gaps(track: Track, steps: Floats) -> tuple[Gap, ...]:
    """Silences longer than GAP_S within one segment or between two."""
    return tuple(
        Gap(float(track.time_s[k]), float(track.time_s[k + 1]), int(track.line[k + 1]))
        for k in np.flatnonzero(steps > GAP_S)
    )


def _histogram(forward: Floats) -> tuple[tuple[float, int], ...]:
    """Steps of time, to a tenth of a second, and how often each occurs; the ten most frequent."""
    tenths, counts = np.unique(np.round(forward * 10.0).astype(np.int64), return_counts=True)
    order = np.argsort(-counts, kind="stable")[:10]
    return tuple((float(tenths[k]) / 10.0, int(counts[k])) for k in order)


def _note_leaps(track: Track, known: Bools, notebook: Notebook) -> None:
    """Positions that leap, and positions repeated before a leap while time went on."""
    index = np.flatnonzero(known)
    if index.size < 2:
        return
    latitude, longitude = track.latitude_deg[index], track.longitude_deg[index]
    time_s, line = track.time_s[index], track.line[index]
    east = (np.diff(longitude) + 180.0) % 360.0 - 180.0
    north_m = np.diff(latitude) * _METRES_A_DEGREE
    moved_m = np.hypot(north_m, east * _METRES_A_DEGREE * np.cos(np.radians(latitude[:-1])))
    elapsed_s = np.maximum(np.diff(time_s), 0.1)
    leaps = np.flatnonzero(moved_m / elapsed_s > _LEAP_MPS)
    if leaps.size:
        message = f"the position leaps, by {moved_m[leaps].max() / 1000.0:.1f} km at most"
        notebook.add("position_leap", message, int(line[leaps[0] + 1]), int(leaps.size))
    still = np.concatenate([[False], moved_m == 0.0, [False]])
    starts = np.flatnonzero(~still[:-1] & still[1:])
    ends = np.flatnonzero(still[:-1] & ~still[1:])
    inner = (starts > 0) & (ends < moved_m.size) & (ends - starts >= _STALE_FIXES - 1)
    starts, ends = starts[inner], ends[inner]
    before_mps = moved_m[starts - 1] / elapsed_s[starts - 1]
    mean_mps = moved_m[ends] / (time_s[ends + 1] - time_s[starts]).clip(min=0.1)
    stale = np.flatnonzero((before_mps > _MOVING_MPS) & (mean_mps > _MOVING_MPS))
    if stale.size:
        message = "positions are repeated while the wing flies on, then leap: the recorder had no new ones"
        notebook.add("stale_positions", message, int(line[starts[stale[0]] + 1]), int(stale.size))


def _share(altitude_m: Floats | None) -> float:
    """Share of the fixes that have this altitude."""
    return 0.0 if altitude_m is None else float(np.mean(~np.isnan(altitude_m)))


def _median_difference(pressure_m: Floats | None, gnss_m: Floats | None) -> float | None:
    """Median of pressure less GNSS altitude."""
    if pressure_m is None or gnss_m is None:
        return None
    difference = pressure_m - gnss_m
    difference = difference[~np.isnan(difference)]
    return float(np.median(difference)) if difference.size else None
