"""`flightlog debrief`: the main job."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from flightlog.commands.options import (
    Asked,
    Tally,
    analysis_options,
    anonymous_option,
    debug_option,
    display_options,
    force_option,
    formats_option,
    json_for_output,
    logs_argument,
    paper_option,
    quiet_option,
    with_basemap,
)

if TYPE_CHECKING:
    from flightlog.writers.display import Display

FORMATS = ("html", "pdf", "json", "parquet")


@click.command("debrief")
@logs_argument
@formats_option(
    FORMATS,
    "html",
    told="html,pdf,json",
    words="What to write; parquet, alone, gives one dataset of all flights, climbs, glides and passes.",
)
@click.option(
    "--out",
    default="reports",
    show_default=True,
    metavar="DIR",
    help="Where to write; - prints JSON, one document a line.",
)
@analysis_options
@display_options
@paper_option
@click.option(
    "--basemap",
    metavar="URL",
    help="Map tiles below tracks, as https://.../{z}/{x}/{y}.png. Whoever serves them learns, each time a page is"
    " opened, where you flew.",
)
@click.option("--basemap-credit", metavar="TEXT", help="Whose tiles they are, to be shown with them.")
@anonymous_option("pilot, recorder and file name")
@force_option("files that are no reports of the same log")
@click.option(
    "--cluster", metavar="ADDRESS", help="Work on this Dask cluster (tcp://...:8786); with --to parquet."
)
@quiet_option
@debug_option
def debrief_command(
    logs: tuple[str, ...],
    formats: list[str],
    out: str,
    asked: Asked,
    display: Display,
    paper: str,
    basemap: str | None,
    basemap_credit: str | None,
    anonymous: bool,
    force: bool,
    cluster: str | None,
    quiet: bool,
    debug: bool,
) -> int:
    """Read logs (files, folders, or - for standard input), analyse them, write a report for each.

    Of several logs a list, index.html, is written too; logs that have not changed are not worked on again.

    Example: flightlog debrief sample_tracks/top-landing-day.igc --places sample_tracks/places.geojson
    """
    json_for_output(formats, out)
    display = with_basemap(display, basemap, basemap_credit)
    if cluster and formats != ["parquet"]:
        raise click.BadParameter("a cluster writes the dataset alone: add --to parquet", param_hint="--cluster")
    if "parquet" in formats and len(formats) > 1:
        raise click.BadParameter("parquet is one dataset of all logs and written alone", param_hint="--to")

    from flightlog.commands.running import Job, print_documents, write_reports
    from flightlog.writers.reports import ReportPlan

    job = Job.from_files(logs, asked, anonymous=anonymous, quiet=quiet)
    tally = Tally(debug=debug)
    if out == "-":
        print_documents(job, tally)
    elif formats == ["parquet"]:
        from flightlog.commands.seasons import write_dataset

        write_dataset(job, tally, Path(out), cluster)
    else:
        plan = ReportPlan(tuple(formats), Path(out), display, paper, anonymous=anonymous, force=force)
        write_reports(job, tally, plan)
    return tally.status
