"""Sentences about passes: the figures of the results, in words, without a score and without advice."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from flightlog.estimates import Estimate
from flightlog.landings.reviewing import review_landings
from flightlog.measures.unsteadiness import Unsteadiness, unsteady_in_words
from flightlog.settings import PARAGLIDER
from flightlog.writers.display import NO_BREAK, Display
from flightlog.writers.finding_parts import Subject
from flightlog.writers.ground_tables import approach_table
from flightlog.writers.landing_words import (
    NO_ADVICE,
    STABILISED,
    approach_text,
    landing_text,
    off_path,
    pass_text,
    tries_texts,
    what_to_look_at,
    wind_part,
)
from flightlog.writers.page_findings import findings_of
from tests.unit.made_debrief import HOSTILE, made_flight
from tests.unit.made_landings import at, made_log, made_pass, valley_log

SHOW = Display()


def told(one, show=SHOW):
    return pass_text(one.figures, show).replace(NO_BREAK, " ")


def test_a_pass_broken_off_is_told_with_its_figures():
    text = told(made_pass(2, at(1, 12), height_m=6.0, off_path_m=14.0, headwind_mps=-1.5))
    assert text.startswith("Second pass (10:12:00): broken off 6 m above the place, 11 m from it. ")
    assert "With 100 m to go 23 m up, 14 (10 to 18) m too high; with 50 m to go" in text
    assert "ground speed 22 km/h" in text
    assert "tailwind 5 (−2 to 13) km/h" in text
    assert "crosswind 4 (−2 to 9) km/h from the right" in text
    assert "The course swung by 12°" in text


def test_too_low_and_on_the_path():
    assert "14 (10 to 18) m too low" in told(made_pass(1, at(1, 12), off_path_m=-14.0))
    assert "on the path as far as can be told (−2 to 6 m)" in told(made_pass(1, at(1, 12), off_path_m=2.0))


def test_a_landing_has_no_decision():
    text = told(made_pass(1, at(1, 12), landed=True))
    assert text.startswith("First pass (10:12:00): landed. ")
    assert "broken off" not in text


def test_a_possible_pass_is_not_called_broken_off():
    text = told(made_pass(1, at(1, 12), certainty="possible"))
    assert "may have been meant to land" in text
    assert "broken off" not in text


def test_what_is_not_known_is_said_and_no_figure_is_made_up():
    figures = replace(made_pass(1, at(1, 12)).figures, headwind_mps=None, detail=None, decision=None)
    text = pass_text(figures, SHOW)
    assert "the wind is not known" in text
    assert "too high" not in text
    assert "swung" not in text


def test_the_readers_units():
    text = told(made_pass(1, at(1, 12), height_m=10.0), Display("aviation"))
    assert "broken off 33 ft above the place" in text
    assert "kt" in text
    assert "km/h" not in text


def test_every_pass_of_a_flight_has_its_text():
    texts = what_to_look_at(made_flight().passes, SHOW)
    assert len(texts) == 3
    assert "no climb followed" in texts[1].lower()
    assert what_to_look_at((), SHOW) == ()


def test_tries_tell_the_time_between_them():
    row = review_landings([made_log(1, 1)]).rows[0]
    first, second = tries_texts(row.tries, SHOW)
    assert "after the one before" not in first
    assert "10:00 min after the one before" in second.replace(NO_BREAK, " ")


@pytest.mark.parametrize(
    ("log", "text"),
    [
        (made_log(1, 2), "Landed here, after 2 go-arounds."),
        (made_log(1, 0), "Landed here, at the first try."),
        (valley_log(1), "Not landed here: the flight ended elsewhere; 1 go-around."),
    ],
)
def test_how_a_landing_came_out(log, text):
    row = next(row for row in review_landings([log]).rows if row.place_name == "top 1")
    assert landing_text(row) == text


def test_a_landing_without_a_search_for_passes_claims_nothing():
    row = next(row for row in review_landings([valley_log(1)]).rows if row.place_name == "field 1")
    assert landing_text(row) == "Landed here."


def test_sides_of_the_wind():
    def sided(value):
        return wind_part(Estimate(value, value - 1, value + 1), ("headwind", "tailwind"), SHOW)

    assert sided(3.0).startswith("headwind")
    assert sided(-3.0).startswith("tailwind")
    assert wind_part(None, ("headwind", "tailwind"), SHOW) == ""


def test_intervals_of_the_other_side_are_turned_round():
    assert off_path(Estimate(-9.0, -12.0, -6.0), SHOW).replace(NO_BREAK, " ") == "9 (6 to 12) m too low"


def test_no_score_and_no_advice():
    landing = approach_text(made_flight().approach, SHOW, PARAGLIDER)
    texts = [
        *what_to_look_at(made_flight().passes, SHOW),
        landing,
        STABILISED,
        *map(told, (made_pass(1, at(1, 1)),)),
    ]
    for word in ("should", "must", "try to", "better", "good", "bad", "score", "points", "well done", "%"):
        for text in texts:
            assert not re.search(rf"(?<!\w){re.escape(word)}(?!\w)", text.lower()), (word, text)
    assert "no advice" in NO_ADVICE


def test_what_followed_a_go_around_is_told():
    one = replace(made_pass(1, at(1, 12)).figures, height_regained_m=31.0, seconds_to_next_s=125.0)
    assert "Then 31 m were regained, and the next try ended 2:05 min later." in pass_text(one, SHOW).replace(
        NO_BREAK, " "
    )
    alone = replace(one, seconds_to_next_s=None)
    assert "Then 31 m were regained." in pass_text(alone, SHOW).replace(NO_BREAK, " ")
    assert "regained" not in pass_text(replace(one, height_regained_m=None), SHOW)


def test_a_touchdown_that_rises_is_not_said_to_sink():
    approach = replace(made_flight().approach, final_sink_mps=-0.3, sink_at_touchdown_mps=-0.5)
    text = approach_text(approach, SHOW, PARAGLIDER).replace(NO_BREAK, " ")
    assert ", rising 0.3 m/s in the mean." in text
    assert "over the ground, rising 0.5 m/s" in text
    assert "sinking" not in text
    rows = dict(approach_table(approach, SHOW, PARAGLIDER).rows)
    assert rows["Sink at touchdown"].replace(NO_BREAK, " ") == "rising 0.5 m/s"
    level = approach_text(replace(approach, sink_at_touchdown_mps=-0.01), SHOW, PARAGLIDER)
    assert "over the ground, level" in level


def test_a_landing_is_told_with_its_figures():
    approach = replace(
        made_flight().approach, pattern="figure_of_eight", final_length_m=62.0, final_path_deviation_m=1.2,
        final_speed_spread_mps=0.5, low_turns=1, low_turn_deg=62.0, sink_at_touchdown_mps=0.9,
        touchdown_distance_m=17.0, unsteady=(),
    )  # fmt: skip
    text = approach_text(approach, SHOW, PARAGLIDER).replace(NO_BREAK, " ")
    assert text.startswith("Landed from figures of eight: final of 62 m")
    assert "1 m off the straight path to the touchdown, the speed varied by 2 km/h" in text
    assert "1 turn below 15 m, 62° in all." in text
    assert "sinking 0.9 m/s, 17 m from the centre of the place." in text
    assert "Not steady" not in text
    bare = replace(
        approach, final_path_deviation_m=None, final_speed_spread_mps=None, headwind_mps=None, low_turns=0,
        low_turn_deg=0.0, sink_at_touchdown_mps=None, touchdown_distance_m=None,
        unsteady=("final of only 2 s",),
    )  # fmt: skip
    text = approach_text(bare, SHOW, PARAGLIDER).replace(NO_BREAK, " ")
    assert "The wind is not known. No turns below 15 m." in text
    assert text.endswith("Not steady: final of only 2 s.")


def test_names_stay_text():
    figures = replace(made_pass(1, at(1, 12)).figures, place=HOSTILE)
    assert HOSTILE in pass_text(figures, SHOW)  # whoever writes a page escapes it


WAYS = (
    Unsteadiness("sink", 3.5, 20.0),
    Unsteadiness("turn", 75.0, 20.0),
    Unsteadiness("short_final", 3.0),
    Unsteadiness("speed", 2.4),
    Unsteadiness("tailwind", 2.0),
    Unsteadiness("off_course", 50.0),
)


@pytest.mark.parametrize(
    ("units", "said"),
    [
        ("metric", ("sank 3.5 m/s below 20 m", "varied by 9 km/h", "with 7 km/h of wind")),
        ("aviation", ("sank 689 ft/min below 66 ft", "varied by 5 kt", "with 4 kt of wind")),
    ],
)
def test_what_was_unsteady_is_told_in_the_readers_units_wherever_it_stands(units, said):
    # 1 m/s is 3.6 km/h, 1.944 kt, 196.85 ft/min; 1 m is 3.281 ft
    flight = made_flight()
    plain = tuple(unsteady_in_words(way) for way in WAYS)
    approach = replace(flight.approach, unsteady=plain, unsteady_ways=WAYS)
    flight, show = replace(flight, approach=approach), Display(units)
    rows = dict(approach_table(approach, show, PARAGLIDER).rows)
    findings = [one.text for one in findings_of(Subject(flight, None, show)) if "not steady" in one.text]
    assert len(findings) == 1
    for text in (approach_text(approach, show, PARAGLIDER), rows["Unsteady"], findings[0]):
        text = text.replace(NO_BREAK, " ")
        for part in (*said, "turned 75° below", "final of only 3 s", "final 50° off the field's course"):
            assert part in text


def test_what_was_unsteady_stays_in_si_in_the_document():
    assert [unsteady_in_words(way) for way in WAYS] == [
        "sank 3.5 m/s below 20 m",
        "turned 75 degrees below 20 m",
        "final of only 3 s",
        "speed on final varied by 2.4 m/s",
        "landed with 2.0 m/s of wind from behind",
        "final 50 degrees off the field's course",
    ]
    with pytest.raises(ValueError, match="'odd'"):
        unsteady_in_words(Unsteadiness("odd", 1.0))
