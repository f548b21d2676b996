"""`flightlog check`: the health of a log."""

from __future__ import annotations

import datetime

import click

from flightlog.commands.options import Tally, analysis_options, debug_option, logs_argument


@click.command("check")
@logs_argument
@click.option("--to", "ending", type=click.Choice(["text", "json"]), default="text", show_default=True)
@analysis_options
@debug_option
def check_command(
    logs: tuple[str, ...],
    ending: str,
    places_file: str | None,
    wing_file: str | None,
    date: datetime.date | None,
    jobs: int,
    debug: bool,
) -> int:
    """Tell what a log holds and what is odd in it, line by line.

    Example: flightlog check sample_tracks/
    """
    from flightlog.commands.running import Job, debriefs, each_alone
    from flightlog.writers.health import health_lines
    from flightlog.writers.json_results import check_json

    job = Job.from_files(logs, places_file=places_file, wing_file=wing_file, date=date, jobs=jobs)
    tally = Tally(debug=debug)
    for source, debrief in debriefs(job, tally):
        with each_alone(source, tally):
            click.echo(check_json(debrief) if ending == "json" else "\n".join(health_lines(source.path, debrief)))
    return tally.status
