"""`flightlog book show`: one flight of the logbook."""

from __future__ import annotations

import click

from flightlog.commands.books.choosing import book_option, flight_argument, opened, units_option
from flightlog.commands.main import ALL_DONE
from flightlog.commands.options import debug_option
from flightlog.commands.terminal import print_lines


@click.command("show")
@flight_argument
@book_option
@click.option("--to", "ending", type=click.Choice(["text", "json"]), default="text", show_default=True)
@units_option
@debug_option
def show_command(flight: int, book_file: str | None, ending: str, units: str, debug: bool) -> int:
    """Show one flight with its climbs, its passes and your note; its number stands first in the list.

    Example: flightlog book show 3
    """
    del debug
    from flightlog.logbook.flights import logged_climbs, logged_flight, logged_passes, names_in_log

    with opened(book_file) as book:
        found = logged_flight(book, flight)
        if ending == "json":
            from flightlog.logbook.reading import debrief_result
            from flightlog.writers.book_documents import flight_json

            click.echo(flight_json(found, debrief_result(book, found.log_id)))
            return ALL_DONE
        climbs, passes = logged_climbs(book, flight), logged_passes(book, flight)
        log = names_in_log(book, flight)
    from flightlog.writers.book_text import flight_lines
    from flightlog.writers.display import Display

    print_lines(flight_lines(found, climbs, passes, log, Display(units)))
    return ALL_DONE
