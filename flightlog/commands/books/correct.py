"""`flightlog book correct`: what the log does not know, or says wrongly."""

from __future__ import annotations

import click

from flightlog.commands.books.choosing import book_option, opened
from flightlog.commands.main import ALL_DONE
from flightlog.commands.options import debug_option


@click.command("correct")
@click.argument("flights", metavar="FLIGHT...", nargs=-1, required=True, type=click.IntRange(1, 2**63 - 1))
@click.option("--pilot", metavar="NAME", help="Who flew.")
@click.option("--wing", metavar="NAME", help="Which wing it was.")
@click.option("--place", "takeoff_place", metavar="NAME", help="Where it took off.")
@click.option("--landing-place", metavar="NAME", help="Where it landed.")
@click.option(
    "--not-a-flight/--a-flight",
    "no_flight",
    default=None,
    help="Leave it out of lists and totals, or not any more.",
)
@book_option
@debug_option
def correct_command(
    flights: tuple[int, ...],
    pilot: str | None,
    wing: str | None,
    takeoff_place: str | None,
    landing_place: str | None,
    no_flight: bool | None,
    book_file: str | None,
    debug: bool,
) -> int:
    """Say in place of the log who flew what from where to where; an empty NAME gives back what the log says.

    FLIGHT is the number in the list; several are corrected alike.

    Corrections stay with the flight when its log is analysed again.

    Example: flightlog book correct 3 --wing "My old wing" --place "Long ridge"
    """
    del debug
    asked = {"pilot": pilot, "wing": wing, "takeoff_place": takeoff_place, "landing_place": landing_place}
    corrections = {name: text or None for name, text in asked.items() if text is not None}
    if not corrections and no_flight is None:
        raise click.UsageError(
            "nothing to correct: add --wing, --place, --landing-place, --pilot or --not-a-flight"
        )
    from flightlog.logbook.flights import logged_flight
    from flightlog.logbook.remarks import correct_flight

    with opened(book_file) as book:
        for flight in flights:  # all of them are there, or none is corrected
            logged_flight(book, flight)
        for flight in flights:
            correct_flight(book, flight, corrections, None if no_flight is None else not no_flight)
            click.echo(f"flight {flight}: corrected", err=True)
    return ALL_DONE
