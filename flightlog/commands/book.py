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
        "show": "One flight, with its climbs and passes.",
        "totals": "Flights, hours, gain, distances and landings by month, year, place or wing.",
        "season": "Trends, days flown, places, and where climbs come from, as a page.",
        "currency": "The last flight, and what was flown in the last 90 days and 12 months.",
        "note": "Write a note about a flight.",
        "correct": "Correct pilot, wing or place of a flight, or say that it was none.",
        "remove": "Remove logs, with all that is known of them.",
        "export": "Flights, climbs and passes as CSV, JSON or Parquet.",
        "renew": "Analyse the kept logs again, after an upgrade or with other places.",
        "check": "Check that the logbook and all that it keeps are sound.",
    }
    package = "flightlog.commands.books"


@click.group("book", cls=BookGroup, context_settings={"help_option_names": ["-h", "--help"]})
def book_command() -> None:
    """Keep a logbook: one file with your logs, what they tell, and what you say about them.

    It lies in your data folder unless --book or the environment variable FLIGHTLOG_BOOK names another file.

    Example: flightlog book add sample_tracks --places sample_tracks/places.geojson
    """
