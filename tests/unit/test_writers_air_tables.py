"""What the tables of wind and of the speed to fly say where little is known."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

from flightlog.estimates import Estimate, Wind
from flightlog.measures.results import ANY_WING, Glide, Polar, PolarBasis, SpeedToFly, WindBand, WindResult
from flightlog.writers.display import Display
from flightlog.writers.page_tables import glides_table, polar_table, speeds_table, wind_table


def test_a_wind_that_may_be_none_has_no_direction() -> None:
    sure, unsure = Wind(270.0, 3.0, 3.0, 0.0, 0.3, 9.0), Wind(205.0, 0.5, 0.2, 0.4, 0.4, 4.0)
    table = wind_table(WindResult(sure, (WindBand(500.0, 750.0, unsure),), (), None), Display())
    assert [row[2] for row in table.rows] == ["not sure", "270°"]


def speed_to_fly(best_mps: float, cost_s: Estimate) -> SpeedToFly:
    best = Estimate(best_mps, best_mps - 1.0, best_mps + 1.0)
    flown = Estimate(10.0, 9.5, 10.5)
    return SpeedToFly(1, "next_climb", 1.0, None, None, flown, flown, best, best, cost_s, None)


def test_a_best_speed_beyond_those_flown_is_said_to_lean_on_the_class() -> None:
    basis = PolarBasis(8.0, 12.0, "what is usual for a paraglider", None, 0.0)
    cost = Estimate(3.0, 1.0, 5.0)
    (remark,) = speeds_table((speed_to_fly(13.0, cost),), Display(), basis).remarks
    assert "faster than the 43" in remark
    assert "leans on what is usual for a paraglider" in remark
    assert speeds_table((speed_to_fly(11.0, cost),), Display(), basis).remarks == ()


def test_a_cost_is_no_finer_than_its_interval() -> None:
    rows = (speed_to_fly(11.0, Estimate(118.7, 3.0, 310.0)), speed_to_fly(11.0, Estimate(3.04, 1.02, 5.06)))
    assert [row[7] for row in speeds_table(rows, Display()).rows] == ["119 (3 to 310)", "3.0 (1.0 to 5.1)"]


def test_the_table_of_glides_says_what_its_course_and_its_tailwind_are_along() -> None:
    (remark,) = (text for text in glides_table((), Display()).remarks if "corner" in text)
    assert "Course is that of the straight line from start to end" in remark
    assert "the wind along the way flown" in remark


def test_the_table_of_glides_shows_the_equivalent_airspeed() -> None:
    when = datetime(2026, 6, 14, 11, tzinfo=UTC)
    true, equivalent = Estimate(10.0, 9.5, 10.5), Estimate(9.0, 8.5, 9.5)
    glide = Glide(1, when, when, 900.0, 90.0, 10.0, true, None, None, None, None, 90.0)
    table = glides_table((replace(glide, equivalent_airspeed_mps=equivalent), glide), Display())
    place = [column.label for column in table.columns].index("Equivalent")
    assert [row[place - 1 : place + 1] for row in table.rows] == [
        ("36 (34 to 38)", "32"),
        ("36 (34 to 38)", "–"),
    ]
    assert any("sea level" in remark for remark in table.remarks)


def test_a_polar_of_no_named_class_says_what_would_narrow_it() -> None:
    def remarks(leans_on: str) -> tuple[str, ...]:
        one = Estimate(9.0, 8.0, 10.0)
        basis = PolarBasis(9.0, 12.0, leans_on, None, 0.0)
        polar = Polar((9.0,), (1.1,), (1.0,), (1.2,), one, one, one, one, 600.0, basis=basis)
        return polar_table(polar, Display()).remarks

    assert any("--class" in remark for remark in remarks(ANY_WING))
    assert not any("--class" in remark for remark in remarks("what is usual for a paraglider"))
