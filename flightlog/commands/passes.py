"""`flightlog passes`: approach passes and go-arounds at every landing place, over many flights."""

from __future__ import annotations

from collections.abc import Sequence
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
    logs_argument,
    paper_option,
    place_for,
    quiet_option,
    results_option,
    write_each,
)
from flightlog.commands.terminal import print_result

if TYPE_CHECKING:
    from flightlog.landings.reviewing import LandingReview
    from flightlog.writers.display import Display

FORMATS = ("text", "json", "csv", "html", "pdf")


@click.command("passes")
@logs_argument
@formats_option(FORMATS, "text")
@results_option
@analysis_options
@display_options
@paper_option
@anonymous_option("file names")
@force_option("files that are not of this command")
@quiet_option
@debug_option
def passes_command(
    logs: tuple[str, ...],
    formats: list[str],
    out: str | None,
    asked: Asked,
    display: Display,
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
    out = place_for(formats, out)

    from flightlog.commands.running import Job, debriefs
    from flightlog.landings.records import LandingLog, landing_log
    from flightlog.landings.reviewing import review_landings
    from flightlog.settings import settings_for
    from flightlog.writers.zones import settled, zone_shared_by

    job = Job.from_files(logs, asked, anonymous=anonymous, quiet=quiet)
    tally = Tally(debug=debug)
    found: list[LandingLog] = []
    clocks: list[Display] = []
    for _, debrief in debriefs(job, tally):
        found.append(landing_log(debrief))
        clocks.append(settled(debrief, display))
        tally.done += 1
    if not found:
        return tally.status
    wing, settings = job.recipe.wing, job.recipe.settings
    settings = settings or settings_for(wing.wing_class if wing else "unknown")
    review = review_landings(found, job.recipe.places, settings)
    display = zone_shared_by(clocks, display)
    return _deliver(review, formats, out, display, tally, paper=paper, force=force)


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
    from flightlog.writers.landings import passes_bytes, write_passes

    if out == "-":
        print_result(passes_bytes(review, formats[0], display, paper=paper), formats[0])
        return tally.status

    def write(ending: str) -> Path:
        return write_passes(passes_bytes(review, ending, display, paper=paper), Path(out), ending, force=force)

    return write_each(formats, write, tally)
