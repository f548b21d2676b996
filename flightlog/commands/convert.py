"""`flightlog convert`: the cleaned track in an open format."""

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
    display_for,
    force_option,
    logs_argument,
    quiet_option,
    timezone_option,
)

if TYPE_CHECKING:
    from flightlog.debriefing import Debrief
    from flightlog.writers.display import Display
    from flightlog.writers.files import StemGiver

ENDINGS = ("gpx", "geojson", "kml", "csv", "parquet", "igc")


@click.command("convert")
@logs_argument
@click.option("--to", "ending", type=click.Choice(ENDINGS), required=True, help="The format.")
@click.option(
    "--out",
    default="converted",
    show_default=True,
    metavar="FILE|DIR",
    help="Where to write: a file with the ending of the format, a folder, or - for standard output.",
)
@click.option(
    "--crop",
    nargs=2,
    metavar="FROM TO",
    help="Only the fixes from one time to another, such as 14:05:00 14:40, or ISO 8601 times.",
)
@anonymous_option("pilot, recorder and file name; nothing is moved")
@timezone_option
@analysis_options
@force_option("other files")
@quiet_option
@debug_option
def convert_command(
    logs: tuple[str, ...],
    ending: str,
    out: str,
    crop: tuple[str, str] | None,
    anonymous: bool,
    timezone: str | None,
    asked: Asked,
    force: bool,
    quiet: bool,
    debug: bool,
) -> int:
    """Write the cleaned track of each log, its flights and phases marked, in a format that other programs read.

    Spikes and repeated fixes are left out; positions are those of the recorder. An IGC log written here bears no
    signature and says so.

    Example: flightlog convert sample_tracks/top-landing-day.igc --to geojson --out -
    """
    display = display_for("metric", timezone)

    from flightlog.commands.running import Job, debriefs, each_alone
    from flightlog.writers.files import StemGiver

    job = Job.from_files(logs, asked, anonymous=anonymous, quiet=quiet)
    if out != "-" and _is_file(out, ending) and len(job.sources) > 1:
        raise click.BadParameter("several logs need a folder", param_hint="--out")
    if out == "-" and len(job.sources) > 1:
        raise click.BadParameter("standard output takes one log: name a folder", param_hint="--out")
    tally, stems = Tally(debug=debug), StemGiver()
    for source, debrief in debriefs(job, tally):
        with each_alone(source, tally):
            _deliver(debrief, ending, out, crop, display, stems, force=force)
    return tally.status


def _deliver(
    debrief: Debrief,
    ending: str,
    out: str,
    crop: tuple[str, str] | None,
    display: Display,
    stems: StemGiver,
    *,
    force: bool,
) -> None:
    """Write or print one track."""
    from flightlog.errors import one_line
    from flightlog.writers.files import write_new
    from flightlog.writers.open_formats.converting import track_bytes

    content = track_bytes(debrief, ending, crop=crop, display=display)
    if debrief.log.date is None:
        click.echo(one_line(f"{debrief.log.file}: no date in the log: times begin at 1970-01-01"), err=True)
    if out == "-":
        click.echo(content, nl=False)
        return
    path = Path(out) if _is_file(out, ending) else Path(out) / f"{stems.stem_for(debrief)}.{ending}"
    click.echo(one_line(str(write_new(path, content, force=force))), err=True)


def _is_file(out: str, ending: str) -> bool:
    """Whether `--out` names a file rather than a folder."""
    return not Path(out).is_dir() and Path(out).suffix.lower() == f".{ending}"
