"""Reader of KML tracks: gx:Track, and points with a time stamp; KMZ is a .zip with such a file in it.

Layout: OGC KML 2.3 (OGC 12-007r2), Track: all `when` and all `coord` are read by their number, since some files
interleave them; `coord` is longitude, latitude, altitude; `altitudeMode` absolute counts from mean sea level.
"""

from __future__ import annotations

import datetime
import math
from dataclasses import dataclass, field

import numpy as np

from flightlog.errors import TrackFileError
from flightlog.tracks.limits import MOST_FIXES
from flightlog.tracks.notebook import Notebook, quoted
from flightlog.tracks.points import Points, track_of
from flightlog.tracks.track import Header, Track
from flightlog.tracks.xml_guard import XmlWalker, number_in, walk

_TEXTS = frozenset(("when", "coord", "coordinates", "altitudeMode", "name"))
_SHORT_YEARS = frozenset((4, 7, 10))  # characters of a year, a month, a day alone (OGC KML 2.3: dateTime or less)


@dataclass
class _Rows:
    """Positions and times of one track, by their numbers."""

    coordinates: list[tuple[float, float, float]] = field(default_factory=list)  # lon, lat, altitude
    times: list[float] = field(default_factory=list)
    lines: list[int] = field(default_factory=list)
    mode: str = ""


@dataclass
class _Found:
    """What a KML file holds."""

    tracks: list[_Rows] = field(default_factory=list)
    stamped: _Rows = field(default_factory=_Rows)  # points with a time stamp, one after the other
    name: str = ""
    paths: int = 0  # LineStrings, which hold no times
    path_line: int = 1


def parse_kml(data: bytes, *, file: str, date: datetime.date | None = None) -> Track:
    """The track of a KML file; each gx:Track is an unbroken recording of its own.

    Raises
    ------
    TrackFileError
        No KML, a document type or entity, no track, or a path without times.
    """
    notebook = Notebook()
    walker = _Walker(file, notebook)
    walk(data, walker)
    found = walker.found
    tracks = [rows for rows in found.tracks if rows.coordinates]
    if not tracks and found.stamped.coordinates:
        tracks = [found.stamped]
    if not tracks:
        if found.paths:
            advice = "it cannot be analysed; export it as a track (gx:Track) with times"
            raise TrackFileError("a path without times (LineString)", advice, file, found.path_line)
        raise TrackFileError("no track (gx:Track) in this KML file", "export the track with its times", file, 1)
    if found.paths:
        notebook.add("not_a_track", "paths without times (LineString) are ignored", found.path_line, found.paths)
    points = _points(tracks, notebook)
    header = Header(other={"name": found.name} if found.name else {})
    return track_of(points, header, notebook, data=data, file=file, format_name="kml", date=date)


def _points(tracks: list[_Rows], notebook: Notebook) -> Points:
    """All tracks of the file, one after the other."""
    table: list[tuple[float, float, float, float]] = []
    lines: list[int] = []
    segments: list[int] = []
    met = 0
    for number, rows in enumerate(tracks):
        size = min(len(rows.coordinates), len(rows.times))
        met += max(len(rows.coordinates), len(rows.times))
        if len(rows.coordinates) != len(rows.times):
            message = "a track has not as many times as positions; what has both is used"
            notebook.add("uneven_track", message, rows.lines[0])
        relative = rows.mode.startswith("relative")
        if relative:
            message = "heights above ground instead of altitudes (altitudeMode); left out"
            notebook.add("relative_height", message, rows.lines[0])
        elif rows.mode not in ("absolute", ""):
            message = f"altitudes in a track drawn on the ground ({quoted(rows.mode)}); taken as above sea level"
            notebook.add("altitude_mode", message, rows.lines[0])
        for (lon, lat, altitude), time_s in zip(rows.coordinates[:size], rows.times[:size], strict=True):
            table.append((time_s, lat, lon, math.nan if relative else altitude))
        lines += rows.lines[:size]
        segments += [number] * size
    times, latitude, longitude, altitude_m = np.array(table, dtype=np.float64).reshape(-1, 4).T
    return Points(
        time_s=times,
        latitude_deg=latitude,
        longitude_deg=longitude,
        gnss_altitude_m=altitude_m,
        line=np.array(lines, dtype=np.int64),
        segment=np.array(segments, dtype=np.int64),
        met=met,
        gnss_datum="geoid" if all(rows.mode == "absolute" for rows in tracks) else "unknown",
    )


class _Walker(XmlWalker):
    """Keeps times and positions of tracks, and of points with a time stamp."""

    kind = "KML"
    root_name = "kml"
    text_of = _TEXTS

    def __init__(self, file: str, notebook: Notebook) -> None:
        super().__init__(file, notebook)
        self.found = _Found()
        self._met = 0
        self._stamp = math.nan  # of the placemark that is open
        self._place: tuple[float, float, float] | None = None
        self._place_mode = ""

    def opened(self, name: str, depth: int, attributes: dict[str, str]) -> None:
        """A track, a path or a placemark begins."""
        del depth, attributes
        if name == "Track":
            self.found.tracks.append(_Rows())
        elif name == "LineString":
            self.found.paths += 1
            if self.found.paths == 1:
                self.found.path_line = self.parser.CurrentLineNumber
        elif name == "Placemark":
            self._stamp, self._place, self._place_mode = math.nan, None, ""

    def closed(self, name: str, depth: int, text: str) -> None:
        """A time, a position, a name or a placemark ends."""
        above = self.path[depth - 1] if depth else ""
        if above == "Track" and self.found.tracks:
            self._in_track(name, text, self.found.tracks[-1])
        elif name == "when" and above == "TimeStamp":
            self._stamp = self._time(text)
        elif name == "coordinates" and above == "Point":
            self._place = self._position(text.replace(",", " "))
        elif name == "altitudeMode" and above == "Point":
            self._place_mode = text
        elif name == "Placemark" and self._place is not None and not math.isnan(self._stamp):
            rows = self.found.stamped
            self._count()
            rows.coordinates.append(self._place)
            rows.times.append(self._stamp)
            rows.lines.append(self.parser.CurrentLineNumber)
            rows.mode = rows.mode or self._place_mode
        elif name == "name" and above in ("Document", "Placemark", "Folder"):
            self.found.name = self.found.name or text

    def _in_track(self, name: str, text: str, rows: _Rows) -> None:
        """A time, a position or the altitude mode of the track that is open."""
        if name == "when":
            self._count()
            rows.times.append(self._time(text))
        elif name == "coord":
            self._count()
            rows.coordinates.append(self._position(text))
            rows.lines.append(self.parser.CurrentLineNumber)
        elif name == "altitudeMode":
            rows.mode = text

    def _count(self) -> None:
        self._met += 1
        if self._met > 2 * MOST_FIXES:
            raise self.error(f"more than {MOST_FIXES} positions", "no day gives so many; split the log by day")

    def _position(self, text: str) -> tuple[float, float, float]:
        """Longitude, latitude and altitude; NaN for what is no number."""
        parts = [number_in(part) for part in text.split()[:3]]
        lon, lat, altitude = (*parts, math.nan, math.nan, math.nan)[:3]
        return lon, lat, altitude if abs(altitude) < 1e6 else math.nan

    def _time(self, text: str) -> float:
        """Seconds since 1970 of an ISO 8601 time, UTC where it names no zone; NaN where there is none."""
        try:
            moment = datetime.datetime.fromisoformat(text)
            zoned = moment if moment.tzinfo else moment.replace(tzinfo=datetime.UTC)
            if len(text) not in _SHORT_YEARS:
                return zoned.timestamp()
        except (ValueError, OverflowError):
            pass
        self.notebook.add("bad_time", f"a time that cannot be read, {quoted(text)}", self.parser.CurrentLineNumber)
        return math.nan
