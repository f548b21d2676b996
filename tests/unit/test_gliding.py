"""Logs grouped by wing, day or note, and the sentences about them."""

from __future__ import annotations

from dataclasses import replace

import pytest

from flightlog.errors import SettingsError
from flightlog.gliding.pooling import glide_log, note_for, pool_gliding, unused_notes
from flightlog.measures.polars import glide_blocks
from tests.unit.made_debrief import made_debrief, without_flights
from tests.unit.made_glides import blocks_of, glide_log_of, makers_wing

WING = (9.3, 10.4, 0.85)
BETTER = (12.5, 10.8, 0.85)
FEW = blocks_of(WING, 4, 1)


def names(group_by: str, logs: list, **how: object) -> list[str]:
    return [group.name for group in pool_gliding(logs, group_by=group_by, **how).groups]  # type: ignore[arg-type]


def test_logs_are_grouped_by_wing_date_or_note_in_order_of_time() -> None:
    logs = [
        glide_log_of(FEW, "b.igc", wing="Two", date="2026-06-15", note="flaps"),
        glide_log_of(FEW, "a.igc", wing="One", date="2026-06-14"),
        glide_log_of(FEW, "c.igc", wing=" One ", date="2026-06-16", note="flaps"),
        glide_log_of(FEW, "d.igc", wing=None, date=None),
    ]
    assert names("wing", logs) == ["wing not named", "One", "Two"]
    assert names("date", logs) == ["no date", "2026-06-14", "2026-06-15", "2026-06-16"]
    assert names("note", logs) == ["no note", "flaps"]
    one = pool_gliding(logs, group_by="wing").groups[1]
    assert (one.logs, one.flights, one.first_date, one.last_date) == (2, 2, "2026-06-14", "2026-06-16")
    assert one.polar_time_s == 2 * FEW.glide_time_s


def test_with_a_wing_file_all_logs_are_of_that_wing() -> None:
    logs = [glide_log_of(FEW, "a.igc", wing="One"), glide_log_of(FEW, "b.igc", wing=None)]
    gliding = pool_gliding(logs, wing=makers_wing(WING))
    assert [group.name for group in gliding.groups] == ["Invented"]
    assert (gliding.wing, gliding.wing_class) == ("Invented", "paraglider")
    assert gliding.expected == "what is usual for a paraglider"
    assert [problem.code for problem in gliding.problems] == ["other_wing"]
    assert "One" in gliding.problems[0].message


def test_the_order_of_the_logs_changes_nothing() -> None:
    logs = [glide_log_of(blocks_of(WING, 6, k), f"{k}.igc", note="ab"[k % 2]) for k in range(4)]
    there, back = (pool_gliding(some, group_by="note") for some in (logs, logs[::-1]))
    assert there == back


def test_the_same_log_twice_counts_once_and_is_told() -> None:
    log = glide_log_of(FEW, "a.igc")
    gliding = pool_gliding([log, replace(log, file="copy.igc")])
    assert gliding.groups[0].polar_time_s == FEW.glide_time_s
    assert [problem.code for problem in gliding.problems] == ["repeated_log"]


def test_two_logs_of_one_time_are_told() -> None:
    logs = [
        glide_log_of(FEW, "a.igc", flown_s=((0.0, 100.0),)),
        glide_log_of(FEW, "b.igc", flown_s=((90.0, 200.0),)),
    ]
    assert [problem.code for problem in pool_gliding(logs).problems] == ["flown_at_once"]
    later = [logs[0], replace(logs[1], flown_s=((101.0, 200.0),))]
    assert pool_gliding(later).problems == ()


def test_equal_groups_cannot_be_told_apart() -> None:
    logs = [
        glide_log_of(blocks_of(WING, 20, 1), "a.igc", note="in"),
        glide_log_of(blocks_of(WING, 30, 2), "b.igc", note="out"),
    ]
    (comparison,) = pool_gliding(logs, group_by="note", wing_class="paraglider").comparisons
    assert (comparison.first, comparison.second) == ("out", "in")  # against the one of most glide
    assert not comparison.tells_apart
    assert comparison.sentence.startswith("These logs cannot tell the two apart: the difference in best glide is ")
    assert ", from -" in comparison.sentence


def test_two_named_groups_are_compared_with_each_other_however_large_the_rest() -> None:
    logs = [
        glide_log_of(blocks_of(WING, 6, 1), "a.igc", note="in"),
        glide_log_of(blocks_of(WING, 8, 2), "b.igc", note="out"),
        glide_log_of(blocks_of(WING, 30, 3), "c.igc"),
    ]
    compared = pool_gliding(logs, group_by="note", wing_class="paraglider").comparisons
    assert {(one.first, one.second) for one in compared} == {("out", "in"), ("out", "no note")}
    (beside_the_rest,) = pool_gliding(logs[1:], group_by="note", wing_class="paraglider").comparisons
    assert beside_the_rest.first == "no note"  # one setting against all else


def test_a_note_that_fits_no_log_is_told() -> None:
    logs = [glide_log_of(FEW, "a.igc", note="in")]
    (problem,) = unused_notes([("in", "a*"), ("out", "zz*")], logs)
    assert "'out'" in problem.message


def test_a_maker_with_one_point_is_not_put_down_to_the_glides() -> None:
    wing = replace(makers_wing(WING), polar=makers_wing(WING).polar[:1])
    maker = pool_gliding([glide_log_of(blocks_of(WING, 30, 1), "a.igc")], wing=wing).groups[0].maker
    assert maker is not None
    assert "too few points" in maker.sentence


def test_different_groups_are_told_apart_with_figures() -> None:
    logs = [
        glide_log_of(blocks_of(WING, 60, 1, rough=0.2), "a.igc", note="in"),
        glide_log_of(blocks_of(BETTER, 40, 2, rough=0.2), "b.igc", note="out"),
    ]
    (comparison,) = pool_gliding(logs, group_by="note", wing_class="paraglider").comparisons
    assert comparison.tells_apart
    assert comparison.sentence.startswith("These logs tell the two apart: the difference in best glide is ")
    assert "one expectation" in (comparison.note or "")


def test_groups_that_cannot_be_compared_say_why() -> None:
    logs = [glide_log_of(blocks_of(WING, 20, 1), "a.igc", note="in"), glide_log_of(blocks_of(WING, 1, 2), "b.igc")]
    (comparison,) = pool_gliding(logs, group_by="note").comparisons
    assert comparison.differences == ()
    assert "too little straight glide" in comparison.sentence
    slow, fast = blocks_of(WING, 10, 1, speed_mps=9.0), blocks_of(WING, 10, 2, speed_mps=18.0)
    logs = [glide_log_of(slow, "a.igc", note="in"), glide_log_of(fast, "b.igc", note="out")]
    (comparison,) = pool_gliding(logs, group_by="note").comparisons
    assert "no airspeed was flown in both" in (comparison.note or "")


def test_unlike_air_is_told() -> None:
    lifted = replace(blocks_of(WING, 10, 2), straight_s=1000.0, straight_climb_s=200.0)
    logs = [glide_log_of(blocks_of(WING, 12, 1), "a.igc", note="in"), glide_log_of(lifted, "b.igc", note="out")]
    (comparison,) = pool_gliding(logs, group_by="note").comparisons
    assert "20 % of the second's: the air was not the same" in (comparison.note or "")


def test_the_makers_polar_stands_beside_and_draws_nothing() -> None:
    logs = [glide_log_of(blocks_of(WING, 60, 1, rough=0.2), "a.igc")]
    promised, honest = (pool_gliding(logs, wing=makers_wing(figures)).groups[0] for figures in (BETTER, WING))
    assert promised.performance.polar == honest.performance.polar
    assert promised.maker is not None
    assert honest.maker is not None
    assert promised.maker.sentence.startswith("These logs show another polar than the maker's: ")
    assert honest.maker.sentence.startswith("These logs cannot tell the wing from its maker's polar: ")
    assert "95 kg" in (honest.maker.note or "")


def test_little_or_no_glide_is_told() -> None:
    gliding = pool_gliding([glide_log_of(blocks_of(WING, 1, 1), "a.igc")], wing=makers_wing(WING))
    assert gliding.groups[0].performance.polar is None
    assert gliding.groups[0].maker is not None
    assert "too little straight glide" in gliding.groups[0].maker.sentence
    assert gliding.comparisons == ()
    empty = pool_gliding([])
    assert (empty.groups, empty.comparisons, empty.logs) == ((), (), ())
    assert len(empty.cautions) >= 2


def test_a_debrief_gives_its_gliding() -> None:
    made = made_debrief()
    log = glide_log(made, "flaps out")
    assert (log.file, log.wing, log.date, log.note, log.flights) == (
        "monday.igc", "Some wing", "2026-06-14", "flaps out", 1,
    )  # fmt: skip
    assert log.glides == made.flights[0].glides
    expected = glide_blocks(made.motion, made.air, made.spans[0], made.settings)
    assert log.blocks.glide_time_s == expected.glide_time_s > 0
    nothing = pool_gliding([glide_log(without_flights())]).groups[0]
    assert (nothing.note, nothing.airspeed_low_mps, nothing.performance.polar) == ("no glides", None, None)
    assert nothing.straight_climb_share is None


def test_notes_go_by_the_first_pattern_that_fits() -> None:
    notes = [("in", "*/winter/*"), ("out", "*.igc")]
    assert note_for(["season/winter/a.igc", "a.igc"], notes) == "in"
    assert note_for(["season/summer/a.igc", "a.igc"], notes) == "out"
    assert note_for(["a.gpx"], notes) is None


def test_what_is_not_known_is_refused() -> None:
    with pytest.raises(SettingsError, match="pilot"):
        pool_gliding([], group_by="pilot")
    with pytest.raises(SettingsError, match="balloon"):
        pool_gliding([], wing_class="balloon")
