"""The landing review as one page that needs nothing else: places, charts, tables, sentences, thresholds."""

from __future__ import annotations

from dataclasses import dataclass

from flightlog import __version__
from flightlog.landings.reviewing import LandingReview, PlaceLines, ReviewedPlace
from flightlog.landings.totals import LandingRow
from flightlog.writers.display import Display, flight_count
from flightlog.writers.html_page import rendered
from flightlog.writers.landing_charts import place_charts
from flightlog.writers.landing_tables import heights_table, landings_table, place_facts, places_table
from flightlog.writers.landing_words import NO_ADVICE, STABILISED, landing_text, tries_texts
from flightlog.writers.landings import PAGE_MARK, shown_places
from flightlog.writers.page import folded_if_long, without_blank_columns
from flightlog.writers.page_parts import Chart, Column, Fact, Table
from flightlog.writers.thresholds import PASS_DEFINITION, pass_thresholds_table
from flightlog.writers.words import counted, sentence

MOST_DRAWN = 12
"""Places with charts, those with most landings and tries: a page of hundreds would not open."""
MOST_STORIES = 60
"""Landings told in sentences at one place, the latest ones."""


@dataclass(frozen=True)
class Story:
    """One landing in sentences."""

    title: str
    lines: tuple[str, ...]


@dataclass(frozen=True)
class PlaceSection:
    """One place of the page."""

    number: int
    title: str
    facts: tuple[Fact, ...]
    note: str
    charts: tuple[Chart, ...]
    tables: tuple[Table, ...]
    stories: tuple[Story, ...]
    stories_title: str


@dataclass(frozen=True)
class LandingsPage:
    """Everything the page says, in the order in which it says it."""

    title: str
    subtitle: str
    generator: str
    mark: str
    overview: Table
    places: tuple[PlaceSection, ...]
    stabilised: str
    no_advice: str
    definition: tuple[str, ...]
    thresholds: Table
    problems: Table
    cautions: tuple[str, ...]


def landings_page(review: LandingReview, show: Display) -> bytes:
    """The review as UTF-8 HTML; the same review gives the same bytes. Rules as for `html_page`."""
    return rendered("passes.html", page_of_landings(review, show))


def page_of_landings(review: LandingReview, show: Display) -> LandingsPage:
    """What the page says, in the reader's units."""
    shown = shown_places(review)
    busiest = sorted(shown, key=lambda place: -place.landings - place.totals.tries_in_vain)[:MOST_DRAWN]
    drawn = {place.number for place in busiest}
    lines = {entry.place: entry for entry in review.lines}
    dates = sorted(row.date for row in review.rows if row.date)
    when = "" if not dates else f", {dates[0]}" if dates[0] == dates[-1] else f", {dates[0]} to {dates[-1]}"
    return LandingsPage(
        title="Landing review",
        subtitle=f"{counted(review.logs, 'log')}, {flight_count(review.flights)}{when}",
        generator=f"flightlog {__version__}",
        mark=PAGE_MARK,
        overview=without_blank_columns(places_table(review, show)),
        places=tuple(
            _section(place, review, lines.get(place.number) if place.number in drawn else None, show)
            for place in shown
        ),
        stabilised=STABILISED,
        no_advice=NO_ADVICE,
        definition=PASS_DEFINITION,
        thresholds=pass_thresholds_table(review.settings),
        problems=_problems(review),
        cautions=review.cautions,
    )


def _section(place: ReviewedPlace, review: LandingReview, lines: PlaceLines | None, show: Display) -> PlaceSection:
    """One place."""
    rows = tuple(row for row in review.rows if row.place == place.number)
    tables = [without_blank_columns(landings_table(rows, show))]
    heights = heights_table(place.totals, show)
    told = [row for row in rows if row.tries]
    title = "What to look at"
    if len(told) > MOST_STORIES:
        title += f" (the last {MOST_STORIES} of {len(told)} landings with passes)"
    return PlaceSection(
        number=place.number,
        title=place.name,
        facts=place_facts(place, show),
        note=sentence(place.totals.note or ""),
        charts=place_charts(place, rows, lines, show),
        tables=tuple(folded_if_long(table) for table in (*tables, *([heights] if heights else []))),
        stories=tuple(_story(row, show) for row in told[-MOST_STORIES:]),
        stories_title=title,
    )


def _story(row: LandingRow, show: Display) -> Story:
    """One landing in sentences."""
    date = show.date(row.end) if row.date else "a day without a date"
    title = f"{row.number}: {date}, {show.clock(row.end)} {show.zone_name}, {row.file}"
    return Story(title, (landing_text(row), *tries_texts(row.tries, show)))


def _problems(review: LandingReview) -> Table:
    """What was odd about the logs taken together."""
    return Table("Odd about the logs", (Column("What", "", True),), tuple((p.message,) for p in review.problems))
