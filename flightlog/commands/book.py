"""`flightlog book`: the logbook, a command for each thing to be done with it."""

from __future__ import annotations

from typing import ClassVar

import click

from flightlog.commands.main import LateGroup


class BookGroup(LateGroup):
    """The commands of the logbook."""

    described: ClassVar[dict[str, str]] = {
        "add": "Add logs; a log that is known already is left as it is.",
        "list": "List flights by date, place or wing.",
        "totals": "Flights, hours, gain, distances and landings by month, year, place or wing.",
    }
    package = "flightlog.commands.books"


@click.group("book", cls=BookGroup, context_settings={"help_option_names": ["-h", "--help"]})
def book_command() -> None:
    """Keep a logbook: one file with your logs, what they tell, and what you say about them.

    It lies in your data folder unless --book or the environment variable FLIGHTLOG_BOOK names another file.

    Example: flightlog book add sample_tracks --places sample_tracks/places.geojson
    """
