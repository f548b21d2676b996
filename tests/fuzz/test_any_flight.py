"""Any flight at all, however impossible: the whole debrief keeps its promises."""

import itertools
import json
import math
from pathlib import Path

import jsonschema
import numpy as np
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

import flightlog
from flightlog.debriefing import debrief
from flightlog.errors import FlightlogError
from flightlog.tracks.igc import parse_igc
from flightlog.writers.html_page import html_page
from flightlog.writers.json_results import debrief_json
from flightlog.writers.page import page_of
from tests.fuzz.test_readers_never_crash import check_message

SCHEMA = jsonschema.Draft202012Validator(
    json.loads((Path(flightlog.__file__).parent / "schemas" / "debrief-1.json").read_text(encoding="utf-8"))
)
PIECES = st.lists(
    st.tuples(
        st.integers(20, 300),  # fixes
        st.sampled_from([0.0, 0.3, 1.5, 6.0, 9.0, 14.0, 25.0, 90.0, 400.0]),  # ground speed, m/s
        st.sampled_from([0.0, 0.0, 1.0, 9.0, 18.0, -15.0, 60.0, 180.0]),  # turn rate, degrees a second
        st.sampled_from([0.0, 0.0, -1.0, -2.0, 1.5, 4.0, -12.0, 40.0]),  # climb, m/s
        st.sampled_from([0, 0, 0, 1, 40, 700, -3, 40_000]),  # pause before it, s
        st.sampled_from([0.0, 0.0, 0.0, 200.0, 5e4, 3e6]),  # jump before it, m
    ),
    min_size=1,
    max_size=12,
)
PLACES = st.sampled_from([(46.9, 102.4), (-89.99, 10.0), (89.99, -170.0), (0.0, 179.999), (-33.0, -179.999)])


def igc_of(pieces, place, step_s, has_pressure, noise_m, seed):
    """The pieces flown one after the other, as the text of a log."""
    random = np.random.default_rng(seed)
    latitude, longitude = place
    altitude, course, second = 900.0, 0.0, 30_000
    lines = ["AXXX001", "HFDTE150625"]
    for fixes, speed, turn, climb, pause, jump in pieces:
        second += pause
        latitude += jump / 111_000
        for _ in range(fixes):
            course += turn * step_s
            altitude += climb * step_s
            latitude += speed * step_s * math.cos(math.radians(course)) / 111_000
            longitude += (
                speed
                * step_s
                * math.sin(math.radians(course))
                / 111_000
                / max(0.01, math.cos(math.radians(latitude)))
            )
            second += step_s
            lines.append(_fix(latitude, longitude, altitude, second, has_pressure, random.normal(0, noise_m, 3)))
    return "\r\n".join(lines).encode()


def _fix(latitude, longitude, altitude, second, has_pressure, noise):
    south, west = latitude + noise[0] / 111_000, (longitude + noise[1] / 111_000 + 180) % 360 - 180
    south = min(max(south, -90.0), 90.0)
    clock = second % 86_400
    height = round(min(max(altitude + noise[2], -900), 30_000))
    return (
        f"B{clock // 3600:02d}{clock // 60 % 60:02d}{clock % 60:02d}"
        f"{_angle(south, 2)}{'S' if south < 0 else 'N'}{_angle(west, 3)}{'W' if west < 0 else 'E'}A"
        f"{height if has_pressure else 0:05d}{height:05d}"
    )


def _angle(value, digits):
    thousandths = round(abs(value) * 60_000)
    return f"{thousandths // 60_000:0{digits}d}{thousandths % 60_000:05d}"


def no_number(name):
    """JSON knows no NaN and no infinity."""
    raise AssertionError(name)


def estimates_of(value):
    """Every estimate anywhere in a document."""
    if isinstance(value, dict):
        if {"value", "low", "high"} <= value.keys():
            yield value
        for inner in value.values():
            yield from estimates_of(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from estimates_of(inner)


@settings(
    max_examples=25,
    deadline=None,
    derandomize=True,
    database=None,
    phases=[Phase.generate],
    report_multiple_bugs=True,
)
@given(
    PIECES,
    PLACES,
    st.sampled_from([1, 2, 5]),
    st.booleans(),
    st.sampled_from([0.0, 2.0, 30.0]),
    st.integers(0, 99),
)
def test_the_whole_debrief_of_any_flight(pieces, place, step_s, has_pressure, noise_m, seed):
    try:
        day = debrief(parse_igc(igc_of(pieces, place, step_s, has_pressure, noise_m, seed), file="x"))
    except FlightlogError as error:
        check_message(error)
        return
    document = json.loads(debrief_json(day), parse_constant=no_number)
    SCHEMA.validate(document)
    for flight in document["flights"]:
        phases = flight["phases"]
        assert all(one["end"] == next_one["start"] for one, next_one in itertools.pairwise(phases))
        assert all(one["start"] < one["end"] for one in phases)
        assert flight["takeoff"]["time"] <= flight["landing"]["time"]
    assert all(one["low"] <= one["value"] <= one["high"] for one in estimates_of(document))
    assert html_page(page_of(day)).startswith(b"<!doctype html>")
