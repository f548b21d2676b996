"""`flightlog distance`: the best distances of every flight over freely chosen turnpoints."""

from __future__ import annotations

import sys
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
    place_for,
    quiet_option,
    results_option,
)
from flightlog.commands.terminal import print_result

if TYPE_CHECKING:
    from flightlog.debriefing import Debrief
    from flightlog.distances.closing import Closing
    from flightlog.writers.display import Display

FORMATS = ("text", "json", "geojson", "html")


@click.command("distance")
@logs_argument
@click.option(
    "--closing",
    metavar="GAP",
    help="How far apart start and finish of a closed course may be: a share of its distance, or a length such as "
    "800m.  [default: 5%, common practice]",
)
@click.option(
    "--time-limit",
    "time_limit_s",
    type=click.FloatRange(0.1, 3600.0),
    metavar="SECONDS",
    help="For the figures of one flight; what is left open then is told.  [default: 20]",
)
@formats_option(FORMATS, "text")
@results_option
@analysis_options
@display_options
@anonymous_option("names")
@force_option("files that are not of this command")
@quiet_option
@debug_option
def distance_command(
    logs: tuple[str, ...],
    closing: str | None,
    time_limit_s: float | None,
    formats: list[str],
    out: str | None,
    asked: Asked,
    display: Display,
    anonymous: bool,
    force: bool,
    quiet: bool,
    debug: bool,
) -> int:
    """Find the best distances of every flight, over all its fixes: straight, free over up to three turnpoints, out
    and return, triangle and FAI triangle.

    Example: flightlog distance sample_tracks/cross-country.igc
    """
    out = place_for(formats, out)
    rule = _closing(closing)

    from flightlog.commands.running import Job, debriefs, each_alone
    from flightlog.writers.files import StemGiver

    job = Job.from_files(
        logs,
        asked,
        anonymous=anonymous,
        quiet=quiet or (out == "-" and sys.stdout.isatty()),  # a bar would run through what is printed
    )
    tally = Tally(debug=debug)
    stems = StemGiver()
    for source, debrief in debriefs(job, tally):
        stem = stems.stem_for(debrief)
        with each_alone(source, tally):
            name = debrief.log.file if anonymous else str(source.path)
            _deliver(debrief, name, rule, time_limit_s, formats, Path(out) / stem, display, force=force)
    return tally.status


def _closing(text: str | None) -> Closing:
    """The rule of `--closing`."""
    from flightlog.distances.best import closing_of
    from flightlog.errors import SettingsError

    try:
        return closing_of(text)
    except SettingsError as error:
        raise click.BadParameter(str(error), param_hint="--closing") from error


def _deliver(
    debrief: Debrief,
    name: str,
    closing: Closing,
    time_limit_s: float | None,
    formats: Sequence[str],
    path: Path,
    display: Display,
    *,
    force: bool,
) -> None:
    """Search one log and print or write what was found; a path in the folder `-` is standard output."""
    from flightlog.distances.best import best_distances, rules_of
    from flightlog.writers.distances import ENDINGS, distance_bytes, distance_document, write_distances
    from flightlog.writers.zones import settled

    flights = best_distances(debrief, closing=closing, time_limit_s=time_limit_s)
    rules = rules_of(closing, debrief.settings)
    log = debrief.log
    document = distance_document(log.file, log.sha256, log.date, rules, flights)
    show = settled(debrief, display)
    for ending in formats:
        if ending == "html":
            from flightlog.writers.distance_page import distance_page

            content = distance_page(document, debrief, show)
        else:
            content = distance_bytes(name, document, ending, show)
        if path.parent == Path("-"):
            print_result(content, ending)
        else:
            target = path.with_name(f"{path.name}.{ENDINGS[ending]}")
            click.echo(str(write_distances(content, target, log.sha256, force=force)), err=True)
