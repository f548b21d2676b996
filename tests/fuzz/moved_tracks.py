"""Flights turned, mirrored, moved over the earth and in time, thinned: what physics says must follow is known."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import Any

import numpy as np
from pyproj import Geod

import flightlog
from flightlog.tracks.track import Track
from flightlog.writers.json_results import debrief_json

WGS84 = Geod(ellps="WGS84")
Document = dict[str, Any]


def document_of(track: Track, **options: Any) -> Document:
    """The published results of a track."""
    document: Document = json.loads(debrief_json(flightlog.debrief(track, **options)))
    return document


def moved(
    track: Track, *, turn_deg: float = 0.0, mirror: bool = False, to: tuple[float, float] | None = None
) -> Track:
    """The track turned clockwise about its first fix, mirrored east for west, its first fix put elsewhere.

    Along geodesics from the first fix (Karney 2013, by pyproj): distances from there hold exactly, others within
    20 km to a few millionths.
    """
    known = np.flatnonzero(np.isfinite(track.latitude_deg))
    lat, lon = track.latitude_deg[known], track.longitude_deg[known]
    first = np.full_like(lon, lon[0]), np.full_like(lat, lat[0])
    azimuth, _, distance = WGS84.inv(*first, lon, lat)
    azimuth = (-azimuth if mirror else azimuth) + turn_deg
    new_lat, new_lon = (lat[0], lon[0]) if to is None else to
    new_lon, new_lat, _ = WGS84.fwd(np.full_like(lon, new_lon), np.full_like(lat, new_lat), azimuth, distance)
    latitude, longitude = track.latitude_deg.copy(), track.longitude_deg.copy()
    latitude[known], longitude[known] = new_lat, (np.asarray(new_lon) + 180.0) % 360.0 - 180.0
    return replace(track, latitude_deg=latitude, longitude_deg=longitude, recorded={})


def delayed(track: Track, seconds: float) -> Track:
    """The same flight at another time."""
    return replace(track, time_s=track.time_s + seconds)


def raised(track: Track, metres: float) -> Track:
    """The same flight higher up."""
    pressure, gnss = track.pressure_altitude_m, track.gnss_altitude_m
    return replace(
        track,
        pressure_altitude_m=None if pressure is None else pressure + metres,
        gnss_altitude_m=None if gnss is None else gnss + metres,
    )


def thinned(track: Track, keep: int) -> Track:
    """Every so manieth fix."""
    columns = {
        name: getattr(track, name)[::keep]
        for name in ("time_s", "latitude_deg", "longitude_deg", "line", "segment")
    }
    heights = {
        name: None if getattr(track, name) is None else getattr(track, name)[::keep]
        for name in ("pressure_altitude_m", "gnss_altitude_m")
    }
    recorded = {name: values[::keep] for name, values in track.recorded.items()}
    return replace(track, **columns, **heights, recorded=recorded)


def numbers_in(value: Any, path: str = "") -> dict[str, Any]:
    """Every leaf of a document by its path."""
    if isinstance(value, dict):
        return {k: v for key, part in value.items() for k, v in numbers_in(part, f"{path}.{key}").items()}
    if isinstance(value, list):
        return {k: v for at, part in enumerate(value) for k, v in numbers_in(part, f"{path}[{at}]").items()}
    return {path: value}
