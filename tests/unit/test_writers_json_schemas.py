"""The published JSON Schemas: fresh, complete, and kept by what is written."""

from __future__ import annotations

import copy
import json
import re
from pathlib import Path

import jsonschema
import pytest

from flightlog.debriefing import debrief
from flightlog.places import read_places
from flightlog.tracks.health import check_track
from flightlog.tracks.reading import read_track
from flightlog.writers.files import write_html
from flightlog.writers.health import check_json
from flightlog.writers.json_results import debrief_json
from flightlog.writers.json_schemas import DOCUMENTS, SCHEMA_FOLDER, schema_text
from tests.unit.made_debrief import made_debrief, without_flights

SAMPLES = Path(__file__).parents[2] / "sample_tracks"
LOGS = sorted(path for path in SAMPLES.iterdir() if path.suffix in (".igc", ".gpx"))


def validator(name: str) -> jsonschema.Draft202012Validator:
    schema = json.loads((SCHEMA_FOLDER / name).read_text(encoding="utf-8"))
    return jsonschema.Draft202012Validator(schema, format_checker=jsonschema.FormatChecker())


@pytest.mark.parametrize("name", DOCUMENTS)
def test_the_published_schema_is_fresh(name):
    published = (SCHEMA_FOLDER / name).read_text(encoding="utf-8")
    assert published == schema_text(name), "run: python -m flightlog.writers.json_schemas"
    jsonschema.Draft202012Validator.check_schema(json.loads(published))


def test_made_results_keep_the_schema():
    for made in (made_debrief(), without_flights(), made_debrief(pilot=None)):
        validator("debrief-1.json").validate(json.loads(debrief_json(made)))


def test_the_schema_refuses_what_the_contract_forbids():
    document = json.loads(debrief_json(made_debrief()))
    for spoil in (
        lambda d: d["flights"][0].pop("passes"),
        lambda d: d["flights"][0]["climbs"][0].update(mode="hovering"),
        lambda d: d["flights"][0].update(duration_s=None),
        lambda d: d["log"].update(altitude_source="guess"),
        lambda d: d["flights"][0]["glides"][0]["sink_mps"].pop("low"),
    ):
        spoilt = copy.deepcopy(document)
        spoil(spoilt)
        with pytest.raises(jsonschema.ValidationError):
            validator("debrief-1.json").validate(spoilt)


def test_there_are_samples():
    assert LOGS


@pytest.mark.parametrize("path", LOGS, ids=lambda path: path.name)
def test_every_sample_keeps_the_schemas(path):
    track = read_track(path)
    places = read_places(SAMPLES / "places.geojson")
    written = debrief_json(debrief(track, places=places))
    validator("debrief-1.json").validate(json.loads(written, parse_constant=pytest.fail))
    validator("check-1.json").validate(json.loads(check_json(track, check_track(track))))


def test_a_log_without_heights_keeps_the_schema_and_makes_a_page(tmp_path):
    text = (SAMPLES / "cross-country-4s.gpx").read_text(encoding="utf-8")
    path = tmp_path / "flat.gpx"
    path.write_text(re.sub("<ele>[^<]*</ele>", "", text), encoding="utf-8")
    result = debrief(read_track(path))
    document = json.loads(debrief_json(result), parse_constant=pytest.fail)
    validator("debrief-1.json").validate(document)
    flight = document["flights"][0]
    assert flight["max_altitude_m"] is None
    assert flight["takeoff"]["altitude_m"] is None
    assert all(climb["mean_climb_mps"] is None for climb in flight["climbs"])
    assert write_html(result, tmp_path / "flat.html").stat().st_size > 10_000
