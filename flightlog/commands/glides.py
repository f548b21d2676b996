"""`flightlog glides`: glide ratio and sink polar over many flights of one wing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from flightlog.commands.options import (
    Asked,
    Tally,
    analysis_options,
    debug_option,
    display_for,
    force_option,
    formats_option,
    logs_argument,
    place_for,
    quiet_option,
    results_option,
    units_option,
    write_each,
)
from flightlog.commands.terminal import print_result

if TYPE_CHECKING:
    from flightlog.gliding.results import Gliding
    from flightlog.writers.display import Display

FORMATS = ("text", "json", "csv")


@click.command("glides")
@logs_argument
@click.option(
    "--group-by",
    type=click.Choice(["wing", "date", "note"]),
    help="One polar for each; note where --note is given, else wing.",
)
@click.option(
    "--note",
    "notes",
    multiple=True,
    metavar="NOTE=PATTERN",
    help='A word of yours for logs whose path or name fits, e.g. "flaps=*-flaps.igc"; may be repeated.',
)
@formats_option(FORMATS, "text")
@results_option
@analysis_options
@units_option
@force_option("files that are not of this command")
@quiet_option
@debug_option
def glides_command(
    logs: tuple[str, ...],
    group_by: str | None,
    notes: tuple[str, ...],
    formats: list[str],
    out: str | None,
    asked: Asked,
    units: str,
    force: bool,
    quiet: bool,
    debug: bool,
) -> int:
    """Pool the glides of many logs, fit a sink polar to each group, and say whether two groups can be told apart.

    With --wing all logs count as flown with that wing, and its maker's polar stands beside the glides.

    Example: flightlog glides sample_tracks/cross-country.igc --class rigid_wing
    """
    out = place_for(formats, out)
    patterns = [note_and_pattern(text) for text in notes]
    display = display_for(units, "UTC")

    from flightlog.commands.running import Job, debriefs
    from flightlog.gliding.pooling import glide_log, note_for, pool_gliding, unused_notes
    from flightlog.gliding.results import GlideLog

    job = Job.from_files(logs, asked, quiet=quiet)
    tally = Tally(debug=debug)
    found: list[GlideLog] = []
    for source, debrief in debriefs(job, tally):
        found.append(glide_log(debrief, note_for((source.path, source.name), patterns)))
        tally.done += 1
    if not found:
        return tally.status
    gliding = pool_gliding(
        found,
        group_by=group_by or ("note" if patterns else "wing"),
        wing=job.recipe.wing,
        wing_class=asked.wing_class,
    )
    gliding = replace(gliding, problems=(*gliding.problems, *unused_notes(patterns, found)))
    return _deliver(gliding, formats, out, display, tally, force=force)


def _deliver(
    gliding: Gliding, formats: Sequence[str], out: str, display: Display, tally: Tally, *, force: bool
) -> int:
    """Print or write the result; gives the exit status."""
    from flightlog.writers.glides import glides_bytes, write_glides

    if out == "-":
        print_result(glides_bytes(gliding, formats[0], display), formats[0])
        return tally.status

    def write(ending: str) -> Path:
        return write_glides(glides_bytes(gliding, ending, display), Path(out), ending, force=force)

    return write_each(formats, write, tally)


def note_and_pattern(text: str) -> tuple[str, str]:
    """The two parts of `--note`; the pattern may hold further equals signs."""
    note, equals, pattern = text.partition("=")
    if not (equals and note.strip() and pattern.strip()):
        raise click.BadParameter(f"{text!r} is not NOTE=PATTERN, such as flaps=*-flaps.igc", param_hint="--note")
    return note.strip(), pattern.strip()
