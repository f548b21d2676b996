"""Shares of a difference in time: exact sums for any two legs, and the right part where one thing differs."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from flightlog.comparing.differences import LegSums, shared_out, without_heights
from flightlog.comparing.results import PARTS

LEG = LegSums(
    start_s=20.0, glide_m=9000.0, glide_s=700.0, loss_m=1000.0, climb_s=400.0, gain_m=900.0, other_s=60.0
)


def numbers(low: float, high: float):
    return st.floats(low, high, allow_nan=False)


@st.composite
def any_leg(draw) -> LegSums:
    """A leg with or without glides and climbs."""
    has_glide, has_climb = draw(st.booleans()), draw(st.booleans())
    return LegSums(
        start_s=draw(numbers(0, 900)),
        glide_m=draw(numbers(200, 60_000)) if has_glide else 0.0,
        glide_s=draw(numbers(10, 5000)) if has_glide else 0.0,
        loss_m=draw(numbers(-500, 6000)) if has_glide else 0.0,
        climb_s=draw(numbers(30, 5000)) if has_climb else 0.0,
        gain_m=draw(numbers(20, 6000)) if has_climb else 0.0,
        other_s=draw(numbers(0, 3000)),
    )


@settings(max_examples=300, deadline=None)
@given(any_leg(), any_leg())
def test_the_parts_add_up_for_any_two_legs(own, other):
    parts = shared_out(own, other)
    assert math.fsum(parts) == pytest.approx(own.time_s - other.time_s, abs=1e-6, rel=1e-9)
    assert shared_out(other, own) == pytest.approx(-parts, abs=1e-6, rel=1e-9)


@pytest.mark.parametrize(
    ("changed", "part"),
    [
        ({"start_s": 95.0}, "start"),
        ({"other_s": 160.0}, "searching"),
        ({"climb_s": 500.0}, "climbing"),
        ({"glide_s": 900.0}, "glide_speed"),
    ],
)
def test_what_alone_differs_has_it_all(changed, part):
    own = replace(LEG, **changed)
    parts = dict(zip(PARTS, shared_out(own, LEG), strict=True))
    assert parts[part] == pytest.approx(own.time_s - LEG.time_s)
    assert [value for name, value in parts.items() if name != part] == pytest.approx([0.0] * 6, abs=1e-9)


def test_height_brought_along_is_worth_its_climb():
    """100 m more lost than climbed on the leg, at 2.25 m/s of climb: 44.4 s gained, by MacCready's arithmetic."""
    own = replace(LEG, gain_m=800.0, climb_s=400.0 * 800.0 / 900.0)
    parts = dict(zip(PARTS, shared_out(own, LEG), strict=True))
    assert parts["height"] == pytest.approx(-100.0 / 2.25)


def test_two_things_that_differ_share_what_they_have_in_common():
    """Climb and height both changed: the parts are the mean of both orders, worked by hand."""
    own = replace(LEG, gain_m=450.0, climb_s=450.0)  # 1.0 m/s instead of 2.25, half the height
    parts = dict(zip(PARTS, shared_out(own, LEG), strict=True))
    climb = 0.5 * ((900.0 / 1.0 - 900.0 / 2.25) + (450.0 / 1.0 - 450.0 / 2.25))
    assert parts["climbing"] == pytest.approx(climb)
    assert parts["height"] == pytest.approx((450.0 - 400.0) - climb)


def test_without_heights_only_times_and_ways_are_left():
    own, other = without_heights(replace(LEG, climb_s=600.0)), without_heights(LEG)
    parts = dict(zip(PARTS, shared_out(own, other), strict=True))
    assert (own.time_s, other.time_s) == (1380.0, LEG.time_s)
    assert parts["searching"] == pytest.approx(200.0)
    assert [parts[name] for name in ("glide_ratio", "climbing", "height")] == pytest.approx([0.0] * 3, abs=1e-9)
