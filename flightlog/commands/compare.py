"""`flightlog compare`: pilots side by side on one task."""

from __future__ import annotations

from dataclasses import replace
from itertools import chain
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
    write_each,
)

if TYPE_CHECKING:
    from collections.abc import Iterator

    from flightlog.commands.running import Job
    from flightlog.comparing.results import Comparison
    from flightlog.debriefing import Debrief
    from flightlog.writers.display import Display

FORMATS = ("html", "pdf", "json")


@click.command("compare")
@logs_argument
@click.option("--task", "task_file", required=True, metavar="FILE", help="The task: TOML, GPX route or IGC file.")
@click.option("--radius", "radius_m", type=float, metavar="M", help="Of the cylinders of a route or declaration.")
@click.option("--against", metavar="NAME", help="Whom all are held against.  [default: the first by rank]")
@click.option(
    "--tolerance",
    type=click.Choice(["category-1", "category-2"]),
    default="category-1",
    show_default=True,
    help="How near is near enough: 0.05 % and 5 m, or 0.5 % (FAI Sporting Code, Section 7).",
)
@click.option(
    "--points",
    "wants_points",
    is_flag=True,
    help="Points by the open formula (FAI/CIVL GAP); a [points] table in the task file sets its rules.",
)
@formats_option(FORMATS, "html")
@click.option("--out", default="reports", show_default=True, metavar="DIR", help="Where to write; - prints JSON.")
@analysis_options
@display_options
@paper_option
@anonymous_option("names of pilots and files")
@force_option("files that are no comparison of the same task")
@quiet_option
@debug_option
def compare_command(
    logs: tuple[str, ...],
    task_file: str,
    radius_m: float | None,
    against: str | None,
    tolerance: str,
    wants_points: bool,
    formats: list[str],
    out: str,
    asked: Asked,
    display: Display,
    paper: str,
    anonymous: bool,
    force: bool,
    quiet: bool,
    debug: bool,
) -> int:
    """Compare pilots on one task: who reached what and when, leg by leg, and where the time went.

    Example: flightlog compare --task sample_tracks/task-day/task.toml sample_tracks/task-day
    """
    json_for_output(formats, out)

    from flightlog.commands.running import Job
    from flightlog.comparing.comparing import compare_pilots, with_points
    from flightlog.comparing.task_files import read_task

    task = read_task(task_file, radius_m=radius_m)
    job = Job.from_files(logs, asked, anonymous=anonymous, quiet=quiet)
    tally = Tally(debug=debug)
    zones = Zones(display)
    pilots = _pilots(job, tally, Path(task_file), zones)
    first = next(pilots, None)
    if first is None:
        return tally.status
    comparison = compare_pilots(task, chain([first], pilots), tolerance=tolerance, against=against)
    if wants_points or task.points:
        comparison = with_points(comparison, task)
    return _deliver(comparison, formats, out, zones.shared, tally, paper=paper, force=force)


class Zones:
    """The clocks of the logs, gathered while they pass by."""

    def __init__(self, asked: Display) -> None:
        self._asked = asked
        self._found: list[Display] = []

    def see(self, debrief: Debrief) -> None:
        """Note the clock of one more log."""
        from flightlog.writers.zones import settled

        self._found.append(settled(debrief, self._asked))

    @property
    def shared(self) -> Display:
        """One clock for all of them."""
        from flightlog.writers.zones import zone_shared_by

        return zone_shared_by(self._found, self._asked)


def _pilots(job: Job, tally: Tally, task_file: Path, zones: Zones) -> Iterator[Debrief]:
    """The debrief of every log but the task's own file, which may lie in the same folder."""
    from flightlog.commands.running import debriefs

    for number, (source, debrief) in enumerate(debriefs(job, tally), start=1):
        if source.file and Path(source.file).resolve() == task_file.resolve() and not debrief.flights:
            continue
        tally.done += 1
        zones.see(debrief)
        yield numbered(debrief, number) if job.anonymous else debrief


def numbered(debrief: Debrief, number: int) -> Debrief:
    """The debrief under a number instead of the pilot's name."""
    return replace(debrief, log=replace(debrief.log, pilot=f"Pilot {number}"))


def _deliver(
    comparison: Comparison,
    formats: list[str],
    out: str,
    display: Display,
    tally: Tally,
    *,
    paper: str,
    force: bool,
) -> int:
    """Print or write the comparison; gives the exit status."""
    from flightlog.errors import one_line
    from flightlog.writers.compare_json import compare_json
    from flightlog.writers.comparisons import write_comparison

    for problem in comparison.problems:
        click.echo(one_line(f"{problem.file}: {problem.message}"), err=True)
    if out == "-":
        click.echo(compare_json(comparison))
        return tally.status

    def write(ending: str) -> Path:
        return write_comparison(comparison, Path(out), ending, display=display, paper=paper, force=force)

    return write_each(formats, write, tally)
