"""`flightlog book list`: the flights of the logbook."""

from __future__ import annotations

import datetime
import shutil
import sys

import click

from flightlog.commands.books.choosing import book_option, opened, selection, selection_options, units_option
from flightlog.commands.main import ALL_DONE
from flightlog.commands.options import debug_option
from flightlog.commands.terminal import print_lines


@click.command("list")
@book_option
@selection_options
@click.option("--all", "also_no_flights", is_flag=True, help="Also what you called no flight.")
@click.option("--to", "ending", type=click.Choice(["text", "csv", "json"]), default="text", show_default=True)
@units_option
@debug_option
def list_command(
    book_file: str | None,
    year: int | None,
    first: datetime.date | None,
    last: datetime.date | None,
    place: str | None,
    wing: str | None,
    pilot: str | None,
    also_no_flights: bool,
    ending: str,
    units: str,
    debug: bool,
) -> int:
    """List the flights of the logbook, oldest first.

    Example: flightlog book list --year 2026 --place meadow
    """
    del debug
    from flightlog.logbook.flights import logged_flights

    with opened(book_file) as book:
        flights = logged_flights(book, selection(year, first, last, place, wing, pilot, also_no_flights))
    if ending == "json":
        from flightlog.writers.book_json import list_json

        click.echo(list_json(flights))
    elif ending == "csv":
        from flightlog.writers.book_rows import FlightRow, flight_row, rows_csv

        click.echo(rows_csv(FlightRow, map(flight_row, flights)), nl=False)
    else:
        from flightlog.writers.book_text import list_lines
        from flightlog.writers.display import Display

        width = shutil.get_terminal_size().columns if sys.stdout.isatty() else None
        print_lines(list_lines(flights, Display(units), width))
    return ALL_DONE
