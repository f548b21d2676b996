"""The cleaned track as GPX 1.1 (topografix.com/GPX/1/1), written by gpxpy."""

from __future__ import annotations

import itertools
import math
from datetime import UTC, datetime
from typing import Any

import numpy as np

from flightlog import __version__
from flightlog.measures.results import Event
from flightlog.writers.open_formats.cleaned import EVENTS, KINDS, CleanTrack, unbroken


def gpx_bytes(track: CleanTrack) -> bytes:
    """The track as GPX: a `trk` for each flight and for the ground between, a `trkseg` for each unbroken piece.

    Take-offs and landings are waypoints; the `type` of the first point of a phase names it. Elevations are above
    mean sea level; a point without one has no `ele`.
    """
    import gpxpy.gpx as g

    gpx = g.GPX()
    gpx.creator = f"flightlog {__version__}"
    gpx.name = track.file
    gpx.author_name = track.pilot
    for one in track.events:
        gpx.waypoints.append(_waypoint(one.event, f"{EVENTS[one.kind]} {one.flight}"))
    changes = np.flatnonzero(np.diff(track.flight)) + 1
    bounds = [0, *changes.tolist(), len(track.time_s)]
    for first, stop in itertools.pairwise(bounds):
        number = int(track.flight[first])
        line = g.GPXTrack(name=f"Flight {number}" if number else "On the ground")
        for part in unbroken(track, first, stop):
            line.segments.append(g.GPXTrackSegment(points=_points(track, part)))
        gpx.tracks.append(line)
    text: str = gpx.to_xml(version="1.1")
    return text.encode("utf-8")


def _points(track: CleanTrack, part: slice) -> list[Any]:
    """The fixes of an unbroken piece."""
    import gpxpy.gpx as g

    kinds = track.kind[part]
    begins = np.diff(kinds, prepend=-1) != 0
    points = []
    rows = zip(
        track.time_s[part].tolist(),
        track.latitude_deg[part].tolist(),
        track.longitude_deg[part].tolist(),
        track.altitude_m[part].tolist(),
        kinds.tolist(),
        begins.tolist(),
        strict=True,
    )
    for time_s, latitude, longitude, altitude, kind, is_first in rows:
        point = g.GPXTrackPoint(
            round(latitude, 7),
            round(longitude, 7),
            None if math.isnan(altitude) else round(altitude, 1),
            datetime.fromtimestamp(round(time_s, 3), tz=UTC),
        )
        if is_first and kind:
            point.type = KINDS[kind]
        points.append(point)
    return points


def _waypoint(event: Event, name: str) -> Any:
    """Take-off or landing."""
    import gpxpy.gpx as g

    altitude = None if event.altitude_m is None else round(event.altitude_m, 1)
    return g.GPXWaypoint(round(event.lat_deg, 7), round(event.lon_deg, 7), altitude, event.time, name=name)
