"""Polars of simulated flights pooled and compared, and speeds to fly, against the wings and air that were flown.

Margins leave room for chance: over 12 wings and 54 flights 0.97-1.00 of all intervals held the truth.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest

from flightlog.air.wing_polars import expectations
from flightlog.gliding.pooling import glide_log, pool_gliding
from flightlog.gliding.results import GlideLog
from flightlog.measures.polars import fit_polar, pool_blocks
from flightlog.measures.results import Glide, SpeedToFly
from flightlog.measures.speed_to_fly import (
    FASTEST_SHARE,
    OTHER_FASTEST_SHARE,
    speed_over_ground_mps,
    speed_to_next_climb_mps,
)
from flightlog.wings import Wing

from .cases import analysed
from .simulator import SimulatedLog, simulate
from .simulator.scenarios import polar_suite, wind_and_glide_suite
from .simulator.truth import COLUMN
from .simulator.wing import Wing as TrueWing

pytestmark = pytest.mark.slow

HALF_HOURS = (0, 1, 4, 5, 8, 9)
"""Entries of the suite with half an hour of glide: each class in calm and in thermic air, three flights each."""
HOUR = 2
"""An hour of one paraglider in calm air, six flights."""
Flown = tuple[TrueWing, list[GlideLog], list[tuple[SpeedToFly, float, float, float]]]


def speeds_to_fly(log: SimulatedLog, flights: tuple) -> list[tuple[SpeedToFly, float, float, float]]:
    """What was said, with the true mean rise of the air, best equivalent airspeed and airspeed of each glide."""
    rows = []
    for flight in flights:
        for glide, said in zip(flight.glides, flight.speed_to_fly, strict=True):
            if said.air_mps is None or said.flown_airspeed_mps is None or said.flown_equivalent_mps is None:
                continue
            states = log.truth.rows(glide.start.timestamp(), glide.end.timestamp())
            air, speed = (float(states[:, COLUMN[name]].mean()) for name in ("airmass_mps", "airspeed_mps"))
            root = said.flown_equivalent_mps.value / said.flown_airspeed_mps.value
            polar = np.array(log.wing.polar)
            if said.reference == "next_climb" and said.climb_mps is not None:
                best = speed_to_next_climb_mps(polar, said.climb_mps * root, air * root)
            else:
                tailwind = glide.ground_speed_mps - speed
                best = speed_over_ground_mps(polar, tailwind * root, air * root)
            rows.append((said, air, float(best), speed))
    return rows


def flown(entry: int) -> Flown:
    cases, _ = polar_suite()[entry]
    logs, said, wing = [], [], None
    for case in cases:
        log = simulate(*case)
        debrief = analysed(log)
        logs.append(glide_log(debrief, case[0].name))
        said += speeds_to_fly(log, debrief.flights)
        wing = log.wing
    assert wing is not None
    return wing, logs, said


@pytest.fixture(scope="module")
def half_hours() -> list[Flown]:
    return [flown(entry) for entry in HALF_HOURS]


@pytest.fixture(scope="module")
def hour() -> Flown:
    return flown(HOUR)


def makers(wing: TrueWing, share: float = 1.0) -> Wing:
    """The wing's own polar as its maker would give it; `share` makes its sinks better than they are."""
    speeds = np.linspace(0.8 * wing.min_sink_speed_mps, wing.top_mps, 9)
    points = tuple((float(speed), wing.sink_mps(float(speed)) * share) for speed in speeds)
    return Wing("Invented", wing.wing_class, wing.empty_kg, wing.all_up_kg, polar=points)


def true_figure(wing: TrueWing, figure: str, airspeed_mps: float | None) -> float:
    if figure == "best_glide_ratio":
        return wing.best_ratio
    return wing.min_sink_mps if figure == "min_sink_mps" else wing.sink_mps(airspeed_mps or 0.0)


def test_differences_of_wings_lie_in_their_intervals(half_hours) -> None:
    inside: dict[str, list[bool]] = {}
    for (one, one_logs, _), (other, other_logs, _) in combinations(half_hours, 2):
        parts = [(log, "one") for log in one_logs] + [(log, "other") for log in other_logs]
        labelled = [GlideLog(**{**vars(log), "note": note}) for log, note in parts]
        (comparison,) = pool_gliding(labelled, group_by="note").comparisons
        wings = {"one": one, "other": other}
        for item in comparison.differences:
            true = true_figure(wings[comparison.second], item.figure, item.airspeed_mps) - true_figure(
                wings[comparison.first], item.figure, item.airspeed_mps
            )
            inside.setdefault(item.figure, []).append(item.difference.low <= true <= item.difference.high)
    assert len(inside["best_glide_ratio"]) == 15
    for held in inside.values():
        assert np.mean(held) >= 0.85


def test_a_paraglider_is_told_from_a_rigid_wing(half_hours) -> None:
    labelled = [
        GlideLog(**{**vars(log), "note": note})
        for note, (_, logs, _) in (("slow", half_hours[0]), ("fast", half_hours[4]))
        for log in logs
    ]
    (comparison,) = pool_gliding(labelled, group_by="note").comparisons
    assert comparison.tells_apart
    assert "best glide" in comparison.sentence


def test_two_halves_of_the_same_flights_are_one_wing(hour) -> None:
    _, logs, _ = hour
    halves = [GlideLog(**{**vars(log), "note": "ab"[number % 2]}) for number, log in enumerate(logs)]
    (comparison,) = pool_gliding(halves, group_by="note", wing_class="paraglider").comparisons
    assert not comparison.tells_apart
    assert comparison.sentence.startswith("These logs cannot tell the two apart")


def test_an_honest_maker_is_not_contradicted_and_a_boaster_is(hour) -> None:
    wing, logs, _ = hour
    honest, boasting = (pool_gliding(logs, wing=makers(wing, share)).groups[0].maker for share in (1.0, 0.7))
    assert honest is not None
    assert boasting is not None
    held = [not item.tells_apart for item in honest.differences]
    assert np.mean(held) >= 0.8
    assert boasting.sentence.startswith("These logs show another polar than the maker's")


def test_the_pooled_polar_holds_the_wing(half_hours) -> None:
    inside = []
    for wing, logs, _ in half_hours:
        polar = pool_gliding(logs, wing_class=wing.wing_class).groups[0].performance.polar
        assert polar is not None
        inside.append(polar.best_glide_ratio.low <= wing.best_ratio <= polar.best_glide_ratio.high)
    assert sum(inside) >= 5


def test_circling_speeds_are_those_flown(half_hours) -> None:
    # the simulated pilot circles at 1.06 times the speed of least sink, the load of the bank added
    shares = [
        pool_blocks(log.blocks for log in logs).circling_mps / wing.min_sink_speed_mps
        for wing, logs, _ in half_hours
    ]
    assert shares == pytest.approx([1.06] * len(shares), abs=0.03)


@pytest.mark.parametrize("habit", [1 / 1.15, 1.15])
def test_the_polar_holds_the_wing_of_a_pilot_who_circles_otherwise(half_hours, habit: float) -> None:
    inside = []
    for wing, logs, _ in half_hours:
        blocks = pool_blocks(log.blocks for log in logs)
        polar = fit_polar(
            replace(blocks, circling_way_m=habit * blocks.circling_way_m), expectations(wing.wing_class)
        )
        inside += [
            polar.best_glide_ratio.low <= wing.best_ratio <= polar.best_glide_ratio.high,
            polar.min_sink_mps.low <= wing.min_sink_mps <= polar.min_sink_mps.high,
        ]
    assert sum(inside) >= len(inside) - 2


def test_air_met_and_best_speed_lie_in_their_intervals(half_hours, hour) -> None:
    said = [row for _, _, rows in (*half_hours, hour) for row in rows]
    assert len(said) > 30
    air = [row.air_mps.low <= true <= row.air_mps.high for row, true, _, _ in said if row.air_mps]
    off = [row.air_mps.value - true for row, true, _, _ in said if row.air_mps]
    best = [
        row.best_equivalent_mps.low <= true <= row.best_equivalent_mps.high
        for row, _, true, _ in said
        if row.best_equivalent_mps and np.isfinite(true)
    ]
    assert np.mean(air) >= 0.88
    assert np.sqrt(np.mean(np.square(off))) < 0.2  # m/s; 0.11 when written
    assert np.mean(best) >= 0.9


def true_time_cost_s(log: SimulatedLog, glide: Glide, said: SpeedToFly) -> float:
    """Time that the true airspeed cost against the best in the true air, for the climb said to follow."""
    states = log.truth.rows(glide.start.timestamp(), glide.end.timestamp())
    assert said.climb_mps is not None
    assert said.flown_equivalent_mps is not None
    assert said.flown_airspeed_mps is not None
    root = said.flown_equivalent_mps.value / said.flown_airspeed_mps.value
    air, speed = (float(states[:, COLUMN[name]].mean()) * root for name in ("airmass_mps", "airspeed_mps"))
    climb, polar = said.climb_mps * root, np.array(log.wing.polar)
    fastest = log.wing.best_ratio_mps * FASTEST_SHARE.get(log.wing.wing_class, OTHER_FASTEST_SHARE)
    best = min(float(speed_to_next_climb_mps(polar, climb, air)), max(fastest, speed))
    took = 1.0 + (log.wing.sink_mps(speed) - air) / climb
    least = speed / best * (1.0 + (log.wing.sink_mps(best) - air) / climb)
    return (glide.end - glide.start).total_seconds() * (took - least)


def test_time_lost_over_a_flight_lies_in_its_interval_and_that_is_no_wider_than_it_need_be() -> None:
    # 35 flights when written: 0.97 held (all with the ends added up); median half width 76 s, 91 s with them
    inside, narrower = [], []
    for case in wind_and_glide_suite(5, seed=20260101):
        log = simulate(*case)
        for flight in analysed(log).flights:
            for total in (one for one in flight.speed_costs if one.cost_s is not None and len(one.glides) > 1):
                pairs = zip(flight.glides, flight.speed_to_fly, strict=True)
                clear = [(glide, said) for glide, said in pairs if said.number in total.glides]
                true = sum(true_time_cost_s(log, glide, said) for glide, said in clear)
                inside.append(total.cost_s.low <= true <= total.cost_s.high)
                ends = sum(said.cost_s.high - said.cost_s.low for _, said in clear if said.cost_s)
                narrower.append((total.cost_s.high - total.cost_s.low) / ends)
    assert len(inside) >= 3
    assert np.mean(inside) >= 0.8
    assert np.median(narrower) < 0.97
