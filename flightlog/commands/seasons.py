"""`flightlog debrief --to parquet`: many logs into one dataset, on this machine or on a cluster."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from pathlib import Path

import click

from flightlog.batch import work_on_logs
from flightlog.commands.options import Tally
from flightlog.commands.progress import progress
from flightlog.commands.running import Job
from flightlog.errors import FlightlogError
from flightlog.writers.season import Season, season_of_log, write_season
from flightlog.writers.words import counted


def write_dataset(job: Job, tally: Tally, folder: Path, cluster: str | None) -> None:
    """The rows of every log into the dataset; logs that fail are told and counted."""
    work = partial(season_of_log, anonymous=job.anonymous)
    if cluster:
        from flightlog.cluster import work_on_cluster

        outcomes = work_on_cluster(job.sources, work, job.recipe, cluster)
    else:
        outcomes = work_on_logs(job.sources, work, job.recipe, jobs=job.processes)
    flights = 0

    def good() -> Iterator[Season]:
        nonlocal flights
        with progress(len(job.sources), "logs", job.quiet) as step:
            for _, outcome in outcomes:
                if isinstance(outcome, FlightlogError):
                    tally.fail(outcome)
                else:
                    yield outcome
                    tally.done += 1
                    flights += outcome.flights
                step()

    write_season(good(), folder)
    if tally.done and not job.quiet:
        click.echo(f"{counted(tally.done, 'log')}: {counted(flights, 'flight')} in {folder}", err=True)
