"""`flightlog book export`: the logbook for other programs."""

from __future__ import annotations

import datetime
from pathlib import Path

import click

from flightlog.commands.books.choosing import book_option, opened, selection, selection_options
from flightlog.commands.options import Tally, debug_option

FORMATS = ("csv", "json", "parquet")


@click.command("export")
@click.option(
    "--to", "formats", default="csv", show_default=True, metavar="csv,json,parquet", help="What to write."
)
@click.option("--out", default="reports", show_default=True, metavar="DIR", help="Where to write.")
@click.option("--force", is_flag=True, help="Overwrite files that say something else.")
@selection_options
@book_option
@debug_option
def export_command(
    formats: str,
    out: str,
    force: bool,
    year: int | None,
    first: datetime.date | None,
    last: datetime.date | None,
    place: str | None,
    wing: str | None,
    pilot: str | None,
    book_file: str | None,
    debug: bool,
) -> int:
    """Write flights, climbs and passes with your corrections and notes, SI units, times in UTC.

    Example: flightlog book export --to csv,parquet --out season
    """
    words = [word.strip().lower() for word in formats.split(",") if word.strip()]
    if not words or set(words) - set(FORMATS):
        raise click.BadParameter(f"{formats!r} is not among {', '.join(FORMATS)}", param_hint="--to")

    from flightlog.errors import ReportError
    from flightlog.logbook.flights import logged_climbs, logged_flights, logged_passes
    from flightlog.writers.book_files import export_files, write_export
    from flightlog.writers.book_rows import climb_row, flight_row, pass_row

    tally = Tally(debug=debug)
    with opened(book_file) as book:
        flights = {
            flight.flight: flight
            for flight in logged_flights(book, selection(year, first, last, place, wing, pilot))
        }
        climbs = [climb_row(flights[one.flight], one) for one in logged_climbs(book) if one.flight in flights]
        passes = [pass_row(flights[one.flight], one) for one in logged_passes(book) if one.flight in flights]
    rows = [flight_row(flight) for flight in flights.values()]
    for ending in (ending for ending in FORMATS if ending in words):
        try:
            for path in write_export(export_files(rows, climbs, passes, ending), Path(out), force=force):
                click.echo(str(path), err=True)
            tally.done += 1
        except ReportError as error:
            tally.fail(error)
    return tally.status
