"""`flightlog demo`: the whole main job on the sample tracks."""

from __future__ import annotations

from pathlib import Path

import click

from flightlog.commands.options import (
    Asked,
    Tally,
    debug_option,
    display_for,
    force_option,
    quiet_option,
)

FIRST_PAGE = "top-landing-day.html"
"""The page that a newcomer should open."""


@click.command("demo")
@click.option("--out", default="reports", show_default=True, metavar="DIR", help="Where to write.")
@force_option("reports of earlier samples, and other files")
@quiet_option
@debug_option
def demo_command(out: str, force: bool, quiet: bool, debug: bool) -> int:
    """Debrief the sample tracks that come with flightlog, as pages, PDF and JSON, and say which page to open.

    Example: flightlog demo
    """
    from flightlog.commands.running import Job, write_reports
    from flightlog.writers.reports import ReportPlan

    samples = sample_folder()
    places = samples / "places.geojson"
    logs = sample_logs(samples)
    job = Job.from_files([str(log) for log in logs], Asked(str(places) if places.is_file() else None), quiet=quiet)
    tally = Tally(debug=debug)
    display = display_for("metric", None)
    written = write_reports(job, tally, ReportPlan(("html", "pdf", "json"), Path(out), display, force=force))
    first = next((path for path in written if path.name == FIRST_PAGE), None)
    if first is not None:
        click.echo(f"Open {first} in a browser.")
    return tally.status


def sample_folder() -> Path:
    """Where the samples are: at the top of a checkout, or inside the installed package.

    Raises
    ------
    FlightlogError
        They are in neither place.
    """
    from flightlog.errors import FlightlogError

    package = Path(__file__).parent.parent
    is_checkout = (package.parent / "pyproject.toml").is_file()
    for folder in ([package.parent / "sample_tracks"] if is_checkout else []) + [package / "sample_tracks"]:
        if sample_logs(folder):
            return folder
    raise FlightlogError("the sample tracks are not installed", "install flightlog again, or use a checkout")


def sample_logs(folder: Path) -> list[Path]:
    """The logs among the samples, by name."""
    return sorted(path for path in folder.glob("*") if path.suffix in (".igc", ".gpx"))
