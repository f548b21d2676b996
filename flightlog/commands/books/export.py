"""`flightlog book export`: the logbook for other programs."""

from __future__ import annotations

import datetime
from pathlib import Path

import click

from flightlog.commands.books.choosing import book_option, opened, selection, selection_options
from flightlog.commands.options import Tally, debug_option, formats_option

FORMATS = ("csv", "json", "parquet")


@click.command("export")
@formats_option(FORMATS, "csv")
@click.option("--out", default="reports", show_default=True, metavar="DIR", help="Where to write.")
@click.option("--force", is_flag=True, help="Overwrite files that say something else.")
@selection_options
@book_option
@debug_option
def export_command(
    formats: list[str],
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
    for ending in formats:
        try:
            for path in write_export(export_files(rows, climbs, passes, ending), Path(out), force=force):
                click.echo(str(path), err=True)
            tally.done += 1
        except ReportError as error:
            tally.fail(error)
    return tally.status
