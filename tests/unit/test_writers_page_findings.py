"""What the flight says: which sentences, their numbers, and that every link leads somewhere."""

from __future__ import annotations

import io
import re
import warnings
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

from flightlog.debriefing import debrief
from flightlog.estimates import Estimate, wind_from_vector
from flightlog.measures import findings as facts
from flightlog.measures.polar_differences import PolarDifference
from flightlog.measures.results import AbortedRun, SpeedCost, WindBand, WindSample
from flightlog.places import read_places
from flightlog.tracks.reading import read_track
from flightlog.writers import page_findings
from flightlog.writers.display import Display
from flightlog.writers.finding_parts import Subject, Told
from flightlog.writers.html_page import html_page
from flightlog.writers.page import page_of
from flightlog.writers.page_findings import RULES, findings_of
from flightlog.writers.pdf_pages import pdf_page
from tests.unit.made_debrief import HOSTILE, TOP, about, made_debrief, made_detail, made_flight, moment

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    from pypdf import PdfReader

SAMPLES = Path(__file__).parents[2] / "sample_tracks"
FLIGHT = made_flight()
NUMBER = re.compile(r"\d+(?::\d\d)*(?:\.\d+)?")
DERIVED = re.compile(
    r"the other \d+ in circles gave [^,;.]*?\d\.\d.|a difference of .*|best half minute|in the first 10 s"
)
"""Comparisons made for a sentence: their two sides stand in the table, the outcome does not."""


def say(flight, claim=None, show=None) -> list[str]:
    return [
        one.text.replace("\u00a0", " ")
        for rule in RULES
        if (one := rule(Subject(flight, claim, show or Display()))) is not None
    ]


def only(flight, begins, claim=None, show=None) -> str:
    (text,) = [text for text in say(flight, claim, show) if text.startswith(begins)]
    return text


def bare(page):
    """The page without its charts, which take long to draw."""
    return replace(page, flights=tuple(replace(flight, charts=()) for flight in page.flights))


@cache
def sample_page(name):
    places = read_places(SAMPLES / "places.geojson")
    return bare(page_of(debrief(read_track(SAMPLES / name), places=places)))


def made_page(**changes):
    return bare(page_of(made_debrief(**changes)))


PAGES = (made_page, lambda: sample_page("top-landing-day.igc"), lambda: sample_page("damaged.igc"))


def test_a_go_around_is_told_with_where_it_was_broken_off_and_when_the_next_try_came():
    one = replace(FLIGHT.passes[0], lowest_height_sd_m=1.5, seconds_to_next_s=239.0)
    text = only(replace(FLIGHT, passes=(one,)), "1 approach")
    assert text == (
        "1 approach to Windy Top was broken off, 7 m up 40 m out (heights within 3 m);"  # 1.96 x 1.5 m
        " the next try ended 3:59 min later"
    )


def test_of_many_go_arounds_the_range_is_told():
    many = tuple(
        replace(FLIGHT.passes[0], number=n, decision=replace(FLIGHT.passes[0].decision, height_m=5.0 * n))
        for n in range(1, 6)
    )
    text = only(replace(FLIGHT, passes=many), "5 approaches")
    assert "were broken off, between 5 and 25 m above the ground" in text
    assert "next try" not in text


def test_a_low_pass_that_may_have_been_meant_is_no_go_around():
    possible = replace(FLIGHT, passes=FLIGHT.passes[1:2])
    assert (
        only(possible, "1 low pass") == "1 low pass may have been meant to land, the lowest 17 m above the place"
    )
    assert not any("broken off" in text for text in say(possible))


def test_an_odd_launch_says_what_was_odd_and_from_which_side():
    launch = replace(
        FLIGHT.launch,
        headwind_mps=about(-2.0, 1.0),
        crosswind_mps=about(-3.0, 1.0),
        aborted_runs=(AbortedRun(moment(0), 2.0, 5.0, 3.0),),
    )
    assert only(replace(FLIGHT, launch=launch), "launched") == (
        "launched with wind from behind, 7 (4 to 11) km/h, with more wind across than along, 11 (7 to 14) km/h"
        " from the left and after 1 run given up"
    )
    assert (
        only(FLIGHT, "the launch run") == "the launch run took 2.2 s over 7 m into 14 (10 to 18) km/h of headwind"
    )


def test_a_landing_is_told_once_as_steady_or_not():
    assert "sank faster than 3 m/s at 20 m" in only(FLIGHT, "the last approach was not steady")
    steady = replace(FLIGHT, approach=replace(FLIGHT.approach, unsteady=()))
    assert only(steady, "the landing came") == (
        "the landing came from figures of eight with a final of 55 m, touching down at 15 km/h over the ground"
        " with 18 (16 to 20) km/h of headwind"
    )
    assert not any(text.startswith("the landing came") for text in say(FLIGHT))


def test_the_wind_is_told_with_its_change_or_why_it_is_not_known():
    profile = (
        WindBand(1000.0, 1250.0, wind_from_vector(2.0, 0.0, 0.4, 5.0)),
        WindBand(1500.0, 1750.0, wind_from_vector(0.0, -6.0, 0.4, 5.0)),
    )

    def met(high_s):
        times = ((1100.0, 100 + 60 * i) for i in range(3)), ((1600.0, high_s + 60 * i) for i in range(3))
        return tuple(WindSample(moment(s), m, profile[0].wind) for one in times for m, s in one)

    windy = replace(FLIGHT, wind=replace(FLIGHT.wind, profile=profile, estimates=met(400)))
    assert only(windy, "the wind changed") == (
        "the wind changed with height: 7 ± 2.8 km/h from 270° between 1000 and 1250 m, 22 ± 2.8 km/h from 000°"
        " between 1500 and 1750 m; a difference of 23 (19 to 27) km/h"
    )
    late = replace(windy, wind=replace(windy.wind, estimates=met(100 + 3600)))
    assert only(late, "the wind changed").endswith(
        "a difference of 23 (19 to 27) km/h; as they were met 60 min apart, the hour may have its part in it"
    )
    calm = replace(FLIGHT, wind=replace(FLIGHT.wind, mean=None, profile=(), note="no circles tell it"))
    assert only(calm, "this flight does not tell the wind") == (
        "this flight does not tell the wind: no circles tell it; what would need it is left open"
    )
    assert not any(text.startswith("the wind was") for text in say(calm))
    assert only(FLIGHT, "the wind was") == "the wind was 18 ± 2.8 km/h from 259°"
    weak = wind_from_vector(0.3, 0.5, 0.4, 5.0)
    still = replace(FLIGHT, wind=replace(FLIGHT.wind, mean=weak))
    assert only(still, "the wind was") == "the wind was 2 ± 2.8 km/h from no sure direction"


def rated(ground, air):
    performance = replace(FLIGHT.performance, glide_ratio_ground=ground, glide_ratio_air=air)
    return replace(FLIGHT, performance=performance)


def test_the_wind_is_held_for_helping_only_where_the_ratios_are_apart():
    assert only(rated(about(8.0), about(7.7, 0.5)), "the glides do not show") == (
        "the glides do not show whether the wind helped them or hindered: glide ratio 8.0 (7.8 to 8.2) over the"
        " ground, 7.7 (7.2 to 8.2) through the air that was met"
    )
    assert "steeper" in only(rated(about(8.0), about(10.0, 0.5)), "the wind made the glides")
    assert "flatter" in only(rated(about(12.0), about(10.0, 0.5)), "the wind made the glides")
    assert "not known" in only(rated(about(8.0), None), "all glides together")


def test_the_makers_polar_is_met_or_missed_or_neither_can_be_told():
    def told(difference, figure="best_glide_ratio", apart=True):
        claim = facts.Claim(PolarDifference(figure, 12.0, difference, apart), 1.5, 0.1)
        return only(FLIGHT, "these glides", claim)

    assert told(Estimate(-1.2, -2.0, -0.3)).startswith(
        "these glides point to another polar than the maker's: best glide ratio −1.2 (−2.0 to −0.3)"
        " against its 1.5"
    )
    assert "sink at 43 km/h +0.4 (0.1 to 0.8) m/s against its 1.5 m/s" in told(Estimate(0.4, 0.1, 0.8), "sink_mps")
    open_ = told(Estimate(0.3, -0.9, 1.5), apart=False)
    assert open_ == (
        "these glides cannot tell the wing from its maker's polar: best glide ratio +0.3 (−0.9 to 1.5)"
        " against its 1.5"
    )


def test_thermals_tell_their_weak_time_their_ways_and_the_climb_off_its_core():
    detail = replace(made_detail(), centred_share=about(0.6, 0.2))
    first, ridge = FLIGHT.climbs
    flight = replace(FLIGHT, climbs=(replace(first, detail=detail), ridge))
    assert only(flight, "of 4:40 min") == (
        "of 4:40 min in circles, 1:24 min climbed less than half as fast as the best half minute of the same climb"
    )
    assert only(flight, "the ways") == (
        "the ways into and out of 1 thermal took 50 s and cost 45 (39 to 58) m"
        " against climbing steadily all the while"
    )
    assert only(flight, "climb 1 gave") == (
        "climb 1 gave 60 (40 to 80) % of what circles of its size about its core would have given"
    )
    strong = replace(first, detail=replace(detail, weak_s=0.0))
    assert "at least half as fast" in only(replace(FLIGHT, climbs=(strong,)), "all 4:40 min")


def test_the_best_climb_is_told_beside_the_others():
    first, _ = FLIGHT.climbs
    weak = replace(first, number=2, gain_m=140.0, mean_climb_mps=about(0.5, 0.02))
    assert only(replace(FLIGHT, climbs=(first, weak)), "climb 1 saved") == (
        "climb 1 saved most time: 240 m at 1.8 (1.6 to 2.0) m/s, where the other one in circles gave"
        " 0.5 m/s in the mean"
    )


def test_speeds_to_fly_say_that_they_know_the_next_climb():
    text = only(FLIGHT, "on 1 of 1 glide")
    assert text == (
        "on 1 of 1 glide another airspeed would have taken less time, had the next climb been known, by the theory"
        " of the speed to fly: 21 s (12 s to 30 s) less in all; most on glide 1, flown at 36 (34 to 38) km/h"
        " where 40 (37 to 43) km/h would have been best"
    )
    final = replace(FLIGHT.speed_to_fly[0], cost_s=None, cost_m=Estimate(46.0, 5.0, 90.0))
    total = SpeedCost("best_glide_over_ground", (1,), 1, None, final.cost_m)
    text = only(replace(FLIGHT, speed_to_fly=(final,), speed_costs=(total,)), "on 1 of 1 glide")
    assert "lost less height by the theory of the speed to fly: 46 (5 to 90) m less in all" in text


def test_time_that_went_into_searching_or_silence_is_told():
    assert only(FLIGHT, "searching") == (
        "searching, neither climbing nor on a glide, took 4:20 min, 28 % of the flight, gaining 91 m"
    )
    assert only(FLIGHT, "the recorder") == "the recorder was silent for 30 s, 3 % of the flight"
    assert only(FLIGHT, "of 15:21 min") == (
        "of 15:21 min, 34 % went into gliding, 30 % went into climbing in circles and 28 % went into searching"
    )


def test_units_are_the_readers():
    text = only(FLIGHT, "the highest point", show=Display("aviation"))
    assert (
        text == "the highest point was 4278 ft above the sea, the largest rise from a low point 988 ft"
    )  # 0.3048 m


def fixed(*tellings, about="air"):
    """Rules that always say something so telling."""
    return [lambda _, t=t, n=n: Told(t, about, f"fact {n}", "Glides") for n, t in enumerate(tellings)]


@pytest.mark.parametrize(
    ("tellings", "chosen"),
    [
        ([0.1, 0.3, 0.2], [1, 2, 0]),
        ([0.2, 0.2], [0, 1]),  # equals in the order of the rules
        ([0.0, 0.0, 0.1, 0.0], [2, 0, 1]),  # three of one subject at most
        ([0.001, 0.2], [1]),  # next to nothing is left to the tables
    ],
)
def test_the_most_telling_stand_first(monkeypatch, tellings, chosen):
    monkeypatch.setattr(page_findings, "RULES", fixed(*tellings))
    told = findings_of(Subject(FLIGHT, None, Display()))
    assert [one.text for one in told] == [f"fact {n}" for n in chosen]


def test_seven_at_most_and_plain_facts_only_up_to_four(monkeypatch):
    subjects = ("air", "climbs", "glides", "ground")
    many = [rule for about in subjects for rule in fixed(0.3, 0.2, about=about)]
    plain = [rule for about in subjects for rule in fixed(0.0, 0.0, about=about)]
    monkeypatch.setattr(page_findings, "RULES", many + plain)
    assert len(findings_of(Subject(FLIGHT, None, Display()))) == 7
    monkeypatch.setattr(page_findings, "RULES", plain)
    assert len(findings_of(Subject(FLIGHT, None, Display()))) == 4
    monkeypatch.setattr(page_findings, "RULES", many[:5] + plain)
    assert len(findings_of(Subject(FLIGHT, None, Display()))) == 5


def test_a_hop_has_the_few_plain_facts_that_it_carries():
    hop = replace(
        FLIGHT,
        climbs=(),
        glides=(),
        passes=(),
        speed_to_fly=(),
        speed_costs=(),
        approach=replace(FLIGHT.approach, unsteady=()),
        wind=replace(FLIGHT.wind, mean=None, profile=(), estimates=()),
        performance=replace(FLIGHT.performance, glide_ratio_ground=None, glide_ratio_air=None, polar=None),
        time_budget=replace(FLIGHT.time_budget, parts=FLIGHT.time_budget.parts[2:3], silent_s=0.0),
    )
    told = findings_of(Subject(hop, None, Display()))
    assert 3 <= len(told) <= 4
    assert told[0].text.startswith("this flight does not tell the wind")


@pytest.mark.parametrize("page", PAGES)
def test_every_flight_says_three_to_seven_things_and_every_link_leads_to_its_table(page):
    page = page()
    html = html_page(page).decode()
    ids = re.findall(r'\bid="([^"]+)"', html)
    assert len(ids) == len(set(ids))
    for flight in page.flights:
        assert 3 <= len(flight.findings) <= 7
        for finding in flight.findings:
            assert finding.target in ids
            assert finding.target.startswith(
                f"flight-{flight.number}-table-"
            )  # none falls back to the whole flight
            assert f'<a href="#{finding.target}">{finding.label}</a>' in html


@pytest.mark.parametrize("page", PAGES)
def test_the_numbers_of_a_sentence_stand_in_what_it_links_to(page):
    for flight in page().flights:
        shown = " ".join(f"{fact.value} {fact.detail}" for fact in flight.facts)
        for finding in flight.findings:
            table = max(
                (table for table in flight.tables if finding.target.startswith(table.anchor)),
                key=lambda table: len(table.anchor),
            )
            cells = " ".join([*(cell for row in table.rows for cell in row), *table.remarks, str(len(table.rows))])
            evidence = set(NUMBER.findall(f"{cells} {shown}"))
            said = NUMBER.findall(DERIVED.sub("", finding.text.replace("\u00a0", " ")))
            assert not [number for number in said if number not in evidence], finding.text


def test_a_link_leads_to_the_row_of_the_climb_or_pass_that_is_told():
    section = made_page().flights[0]
    passes = next(finding for finding in section.findings if finding.label.startswith("Approach passes"))
    assert (passes.label, passes.target) == ("Approach passes, 1", "flight-1-table-approach-passes-1")
    html = html_page(made_page()).decode()
    row = re.search(r'<tr id="flight-1-table-approach-passes-1"[^>]*>(.*?)</tr>', html)[1]
    assert TOP in row


@pytest.mark.parametrize("page", PAGES[:2])
def test_paper_says_the_same_in_the_same_order_and_names_the_page(page):
    page = page()
    reader = PdfReader(io.BytesIO(pdf_page(page)))
    pages = [" ".join(one.extract_text().replace("\u200b", "").split()) for one in reader.pages]
    said = " ".join(pages).replace(" ", "")
    at = 0
    for flight in page.flights:
        for finding in flight.findings:
            found = said.find("".join(finding.text.split()), at)
            assert found > 0, finding.text
            at = found
            after = said[at + len("".join(finding.text.split())) :]
            number = re.match(re.escape(finding.label.replace(" ", "")) + r",page(\d)", after)
            assert number, finding.label
            assert finding.label.partition(",")[0] in pages[int(number[1]) - 1]


def test_a_hostile_place_is_text_in_a_sentence():
    html = html_page(made_page(place=HOSTILE)).decode()
    sentence = next(line for line in html.splitlines() if "broken off" in line and "<li>" in line)
    assert "&lt;script&gt;" in sentence
    assert "<script>" not in sentence
