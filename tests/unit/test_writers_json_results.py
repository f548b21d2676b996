"""The debrief as JSON: published names, units, null for the unknown, and nothing else than JSON."""

from __future__ import annotations

import json
import math
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta, timezone
from decimal import Decimal

import numpy as np
import pytest

from flightlog.estimates import Estimate
from flightlog.writers.json_results import debrief_json, encoded, iso_time, plain
from tests.unit.made_debrief import HOSTILE, made_debrief, without_flights

TOP_KEYS = {"schema", "generator", "log", "flights", "cautions"}
FLIGHT_KEYS = {
    "number",
    "takeoff",
    "landing",
    "duration_s",
    "track_length_m",
    "altitude_gain_m",
    "max_altitude_m",
    "max_climb_mps",
    "max_sink_mps",
    "phases",
    "launch",
    "climbs",
    "glides",
    "wind",
    "performance",
    "passes",
    "approach",
}
CLIMB_KEYS = {
    "number",
    "start",
    "end",
    "mode",
    "gain_m",
    "base_altitude_m",
    "top_altitude_m",
    "mean_climb_mps",
    "best_30s_climb_mps",
    "turn_direction",
    "turns",
    "circle_period_s",
    "circle_radius_m",
    "bank_deg",
    "airmass_mps",
    "core",
    "wind",
}
PASS_KEYS = {
    "number",
    "place",
    "start",
    "end",
    "outcome",
    "certainty",
    "closest_m",
    "lowest_height_m",
    "decision",
    "ground_speed_mps",
    "headwind_mps",
    "sink_mps",
    "path_deviation_m",
    "line_up_deg",
    "height_regained_m",
}


def parsed(**options):
    return json.loads(debrief_json(made_debrief(**options)), parse_constant=pytest.fail)


def test_every_promised_key_is_there():
    document = parsed()
    flight = document["flights"][0]
    assert document.keys() >= TOP_KEYS
    assert document["schema"] == "flightlog/debrief/1"
    assert flight.keys() >= FLIGHT_KEYS
    assert all(climb.keys() >= CLIMB_KEYS for climb in flight["climbs"])
    assert all(one.keys() >= PASS_KEYS for one in flight["passes"])


def test_what_is_not_known_is_null_and_not_missing():
    flight = parsed()["flights"][0]
    assert flight["climbs"][1]["core"] is None
    assert flight["passes"][1]["decision"] is None
    assert flight["launch"]["lift_share_at_rest"] is None


def test_it_is_one_line_unless_an_indent_is_asked_for():
    assert b"\n" not in debrief_json(made_debrief(pilot="two\nlines"))
    assert debrief_json(made_debrief(), indent=1).endswith(b"}\n")


def test_numbers_are_rounded_by_the_unit_of_their_key():
    assert plain(1 / 3, "lat_deg") == 0.3333333
    assert plain(1 / 3, "track_deg") == 0.33
    assert plain(1 / 3, "mean_climb_mps") == 0.333
    assert plain(Estimate(1 / 3, 0.0, 2 / 3), "gain_m") == {"value": 0.33, "low": 0.0, "high": 0.67}


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf, np.float64("nan")])
def test_a_figure_that_is_no_number_becomes_null(value):
    assert plain(value, "gain_m") is None
    assert plain(Estimate(1.0, value, 2.0), "gain_m") is None
    debrief = made_debrief()
    broken = replace(debrief, flights=(replace(debrief.flights[0], max_climb_mps=value),))
    assert json.loads(debrief_json(broken), parse_constant=pytest.fail)["flights"][0]["max_climb_mps"] is None


def test_numpy_figures_become_plain_ones():
    assert plain(np.float64(1.25), "gain_m") == 1.25
    assert plain(np.int64(3), "number") == 3
    assert plain(np.array([1.0, 2.0]), "gain_m") == [1.0, 2.0]


def test_rounding_goes_to_the_nearest_step_as_decimal_arithmetic_does():
    values = np.random.default_rng(3).normal(0.0, 1e4, 2000).tolist()
    expected = [float(Decimal(value).quantize(Decimal("0.001"))) + 0.0 for value in values]
    assert plain(values, "climb_mps") == expected


def test_a_number_beyond_all_rounding_stays():
    assert plain(1e307, "gain_m") == 1e307
    assert plain([math.nan, 1.0, math.inf], "gain_m") == [None, 1.0, None]


@dataclass(frozen=True)
class Leg:
    from_: str
    at: tuple[datetime, ...]
    legs: tuple[Leg, ...] = ()


def test_names_and_times_at_any_depth():
    moment = datetime(2026, 6, 14, 11, 2, 3, 500_000, tzinfo=UTC)
    leg = Leg("start", (moment, moment.replace(microsecond=0)), (Leg("goal", ()),))
    text = '{"from":"start","at":["2026-06-14T11:02:03.5Z","2026-06-14T11:02:03Z"],"legs":[{"from":"goal",'
    assert encoded(leg, 0).decode().startswith(text)
    assert plain(leg) == json.loads(encoded(leg, 0))


def test_a_negative_nought_is_written_as_nought():
    assert str(plain(-0.0001, "gain_m")) == "0.0"


@pytest.mark.parametrize(
    ("moment", "text"),
    [
        (datetime(2026, 6, 14, 11, 2, 3, tzinfo=UTC), "2026-06-14T11:02:03Z"),
        (datetime(2026, 6, 14, 11, 2, 3, 200_000, tzinfo=UTC), "2026-06-14T11:02:03.2Z"),
        (datetime(2026, 6, 14, 23, 59, 59, 999_000, tzinfo=UTC), "2026-06-15T00:00:00Z"),
        (datetime(2026, 6, 14, 13, 0, 0, tzinfo=timezone(timedelta(hours=2))), "2026-06-14T11:00:00Z"),
    ],
)
def test_times_are_iso_8601_in_utc(moment, text):
    assert iso_time(moment) == text


def test_hostile_texts_come_back_as_they_were():
    document = parsed(pilot=HOSTILE, place=HOSTILE)
    assert document["log"]["pilot"] == HOSTILE
    assert document["flights"][0]["takeoff"]["place"] == HOSTILE


def test_the_same_debrief_gives_the_same_bytes():
    assert debrief_json(made_debrief()) == debrief_json(made_debrief())


def test_a_log_without_flights_has_an_empty_list():
    assert json.loads(debrief_json(without_flights()))["flights"] == []
