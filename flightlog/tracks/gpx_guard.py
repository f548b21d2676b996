"""The track points of a GPX file as plain, bounded text, ready for its parser (the guard itself: `xml_guard`)."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from html import escape

from flightlog.tracks.limits import MOST_FIXES
from flightlog.tracks.notebook import Notebook, quoted
from flightlog.tracks.xml_guard import LONGEST_TEXT, XmlWalker, number_in, walk

_AUTHOR_PATHS = (["metadata", "author", "name"], ["author"])  # of GPX 1.1, of 1.0


@dataclass
class GuardedPoints:
    """Track points in the order of the file; every list has one entry a point."""

    version: str = "1.1"
    creator: str = ""
    name: str = ""
    author: str = ""
    line: list[int] = field(default_factory=list)
    segment: list[int] = field(default_factory=list)
    xml: list[str] = field(default_factory=list)  # the point alone: position, elevation and time, escaped
    points_met: int = 0


def guarded_points(data: bytes, file: str, notebook: Notebook) -> GuardedPoints:
    """Track points of a GPX file.

    Raises
    ------
    TrackFileError
        A document type or entity, nesting too deep, too many fixes, or no GPX at all.
    """
    walker = _Walker(file, notebook)
    walk(data, walker)
    if walker.skipped:
        message = "waypoints and routes are no track; ignored"
        notebook.add("not_a_track", message, walker.skipped_line, walker.skipped)
    return walker.points


class _Walker(XmlWalker):
    """Keeps the points of tracks and the names of things."""

    kind = "GPX"
    root_name = "gpx"
    text_of = frozenset(("ele", "time", "name", "author"))

    def __init__(self, file: str, notebook: Notebook) -> None:
        super().__init__(file, notebook)
        self.points = GuardedPoints()
        self.skipped, self.skipped_line = 0, 0
        self._segment = -1
        self._position = ""
        self._line = 0
        self._values: dict[str, str] = {}

    def opened(self, name: str, depth: int, attributes: dict[str, str]) -> None:
        """A point, the root, a segment, a waypoint or a route begins."""
        if name == "trkpt" and depth == 3 and self.path[1] == "trk":
            self._start_point(attributes)
        elif depth == 0:
            self.points.version = "1.0" if attributes.get("version", "").strip() == "1.0" else "1.1"
            self.points.creator = attributes.get("creator", "")[:LONGEST_TEXT]
        elif name == "trkseg" and depth == 2:
            self._segment += 1
        elif name in ("wpt", "rte") and depth == 1:
            self.skipped += 1
            self.skipped_line = self.skipped_line or self.parser.CurrentLineNumber

    def closed(self, name: str, depth: int, text: str) -> None:
        """A point ends, or a text that is kept."""
        path = self.path
        if name in self.text_of:
            if depth == 4 and path[3] == "trkpt":
                self._values[name] = text
            elif path[1:] == ["trk", "name"]:
                self.points.name = self.points.name or text
            elif path[1:] in _AUTHOR_PATHS:
                self.points.author = self.points.author or text
        elif name == "trkpt" and depth == 3 and path[1] == "trk":
            self._end_point()

    def _start_point(self, attributes: dict[str, str]) -> None:
        self.points.points_met += 1
        if self.points.points_met > MOST_FIXES:
            raise self.error(f"more than {MOST_FIXES} track points", "no day gives so many; split the log by day")
        self._values = {}
        self._line = self.parser.CurrentLineNumber
        latitude, longitude = number_in(attributes.get("lat")), number_in(attributes.get("lon"))
        self._position = ""
        if not (abs(latitude) <= 90.0 and abs(longitude) <= 180.0):
            message = "a position that does not exist (no number, or beyond 90 or 180 degrees); left out"
            self.notebook.add("bad_position", message, self._line)
        elif latitude == 0.0 and longitude == 0.0:
            message = "points at exactly 0 N 0 E: the recorder had no position yet; left out"
            self.notebook.add("no_position", message, self._line)
        else:
            self._position = f'<trkpt lat="{latitude!r}" lon="{longitude!r}">'

    def _end_point(self) -> None:
        if not self._position:
            return
        elevation = self._values.get("ele", "")
        if elevation and not math.isfinite(number_in(elevation)):
            message = f"an elevation that is no number, {quoted(elevation)}; that elevation is left out"
            self.notebook.add("bad_altitude", message, self._line)
            elevation = ""
        time = self._values.get("time", "")
        self.points.line.append(self._line)
        self.points.segment.append(max(self._segment, 0))
        self.points.xml.append(
            self._position
            + (f"<ele>{escape(elevation, quote=False)}</ele>" if elevation else "")
            + (f"<time>{escape(time, quote=False)}</time>" if time else "")
            + "</trkpt>"
        )
