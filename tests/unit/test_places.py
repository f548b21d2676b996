"""Places files: what is read, and what is said of a wrong one."""

import json

import pytest

from flightlog.errors import PlacesFileError
from flightlog.places import Place, read_places


def feature(coordinates=(7.5, 46.25), kind="Point", **properties):
    return {"type": "Feature", "geometry": {"type": kind, "coordinates": coordinates}, "properties": properties}


def write(tmp_path, *features, text=None):
    path = tmp_path / "places.geojson"
    document = {"type": "FeatureCollection", "features": list(features)}
    path.write_text(json.dumps(document) if text is None else text, encoding="utf-8")
    return path


def test_a_full_and_a_short_place(tmp_path):  # RFC 7946, 3.1.1: longitude comes first
    full = feature(name="Top", elevation_m=1850, radius_m=80, use=["launch", "top_landing"], heading_deg=360)
    short = feature([7.0, 46.0, 600.0], name=" Field ", elevation_m=600)
    assert read_places(write(tmp_path, full, short)) == (
        Place("Top", 46.25, 7.5, 1850.0, 80.0, ("launch", "top_landing"), 0.0),
        Place("Field", 46.0, 7.0, 600.0, 150.0, ("landing",), None),
    )


def test_lines_and_areas_are_passed_over(tmp_path):
    line = feature([[7.0, 46.0], [7.1, 46.0]], "LineString", name="Ridge")
    assert len(read_places(write(tmp_path, line, feature(name="A", elevation_m=1)))) == 1


@pytest.mark.parametrize(
    ("wrong", "found"),
    [
        (feature(elevation_m=1), "no name"),
        (feature(name="A"), "elevation_m is missing"),
        (feature(name="A", elevation_m="high"), "elevation_m is missing or no number"),
        (feature(name="A", elevation_m=True), "elevation_m is missing or no number"),
        (feature(name="A", elevation_m=99999), "lies outside"),
        (feature(name="A", elevation_m=10**400), "no number"),
        (feature(name="A", elevation_m=1, radius_m=-5), "radius_m"),
        (feature(name="A", elevation_m=1, use=["swim"]), "use"),
        (feature(name="A", elevation_m=1, use="landing"), "use"),
        (feature(name="A", elevation_m=1, heading_deg=400), "heading_deg"),
        (feature([46.25], name="A", elevation_m=1), "coordinates"),
        (feature(["x", 1], name="A", elevation_m=1), "coordinates"),
        (feature([7.0, 97.5], name="A", elevation_m=1), "no place on earth"),
        ({"type": "Feature", "geometry": None, "properties": {}}, "geometry"),
        ([], "geometry"),
    ],
)
def test_what_is_wrong_is_said_with_the_feature(tmp_path, wrong, found):
    path = write(tmp_path, feature(name="good", elevation_m=1), wrong)
    with pytest.raises(PlacesFileError, match=f"feature 2: .*{found}") as caught:
        read_places(path)
    assert str(caught.value).startswith(f"{path}:1: ")
    assert caught.value.advice


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("", "no JSON"),
        ("{", "no JSON"),
        ("[]", "no GeoJSON"),
        ('{"type": "FeatureCollection"}', "without a list"),
        ('{"type": "FeatureCollection", "features": []}', "no point"),
        ("[" * 100_000, "no JSON"),
    ],
)
def test_no_places_file(tmp_path, text, found):
    with pytest.raises(PlacesFileError, match=found):
        read_places(write(tmp_path, text=text))


def test_the_line_of_broken_json_and_a_missing_file(tmp_path):
    with pytest.raises(PlacesFileError, match=":3: no JSON"):
        read_places(write(tmp_path, text='{"type":\n"FeatureCollection",\n oops}'))
    with pytest.raises(PlacesFileError, match="cannot be read"):
        read_places(tmp_path / "none.geojson")
