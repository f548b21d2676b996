"""`flightlog debrief`: the main job."""

from __future__ import annotations

from pathlib import Path

import click

from flightlog.commands.options import (
    Asked,
    Tally,
    analysis_options,
    anonymous_option,
    debug_option,
    display_for,
    force_option,
    json_for_output,
    logs_argument,
    paper_option,
    quiet_option,
    timezone_option,
    units_option,
    wanted_formats,
    with_basemap,
)

FORMATS = ("html", "pdf", "json", "parquet")


@click.command("debrief")
@logs_argument
@click.option(
    "--to",
    "formats",
    default="html",
    show_default=True,
    metavar="html,pdf,json",
    help="What to write; parquet, alone, gives one dataset of all flights, climbs, glides and passes.",
)
@click.option(
    "--out",
    default="reports",
    show_default=True,
    metavar="DIR",
    help="Where to write; - prints JSON, one document a line.",
)
@analysis_options
@units_option
@timezone_option
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
    formats: str,
    out: str,
    asked: Asked,
    units: str,
    timezone: str | None,
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
    chosen = wanted_formats(formats, FORMATS)
    json_for_output(chosen, out)
    display = with_basemap(display_for(units, timezone), basemap, basemap_credit)
    if cluster and chosen != ["parquet"]:
        raise click.BadParameter("a cluster writes the dataset alone: add --to parquet", param_hint="--cluster")
    if "parquet" in chosen and len(chosen) > 1:
        raise click.BadParameter("parquet is one dataset of all logs and written alone", param_hint="--to")

    from flightlog.commands.running import Job, print_documents, write_reports
    from flightlog.writers.reports import ReportPlan

    job = Job.from_files(logs, asked, anonymous=anonymous, quiet=quiet)
    tally = Tally(debug=debug)
    if out == "-":
        print_documents(job, tally)
    elif chosen == ["parquet"]:
        from flightlog.commands.seasons import write_dataset

        write_dataset(job, tally, Path(out), cluster)
    else:
        plan = ReportPlan(tuple(chosen), Path(out), display, paper, anonymous=anonymous, force=force)
        write_reports(job, tally, plan)
    return tally.status
