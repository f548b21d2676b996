"""From positions, heights and times as a reader found them to a Track: what all formats but IGC share."""

from __future__ import annotations

import datetime
import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from flightlog.arrays import Bools, Floats, Ints, frozen_floats, frozen_ints
from flightlog.errors import TrackFileError
from flightlog.tracks.altitudes import checked_altitudes
from flightlog.tracks.igc_times import DAY_S
from flightlog.tracks.notebook import Notebook
from flightlog.tracks.odd_times import note_darkness, note_odd_times
from flightlog.tracks.track import Header, Track

_EPOCH = datetime.date(1970, 1, 1)
_FIRST_S = 315_532_800.0  # 1980-01-01: satellite navigation time begins in that year
_LAST_S = 7_258_118_400.0  # 2200-01-01


@dataclass(frozen=True, eq=False)
class Points:
    """n points in the order of the file; NaN where a point lacks a value."""

    time_s: Floats  # (n,) seconds since 1970, UTC; since the first midnight where the file holds no date
    latitude_deg: Floats
    longitude_deg: Floats
    gnss_altitude_m: Floats
    line: Ints
    segment: Ints
    met: int  # in the file, unusable ones included
    gnss_datum: str = "unknown"  # level that the file counts altitudes from: "geoid" or "unknown"
    pressure_altitude_m: Floats | None = None
    is_dated: bool = True
    recorded: Mapping[str, Floats] = field(default_factory=dict)


def track_of(
    points: Points,
    header: Header,
    notebook: Notebook,
    *,
    data: bytes,
    file: str,
    format_name: str,
    date: datetime.date | None,
) -> Track:
    """The track of these points; `date` replaces that of the first, all times moving by whole days.

    Raises
    ------
    TrackFileError
        No point, no position or no times.
    """
    points = _checked(_timed(points, file, notebook), notebook, file)
    time_s = _dated(points, date, notebook)
    longitude = np.where(points.longitude_deg >= 180.0, points.longitude_deg - 360.0, points.longitude_deg)
    note_odd_times(time_s, points.line, notebook)
    if points.is_dated or date is not None:
        note_darkness(time_s, points.latitude_deg, longitude, notebook)
    pressure, gnss = _altitudes(points, notebook)
    has_date = points.is_dated or date is not None
    first_date = _EPOCH + datetime.timedelta(days=int(time_s[0] // DAY_S))
    return Track(
        time_s=frozen_floats(time_s),
        latitude_deg=frozen_floats(points.latitude_deg),
        longitude_deg=frozen_floats(longitude),
        pressure_altitude_m=None if pressure is None else frozen_floats(pressure),
        gnss_altitude_m=None if gnss is None else frozen_floats(gnss),
        line=frozen_ints(points.line),
        segment=frozen_ints(points.segment),
        gnss_datum=points.gnss_datum if gnss is not None else "unknown",
        header=replace(header, date=first_date.isoformat() if has_date else None),
        file=file,
        format=format_name,
        sha256=hashlib.sha256(data).hexdigest(),
        records_read=points.met,
        has_fractional_seconds=bool(np.any(time_s % 1.0 != 0.0)),
        recorded={name: frozen_floats(values) for name, values in points.recorded.items()},
        notes=notebook.notes(),
    )


def _timed(points: Points, file: str, notebook: Notebook) -> Points:
    """The points that have a time in the years of satellite navigation."""
    if points.line.size == 0:
        found = f"none of {points.met} points can be used" if points.met else "no point of a track"
        raise TrackFileError(found, "is it the file that the recorder wrote?", file, 1)
    timed = np.isfinite(points.time_s)
    if not timed.any():
        advice = "it cannot be analysed; export it with times"
        raise TrackFileError("a track without times", advice, file, int(points.line[0]))
    if points.is_dated:
        likely = (points.time_s >= _FIRST_S) & (points.time_s < _LAST_S)
        if (timed & ~likely).any():
            message = "times before 1980 or after 2200: the clock was not set; left out"
            first = int(points.line[np.argmax(timed & ~likely)])
            notebook.add("clock_not_set", message, first, int((timed & ~likely).sum()))
        if not (timed & likely).any():
            found = "no time between 1980 and 2200"
            raise TrackFileError(found, "is the column of times what it says?", file, int(points.line[0]))
        timed &= likely
    missing = ~np.isfinite(points.time_s)
    if missing.any():
        first = int(points.line[np.argmax(missing)])
        notebook.add("no_time", "points without a time; left out", first, int(missing.sum()))
    return _chosen(points, timed)


def _checked(points: Points, notebook: Notebook, file: str) -> Points:
    """The points with a position on the earth."""
    latitude, longitude = points.latitude_deg, points.longitude_deg
    on_earth = (np.abs(latitude) <= 90.0) & (np.abs(longitude) <= 180.0)  # NaN is not
    if not on_earth.all():
        message = "a position that does not exist (no number, or beyond 90 or 180 degrees); left out"
        first = int(points.line[np.argmin(on_earth)])
        notebook.add("bad_position", message, first, int((~on_earth).sum()))
    origin = on_earth & (latitude == 0.0) & (longitude == 0.0)
    if origin.any():
        message = "points at exactly 0 N 0 E: the recorder had no position yet; left out"
        notebook.add("no_position", message, int(points.line[np.argmax(origin)]), int(origin.sum()))
    good = on_earth & ~origin
    if not good.any():
        found = f"none of {points.met} points has a position"
        raise TrackFileError(found, "there is nothing to analyse", file, int(points.line[0]))
    return _chosen(points, good)


def _chosen(points: Points, mask: Bools) -> Points:
    """The points that the mask marks."""
    if mask.all():
        return points
    pressure = points.pressure_altitude_m
    return replace(
        points,
        time_s=points.time_s[mask],
        latitude_deg=points.latitude_deg[mask],
        longitude_deg=points.longitude_deg[mask],
        gnss_altitude_m=points.gnss_altitude_m[mask],
        line=points.line[mask],
        segment=points.segment[mask],
        pressure_altitude_m=None if pressure is None else pressure[mask],
        recorded={name: values[mask] for name, values in points.recorded.items()},
    )


def _dated(points: Points, date: datetime.date | None, notebook: Notebook) -> Floats:
    """Times moved to the date asked for; said where there is none at all."""
    if date is None:
        if not points.is_dated:
            message = "the log has no date; times are given as of 1970-01-01 (set one with --date)"
            notebook.add("no_date", message)
        return points.time_s
    first_day = np.floor(points.time_s[0] / DAY_S)
    return np.asarray(points.time_s + ((date - _EPOCH).days - first_day) * DAY_S)


def _altitudes(points: Points, notebook: Notebook) -> tuple[Floats | None, Floats | None]:
    """Pressure and GNSS altitude, None where there is none, with the notes that say so."""
    gnss_m = points.gnss_altitude_m
    pressure_m = points.pressure_altitude_m
    has_pressure = pressure_m is not None and bool(np.isfinite(pressure_m).any())
    side = Notebook()  # that a format without barometers has none needs no note
    known = np.ones(gnss_m.size, dtype=np.bool_)
    given = pressure_m if pressure_m is not None and has_pressure else np.full(gnss_m.size, np.nan)
    pressure, gnss = checked_altitudes(given, gnss_m, known, points.line, side)
    for note in side.notes():
        if has_pressure or note.code != "no_pressure_altitude":
            notebook.add(note.code, note.message, note.line, note.count)
    missing = np.flatnonzero(np.isnan(gnss_m))
    if gnss is not None and missing.size:
        message = "points without an altitude; their positions are used"
        notebook.add("gnss_dropout", message, int(points.line[missing[0]]), int(missing.size))
    if gnss is not None and points.gnss_datum == "unknown":
        message = "the file does not say which level altitudes count from; taken as mean sea level"
        notebook.add("gnss_datum_unknown", message)
    return pressure, gnss
