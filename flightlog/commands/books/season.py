"""`flightlog book season`: trends, calendar, places and the thermal map of the logbook's flights."""

from __future__ import annotations

import click

from flightlog.commands.books.choosing import book_option
from flightlog.commands.options import debug_option
from flightlog.commands.season import Wanted, season_options, write_season_of_book


@click.command("season")
@book_option
@season_options
@debug_option
def season_command(
    book_file: str | None,
    wanted: Wanted,
    anonymous: bool,
    debug: bool,
) -> int:
    """Show the season of the logbook: trends, the days flown, the places, and where climbs come from.

    The same as flightlog season --book FILE; corrections count, and the logs are not analysed again.

    Example: flightlog book season --from 2026-04-01 --to html,geojson
    """
    return write_season_of_book(book_file, wanted, anonymous=anonymous, debug=debug)
