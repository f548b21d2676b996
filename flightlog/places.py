"""Launch and landing places, from the pilot's own GeoJSON file (RFC 7946)."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from flightlog.errors import PlacesFileError

USES = ("launch", "landing", "top_landing")
"""What a place may be used for."""
_Wrong = Callable[[str, str], PlacesFileError]
_MOST_BYTES = 10_000_000
_LOWEST_M, _HIGHEST_M = -500.0, 9000.0  # from the Dead Sea to the highest ground there is
_HUGE = 1e9  # no number of a place is so large; NaN is not below it either
_LARGEST_RADIUS_M = 10_000.0


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


def read_places(path: str | Path) -> tuple[Place, ...]:
    """The places of a GeoJSON file: its points, in the order of the file.

    Each point needs the properties `name` and `elevation_m`; `radius_m` (150), `use` (`["landing"]`) and
    `heading_deg` may be left out. Lines and areas are passed over.

    Raises
    ------
    PlacesFileError
        Not such a file; the message names the feature (1 is the first) and what to do.
    """
    document = _load(Path(path))
    if not isinstance(document, dict) or document.get("type") not in ("FeatureCollection", "Feature"):
        raise PlacesFileError(
            "no GeoJSON FeatureCollection", "write the places as GeoJSON points (RFC 7946)", path
        )
    features = [document] if document["type"] == "Feature" else document.get("features")
    if not isinstance(features, list):
        raise PlacesFileError("a FeatureCollection without a list of features", 'add "features": [...]', path)
    places = [_read_feature(feature, number, path) for number, feature in enumerate(features, start=1)]
    found = tuple(place for place in places if place is not None)
    if not found:
        raise PlacesFileError("no point among its features", "each place is a feature of type Point", path)
    return found


def _load(path: Path) -> Any:
    """The JSON document in a file."""
    try:
        with path.open("rb") as file:
            data = file.read(_MOST_BYTES + 1)
    except OSError as error:
        raise PlacesFileError(f"cannot be read ({error.strerror})", "check its name and rights", path) from error
    if len(data) > _MOST_BYTES:
        raise PlacesFileError(f"larger than {_MOST_BYTES} bytes", "keep the places alone in it", path)
    try:
        return json.loads(data.decode("utf-8-sig"))
    except json.JSONDecodeError as error:
        raise PlacesFileError(f"no JSON: {error.msg}", "check this line", path, error.lineno) from error
    except (UnicodeDecodeError, RecursionError, ValueError) as error:
        raise PlacesFileError("no JSON text in UTF-8", "save it as GeoJSON in UTF-8", path) from error


def _read_feature(feature: object, number: int, path: str | Path) -> Place | None:
    """The place that a feature describes; None where it is no point."""

    def wrong(found: str, advice: str) -> PlacesFileError:
        return PlacesFileError(f"feature {number}: {found}", advice, path)

    geometry = feature.get("geometry") if isinstance(feature, dict) else None
    if not isinstance(feature, dict) or not isinstance(geometry, dict):
        raise wrong(
            "no feature with a geometry", 'write it as {"type": "Feature", "geometry": ..., "properties": ...}'
        )
    if geometry.get("type") != "Point":
        return None
    properties = feature.get("properties")
    if not isinstance(properties, dict):
        raise wrong("no properties", "it needs at least name and elevation_m")
    position = geometry.get("coordinates")
    if not isinstance(position, list) or len(position) < 2 or not all(_is_number(value) for value in position):
        raise wrong("its coordinates are no [longitude, latitude]", "write two numbers, longitude first")
    longitude, latitude = float(position[0]), float(position[1])
    if abs(latitude) > 90.0 or abs(longitude) > 180.0:
        raise wrong(f"[{longitude:g}, {latitude:g}] is no place on earth", "longitude comes first, then latitude")
    name = properties.get("name")
    if not isinstance(name, str) or not name.strip():
        raise wrong("no name", 'add "name": "..." to its properties')
    return Place(
        name=name.strip(),
        lat_deg=latitude,
        lon_deg=longitude,
        elevation_m=_property(properties, "elevation_m", None, _LOWEST_M, _HIGHEST_M, wrong),
        radius_m=_property(properties, "radius_m", 150.0, 1.0, _LARGEST_RADIUS_M, wrong),
        use=_uses(properties.get("use", ["landing"]), wrong),
        heading_deg=None
        if properties.get("heading_deg") is None
        else _property(properties, "heading_deg", None, 0.0, 360.0, wrong) % 360.0,
    )


def _property(
    properties: Mapping[str, object], key: str, default: float | None, low: float, high: float, wrong: _Wrong
) -> float:
    """A number among the properties, within its bounds."""
    value = properties.get(key, default)
    if not isinstance(value, int | float) or not _is_number(value):
        raise wrong(f"{key} is missing or no number", f'add "{key}": a number to its properties')
    if not low <= value <= high:
        raise wrong(f"{key} {str(value)[:20]} lies outside {low:g} to {high:g}", "check the number and its unit")
    return float(value)


def _uses(value: object, wrong: _Wrong) -> tuple[str, ...]:
    """What the place is used for."""
    if not isinstance(value, list) or not value or not all(item in USES for item in value):
        raise wrong("its use is none that is known", f"write a list of any of {', '.join(USES)}")
    return tuple(dict.fromkeys(value))


def _is_number(value: object) -> bool:
    """Whether a JSON value is a finite number (true and false are none)."""
    return isinstance(value, int | float) and not isinstance(value, bool) and -_HUGE < value < _HUGE
