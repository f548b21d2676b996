"""Launch and landing places, from the pilot's own GeoJSON file."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Place:
    """A named piece of ground: where, how high, how large and what it is used for.

    `use` holds any of `launch`, `landing`, `top_landing`; `heading_deg` is the into-wind final course of that
    field, where known.
    """

    name: str
    lat_deg: float
    lon_deg: float
    elevation_m: float
    radius_m: float = 150.0
    use: tuple[str, ...] = ("landing",)
    heading_deg: float | None = None
