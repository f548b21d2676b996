"""The reports of one log, as a worker process writes them; and whether those of an earlier run will do."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from flightlog.batch import Recipe, debrief_one, unexpected
from flightlog.errors import FlightlogError, TrackFileError
from flightlog.tracks.sources import LogSource
from flightlog.writers.anonymous import without_names
from flightlog.writers.display import Display
from flightlog.writers.files import safe_stem, write_html, write_json, write_pdf
from flightlog.writers.index_rows import log_row
from flightlog.writers.manifest import Entry, options_digest, still_stands, written_file

if TYPE_CHECKING:
    from flightlog.debriefing import Debrief

LATE_IMPORTS = {
    "json": ("flightlog.writers.json_results",),
    "html": ("flightlog.writers.page", "flightlog.writers.html_page"),
    "pdf": (
        "flightlog.writers.page",
        "flightlog.writers.pdf_pages",
        "flightlog.writers.svg_charts",
        "flightlog.writers.svg_maps",
        "typst",
    ),
}
"""Format -> what writing it imports, when the first report is written."""


@dataclass(frozen=True)
class ReportPlan:
    """What to write of every log, and where."""

    formats: tuple[str, ...]
    folder: Path
    display: Display
    paper: str = "a4"
    anonymous: bool = False
    force: bool = False
    made_with: str = ""  # digest of the program and of all options that change a report

    @property
    def modules(self) -> tuple[str, ...]:
        """What the work imports, the reading of logs and their analysis aside."""
        late = (module for name in self.formats for module in LATE_IMPORTS[name])
        return (__name__, "flightlog.writers.zones", "tzfpy", "flightlog.writers.page_tables", *late)

    def marked(self, recipe: Recipe, columns: str | None = None) -> ReportPlan:
        """The plan with that digest; `columns` is what tables were said to hold."""
        options = (recipe, self.display, self.paper, self.anonymous, columns)
        return replace(self, made_with=options_digest(*options))


@dataclass(frozen=True)
class PlannedLog:
    """One log of a batch: the name its reports get, and what was written of it before."""

    source: LogSource
    stem: str
    known: Entry | None

    @property
    def path(self) -> str:
        """The log's name for messages."""
        return self.source.path


@dataclass(frozen=True)
class Done:
    """The reports of one log."""

    stem: str
    entry: Entry
    flights: int
    files: tuple[Path, ...]


def up_to_date(log: PlannedLog, plan: ReportPlan) -> Done | None:
    """What was written of a log, where nothing has changed since: neither log nor flightlog nor what was asked."""
    known = log.known
    if known is None or plan.force or known.made_with != plan.made_with:
        return None
    files = _files(log, plan)
    if not all(_still_stands(plan, log, path) for path in files) or _digest(log.source) != known.sha256:
        return None
    return Done(log.stem, known, len(known.row.flights), files)


def report_log(log: PlannedLog, recipe: Recipe, *, plan: ReportPlan) -> Done | FlightlogError:
    """Write the reports of one log, or say what stood in the way."""
    try:
        return _report(log, recipe, plan)
    except FlightlogError as error:
        return error
    except Exception as error:  # the last resort, as in flightlog.batch
        return unexpected(log.source, error)


def document_of_log(source: LogSource, recipe: Recipe, *, anonymous: bool = False) -> bytes | FlightlogError:
    """The results of one log as JSON, or what stood in the way."""
    from flightlog.writers.json_results import debrief_json

    try:
        outcome = debrief_one(source, recipe)
        if isinstance(outcome, FlightlogError):
            return outcome
        return debrief_json(without_names(outcome) if anonymous else outcome)
    except Exception as error:  # the last resort, as in flightlog.batch
        return unexpected(source, error)


def _report(log: PlannedLog, recipe: Recipe, plan: ReportPlan) -> Done | FlightlogError:
    """As `report_log`."""
    outcome = debrief_one(log.source, recipe)
    if isinstance(outcome, FlightlogError):
        return outcome
    made = (outcome.log.sha256, plan.made_with)
    debrief = without_names(outcome) if plan.anonymous else outcome
    files = _files(log, plan)
    for path in files:
        _write(debrief, path, plan, may_replace=_is_ours(plan, log, path))
    known = log.known
    older = known.files if known and (known.sha256, known.made_with) == made else {}  # those in other formats
    written = {path.suffix[1:]: found for path in files if (found := written_file(path))}
    source = "" if plan.anonymous else log.path
    entry = Entry(source, *made, older | written, log_row(debrief, plan.display))
    return Done(log.stem, entry, len(debrief.flights), files)


def _files(log: PlannedLog, plan: ReportPlan) -> tuple[Path, ...]:
    """The reports of a log."""
    return tuple(plan.folder / f"{log.stem}.{ending}" for ending in plan.formats)


def _still_stands(plan: ReportPlan, log: PlannedLog, path: Path) -> bool:
    """Whether a report is there as it was written."""
    return log.known is not None and still_stands(plan.folder, log.stem, log.known, path.suffix[1:])


def _is_ours(plan: ReportPlan, log: PlannedLog, path: Path) -> bool:
    """Whether the file there is the untouched report of an earlier state of the same log."""
    return log.known is not None and log.known.source == log.path and _still_stands(plan, log, path)


def _write(debrief: Debrief, path: Path, plan: ReportPlan, *, may_replace: bool) -> None:
    """One report, in the format that its ending names."""
    force = plan.force or may_replace
    if path.suffix == ".json":
        write_json(debrief, path, force=force)
    elif path.suffix == ".pdf":
        write_pdf(debrief, path, display=plan.display, paper=plan.paper, force=force)
    else:
        write_html(debrief, path, display=plan.display, force=force)


def stems_for(sources: Sequence[LogSource], *, anonymous: bool) -> list[str]:
    """A file name for the reports of every log, the same in every run with the same logs.

    The first log of a name has the name alone; the digest of a later one follows it. Anonymous names are made of
    the digest.
    """
    given = {"index"}  # the list of reports
    stems = []
    for source in sources:
        plain = "log" if anonymous else safe_stem(source.name)
        if not anonymous and plain.casefold() not in given:
            stem = plain
        else:
            stem = marked = f"{plain}-{_digest(source)[:8]}"
            number = 1
            while stem.casefold() in given:
                number += 1
                stem = f"{marked}-{number}"
        given.add(stem.casefold())
        stems.append(stem)
    return stems


def _digest(source: LogSource) -> str:
    """The digest of a log; zeros where it cannot be read, which is said when its turn comes."""
    try:
        return hashlib.sha256(source.read()).hexdigest()
    except TrackFileError:
        return "0" * 64
