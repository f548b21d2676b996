"""`flightlog book note`: what you want to remember of a flight."""

from __future__ import annotations

import click

from flightlog.commands.books.choosing import book_option, flight_argument, opened
from flightlog.commands.main import ALL_DONE
from flightlog.commands.options import debug_option


@click.command("note")
@flight_argument
@click.argument("text")
@book_option
@debug_option
def note_command(flight: int, text: str, book_file: str | None, debug: bool) -> int:
    """Write a note about a flight, in place of the one before; an empty TEXT takes it away.

    Notes stay with the flight when its log is analysed again.

    Example: flightlog book note 3 "Cloudbase at last"
    """
    del debug
    from flightlog.logbook.remarks import note_flight

    with opened(book_file) as book:
        note_flight(book, flight, text or None)
    click.echo(f"flight {flight}: note {'written' if text else 'taken away'}", err=True)
    return ALL_DONE
