"""The season review as JSON, and its thermal map as GeoJSON (RFC 7946)."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Any

from flightlog.season.results import SeasonReview, ThermalRegion, ThermalSpot
from flightlog.writers.json_values import GENERATOR, Generator, encoded, plain

SEASON_SCHEMA = "flightlog/season/1"


@dataclass(frozen=True)
class _Head:
    """What every document begins with."""

    schema: str
    generator: Generator


@dataclass(frozen=True)
class SeasonDocument(SeasonReview, _Head):
    """What `flightlog season --to json` writes: the review, and before it what kind of document it is."""


def season_json(review: SeasonReview, *, indent: int = 0) -> bytes:
    """The review as UTF-8 JSON, one line unless `indent` is given; rules as in `debrief_json`."""
    return encoded(SeasonDocument(SEASON_SCHEMA, GENERATOR, **vars(review)), indent)


def season_geojson(review: SeasonReview) -> bytes:
    """The spots that climbs come from as points with what is known of them, for any map program.

    `radius_m` holds the spot in 95 of 100 cases. Numbers and keys are those of the JSON; a spot has no altitude,
    since none is known.
    """
    features = [_feature(region, spot) for region in review.thermals for spot in region.spots]
    document: dict[str, Any] = {
        "type": "FeatureCollection",
        "generator": f"{GENERATOR.name} {GENERATOR.version}",
        "schema": "flightlog/thermal-map/1",
        "zone": review.zone,
        "cautions": list(review.cautions),
        "features": features,
    }
    return json.dumps(document, allow_nan=False, ensure_ascii=False, separators=(",", ":")).encode() + b"\n"


def _feature(region: ThermalRegion, spot: ThermalSpot) -> dict[str, Any]:
    """One spot."""
    told = {key: value for key, value in plain(spot).items() if key not in ("lat_deg", "lon_deg", "number")}
    return {
        "type": "Feature",
        "id": f"{region.number}.{spot.number}",
        "geometry": {"type": "Point", "coordinates": [round(spot.lon_deg, 6), round(spot.lat_deg, 6)]},
        "properties": {"region": region.number, "number": spot.number, **told},
    }
