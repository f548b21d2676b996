"""A Debrief as a page: what it says, in which order, in the reader's units. Writers of pages only draw it."""

from __future__ import annotations

from dataclasses import replace

from flightlog import __version__
from flightlog.air.recorder_check import RecorderCheck, check_in_words
from flightlog.air.wing_polars import expectations
from flightlog.debriefing import Debrief
from flightlog.measures.findings import beside_the_maker
from flightlog.measures.results import Flight
from flightlog.writers import ground_tables
from flightlog.writers import page_tables as tables
from flightlog.writers.budget_tables import budget_chart, budget_table
from flightlog.writers.chart_data import flight_charts
from flightlog.writers.climb_tables import climbs_table
from flightlog.writers.display import UNKNOWN, Display, flight_count
from flightlog.writers.finding_parts import Subject, Told
from flightlog.writers.landing_words import NO_ADVICE, STABILISED, approach_text, what_to_look_at
from flightlog.writers.live_data import live_flight
from flightlog.writers.page_findings import findings_of
from flightlog.writers.page_parts import Chart, Fact, Finding, FlightSection, Page, Table
from flightlog.writers.page_story import flight_facts, log_facts, story
from flightlog.writers.table_totals import with_totals
from flightlog.writers.thermal_tables import thermal_tables
from flightlog.writers.words import sentence
from flightlog.writers.zones import settled

MOST_OPEN_ROWS = 40


def page_of(debrief: Debrief, show: Display | None = None) -> Page:
    """The page of one log; metric and in the log's own time unless told otherwise.

    Nothing is worked out here but units, rounding and words: every figure stands in the Debrief.
    """
    show = settled(debrief, show or Display(follows_log=True))
    date = _local_date(debrief, show) or "a day without a date"
    return Page(
        title=f"Soaring log of {date}",
        subtitle=f"{debrief.log.file}: {flight_count(len(debrief.flights))}",
        generator=f"flightlog {__version__}",
        sha256=debrief.log.sha256,
        facts=(*log_facts(debrief, show), Fact("Clock", show.zone_name, show.zone_reason)),
        overview=tables.overview_table(debrief, show),
        flights=tuple(_section(debrief, flight, show) for flight in debrief.flights),
        quality=tables.quality_table(debrief),
        checks=tuple(_check(check, show) for check in debrief.recorder_check or ()),
        settings=tables.settings_table(debrief.settings),
        own_settings=tables.own_settings_table(debrief.settings),
        cautions=debrief.cautions,
        tile_host=show.basemap.host if show.basemap else "",
    )


def _check(check: RecorderCheck, show: Display) -> str:
    """A check against the recorder's own columns, in the reader's unit of speed."""
    return check_in_words(
        check, lambda speed_mps: show.joined(show.number(show.converted(speed_mps, "speed"), 1), "speed")
    )


def _local_date(debrief: Debrief, show: Display) -> str | None:
    """The day of the first take-off on the reader's clock; the log's own date where nobody took off."""
    if debrief.log.date is None or not debrief.flights:
        return debrief.log.date
    return show.date(debrief.flights[0].takeoff.time)


def _section(debrief: Debrief, flight: Flight, show: Display) -> FlightSection:
    """One flight of the page."""
    wing = debrief.wing
    leans_on_maker = wing is not None and expectations(debrief.settings.wing_class, wing)[0].name == "maker"
    start, end = show.clock(flight.takeoff.time), show.clock(flight.landing.time)
    charts = _charts(debrief, flight, show)
    subject = _subject(debrief, flight, show)
    tables_shown = tuple(
        folded_if_long(with_anchor(without_blank_columns(with_totals(table, subject)), flight.number))
        for table in _tables(debrief, flight, show, leans_on_maker)
    )
    return FlightSection(
        number=flight.number,
        title=f"Flight {flight.number}, {start} to {end} {show.zone_name}",
        story=story(flight, show),
        facts=flight_facts(flight, show),
        charts=charts,
        tables=tables_shown,
        looks=_looks(debrief, flight, show),
        look_notes=(STABILISED, NO_ADVICE) if flight.passes or flight.approach else (),
        live=live_flight(debrief, flight, charts, show),
        findings=_findings(subject, tables_shown),
    )


def _subject(debrief: Debrief, flight: Flight, show: Display) -> Subject:
    """The flight, and how it stands beside the maker's polar."""
    span = debrief.spans[debrief.flights.index(flight)]
    claim = beside_the_maker(debrief.motion, debrief.air, span, flight, debrief.settings, debrief.wing)
    return Subject(flight, claim, show)


def _findings(subject: Subject, tables_shown: tuple[Table, ...]) -> tuple[Finding, ...]:
    """What the flight says, each with a link to the table or the row that shows it."""
    number = subject.flight.number
    by_anchor = {table.anchor: table for table in tables_shown}
    return tuple(_linked(one, by_anchor.get(anchor_of(number, one.table)), number) for one in findings_of(subject))


def _linked(told: Told, table: Table | None, number: int) -> Finding:
    """A finding with its link: to the row, else to the table, else to the flight."""
    text = sentence(told.text)
    if table is None:
        return Finding(text, f"flight-{number}", f"Flight {number}")
    rows = [at for at, row in enumerate(table.rows, start=1) if told.row and row[0] == told.row]
    if not rows:
        return Finding(text, table.anchor, told.table)
    return Finding(text, f"{table.anchor}-{rows[0]}", f"{told.table}, {told.row}")


def anchor_of(number: int, title: str) -> str:
    """The name by which a link finds a table of a flight.

    >>> anchor_of(2, "Wind by height")
    'flight-2-table-wind-by-height'
    """
    return f"flight-{number}-table-{title.lower().replace(' ', '-')}"


def with_anchor(table: Table, number: int) -> Table:
    """The table with the anchor of its own title."""
    return replace(table, anchor=anchor_of(number, table.title))


def _charts(debrief: Debrief, flight: Flight, show: Display) -> tuple[Chart, ...]:
    """The charts of a flight, that of its time last."""
    budget = (budget_chart(flight.number, flight.time_budget, show),) if flight.time_budget else ()
    return (*flight_charts(debrief, flight, show), *budget)


def _looks(debrief: Debrief, flight: Flight, show: Display) -> tuple[str, ...]:
    """What to look at in the passes and in the landing of a flight."""
    landing = (approach_text(flight.approach, show, debrief.settings),) if flight.approach else ()
    return (*what_to_look_at(flight.passes, show), *landing)


def _tables(debrief: Debrief, flight: Flight, show: Display, leans_on_maker: bool) -> list[Table]:
    """The tables of a flight, in the order of the flight."""
    found = [budget_table(flight.time_budget, show)] if flight.time_budget else []
    found += [ground_tables.launch_table(flight.launch, show)] if flight.launch else []
    found += [climbs_table(flight.climbs, show, debrief.settings)] if flight.climbs else []
    found += thermal_tables(flight.climbs, show)
    found += [tables.glides_table(flight.glides, show)] if flight.glides else []
    polar = flight.performance.polar
    basis = polar.basis if polar else None
    found += [tables.speeds_table(flight.speed_to_fly, show, basis)] if flight.speed_to_fly else []
    found += [tables.wind_table(flight.wind, show)] if flight.wind.mean or flight.wind.profile else []
    found += [ground_tables.passes_table(flight, show)] if flight.passes else []
    found += [ground_tables.approach_table(flight.approach, show, debrief.settings)] if flight.approach else []
    found += [tables.polar_table(polar, show, leans_on_maker=leans_on_maker)] if polar else []
    return [*found, tables.phases_table(flight, show)]


def folded_if_long(table: Table) -> Table:
    """The table, folded where it has so many rows that it would hide what comes after it."""
    if table.is_folded or len(table.rows) <= MOST_OPEN_ROWS:
        return table
    return replace(table, title=f"{table.title} ({len(table.rows)})", is_folded=True)


def without_blank_columns(table: Table) -> Table:
    """The table without the columns in which no row has anything, and a remark that names them."""
    blank = [
        at for at in range(len(table.columns)) if table.rows and all(row[at] == UNKNOWN for row in table.rows)
    ]
    if not blank:
        return table
    kept = [at for at in range(len(table.columns)) if at not in blank]
    names = ", ".join(table.columns[at].label.lower() for at in blank)
    return replace(
        table,
        columns=tuple(table.columns[at] for at in kept),
        rows=tuple(tuple(row[at] for at in kept) for row in table.rows),
        remarks=(*table.remarks, f"What this log does not tell: {names}"),
    )
