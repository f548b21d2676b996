"""`flightlog season`: trends, calendar, places and the thermal map of many flights."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import wraps
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from flightlog.commands.books.choosing import day_of, opened
from flightlog.commands.options import (
    Asked,
    Tally,
    analysis_options,
    anonymous_option,
    debug_option,
    display_options,
    force_option,
    formats_option,
    one_for_output,
    paper_option,
    quiet_option,
    write_each,
)

if TYPE_CHECKING:
    from flightlog.commands.running import Job
    from flightlog.season.records import SeasonFlight
    from flightlog.writers.display import Display

FORMATS = ("html", "json", "geojson", "pdf")


@dataclass(frozen=True)
class Wanted:
    """What of a season is wanted, and in what form."""

    formats: Sequence[str]
    out: str
    first: datetime.date | None
    last: datetime.date | None
    display: Display
    paper: str
    force: bool


def season_options(function: Callable[..., int]) -> Callable[..., int]:
    """What of a season is wanted, of logs or of a logbook, as one `wanted: Wanted`; and --anonymous."""

    @wraps(function)
    def command(
        *words: Any,
        formats: list[str],
        out: str,
        first: datetime.date | None,
        last: datetime.date | None,
        display: Display,
        paper: str,
        force: bool,
        **other: Any,
    ) -> int:
        one_for_output(formats, out)
        return function(*words, wanted=Wanted(formats, out, first, last, display, paper, force), **other)

    whole: Callable[..., int] = command
    for option in (
        force_option("files that are not of this command"),
        anonymous_option("names of pilots and files"),
        paper_option,
        display_options,
        click.option("--until", "last", callback=day_of, metavar="DATE", help="The last day."),
        click.option("--from", "first", callback=day_of, metavar="DATE", help="The first day (2026-04-01)."),
        click.option(
            "--out", default="reports", show_default=True, metavar="DIR",
            help="Where to write; - is standard output.",
        ),
        formats_option(FORMATS, "html"),
    ):  # fmt: skip
        whole = option(whole)
    return whole


@click.command("season")
@click.argument("logs", metavar="[LOG...]", nargs=-1, type=click.Path())
@click.option("--book", "book_file", metavar="FILE", help="Take the flights of this logbook instead of logs.")
@season_options
@analysis_options
@quiet_option
@debug_option
def season_command(
    logs: tuple[str, ...],
    book_file: str | None,
    wanted: Wanted,
    asked: Asked,
    anonymous: bool,
    quiet: bool,
    debug: bool,
) -> int:
    """Show a season: trends with their intervals, the days flown, the places, and where climbs come from.

    The flights are those of the logs, or with --book those of a logbook, with its corrections; `flightlog book
    season` takes your own logbook.

    Example: flightlog season sample_tracks --places sample_tracks/places.geojson
    """
    if bool(logs) == (book_file is not None):
        raise click.UsageError("name logs, or a logbook with --book FILE, and not both")
    if book_file is not None:
        return write_season_of_book(book_file, wanted, anonymous=anonymous, debug=debug)

    from flightlog.commands.running import Job

    tally = Tally(debug=debug)
    job = Job.from_files(logs, asked, anonymous=anonymous, quiet=quiet)
    found = list(_debriefed(job, tally))
    return _deliver(found, wanted, tally) if tally.done else tally.status


def write_season_of_book(book_file: str | None, wanted: Wanted, *, anonymous: bool, debug: bool) -> int:
    """The season of a logbook; gives the exit status."""
    tally = Tally(debug=debug)
    found = list(_booked(book_file, anonymous=anonymous))
    tally.done += 1
    return _deliver(found, wanted, tally)


def _debriefed(job: Job, tally: Tally) -> Iterator[SeasonFlight]:
    """The flights of logs."""
    from flightlog.commands.running import debriefs
    from flightlog.season.records import season_flights

    for _, debrief in debriefs(job, tally):
        yield from season_flights(debrief)
        tally.done += 1


def _booked(book_file: str | None, *, anonymous: bool) -> Iterator[SeasonFlight]:
    """The flights of a logbook, as its pilot corrected them."""
    from flightlog.logbook.reading import booked_logs
    from flightlog.season.records import season_flights_from_results

    with opened(book_file) as book:
        for booked in booked_logs(book):
            log = booked.result.log
            if anonymous:
                log = replace(log, file=f"log-{log.sha256[:8]}.{log.format}", pilot=None)
            flights = season_flights_from_results(log, booked.result.flights)
            for flight, row in zip(flights, booked.flights, strict=True):
                yield replace(flight, wing=row.wing, pilot=None if anonymous else row.pilot)


def _deliver(flights: Sequence[SeasonFlight], wanted: Wanted, tally: Tally) -> int:
    """Review the flights, print or write the result; gives the exit status."""
    from flightlog.season.reviewing import review_season
    from flightlog.writers.season_reports import season_bytes, write_season_review
    from flightlog.writers.zones import zone_shared_at

    display = zone_shared_at(
        ((flight.takeoff.lat_deg, flight.takeoff.lon_deg) for flight in flights), wanted.display
    )
    display = replace(display, follows_log=False)
    review = review_season(
        flights,
        zone=display.zone,
        zone_name=display.zone_name,
        first_date=wanted.first,
        last_date=wanted.last,
    )
    if wanted.out == "-":
        click.echo(season_bytes(review, wanted.formats[0], display, paper=wanted.paper), nl=False)
        return tally.status

    def write(ending: str) -> Path:
        content = season_bytes(review, ending, display, paper=wanted.paper)
        return write_season_review(content, Path(wanted.out), ending, force=wanted.force)

    return write_each(wanted.formats, write, tally)
