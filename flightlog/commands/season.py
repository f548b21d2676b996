"""`flightlog season`: trends, calendar, places and the thermal map of many flights."""

from __future__ import annotations

import datetime
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from flightlog.commands.books.choosing import day_of, opened
from flightlog.commands.options import (
    Asked,
    Tally,
    analysis_options,
    anonymous_option,
    debug_option,
    display_for,
    force_option,
    one_for_output,
    paper_option,
    quiet_option,
    timezone_option,
    units_option,
    wanted_formats,
    write_each,
)

if TYPE_CHECKING:
    from flightlog.commands.running import Job
    from flightlog.season.records import SeasonFlight
    from flightlog.season.results import SeasonReview
    from flightlog.writers.display import Display

FORMATS = ("html", "json", "geojson", "pdf")


@click.command("season")
@click.argument("logs", metavar="[LOG...]", nargs=-1, type=click.Path())
@click.option("--book", "book_file", metavar="FILE", help="Take the flights of this logbook instead of logs.")
@click.option(
    "--to", "formats", default="html", show_default=True, metavar="html,json,geojson,pdf", help="What to write."
)
@click.option(
    "--out", default="reports", show_default=True, metavar="DIR", help="Where to write; - is standard output."
)
@click.option("--from", "first", callback=day_of, metavar="DATE", help="The first day (2026-04-01).")
@click.option("--until", "last", callback=day_of, metavar="DATE", help="The last day.")
@analysis_options
@units_option
@timezone_option
@paper_option
@anonymous_option("names of pilots and files")
@force_option("files that are not of this command")
@quiet_option
@debug_option
def season_command(
    logs: tuple[str, ...],
    book_file: str | None,
    formats: str,
    out: str,
    first: datetime.date | None,
    last: datetime.date | None,
    asked: Asked,
    units: str,
    timezone: str | None,
    paper: str,
    anonymous: bool,
    force: bool,
    quiet: bool,
    debug: bool,
) -> int:
    """Show a season: trends with their intervals, the days flown, the places, and where climbs come from.

    The flights are those of the logs, or with --book those of a logbook, with its corrections.

    Example: flightlog season sample_tracks --places sample_tracks/places.geojson
    """
    chosen = wanted_formats(formats, FORMATS)
    one_for_output(chosen, out)
    if bool(logs) == (book_file is not None):
        raise click.UsageError("name logs, or a logbook with --book FILE, and not both")
    display = display_for(units, timezone)

    from dataclasses import replace

    from flightlog.commands.running import Job
    from flightlog.season.reviewing import review_season
    from flightlog.writers.zones import zone_shared_at

    tally = Tally(debug=debug)
    if book_file is not None:
        found = list(_booked(book_file, anonymous=anonymous))
        tally.done += 1
    else:
        job = Job.from_files(logs, asked, anonymous=anonymous, quiet=quiet)
        found = list(_debriefed(job, tally))
    if not tally.done:
        return tally.status
    display = zone_shared_at(((flight.takeoff.lat_deg, flight.takeoff.lon_deg) for flight in found), display)
    display = replace(display, follows_log=False)
    review = review_season(found, zone=display.zone, zone_name=display.zone_name, first_date=first, last_date=last)
    return _deliver(review, chosen, out, display, tally, paper=paper, force=force)


def _debriefed(job: Job, tally: Tally) -> Iterator[SeasonFlight]:
    """The flights of logs."""
    from flightlog.commands.running import debriefs
    from flightlog.season.records import season_flights

    for _, debrief in debriefs(job, tally):
        yield from season_flights(debrief)
        tally.done += 1


def _booked(book_file: str, *, anonymous: bool) -> Iterator[SeasonFlight]:
    """The flights of a logbook, as its pilot corrected them."""
    from dataclasses import replace

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


def _deliver(
    review: SeasonReview,
    formats: Sequence[str],
    out: str,
    display: Display,
    tally: Tally,
    *,
    paper: str,
    force: bool,
) -> int:
    """Print or write the result; gives the exit status."""
    from flightlog.writers.season_reports import season_bytes, write_season_review

    if out == "-":
        click.echo(season_bytes(review, formats[0], display, paper=paper), nl=False)
        return tally.status

    def write(ending: str) -> Path:
        content = season_bytes(review, ending, display, paper=paper)
        return write_season_review(content, Path(out), ending, force=force)

    return write_each(formats, write, tally)
