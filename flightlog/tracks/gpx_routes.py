"""The routes of a GPX file: points in order with their names, as a pilot plans a task on a map."""

from __future__ import annotations

from dataclasses import dataclass

from flightlog.errors import TrackFileError
from flightlog.tracks.notebook import Notebook
from flightlog.tracks.xml_guard import XmlWalker, number_in, walk

MOST_ROUTE_POINTS = 1000
"""Of one file; a task has ten."""


@dataclass(frozen=True)
class RoutePoint:
    """One point of a plan, with the line of the file it stands on."""

    name: str
    lat_deg: float
    lon_deg: float
    line: int


def read_gpx_route(data: bytes, file: str) -> tuple[str, tuple[RoutePoint, ...]]:
    """The name of the first route of a GPX file and its points.

    Raises
    ------
    TrackFileError
        No GPX, a document type or entity, nesting too deep, too many points, a point that is no place.
    """
    walker = _RouteWalker(file, Notebook())
    walk(data, walker)
    return walker.name, tuple(walker.points)


class _RouteWalker(XmlWalker):
    """Keeps the points of the first route."""

    kind = "GPX"
    root_name = "gpx"
    text_of = frozenset(("name",))

    def __init__(self, file: str, notebook: Notebook) -> None:
        super().__init__(file, notebook)
        self.name = ""
        self.points: list[RoutePoint] = []
        self._routes = 0
        self._point: tuple[float, float, int] | None = None
        self._point_name = ""

    def opened(self, name: str, depth: int, attributes: dict[str, str]) -> None:
        """A route or one of its points begins."""
        if name == "rte" and depth == 1:
            self._routes += 1
        elif name == "rtept" and depth == 2 and self._routes == 1:
            line = self.parser.CurrentLineNumber
            latitude, longitude = number_in(attributes.get("lat")), number_in(attributes.get("lon"))
            if not (abs(latitude) <= 90.0 and abs(longitude) <= 180.0):
                raise self.error("a route point that is no place on earth", "give it lat and lon in degrees")
            if len(self.points) >= MOST_ROUTE_POINTS:
                raise self.error(f"more than {MOST_ROUTE_POINTS} route points", "keep the task alone in it")
            self._point, self._point_name = (latitude, longitude, line), ""

    def closed(self, name: str, depth: int, text: str) -> None:
        """A name, or a point of the route, ends."""
        if name == "name" and self._routes == 1:
            if depth == 2 and self.path[1] == "rte":
                self.name = self.name or text
            elif depth == 3 and self.path[2] == "rtept":
                self._point_name = text
        elif name == "rtept" and depth == 2 and self._point is not None:
            self.points.append(RoutePoint(self._point_name, *self._point))
            self._point = None


def read_igc_declaration(data: bytes, file: str) -> tuple[str, tuple[RoutePoint, ...]]:
    """The text of the last task declared in an IGC file (C records), and its points from start to finish.

    Take-off and landing, which a declaration names as its first and last point, are left out, and so are points
    left open (0 N 0 E). IGC GNSS flight recorder specification, C record: the last declaration before the first
    fix counts.

    Raises
    ------
    TrackFileError
        More lines of declaration than a recorder writes.
    """
    from flightlog.tracks.igc_records import Declaration, read_declaration, read_declared_point

    head: Declaration | None = None
    points: list[RoutePoint] = []
    for number, line in enumerate(data.split(b"\n"), start=1):
        if line[:1] in (b"B", b"b"):
            break
        if line[:1] not in (b"C", b"c") or len(line) > 200:
            continue
        text = line.decode("latin-1").strip()
        point, declared = read_declared_point(text), read_declaration(text)
        if point is not None:
            if len(points) >= MOST_ROUTE_POINTS:
                raise TrackFileError(
                    f"more than {MOST_ROUTE_POINTS} declared points", "is it damaged?", file, number
                )
            points.append(RoutePoint(point[0], point[1], point[2], number))
        elif declared is not None:
            head, points = declared, []
    if head is not None and head.turn_points is not None and len(points) == head.turn_points + 4:
        points = points[1:-1]
    set_points = tuple(point for point in points if point.lat_deg or point.lon_deg)
    return head.text if head else "", set_points
