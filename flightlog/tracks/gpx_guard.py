"""What stands between a hostile GPX file and its parser.

The file is walked once with the standard library's expat, which meets every declaration before anything acts on
it: document types and entities are refused, depth and number of fixes bounded. What comes out is plain points.
"""

from __future__ import annotations

import codecs
import math
import re
from dataclasses import dataclass, field
from xml.parsers import expat
from xml.sax.saxutils import escape

from flightlog.errors import TrackFileError
from flightlog.tracks.notebook import Notebook, quoted

MOST_FIXES = 500_000
"""More than half a day at ten fixes a second."""
MOST_ELEMENTS = 5_000_000
"""Ten elements for each of so many fixes."""
DEEPEST = 64
"""Nesting of elements; GPX itself needs six, extensions a few more."""
LONGEST_TEXT = 4096
"""Characters of one element that are kept."""

_DECLARED_ENCODING = re.compile(rb"<\?xml[^>]{0,200}?encoding\s*=\s*[\"']([A-Za-z0-9._-]{1,40})[\"']")
_TEXT_ENCODINGS = re.compile(r"utf|ascii|iso8859|latin|cp125|koi8|cp437|cp850|mac")
_LONE_AMPERSAND = re.compile(r"&(?!(?:amp|lt|gt|quot|apos|#\d{1,7}|#[xX][0-9A-Fa-f]{1,6});)")
_CONTROL = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ufffe\uffff]")
_KEPT_TEXTS = frozenset(("ele", "time", "name", "author"))
_MOST_PIECES = 8  # of a text; the parser joins what it can
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
    parser = expat.ParserCreate(encoding="utf-8")
    parser.buffer_text = True
    parser.StartElementHandler = walker.start
    parser.EndElementHandler = walker.end
    parser.StartDoctypeDeclHandler = walker.refuse
    parser.EntityDeclHandler = walker.refuse
    walker.parser = parser
    try:
        parser.Parse(_plain_xml(data, notebook).encode("utf-8"), True)
    except expat.ExpatError as error:
        if walker.root != "gpx":
            found = f"no GPX: {expat.ErrorString(error.code)}"
            raise TrackFileError(found, "is it the file the recorder wrote?", file, error.lineno) from error
        message = (
            f"the file is cut off or damaged here ({expat.ErrorString(error.code)}); what stands before is used"
        )
        notebook.add("cut_off", message, error.lineno)
    if walker.root != "gpx":
        raise TrackFileError(f"no GPX: its root is {quoted(walker.root)}", "is it the right file?", file, 1)
    if walker.skipped:
        message = "waypoints and routes are no track; ignored"
        notebook.add("not_a_track", message, walker.skipped_line, walker.skipped)
    return walker.points


def _plain_xml(data: bytes, notebook: Notebook) -> str:
    """The text of the file, from its first tag on, without what no XML may hold."""
    text = _decoded(data, notebook)
    start = text.find("<")
    if start > 0 and text[:start].strip("\ufeff \t\r\n"):
        notebook.add("leading_junk", f"{quoted(text[:start])} stands before the first tag; skipped", 1)
    lines_before = text.count("\n", 0, max(start, 0))
    text = (
        "\n" * lines_before + text[max(start, 0) :]
        if not text[max(start, 0) :].startswith("<?xml")
        else text[start:]
    )
    cleaned = _LONE_AMPERSAND.sub("&amp;", _CONTROL.sub(" ", text))
    if cleaned != text or "\ufffd" in cleaned:
        notebook.add("damaged_text", "bytes that no XML may hold; replaced")
    return cleaned


def _decoded(data: bytes, notebook: Notebook) -> str:
    """The file as text by its byte order mark, else as it declares, else as UTF-8."""
    if data.startswith(codecs.BOM_UTF8):
        return data[3:].decode("utf-8", errors="replace")
    if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return data.decode("utf-16", errors="replace")
    declared = _DECLARED_ENCODING.search(data[:1024])
    name = declared.group(1).decode("ascii").lower() if declared else "utf-8"
    try:
        encoding = codecs.lookup(name).name
    except LookupError:
        encoding = ""
    if not _TEXT_ENCODINGS.match(encoding.replace("-", "")) or encoding.startswith("utf-16"):
        notebook.add("encoding", f"the encoding {quoted(name)} is not known here or not true; read as UTF-8", 1)
        encoding = "utf-8"
    return data.decode(encoding, errors="replace")


class _Walker:
    """Handlers of the one walk through the file."""

    parser: expat.XMLParserType

    def __init__(self, file: str, notebook: Notebook) -> None:
        self.file, self.notebook = file, notebook
        self.points = GuardedPoints()
        self.root = ""
        self.skipped, self.skipped_line = 0, 0
        self._path: list[str] = []
        self._segment = -1
        self._position = ""
        self._line = 0
        self._values: dict[str, str] = {}
        self._text: list[str] = []
        self._elements = 0

    def refuse(self, *_: object) -> None:
        """A document type or an entity: no track needs one, and they are the road of most attacks."""
        raise self._error(
            "a document type or entity stands in this GPX file", "no recorder writes one; save it anew"
        )

    def start(self, name: str, attributes: dict[str, str]) -> None:
        """An element begins."""
        name = name.rpartition(":")[2]
        path = self._path
        depth = len(path)
        path.append(name)
        self._elements += 1
        if depth >= DEEPEST:
            raise self._error(f"elements are nested more than {DEEPEST} deep", "no GPX track needs that")
        if self._elements > MOST_ELEMENTS:
            raise self._error(f"more than {MOST_ELEMENTS} elements", "no GPX track needs so many")
        if name in _KEPT_TEXTS:
            self._text = []
            self.parser.CharacterDataHandler = self._keep_text
        elif name == "trkpt" and depth == 3 and path[1] == "trk":
            self._start_point(attributes)
        elif depth < 3:
            self._start_outer(name, depth, attributes)

    def _start_outer(self, name: str, depth: int, attributes: dict[str, str]) -> None:
        """The root, a segment, a waypoint or a route begins."""
        if depth == 0:
            self.root = name
            self.points.version = "1.0" if attributes.get("version", "").strip() == "1.0" else "1.1"
            self.points.creator = attributes.get("creator", "")[:LONGEST_TEXT]
        elif name == "trkseg" and depth == 2:
            self._segment += 1
        elif name in ("wpt", "rte") and depth == 1:
            self.skipped += 1
            self.skipped_line = self.skipped_line or self.parser.CurrentLineNumber

    def _keep_text(self, text: str) -> None:
        """Text between tags, kept only so far."""
        if len(self._text) < _MOST_PIECES:
            self._text.append(text[:LONGEST_TEXT])

    def end(self, name: str) -> None:
        """An element ends."""
        name = name.rpartition(":")[2]
        path = self._path
        depth = len(path) - 1
        if name in _KEPT_TEXTS:
            self.parser.CharacterDataHandler = None
            text = "".join(self._text).strip()
            if depth == 4 and path[3] == "trkpt":
                self._values[name] = text
            elif path[1:] == ["trk", "name"]:
                self.points.name = self.points.name or text
            elif path[1:] in _AUTHOR_PATHS:
                self.points.author = self.points.author or text
            self._text = []
        elif name == "trkpt" and depth == 3 and path[1] == "trk":
            self._end_point()
        path.pop()

    def _error(self, found: str, advice: str) -> TrackFileError:
        return TrackFileError(found, advice, self.file, self.parser.CurrentLineNumber)

    def _start_point(self, attributes: dict[str, str]) -> None:
        self.points.points_met += 1
        if self.points.points_met > MOST_FIXES:
            raise self._error(f"more than {MOST_FIXES} track points", "split the file")
        self._values = {}
        self._line = self.parser.CurrentLineNumber
        latitude, longitude = _number(attributes.get("lat")), _number(attributes.get("lon"))
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
        if elevation and not math.isfinite(_number(elevation)):
            message = f"an elevation that is no number, {quoted(elevation)}; that elevation is left out"
            self.notebook.add("bad_altitude", message, self._line)
            elevation = ""
        time = self._values.get("time", "")
        self.points.line.append(self._line)
        self.points.segment.append(max(self._segment, 0))
        self.points.xml.append(
            self._position
            + (f"<ele>{escape(elevation)}</ele>" if elevation else "")
            + (f"<time>{escape(time)}</time>" if time else "")
            + "</trkpt>"
        )


def _number(text: str | None) -> float:
    """The number that a text holds; NaN where it holds none."""
    try:
        return float(text or "nan")
    except ValueError:
        return math.nan
