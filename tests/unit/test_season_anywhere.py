"""The thermal map of odd seasons: over the date line, by a pole, of one flight, without a climb."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import TypeVar

import numpy as np
import pytest

from flightlog.arrays import frozen_floats
from flightlog.earth.geodesy import LocalPlane
from flightlog.measures.results import Event
from flightlog.season.records import ClimbStart, SeasonFlight
from flightlog.season.results import SeasonReview
from flightlog.season.reviewing import review_season
from flightlog.writers.display import Display
from flightlog.writers.season_charts import MOST_NUMBERED_PLACES, places_chart
from flightlog.writers.season_reports import season_bytes
from flightlog.writers.season_words import NO_CLIMBS
from tests.unit.made_debrief import HOSTILE
from tests.unit.made_season import LAT, LON, SPOTS_M, made_flight

HOME = LocalPlane(LAT, LON)
FLIGHTS = [made_flight(day) for day in range(1, 31, 2)]
Placed = TypeVar("Placed", Event, ClimbStart)


def moved(flight: SeasonFlight, there: LocalPlane) -> SeasonFlight:
    """The same flight over another part of the earth, metre for metre in the plane of each."""

    def place(lat: float, lon: float) -> tuple[float, float]:
        east, north = HOME.to_plane(lat, lon)
        new = there.to_degrees(east, north)
        return float(new[0]), float(new[1])

    def elsewhere(one: Placed) -> Placed:
        lat, lon = place(one.lat_deg, one.lon_deg)
        return replace(one, lat_deg=lat, lon_deg=lon)

    def climb(one: ClimbStart) -> ClimbStart:
        assert one.source is not None
        lat, lon = place(one.source.lat_deg, one.source.lon_deg)
        met_lat, met_lon = place(one.source.met_lat_deg, one.source.met_lon_deg)
        turn = float(there.convergence_deg(lat, lon)) - float(
            HOME.convergence_deg(one.source.lat_deg, one.source.lon_deg)
        )
        source = replace(
            one.source, lat_deg=lat, lon_deg=lon, met_lat_deg=met_lat, met_lon_deg=met_lon,
            drift_to_deg=(one.source.drift_to_deg + turn) % 360.0,
        )  # fmt: skip
        return replace(elsewhere(one), source=source)

    lat, lon = there.to_degrees(*HOME.to_plane(flight.way.lat_deg, flight.way.lon_deg))
    return replace(
        flight, takeoff=elsewhere(flight.takeoff), landing=elsewhere(flight.landing),
        climbs=tuple(climb(one) for one in flight.climbs),
        way=replace(flight.way, lat_deg=frozen_floats(lat), lon_deg=frozen_floats(lon)),
    )  # fmt: skip


def written(review: SeasonReview) -> tuple[str, dict[str, list[dict[str, dict[str, list[float]]]]]]:
    """Page and GeoJSON of a season."""
    page = season_bytes(review, "html", Display()).decode()
    return page, json.loads(season_bytes(review, "geojson", Display()), parse_constant=pytest.fail)


@pytest.mark.parametrize(
    ("lat", "lon"), [(-17.0, 179.995), (-17.0, -180.0), (89.99, 20.0), (-89.98, -100.0), (0.0, 0.0)]
)
def test_a_season_has_the_same_spots_wherever_it_was_flown(lat: float, lon: float) -> None:
    there = LocalPlane(lat, lon)
    review = review_season([moved(flight, there) for flight in FLIGHTS])
    (region,), (home,) = review.thermals, review_season(FLIGHTS).thermals
    assert len(region.spots) == len(home.spots) == len(SPOTS_M)
    for spot, same in zip(region.spots, home.spots, strict=True):
        found, wanted = (
            np.array(plane.to_plane(one.lat_deg, one.lon_deg)) for plane, one in ((there, spot), (HOME, same))
        )
        assert np.hypot(*(found - wanted)) < 10.0
        assert spot.radius_m == pytest.approx(same.radius_m, rel=0.05)
        assert spot.grade == same.grade
    page, document = written(review)
    assert page.count("<svg") >= 4
    for feature in document["features"]:
        east_deg, north_deg = feature["geometry"]["coordinates"]
        assert -180.0 <= east_deg <= 180.0
        assert -90.0 <= north_deg <= 90.0


@pytest.mark.parametrize(
    "flights",
    [
        [made_flight(1, climbs=False), made_flight(2, climbs=False)],
        [replace(made_flight(1), climbs=tuple(replace(c, source=None) for c in made_flight(1).climbs))],
        [made_flight(1)],
        [made_flight(1, has_date=False)],
    ],
    ids=["no climb", "none traced", "one flight", "undated"],
)
def test_too_little_for_a_spot_is_said_and_shows_none(flights: list[SeasonFlight]) -> None:
    review = review_season(flights)
    page, document = written(review)
    assert document["features"] == []
    assert "Where climbs come from" in page
    if not review.thermals:
        assert NO_CLIMBS in page


def test_names_with_markup_stay_text_and_are_not_in_the_map() -> None:
    review = review_season([made_flight(day, place=HOSTILE, pilot=HOSTILE, wing=HOSTILE) for day in range(1, 9)])
    page, document = written(review)
    assert HOSTILE not in page
    assert "<script" not in json.dumps(document)


def test_of_many_places_those_most_used_have_numbers() -> None:
    few = review_season([made_flight(day, place=f"Hill {day % 3}") for day in range(1, 13)]).places
    many = review_season([made_flight(min(day, 30), place=f"Hill {max(day, 5)}") for day in range(1, 40)]).places
    assert len(many) > MOST_NUMBERED_PLACES
    (panel,) = places_chart(1, few, Display()).panels
    assert [disc.tag for disc in panel.discs] == ["1", "2", "3"]
    assert panel.marks == ()
    (panel,) = places_chart(1, many, Display()).panels
    assert [disc.label.split(":")[0] for disc in panel.discs] == ["1 Hill 5"]
    assert len(panel.discs) + len(panel.marks) == len(many)
