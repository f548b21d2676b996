"""`flightlog book currency`: how recently you flew."""

from __future__ import annotations

import datetime

import click

from flightlog.commands.books.choosing import book_option, day_of, opened
from flightlog.commands.main import ALL_DONE
from flightlog.commands.options import debug_option
from flightlog.commands.terminal import print_lines


@click.command("currency")
@book_option
@click.option("--today", callback=day_of, metavar="DATE", help="The day to count back from.  [default: today]")
@click.option("--pilot", metavar="TEXT", help="Flights of pilots whose name holds this text.")
@click.option("--to", "ending", type=click.Choice(["text", "json"]), default="text", show_default=True)
@debug_option
def currency_command(
    book_file: str | None, today: datetime.date | None, pilot: str | None, ending: str, debug: bool
) -> int:
    """Tell the last flight, and flights, hours and landings of the last 90 days and 12 months, in all and by wing.

    Not a licence or currency certificate.

    Example: flightlog book currency
    """
    del debug
    from flightlog.logbook.currency import recency_of
    from flightlog.logbook.flights import Selection, logged_flights

    with opened(book_file) as book:
        flights = logged_flights(book, Selection(pilot=pilot))
    day = today or datetime.date.today()
    whole, wings = recency_of(flights, day)
    undated = sum(flight.local_date is None for flight in flights)
    if ending == "json":
        from flightlog.writers.book_json import currency_json

        click.echo(currency_json(day, whole, wings, undated))
    else:
        from flightlog.writers.book_text import currency_lines

        print_lines(currency_lines(day, whole, wings, undated))
    return ALL_DONE
