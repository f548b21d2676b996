"""`flightlog book remove`: a log and all that is known of it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from flightlog.commands.books.choosing import book_option, opened
from flightlog.commands.main import ALL_DONE, NOTHING_DONE
from flightlog.commands.options import debug_option
from flightlog.errors import one_line

if TYPE_CHECKING:
    from flightlog.logbook.removing import Removal


@click.command("remove")
@click.argument("names", metavar="LOG|FLIGHT...", nargs=-1, required=True)
@click.option("--yes", is_flag=True, help="Do not ask.")
@book_option
@debug_option
def remove_command(names: tuple[str, ...], yes: bool, book_file: str | None, debug: bool) -> int:
    """Remove logs from the logbook: their bytes, results, flights, notes and corrections.

    A log is named by its file name, the first digits of its digest, or the number of one of its flights; all its
    flights go with it. (To leave out one flight of several: flightlog book correct FLIGHT --not-a-flight.)

    Example: flightlog book remove monday.igc
    """
    del debug
    from flightlog.logbook.removing import log_called, removal_of, remove_logs
    from flightlog.writers.words import counted

    with opened(book_file) as book:
        numbers = dict.fromkeys(log_called(book, name) for name in names)
        removals = [removal_of(book, number) for number in numbers]
        for removal in removals:
            click.echo(one_line(_what_goes(removal)), err=True)
        if not yes and not _agrees():
            click.echo("nothing was removed", err=True)
            return NOTHING_DONE
        remove_logs(book, list(numbers))
        click.echo(f"{counted(len(removals), 'log')} removed", err=True)
        for copy in removals[0].copies:
            click.echo(one_line(f"{copy}: this older copy of the logbook may still hold it"), err=True)
    return ALL_DONE


def _agrees() -> bool:
    """Whether the user says yes; no answer is a no."""
    try:
        return click.confirm("Remove this for good?", err=True)
    except click.Abort:
        click.echo("", err=True)
        return False


def _what_goes(removal: Removal) -> str:
    """A log and what goes with it, in a line."""
    from flightlog.writers.words import counted

    flights = [f"no. {flight.flight} of {flight.local_date or 'no date'}" for flight in removal.flights]
    told = f" ({', '.join(flights)})" if flights else ""
    text = f"{removal.name}, sha256 {removal.sha256[:12]}: {counted(len(flights), 'flight')}{told}"
    return text + (f", {counted(removal.remarks, 'flight')} with notes or corrections" if removal.remarks else "")
