"""Reader of GPX 1.0 and 1.1 tracks: gpxpy reads what the guard lets through."""

from __future__ import annotations

import datetime
import hashlib
import logging

import numpy as np

from flightlog.arrays import Bools, Floats, frozen_floats, frozen_ints
from flightlog.errors import TrackFileError
from flightlog.tracks.gpx_guard import GuardedPoints, guarded_points
from flightlog.tracks.igc_times import DAY_S
from flightlog.tracks.notebook import Notebook
from flightlog.tracks.odd_times import note_darkness, note_odd_times
from flightlog.tracks.track import Header, Track

_FIRST_YEAR, _LAST_YEAR = 1980, 2200  # satellite navigation time begins in 1980
_PIECE_POINTS = 20_000
"""Points parsed at a time: the parser's objects take some 1.4 kB a point."""


def parse_gpx(data: bytes, *, file: str, date: datetime.date | None = None) -> Track:
    """The track of a GPX file.

    Parameters
    ----------
    data : bytes
        The file.
    file : str
        Its name, for messages and the Track.
    date : datetime.date, optional
        UTC date of the first fix; all times move by whole days.

    Raises
    ------
    TrackFileError
        No GPX, a document type or entity, no track point with a position, or no times.
    """
    notebook = Notebook()
    points = guarded_points(data, file, notebook)
    if not points.xml:
        found = (
            f"none of {points.points_met} track points has a position" if points.points_met else "no track point"
        )
        raise TrackFileError(found, "routes and waypoints are no flight; export the track itself", file, 1)
    table = _parsed(points)
    time_s = table[0]
    timed = ~np.isnan(time_s)
    if not timed.any():
        advice = "it cannot be analysed; export it with times"
        raise TrackFileError("a track without times", advice, file, points.line[0])
    if not timed.all():
        first = points.line[int(np.argmin(timed))]
        notebook.add("no_time", "track points without a time; left out", first, int((~timed).sum()))
    if date is not None:
        first_day = np.floor(time_s[timed][0] / DAY_S)
        time_s += ((date - datetime.date(1970, 1, 1)).days - first_day) * DAY_S
    return _build_track(data, file, points, table, timed, notebook)


def _parsed(points: GuardedPoints) -> Floats:
    """Seconds since 1970, latitude, longitude and elevation of every point, (4, n); NaN where it has none."""
    import gpxpy

    logging.getLogger("gpxpy").addHandler(logging.NullHandler())
    table = np.full((4, len(points.xml)), np.nan)
    head = f'<gpx version="{points.version}" creator="flightlog"><trk><trkseg>'
    for first in range(0, len(points.xml), _PIECE_POINTS):
        piece = "".join([head, *points.xml[first : first + _PIECE_POINTS], "</trkseg></trk></gpx>"])
        fixes = gpxpy.parse(piece).tracks[0].segments[0].points
        last = first + len(fixes)
        table[0, first:last] = [_epoch_s(fix.time) for fix in fixes]
        table[1, first:last] = [fix.latitude for fix in fixes]
        table[2, first:last] = [fix.longitude for fix in fixes]
        table[3, first:last] = [np.nan if fix.elevation is None else fix.elevation for fix in fixes]
    return table


def _epoch_s(time: datetime.datetime | None) -> float:
    """Seconds since 1970; a time without a zone is UTC (gpx.xsd); NaN for none and for those of no track."""
    if time is None or not _FIRST_YEAR <= time.year < _LAST_YEAR:
        return np.nan
    return (time if time.tzinfo else time.replace(tzinfo=datetime.UTC)).timestamp()


def _build_track(
    data: bytes, file: str, points: GuardedPoints, table: Floats, timed: Bools, notebook: Notebook
) -> Track:
    """Join what was read."""
    time_s, latitude, longitude, altitude_m = table[:, timed]
    line = np.array(points.line)[timed]
    note_odd_times(time_s, line, notebook)
    longitude[longitude >= 180.0] -= 360.0
    note_darkness(time_s, latitude, longitude, notebook)
    has_altitude = bool((~np.isnan(altitude_m) & (altitude_m != 0.0)).any())
    if has_altitude:
        message = "GPX does not say which level elevations count from; taken as mean sea level"
        notebook.add("gnss_datum_unknown", message)
    else:
        notebook.add("no_gnss_altitude", "the log has no elevations")
    missing = np.flatnonzero(np.isnan(altitude_m))
    if has_altitude and missing.size:
        message = "track points without an elevation; their positions are used"
        notebook.add("gnss_dropout", message, int(line[missing[0]]), int(missing.size))
    first_date = datetime.datetime.fromtimestamp(float(time_s[0]), tz=datetime.UTC).date()
    return Track(
        time_s=frozen_floats(time_s),
        latitude_deg=frozen_floats(latitude),
        longitude_deg=frozen_floats(longitude),
        pressure_altitude_m=None,
        gnss_altitude_m=frozen_floats(altitude_m) if has_altitude else None,
        line=frozen_ints(line),
        segment=frozen_ints(np.array(points.segment)[timed]),
        gnss_datum="unknown",
        header=Header(
            pilot=points.author or None,
            recorder=points.creator or None,
            date=first_date.isoformat(),
            other={"name": points.name} if points.name else {},
        ),
        file=file,
        format="gpx",
        sha256=hashlib.sha256(data).hexdigest(),
        records_read=points.points_met,
        has_fractional_seconds=bool(np.any(time_s % 1.0 != 0.0)),
        notes=notebook.notes(),
    )
