"""`flightlog book add`: logs into the logbook."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path
from typing import TYPE_CHECKING

import click

from flightlog.commands.books.choosing import book_option, opened
from flightlog.commands.options import Asked, Tally, analysis_options, debug_option, logs_argument, quiet_option

if TYPE_CHECKING:
    from flightlog.commands.running import Job
    from flightlog.logbook.opening import Book
    from flightlog.tracks.reading import LogSource


@click.command("add")
@logs_argument
@book_option
@analysis_options
@click.option("--wing-name", metavar="NAME", help="What you call the wing, in place of what the logs say.")
@quiet_option
@debug_option
def add_command(
    logs: tuple[str, ...],
    book_file: str | None,
    asked: Asked,
    wing_name: str | None,
    quiet: bool,
    debug: bool,
) -> int:
    """Add logs to the logbook: their bytes, their results and their flights. Nothing is added twice.

    A log is known by its content, whatever it is called and however it is packed. Each log is added whole or not
    at all; stop at any time and add the same again.

    Example: flightlog book add sample_tracks --places sample_tracks/places.geojson
    """
    from flightlog.commands.running import Job
    from flightlog.errors import BookError

    job = Job.from_files(logs, asked, quiet=quiet)
    tally = Tally(debug=debug)
    with closing(Adding(book_file, job, tally)) as adding:
        try:
            adding.work(wing_name)
        except BookError as error:  # such as a full disk: what was added before is whole
            tally.fail(error)
        finally:
            if not quiet:
                click.echo(adding.summary, err=True)
    return tally.status


class Adding:
    """One call of `add`: what it adds, what was known, what failed. A new logbook is made for its first log."""

    def __init__(self, book_file: str | None, job: Job, tally: Tally) -> None:
        from flightlog.logbook.files import default_book

        self._path = Path(book_file) if book_file else default_book()
        self._book = opened(book_file) if self._path.exists() else None
        self._job, self._tally = job, tally
        self._seen: set[str] = set()
        self.added = self.flights = self.known = 0

    @property
    def book(self) -> Book:
        """The logbook, made where none is."""
        if self._book is None:
            self._book = opened(str(self._path), create=True)
        return self._book

    def close(self) -> None:
        """Close the logbook."""
        if self._book is not None:
            self._book.close()

    def work(self, wing_name: str | None) -> None:
        """Add every log that is new."""
        from flightlog.batch import work_on_logs
        from flightlog.commands.progress import progress
        from flightlog.errors import FlightlogError
        from flightlog.logbook.adding import add_log
        from flightlog.tracks.plain_names import plain_text
        from flightlog.writers.book_entries import entry_of_log

        job = self._job
        name = plain_text(wing_name) if wing_name else None
        with progress(len(job.sources), "logs", job.quiet) as step:
            outcomes = work_on_logs(self._new(step), entry_of_log, job.recipe, jobs=job.processes)
            for _, outcome in outcomes:
                if isinstance(outcome, FlightlogError):
                    self._tally.fail(outcome)
                elif add_log(self.book, outcome, wing_name=name):
                    self._tally.done += 1
                    self.added += 1
                    self.flights += len(outcome.flights)
                    self._tell_overlaps(outcome.sha256)
                else:
                    self._count_known()
                step()

    def _new(self, step: Callable[[], None]) -> Iterator[LogSource]:
        """The logs that the logbook does not know yet; those that cannot be read too, so that it is told."""
        import hashlib

        from flightlog.errors import FlightlogError
        from flightlog.logbook.adding import known_name

        for source in self._job.sources:
            try:
                digest = hashlib.sha256(source.read()).hexdigest()
            except FlightlogError:
                yield source
                continue
            if digest in self._seen or (self._book and known_name(self._book, digest) is not None):
                self._count_known()
                step()
                continue
            self._seen.add(digest)
            yield source

    def _tell_overlaps(self, sha256: str) -> None:
        """Say where a flight may be in the logbook already, from another recorder."""
        from flightlog.logbook.checking import overlaps
        from flightlog.writers.book_text import overlap_text

        for overlap in [] if self._job.quiet else overlaps(self.book, sha256):
            click.echo(overlap_text(overlap), err=True)

    def _count_known(self) -> None:
        self.known += 1
        self._tally.done += 1

    @property
    def summary(self) -> str:
        """What was done, in a line."""
        from flightlog.errors import one_line
        from flightlog.writers.words import counted

        if self._book is None:
            return one_line(f"{self._path}: no logbook was made, since no log could be added")
        parts = [f"{counted(self.added, 'log')} added with {counted(self.flights, 'flight')}"]
        parts += [f"{counted(self.known, 'log')} known already"] if self.known else []
        if self.known and (self._job.recipe.places or self._job.recipe.wing or self._job.recipe.settings):
            parts[-1] += " (flightlog book renew takes other places or another wing)"
        parts += [f"{counted(self._tally.failed, 'log')} failed"] if self._tally.failed else []
        return one_line(f"{self._path}: {', '.join(parts)}")
