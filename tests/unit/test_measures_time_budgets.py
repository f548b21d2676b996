"""Where the time of a flight goes, on small flights whose legs are known."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from flightlog.arrays import frozen_floats, frozen_ints
from flightlog.measures.climbs import measure_climbs
from flightlog.measures.glides import measure_glides
from flightlog.measures.time_budgets import measure_time_budget
from flightlog.phases.phases import FlightSpan, Phase
from flightlog.settings import PARAGLIDER
from tests.unit.synthetic_motion import EPOCH_S, Leg, fly, observed

LEGS = (
    ("launch_run", None, Leg(10, 5, 0.0)),
    ("glide", None, Leg(100, 10, -1.0)),
    ("climb", "circling", Leg(200, 10, 2.0, 20.0)),
    ("glide", None, Leg(150, 10, -1.2)),
    ("climb", "ridge", Leg(120, 10, 0.5)),
    ("search", None, Leg(60, 10, 0.3)),
    ("search", None, Leg(60, 10, -0.8)),
    ("approach", None, Leg(50, 9, -2.0)),
)


def flown(legs=LEGS, **options):
    """Motion, air and span of legs, each one phase."""
    path = fly([leg for _, _, leg in legs])
    motion, air = observed(path, **options)
    starts = [*path.leg_starts_s, float(motion.time_s[-1])]
    phases = tuple(
        Phase(kind, mode, start, end)
        for (kind, mode, _), start, end in zip(legs, starts, starts[1:], strict=False)
    )
    span = FlightSpan(1, EPOCH_S, EPOCH_S, starts[-1], False, False, 0.5, 0.5, 0, len(motion.time_s), phases)
    return motion, air, span


def budget_of(legs=LEGS, **options):
    return measure_time_budget(*flown(legs, **options), PARAGLIDER)


def test_times_and_heights_are_those_of_the_legs():
    parts = {(part.kind, part.mode): part for part in budget_of().parts}
    assert list(parts) == [
        ("launch_run", None),
        ("climb", "circling"),
        ("climb", "ridge"),
        ("glide", None),
        ("search", None),
        ("approach", None),
    ]
    glide = parts["glide", None]
    assert (glide.count, glide.time_s) == (2, pytest.approx(250.0, abs=1.0))
    assert glide.height_lost_m == pytest.approx(100 * 1.0 + 150 * 1.2, abs=4.0)  # speeds ease over a second
    assert glide.height_gained_m == 0.0
    assert glide.mean_climb_mps.value == pytest.approx(-280 / 250, abs=0.02)
    circling = parts["climb", "circling"]
    assert (circling.time_s, circling.height_gained_m) == (pytest.approx(200, abs=1), pytest.approx(400, abs=4))
    search = parts["search", None]
    assert search.height_gained_m == pytest.approx(18, abs=2)
    assert search.height_lost_m == pytest.approx(48, abs=2)
    assert search.mean_climb_mps.value == pytest.approx((18 - 48) / 120, abs=0.02)


def test_shares_add_up_to_one_and_heights_to_the_change_of_altitude():
    motion, air, span = flown()
    budget = measure_time_budget(motion, air, span, PARAGLIDER)
    assert math.fsum(part.share for part in budget.parts) == pytest.approx(1.0, abs=1e-12)
    assert budget.total_s == pytest.approx(span.touchdown_s - span.start_s)
    change = math.fsum(part.height_gained_m - part.height_lost_m for part in budget.parts)
    assert change == pytest.approx(motion.altitude_m[-1] - motion.altitude_m[0], abs=1e-9)


def test_heights_agree_with_the_climbs_and_glides():
    motion, air, span = flown()
    budget = measure_time_budget(motion, air, span, PARAGLIDER)
    climbs, glides = measure_climbs(motion, air, span, PARAGLIDER), measure_glides(motion, air, span, PARAGLIDER)
    gained = sum(part.height_gained_m for part in budget.parts if part.kind == "climb")
    lost = sum(part.height_lost_m for part in budget.parts if part.kind == "glide")
    assert gained == pytest.approx(sum(climb.gain_m for climb in climbs))
    assert lost == pytest.approx(sum(glide.height_lost_m for glide in glides))


@pytest.mark.parametrize(("source", "narrowest", "widest"), [("pressure", 0.001, 0.03), ("gnss", 0.03, 0.15)])
def test_the_interval_holds_the_truth_and_is_wider_for_satellite_altitudes(source, narrowest, widest):
    glide = next(part for part in budget_of(source=source).parts if part.kind == "glide")
    mean = glide.mean_climb_mps
    assert mean.low <= -1.12 <= mean.high
    assert narrowest < (mean.high - mean.low) / 2 < widest


def test_the_height_scale_errs_the_same_way_in_all_phases():
    many = (("climb", "circling", Leg(100, 10, 1.0)), ("climb", "circling", Leg(100, 10, 1.0))) * 8
    motion, air, span = flown(many)
    scaled = replace(motion, altitude_scale_sd=0.01)
    mean = measure_time_budget(scaled, air, span, PARAGLIDER).parts[0].mean_climb_mps
    plain = measure_time_budget(motion, air, span, PARAGLIDER).parts[0].mean_climb_mps
    assert mean.high - mean.value == pytest.approx(1.96 * 1.3 * 0.01 * 1.0, rel=0.05)  # 1.3: methods, scale
    assert plain.high - plain.value < 0.005


def test_what_the_recorder_missed_is_said():
    motion, air, span = flown()
    seconds = motion.time_s - EPOCH_S
    silent = frozen_ints((seconds >= 300.0).astype(int))
    late = frozen_floats(np.where(seconds >= 300.0, motion.time_s + 40.0, motion.time_s))
    moved = tuple(
        replace(
            phase,
            start_s=phase.start_s + (40.0 if phase.start_s >= EPOCH_S + 300 else 0.0),
            end_s=phase.end_s + (40.0 if phase.end_s >= EPOCH_S + 300 else 0.0),
        )
        for phase in span.phases
    )
    cut = replace(motion, piece=silent, time_s=late)
    budget = measure_time_budget(cut, air, replace(span, phases=moved), PARAGLIDER)
    assert budget.note == "41 s of the flight are missing in the recording"
    assert measure_time_budget(motion, air, span, PARAGLIDER).note is None


def test_a_flight_without_phases_has_none():
    motion, air, span = flown()
    assert measure_time_budget(motion, air, replace(span, phases=()), PARAGLIDER) is None
