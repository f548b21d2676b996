"""`flightlog passes`: approach passes and go-arounds at every landing place, over many flights."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from flightlog.commands.main import NOTHING_DONE
from flightlog.commands.options import (
    Tally,
    analysis_options,
    debug_option,
    display_for,
    logs_argument,
    paper_option,
    quiet_option,
    timezone_option,
)

if TYPE_CHECKING:
    from flightlog.landings.reviewing import LandingReview
    from flightlog.writers.display import Display

FORMATS = ("text", "json", "csv", "html", "pdf")


@click.command("passes")
@logs_argument
@click.option(
    "--to", "formats", default="text", show_default=True, metavar="text,json,csv,html,pdf", help="What to write."
)
@click.option("--out", default="-", show_default=True, metavar="DIR", help="Where to write; - is standard output.")
@analysis_options
@click.option("--units", type=click.Choice(["metric", "aviation"]), default="metric", show_default=True)
@timezone_option
@paper_option
@click.option("--anonymous", is_flag=True, help="Leave out file names.")
@click.option("--force", is_flag=True, help="Overwrite files that are not of this command.")
@quiet_option
@debug_option
def passes_command(
    logs: tuple[str, ...],
    formats: str,
    out: str,
    places_file: str | None,
    wing_file: str | None,
    date: datetime.date | None,
    jobs: int | None,
    units: str,
    timezone: str | None,
    paper: str,
    anonymous: bool,
    force: bool,
    quiet: bool,
    debug: bool,
) -> int:
    """Review the landings of many logs: tries, go-arounds, heights of decision and winds, by place.

    Without --places the places are found where the logs touched the ground.

    Example: flightlog passes sample_tracks/top-landing-day.igc --places sample_tracks/places.geojson
    """
    chosen = wanted_formats(formats, out)
    display = display_for(units, timezone)

    from flightlog.commands.running import Job, debriefs
    from flightlog.landings.records import LandingLog, landing_log
    from flightlog.landings.reviewing import review_landings
    from flightlog.settings import settings_for
    from flightlog.writers.zones import settled, zone_shared_by

    job = Job.from_files(
        logs, places_file=places_file, wing_file=wing_file, date=date, jobs=jobs, anonymous=anonymous, quiet=quiet
    )
    tally = Tally(debug=debug)
    found: list[LandingLog] = []
    clocks: list[Display] = []
    for _, debrief in debriefs(job, tally):
        found.append(landing_log(debrief))
        clocks.append(settled(debrief, display))
        tally.done += 1
    if not found:
        return tally.status
    wing = job.recipe.wing
    review = review_landings(found, job.recipe.places, settings_for(wing.wing_class if wing else "unknown"))
    display = zone_shared_by(clocks, display)
    return _deliver(review, chosen, out, display, tally, paper=paper, force=force)


def _deliver(
    review: LandingReview,
    formats: Sequence[str],
    out: str,
    display: Display,
    tally: Tally,
    *,
    paper: str,
    force: bool,
) -> int:
    """Print or write the result; gives the exit status."""
    from flightlog.errors import ReportError
    from flightlog.writers.landings import passes_bytes, write_passes

    written = 0
    for ending in formats:
        content = passes_bytes(review, ending, display, paper=paper)
        if out == "-":
            click.echo(content, nl=False)
            return tally.status
        try:
            click.echo(str(write_passes(content, Path(out), ending, force=force)), err=True)
            written += 1
        except ReportError as error:
            tally.fail(error)
    return tally.status if written else NOTHING_DONE


def wanted_formats(text: str, out: str) -> Sequence[str]:
    """The formats of `--to`, each once; only one of them fits standard output."""
    words = [word.strip().lower() for word in text.split(",") if word.strip()]
    unknown = [word for word in words if word not in FORMATS]
    if unknown or not words:
        raise click.BadParameter(f"{text!r} is not among {', '.join(FORMATS)}", param_hint="--to")
    chosen = [word for word in FORMATS if word in words]
    if out == "-" and len(chosen) > 1:
        raise click.BadParameter("standard output takes one format: name a folder", param_hint="--out")
    return chosen
