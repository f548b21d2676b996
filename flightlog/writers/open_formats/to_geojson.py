"""The cleaned track as GeoJSON (RFC 7946): a line for each phase, a point for each take-off and landing."""

from __future__ import annotations

import itertools
import json
from typing import Any

import numpy as np

from flightlog import __version__
from flightlog.arrays import Floats
from flightlog.earth.geodesy import wrapped_deg
from flightlog.earth.geoid import geoid_height_m
from flightlog.measures.results import Event
from flightlog.writers.open_formats.cleaned import CleanTrack, Stretch, connected, iso_time, stretches


def geojson_bytes(track: CleanTrack) -> bytes:
    """The track as a FeatureCollection.

    The third number of a position is the height above the WGS 84 ellipsoid, as RFC 7946 wants it; the altitude
    above mean sea level and the time of each position stand beside it in `altitudes_m` and `times`, in the same
    arrangement. Lines are cut at gaps of the recording and at the 180th meridian (RFC 7946, 3.1.9).
    """
    heights = track.smooth_altitude_m + geoid_height_m(track.latitude_deg, track.longitude_deg)
    features = [_line(track, heights, stretch) for stretch in stretches(track)]
    features += [_point(one.event, one.kind, one.flight) for one in track.events]
    document: dict[str, Any] = {
        "type": "FeatureCollection",
        "generator": f"flightlog {__version__}",
        "log": {"file": track.file, "pilot": track.pilot, "wing": track.wing, "recorder": track.recorder},
        "bbox": _box(track.longitude_deg, track.latitude_deg),
        "features": features,
    }
    return (json.dumps(document, allow_nan=False, ensure_ascii=False, separators=(",", ":")) + "\n").encode(
        "utf-8", "replace"
    )


def _line(track: CleanTrack, heights: Floats, stretch: Stretch) -> dict[str, Any]:
    """One phase, or a stretch on the ground."""
    parts = [part for piece in connected(track, stretch) for part in _within_the_map(track.longitude_deg, piece)]
    lines = [part for part in parts if part.stop - part.start > 1] or parts[:1]
    positions = [_positions(track, heights, part) for part in lines]
    times = [[iso_time(time_s) for time_s in track.time_s[part].tolist()] for part in lines]
    altitudes = [[round(value, 1) for value in track.smooth_altitude_m[part].tolist()] for part in lines]
    geometry: dict[str, Any]
    if len(lines) > 1:
        geometry = {"type": "MultiLineString", "coordinates": positions}
    elif len(positions[0]) > 1:
        geometry = {"type": "LineString", "coordinates": positions[0]}
    else:  # one fix makes no line
        geometry = {"type": "Point", "coordinates": positions[0][0]}
    single = len(lines) == 1
    return {
        "type": "Feature",
        "geometry": geometry,
        "properties": {
            "flight": stretch.flight or None,
            "kind": stretch.kind or ("ground" if not stretch.flight else None),
            "mode": stretch.mode or None,
            "start": iso_time(float(track.time_s[stretch.first])),
            "end": iso_time(float(track.time_s[stretch.stop - 1])),
            "times": times[0] if single else times,
            "altitudes_m": altitudes[0] if single else altitudes,
        },
    }


def _within_the_map(longitude_deg: Floats, part: slice) -> list[slice]:
    """The parts of a line that do not cross the 180th meridian."""
    cuts = np.flatnonzero(np.abs(np.diff(longitude_deg[part])) > 180.0) + part.start + 1
    bounds = [part.start, *cuts.tolist(), part.stop]
    return [slice(low, high) for low, high in itertools.pairwise(bounds)]


def _positions(track: CleanTrack, heights: Floats, part: slice) -> list[list[float]]:
    """Longitude, latitude and ellipsoid height of the fixes; seven decimals are a centimetre."""
    return [
        [round(longitude, 7), round(latitude, 7), round(height, 1)]
        for longitude, latitude, height in zip(
            track.longitude_deg[part].tolist(),
            track.latitude_deg[part].tolist(),
            heights[part].tolist(),
            strict=True,
        )
    ]


def _point(event: Event, kind: str, flight: int) -> dict[str, Any]:
    """Take-off or landing."""
    position = [round(event.lon_deg, 7), round(event.lat_deg, 7)]
    if event.altitude_m is not None:
        position.append(round(event.altitude_m + float(geoid_height_m(event.lat_deg, event.lon_deg)), 1))
    return {
        "type": "Feature",
        "geometry": {"type": "Point", "coordinates": position},
        "properties": {
            "flight": flight,
            "kind": kind,
            "time": iso_time(event.time.timestamp()),
            "altitude_m": None if event.altitude_m is None else round(event.altitude_m, 1),
            "place": event.place,
        },
    }


def _box(longitude_deg: Floats, latitude_deg: Floats) -> list[float]:
    """West, south, east, north; west is greater than east across the 180th meridian (RFC 7946, 5.2)."""
    first = float(longitude_deg[0])
    turned = (longitude_deg - first + 180.0) % 360.0 - 180.0
    west, east = (float(wrapped_deg(first + edge)) for edge in (turned.min(), turned.max()))
    edges = (west, float(latitude_deg.min()), east, float(latitude_deg.max()))
    return [round(edge, 7) for edge in edges]
