"""Arguments and endings that several commands share."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import wraps
from typing import TYPE_CHECKING, Any, TypeVar

import click

from flightlog.commands.main import ALL_DONE, NOTHING_DONE, SOME_FAILED, say_error

if TYPE_CHECKING:
    from pathlib import Path

    from flightlog.errors import FlightlogError
    from flightlog.writers.display import Display

PAGES, PAGE_FOLDER = ("html", "pdf"), "reports"
"""Formats that nobody wants to see on a terminal, and the folder where they go."""
CLASSES = ("paraglider", "hang_glider", "rigid_wing", "sailplane", "unknown")
Function = TypeVar("Function", bound=Callable[..., Any])


def logs_argument(function: Function) -> Function:
    """LOG...: files, folders, or `-` for standard input."""
    return click.argument("logs", metavar="LOG...", nargs=-1, required=True, type=click.Path())(function)


def debug_option(function: Function) -> Function:
    """--debug, accepted after the command too."""
    return click.option("--debug", is_flag=True, help="Show a traceback with every error.")(function)


def quiet_option(function: Function) -> Function:
    """--quiet, for commands that work long."""
    return click.option("--quiet", is_flag=True, help="Show no progress, only errors.")(function)


@dataclass(frozen=True)
class Asked:
    """How logs are to be analysed, in the words of the command line."""

    places_file: str | None = None
    wing_file: str | None = None
    date: datetime.date | None = None
    jobs: int | None = None  # None: as many as there are processors
    wing_class: str | None = None


def analysis_options(function: Callable[..., int]) -> Callable[..., int]:
    """What the analysis of a log may be told: places, wing, its class, date, processes; as one `asked: Asked`."""

    @wraps(function)
    def command(
        *words: Any,
        places_file: str | None,
        wing_file: str | None,
        date: datetime.date | None,
        jobs: int | None,
        wing_class: str | None,
        **other: Any,
    ) -> int:
        return function(*words, asked=Asked(places_file, wing_file, date, jobs, wing_class), **other)

    for option in (
        click.option(
            "--jobs",
            type=click.IntRange(1, 64),
            metavar="N",
            help="Logs worked on at a time.  [default: as many as there are processors]",
        ),
        date_option,
        class_option("Kind of wing: what the polars lean on (default: --wing's)."),
        click.option("--wing", "wing_file", metavar="FILE", help="Your wing (TOML): weights and polar."),
        click.option("--places", "places_file", metavar="FILE", help="Launch and landing places (GeoJSON)."),
    ):
        command = option(command)
    return command


def class_option(words: str) -> Callable[[Function], Function]:
    """--class, the kind of wing."""
    return click.option("--class", "wing_class", type=click.Choice(CLASSES), help=words)


def date_option(function: Function) -> Function:
    """What a log may not say for itself: --date, and --columns of a table."""
    dated = click.option("--date", callback=_date, metavar="DATE", help="Date (2026-06-14) for logs without one.")
    return _columns_option(dated(function))


_COLUMNS_KEY = "flightlog.columns"


def _columns_option(function: Function) -> Function:
    """--columns: kept with the call, where `columns_told` finds it."""
    return click.option(
        "--columns",
        callback=_keep_columns,
        expose_value=False,
        metavar="TEXT",
        help="Columns of tables (CSV): 'time=UTC,lat=Lat,lon=Lon,alt=Height [ft]', by name or number.",
    )(function)


def _keep_columns(context: click.Context, option: click.Parameter, value: str | None) -> None:
    """Keep what was asked for, once it is understood."""
    del option
    if value is None:
        return
    from flightlog.tracks.csv_columns import columns_asked

    try:
        columns_asked(value)
    except ValueError as error:
        raise click.BadParameter(str(error)) from error
    context.meta[_COLUMNS_KEY] = value


def columns_told() -> str | None:
    """What --columns of this call says; None without it."""
    context = click.get_current_context(silent=True)
    told: str | None = context.meta.get(_COLUMNS_KEY) if context else None
    return told


def _date(context: click.Context, option: click.Parameter, value: str | None) -> datetime.date | None:
    """The date of that text."""
    del context, option
    if value is None:
        return None
    try:
        return datetime.datetime.strptime(value, "%Y-%m-%d").date()
    except ValueError as error:
        raise click.BadParameter(f"{value!r} is no date such as 2026-06-14") from error


def timezone_option(function: Function) -> Function:
    """--timezone, of clock times in pages."""
    return click.option(
        "--timezone",
        metavar="NAME",
        help="Of clock times: UTC, or a name such as Europe/Oslo.  [default: as the log says, else the place's]",
    )(function)


def display_options(function: Callable[..., int]) -> Callable[..., int]:
    """How pages speak: --units and --timezone, as one `display: Display`."""

    @wraps(function)
    def command(*words: Any, units: str, timezone: str | None, **other: Any) -> int:
        return function(*words, display=display_for(units, timezone), **other)

    return units_option(timezone_option(command))


def paper_option(function: Function) -> Function:
    """--paper, of pages to print."""
    return click.option(
        "--paper", type=click.Choice(["a4", "letter"]), default="a4", show_default=True, help="Of the PDF."
    )(function)


def units_option(function: Function) -> Function:
    """--units, of what is read by people."""
    return click.option("--units", type=click.Choice(["metric", "aviation"]), default="metric", show_default=True)(
        function
    )


def results_option(function: Function) -> Function:
    """--out, of commands that answer on standard output unless told otherwise; read by `place_for`."""
    return click.option(
        "--out",
        metavar="DIR",
        help=f"Where to write; - is standard output.  [default: -; {PAGE_FOLDER} for pages and several formats]",
    )(function)


def anonymous_option(names: str) -> Callable[[Function], Function]:
    """--anonymous; `names` says what is left out."""
    return click.option("--anonymous", is_flag=True, help=f"Leave out {names}.")


def force_option(files: str) -> Callable[[Function], Function]:
    """--force; `files` says what is overwritten only then."""
    return click.option("--force", is_flag=True, help=f"Overwrite {files}.")


def formats_option(
    known: Sequence[str], default: str, *, told: str = "", words: str = "What to write."
) -> Callable[[Function], Function]:
    """--to, of commands that write several formats; `told` names them where --help is to name fewer."""
    return click.option(
        "--to",
        "formats",
        default=default,
        show_default=True,
        metavar=told or ",".join(known),
        callback=lambda _context, _option, text: wanted_formats(text, known),
        help=words,
    )


def wanted_formats(text: str, known: Sequence[str]) -> list[str]:
    """The formats of `--to`, each once, in the order in which they are known."""
    words = [word.strip().lower() for word in text.split(",") if word.strip()]
    if not words or any(word not in known for word in words):
        raise click.BadParameter(f"{text!r} is not among {', '.join(known)}", param_hint="--to")
    return [word for word in known if word in words]


def place_for(chosen: Sequence[str], out: str | None) -> str:
    """Where results go: pages, and several formats, into a folder unless told otherwise."""
    if out is None:
        return PAGE_FOLDER if len(chosen) > 1 or chosen[0] in PAGES else "-"
    one_for_output(chosen, out)
    return out


def one_for_output(chosen: Sequence[str], out: str) -> None:
    """Refuse several formats for standard output."""
    if out == "-" and len(chosen) > 1:
        raise click.BadParameter("standard output takes one format: name a folder", param_hint="--out")


def json_for_output(chosen: Sequence[str], out: str) -> None:
    """Refuse all but JSON for standard output."""
    if out == "-" and list(chosen) != ["json"]:
        raise click.BadParameter("standard output takes JSON alone: add --to json", param_hint="--out")


def display_for(units: str, timezone: str | None) -> Display:
    """How pages speak, from the words of the command line."""
    from flightlog.writers.display import display_in

    try:
        return display_in(units, timezone)
    except ValueError as error:
        raise click.BadParameter(str(error), param_hint="--timezone") from error


def with_basemap(display: Display, template: str | None, credit: str | None) -> Display:
    """The display with map tiles, from the words of the command line."""
    from dataclasses import replace

    from flightlog.writers.basemaps import basemap_at

    if template is None and credit is None:
        return display
    try:
        return replace(display, basemap=basemap_at(template or "", credit or ""))
    except ValueError as error:
        raise click.BadParameter(str(error), param_hint="--basemap") from error


def write_each(formats: Sequence[str], write: Callable[[str], Path], tally: Tally) -> int:
    """Write a result in every format and tell the files; gives the exit status."""
    from flightlog.errors import ReportError, one_line

    written = 0
    for ending in formats:
        try:
            path = write(ending)
        except ReportError as error:
            tally.fail(error)
        else:
            click.echo(one_line(str(path)), err=True)
            written += 1
    return tally.status if written else NOTHING_DONE


class Tally:
    """Counts what was done and what failed, and knows the exit status."""

    def __init__(self, *, debug: bool) -> None:
        self.done = 0
        self.failed = 0
        self._debug = debug

    def fail(self, error: FlightlogError) -> None:
        """Say an error and count it."""
        self.failed += 1
        say_error(str(error), error, debug=self._debug)

    @property
    def status(self) -> int:
        """0 all done, 1 some failed, 2 nothing could be done."""
        if not self.failed:
            return ALL_DONE
        return SOME_FAILED if self.done else NOTHING_DONE
