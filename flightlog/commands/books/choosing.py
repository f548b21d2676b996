"""Options that the commands of the logbook share: which file, which flights, in which units."""

from __future__ import annotations

import datetime
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from flightlog.errors import one_line

if TYPE_CHECKING:
    from flightlog.logbook.flights import Selection
    from flightlog.logbook.opening import Book

Function = TypeVar("Function", bound=Callable[..., Any])


def book_option(function: Function) -> Function:
    """--book FILE."""
    return click.option(
        "--book",
        "book_file",
        metavar="FILE",
        help="The logbook.  [default: $FLIGHTLOG_BOOK, else logbook.db in your data folder]",
    )(function)


def opened(book_file: str | None, *, create: bool = False) -> Book:
    """The logbook of `--book`; waiting is told on standard error."""
    from flightlog.logbook.opening import open_book

    def tell(text: str) -> None:
        click.echo(one_line(text), err=True)

    return open_book(Path(book_file) if book_file else None, create=create, tell=tell)


def flight_argument(function: Function) -> Function:
    """FLIGHT: its number in the logbook."""
    return click.argument("flight", metavar="FLIGHT", type=click.IntRange(1, 2**63 - 1))(function)


def units_option(function: Function) -> Function:
    """--units, of tables."""
    return click.option("--units", type=click.Choice(["metric", "aviation"]), default="metric", show_default=True)(
        function
    )


def selection_options(function: Function) -> Function:
    """Which flights: --year, --from, --to-date, --place, --wing, --pilot."""
    for option in (
        click.option("--pilot", metavar="TEXT", help="Whose name holds this text."),
        click.option("--wing", metavar="TEXT", help="Whose wing's name holds this text."),
        click.option("--place", metavar="TEXT", help="Whose take-off or landing place holds this text."),
        click.option("--until", "last", callback=day_of, metavar="DATE", help="The last day."),
        click.option("--from", "first", callback=day_of, metavar="DATE", help="The first day (2026-06-14)."),
        click.option("--year", type=click.IntRange(1970, 2200), metavar="YEAR", help="Of the flights."),
    ):
        function = option(function)
    return function


def day_of(context: click.Context, option: click.Parameter, value: str | None) -> datetime.date | None:
    """The date of that text."""
    del context, option
    if value is None:
        return None
    try:
        return datetime.date.fromisoformat(value)
    except ValueError as error:
        raise click.BadParameter(f"{value!r} is no date such as 2026-06-14") from error


def selection(
    year: int | None,
    first: datetime.date | None,
    last: datetime.date | None,
    place: str | None,
    wing: str | None,
    pilot: str | None,
    also_no_flights: bool = False,
) -> Selection:
    """The flights that the options ask for."""
    from flightlog.logbook.flights import Selection

    return Selection(year, first, last, place, wing, pilot, also_no_flights)
