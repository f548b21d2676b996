"""A log as it goes into the logbook: debriefed, its results as JSON, dated by the clock of its place."""

from __future__ import annotations

from dataclasses import replace

from flightlog import __version__
from flightlog.batch import Recipe, debrief_one, unexpected
from flightlog.debriefing import Debrief
from flightlog.errors import FlightlogError, TrackFileError
from flightlog.logbook.entries import LogEntry, flight_entries
from flightlog.logbook.packing import packed_log, packed_text
from flightlog.logbook.recipes import analysis_digest, kept_recipe, recipe_bytes
from flightlog.logbook.renewing import KeptLog
from flightlog.tracks.archives import is_gzip
from flightlog.tracks.reading import LogSource
from flightlog.writers.display import Display
from flightlog.writers.json_results import debrief_json
from flightlog.writers.zones import settled


def entry_of_log(source: LogSource, recipe: Recipe) -> LogEntry | FlightlogError:
    """What a log brings to the logbook, as a worker makes it; or what stood in the way."""
    try:
        data = source.read()
        if is_gzip(data):
            return TrackFileError("an archive inside an archive", "unpack the outer one first", source.path)
    except FlightlogError as error:
        return error
    outcome = debrief_one(replace(source, file="", member=None, data=data), recipe)
    if isinstance(outcome, FlightlogError):
        return outcome
    try:
        return _entry(outcome, data, recipe_bytes(kept_recipe(recipe, source.columns)))
    except Exception as error:  # the last resort, as in flightlog.batch
        return unexpected(source, error)


def entry_of_kept_log(kept: KeptLog, recipe: Recipe) -> LogEntry | FlightlogError:
    """The same of a log that the logbook keeps, by its own recipe."""
    del recipe
    return entry_of_log(kept.source, kept.recipe.recipe)


def analysis_version() -> str:
    """What makes a result now: the version of flightlog and a digest of its analysis."""
    return f"{__version__}+{analysis_digest()}"


def _entry(debrief: Debrief, data: bytes, recipe: bytes) -> LogEntry:
    """The entry of a debriefed log."""
    show = settled(debrief, Display(follows_log=True))
    result = debrief_json(debrief)
    return LogEntry(
        sha256=debrief.log.sha256,
        name=debrief.log.file,
        date=debrief.log.date,
        original=packed_log(data),
        original_bytes=len(data),
        result=packed_text(result),
        result_bytes=len(result),
        analysis=analysis_version(),
        recipe=recipe,
        flights=flight_entries(debrief, show.zone, show.zone_name),
    )
