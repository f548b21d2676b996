"""`flightlog book renew`: the kept logs analysed again."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from flightlog.commands.books.choosing import book_option, opened
from flightlog.commands.options import Tally, class_option, debug_option, quiet_option
from flightlog.errors import BookError, FlightlogError, one_line

if TYPE_CHECKING:
    from flightlog.logbook.opening import Book
    from flightlog.places import Place
    from flightlog.wings import Wing


@click.command("renew")
@click.argument("names", metavar="[LOG|FLIGHT]...", nargs=-1)
@click.option("--all", "every", is_flag=True, help="Also what is up to date.")
@click.option("--places", "places_file", metavar="FILE", help="Launch and landing places from now on (GeoJSON).")
@click.option("--wing", "wing_file", metavar="FILE", help="The wing of these logs from now on (TOML).")
@class_option("The kind of wing of these logs from now on.")
@click.option(
    "--jobs", type=click.IntRange(1, 64), metavar="N", help="Logs worked on at a time.  [default: all processors]"
)
@book_option
@quiet_option
@debug_option
def renew_command(
    names: tuple[str, ...],
    every: bool,
    places_file: str | None,
    wing_file: str | None,
    wing_class: str | None,
    jobs: int | None,
    book_file: str | None,
    quiet: bool,
    debug: bool,
) -> int:
    """Analyse the logs that the logbook keeps again, where another version of flightlog analysed them.

    With --places, --wing or --class, or where logs are named: those, up to date or not. Stop it at any time, and
    run it again without options: it goes on where it was. Notes and corrections stay.

    Example: flightlog book renew --places sample_tracks/places.geojson
    """
    from pathlib import Path

    from flightlog.logbook.removing import log_called
    from flightlog.logbook.renewing import all_logs, mark_outdated, outdated_logs
    from flightlog.writers.book_entries import analysis_version

    places: tuple[Place, ...] | None = None
    wing: Wing | None = None
    if places_file:
        from flightlog.places import read_places

        places = read_places(Path(places_file))
    if wing_file:
        from flightlog.wings import read_wing

        wing = read_wing(Path(wing_file))
    tally = Tally(debug=debug)
    with opened(book_file) as book:
        if names or every or places or wing or wing_class:
            chosen = list(dict.fromkeys(log_called(book, name) for name in names)) or all_logs(book)
            mark_outdated(book, chosen, places=places, wing=wing, wing_class=wing_class)
        try:
            _renew(book, outdated_logs(book, analysis_version()), jobs, tally, quiet)
        except BookError as error:  # such as a full disk: what was renewed before is whole
            tally.fail(error)
        finally:
            if not quiet:
                _tell(book, tally)
    return tally.status


def _renew(book: Book, log_ids: list[int], jobs: int | None, tally: Tally, quiet: bool) -> None:
    """Analyse these logs, and put each result into the logbook as soon as it is there."""
    from flightlog.batch import Recipe, sensible_jobs, work_on_logs
    from flightlog.commands.progress import progress
    from flightlog.logbook.renewing import kept_logs, renew_log
    from flightlog.writers.book_entries import entry_of_kept_log

    with progress(len(log_ids), "logs", quiet) as step:
        outcomes = work_on_logs(
            kept_logs(book, log_ids, tally.fail),
            entry_of_kept_log,
            Recipe(),
            jobs=jobs or sensible_jobs(len(log_ids)),
        )
        for kept, outcome in outcomes:
            if isinstance(outcome, FlightlogError):
                tally.fail(outcome)
            else:
                renew_log(book, kept.log_id, outcome)
                tally.done += 1
            step()


def _tell(book: Book, tally: Tally) -> None:
    """What was done, and which notes and corrections belong to no flight any more."""
    from flightlog.logbook.remarks import loose_remarks
    from flightlog.writers.book_text import remark_text
    from flightlog.writers.words import counted

    failed = f", {counted(tally.failed, 'log')} failed and kept as it was" if tally.failed else ""
    done = f"{counted(tally.done, 'log')} analysed again{failed}"
    if not tally.done and not tally.failed:
        done = "all results are up to date, nothing was analysed again"
    click.echo(one_line(f"{book.path}: {done}"), err=True)
    for remark in loose_remarks(book):
        click.echo(f"kept, but no flight takes off then any more: {remark_text(remark)}", err=True)
