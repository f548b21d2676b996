"""What the commands do with logs: debrief them, print or write the results, go on after a failure."""

from __future__ import annotations

import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from functools import cached_property, partial
from pathlib import Path
from typing import TYPE_CHECKING

import click

from flightlog.batch import Recipe, debrief_logs, get_ready, sensible_jobs, unexpected, work_on_logs
from flightlog.commands.options import Asked, Tally, columns_told
from flightlog.commands.progress import progress
from flightlog.errors import FlightlogError, ReportError, one_line
from flightlog.settings import settings_for
from flightlog.tracks.sources import LogSource, find_logs
from flightlog.writers.anonymous import without_names
from flightlog.writers.display import flight_count
from flightlog.writers.words import counted

if TYPE_CHECKING:
    from flightlog.debriefing import Debrief
    from flightlog.places import Place
    from flightlog.wings import Wing
    from flightlog.writers.manifest import Entry
    from flightlog.writers.reports import Done, PlannedLog, ReportPlan


PROGRAM = "flightlog.commands.main"
"""What every process of this program imports at its start."""


@dataclass(frozen=True)
class Job:
    """The logs of one call and how to debrief them."""

    logs: tuple[str, ...]
    recipe: Recipe
    jobs: int | None = None  # processes; None: as many as are worth it
    anonymous: bool = False
    quiet: bool = False

    @cached_property
    def sources(self) -> tuple[LogSource, ...]:
        """All logs, found once: how many there are is known before the first is read."""
        return tuple(find_logs([Path(log) for log in self.logs], columns=columns_told()))

    @property
    def processes(self) -> int:
        """How many processes work on the logs."""
        return min(self.jobs or sensible_jobs(len(self.sources)), len(self.sources))

    @classmethod
    def from_files(
        cls,
        logs: Sequence[str],
        asked: Asked,
        *,
        anonymous: bool = False,
        quiet: bool = False,
    ) -> Job:
        """The job, with the user's places and wing read; a fault in those stops everything."""
        places: tuple[Place, ...] = ()
        wing: Wing | None = None
        if asked.places_file:
            from flightlog.places import read_places

            places = read_places(Path(asked.places_file))
        if asked.wing_file:
            from flightlog.wings import read_wing

            wing = read_wing(Path(asked.wing_file))
        settings = settings_for(asked.wing_class) if asked.wing_class else None
        return cls(tuple(logs), Recipe(settings, places, wing, asked.date), asked.jobs, anonymous, quiet)


def debriefs(job: Job, tally: Tally) -> Iterator[tuple[LogSource, Debrief]]:
    """Every log that could be debriefed; the others are counted and told."""
    recipe = job.recipe
    outcomes = debrief_logs(
        job.sources,
        settings=recipe.settings,
        places=recipe.places,
        wing=recipe.wing,
        date=recipe.date,
        jobs=job.processes,
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
    from flightlog.writers.reports import LATE_IMPORTS, document_of_log

    if sys.stdout.isatty():  # a bar would run through them
        job = replace(job, quiet=True)
    work = partial(document_of_log, anonymous=job.anonymous)
    modules = (PROGRAM, document_of_log.__module__, *LATE_IMPORTS["json"])
    outcomes = work_on_logs(job.sources, work, job.recipe, jobs=job.processes, modules=modules)
    with progress(len(job.sources), "logs", job.quiet) as step:
        for _, outcome in outcomes:
            if isinstance(outcome, FlightlogError):
                tally.fail(outcome)
            else:
                click.echo(outcome)
                tally.done += 1
            step()


def write_reports(job: Job, tally: Tally, plan: ReportPlan) -> list[Path]:
    """A report of every log in every format, and a list of them where there are several; gives the files.

    Logs whose reports are up to date are not worked on again.
    """
    from flightlog.writers.manifest import read_manifest
    from flightlog.writers.reports import PlannedLog, report_log, stems_for, up_to_date

    manifest = read_manifest(plan.folder)
    before = manifest.entries if manifest else {}
    modules = (PROGRAM, *plan.modules)
    if not before:
        get_ready(job.processes, modules)
    plan = plan.marked(job.recipe, columns_told())
    stems = stems_for(job.sources, anonymous=plan.anonymous)
    logs = [PlannedLog(*pair, before.get(pair[1])) for pair in zip(job.sources, stems, strict=True)]
    found = {log.stem: done for log in logs if (done := up_to_date(log, plan))}
    tally.done += len(found)
    changed = [log for log in logs if log.stem not in found]
    jobs = min(job.jobs or sensible_jobs(len(changed)), len(changed))
    work = partial(report_log, plan=plan)
    outcomes = work_on_logs(changed, work, job.recipe, jobs=jobs, in_order=False, modules=modules)
    try:
        with progress(len(changed), "logs", job.quiet) as step:
            for log, outcome in outcomes:
                if isinstance(outcome, FlightlogError):
                    tally.fail(outcome)
                else:
                    tally.done += 1
                    found[log.stem] = outcome
                    if not job.quiet:
                        _tell(log, outcome)
                step()
    finally:  # what was done before a stop is not done again
        if len(logs) > 1 or before:
            entries = before | {stem: done.entry for stem, done in found.items()}
            _write_lists(plan, entries, tally, is_readable=manifest is not None, is_quiet=job.quiet or not found)
    if len(changed) < len(logs) and not job.quiet:
        same = counted(len(logs) - len(changed), "log")
        click.echo(f"{same} unchanged since the reports were written", err=True)
    return [file for stem in stems if stem in found for file in found[stem].files]


def _tell(log: PlannedLog, done: Done) -> None:
    """One line about a log whose reports were written."""
    click.echo(one_line(f"{log.path}: {flight_count(done.flights)}, {', '.join(map(str, done.files))}"), err=True)


def _write_lists(
    plan: ReportPlan, entries: dict[str, Entry], tally: Tally, *, is_readable: bool, is_quiet: bool
) -> None:
    """What the folder holds: for the next run, and as a page for people."""
    from flightlog.writers.manifest import SCHEMA, Manifest, endings_there, write_manifest

    kept = {stem: entries[stem] for stem in sorted(entries) if endings_there(plan.folder, stem, entries[stem])}
    if not kept:
        return
    try:
        write_manifest(plan.folder, Manifest(SCHEMA, kept), is_readable=is_readable)
    except ReportError as error:
        tally.fail(error)
    if plan.formats == ("json",):
        return
    from flightlog.writers.index_page import index_page, write_index

    try:
        there = {stem: endings_there(plan.folder, stem, entry) for stem, entry in kept.items()}
        content = index_page({stem: entry.row for stem, entry in kept.items()}, there, plan.display)
        path = write_index(plan.folder, content, force=plan.force)
        if len(kept) > 1 and not is_quiet:  # a single report was told already
            click.echo(one_line(f"{path}: a list of {counted(len(kept), 'log')}"), err=True)
    except ReportError as error:
        tally.fail(error)


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
