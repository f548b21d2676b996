"""What the commands do with logs: debrief them, print or write the results, go on after a failure."""

from __future__ import annotations

import datetime
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

import click

from flightlog.batch import Recipe, debrief_logs, unexpected
from flightlog.commands.options import Tally, columns_told
from flightlog.commands.progress import progress
from flightlog.debriefing import Debrief
from flightlog.errors import FlightlogError, one_line
from flightlog.tracks.reading import LogSource, find_logs
from flightlog.writers.anonymous import without_names
from flightlog.writers.display import Display, flight_count
from flightlog.writers.files import StemGiver, write_html, write_json, write_pdf
from flightlog.writers.json_results import debrief_json

if TYPE_CHECKING:
    from flightlog.places import Place
    from flightlog.wings import Wing


@dataclass(frozen=True)
class Job:
    """The logs of one call and how to debrief them."""

    logs: tuple[str, ...]
    recipe: Recipe
    jobs: int = 1
    anonymous: bool = False
    quiet: bool = False

    @cached_property
    def sources(self) -> tuple[LogSource, ...]:
        """All logs, found once: how many there are is known before the first is read."""
        return tuple(find_logs([Path(log) for log in self.logs], columns=columns_told()))

    @classmethod
    def from_files(
        cls,
        logs: Sequence[str],
        *,
        places_file: str | Path | None = None,
        wing_file: str | Path | None = None,
        date: datetime.date | None = None,
        jobs: int = 1,
        anonymous: bool = False,
        quiet: bool = False,
    ) -> Job:
        """The job, with the user's places and wing read; a fault in those stops everything."""
        places: tuple[Place, ...] = ()
        wing: Wing | None = None
        if places_file:
            from flightlog.places import read_places

            places = read_places(Path(places_file))
        if wing_file:
            from flightlog.wings import read_wing

            wing = read_wing(Path(wing_file))
        return cls(tuple(logs), Recipe(None, places, wing, date), jobs, anonymous, quiet)


def debriefs(job: Job, tally: Tally) -> Iterator[tuple[LogSource, Debrief]]:
    """Every log that could be debriefed; the others are counted and told."""
    recipe = job.recipe
    outcomes = debrief_logs(
        job.sources,
        settings=recipe.settings,
        places=recipe.places,
        wing=recipe.wing,
        date=recipe.date,
        jobs=job.jobs,
    )
    with progress(len(job.sources), "logs", job.quiet) as step:
        for source, outcome in outcomes:
            if isinstance(outcome, FlightlogError):
                tally.fail(outcome)
            else:
                yield source, without_names(outcome) if job.anonymous else outcome
            step()


def print_documents(job: Job, tally: Tally) -> None:
    """JSON on standard output, one document a line, in the order of the logs."""
    if sys.stdout.isatty():  # a bar would run through them
        job = replace(job, quiet=True)
    for source, debrief in debriefs(job, tally):
        with each_alone(source, tally):
            click.echo(debrief_json(debrief))


def write_reports(
    job: Job,
    tally: Tally,
    formats: Sequence[str],
    folder: Path,
    display: Display,
    *,
    paper: str = "a4",
    force: bool = False,
) -> list[Path]:
    """A report of every log in every format; gives the files written."""
    stems = StemGiver()
    written: list[Path] = []
    for source, debrief in debriefs(job, tally):
        stem = stems.stem_for(debrief)
        with each_alone(source, tally):
            files = [
                _write(debrief, folder / f"{stem}.{ending}", display, paper=paper, force=force)
                for ending in formats
            ]
            written += files
            told = f"{source.path}: {flight_count(len(debrief.flights))}, {', '.join(map(str, files))}"
            click.echo(one_line(told), err=True)
    return written


@contextmanager
def each_alone(source: LogSource, tally: Tally) -> Iterator[None]:
    """Count one log as done; what goes wrong with it is told and counted, and stops no other."""
    try:
        yield
    except FlightlogError as error:
        tally.fail(error)
    except (BrokenPipeError, KeyboardInterrupt):
        raise
    except Exception as error:  # the last resort, as in flightlog.batch
        tally.fail(unexpected(source, error))
    else:
        tally.done += 1


def _write(debrief: Debrief, path: Path, display: Display, *, paper: str, force: bool) -> Path:
    """One report, in the format that its ending names."""
    if path.suffix == ".json":
        return write_json(debrief, path, force=force)
    if path.suffix == ".pdf":
        return write_pdf(debrief, path, display=display, paper=paper, force=force)
    return write_html(debrief, path, display=display, force=force)
