"""`flightlog book totals`: what the flights come to."""

from __future__ import annotations

import datetime

import click

from flightlog.commands.books.choosing import book_option, opened, selection, selection_options, units_option
from flightlog.commands.main import ALL_DONE
from flightlog.commands.options import debug_option
from flightlog.commands.terminal import print_lines


@click.command("totals")
@book_option
@click.option(
    "--by", "way", type=click.Choice(["month", "year", "place", "wing"]), default="year", show_default=True
)
@selection_options
@click.option("--to", "ending", type=click.Choice(["text", "csv", "json"]), default="text", show_default=True)
@units_option
@debug_option
def totals_command(
    book_file: str | None,
    way: str,
    year: int | None,
    first: datetime.date | None,
    last: datetime.date | None,
    place: str | None,
    wing: str | None,
    pilot: str | None,
    ending: str,
    units: str,
    debug: bool,
) -> int:
    """Add flights up: hours, gain, distances, landings, top landings and go-arounds.

    Example: flightlog book totals --by month --year 2026
    """
    del debug
    from flightlog.logbook.flights import logged_flights
    from flightlog.logbook.totals import totals_by

    with opened(book_file) as book:
        flights = logged_flights(book, selection(year, first, last, place, wing, pilot))
    totals = totals_by(way, flights)
    if ending == "json":
        from flightlog.writers.book_json import totals_json

        click.echo(totals_json(way, totals, flights))
    elif ending == "csv":
        from flightlog.logbook.totals import Total
        from flightlog.writers.book_rows import rows_csv

        click.echo(rows_csv(Total, totals), nl=False)
    else:
        from flightlog.writers.book_text import totals_lines
        from flightlog.writers.display import Display

        print_lines(totals_lines(way, totals, flights, Display(units)))
    return ALL_DONE
