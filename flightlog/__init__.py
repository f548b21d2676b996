"""flightlog: from the track log of a soaring day to numbers a pilot can trust."""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

__version__ = "0.1.0"

if TYPE_CHECKING:
    from flightlog.batch import debrief_logs as debrief_logs
    from flightlog.comparing.comparing import compare_pilots as compare_pilots
    from flightlog.comparing.results import Comparison as Comparison
    from flightlog.comparing.task_files import read_task as read_task
    from flightlog.debriefing import Debrief as Debrief
    from flightlog.debriefing import debrief as debrief
    from flightlog.distances.best import best_distances as best_distances
    from flightlog.errors import FlightlogError as FlightlogError
    from flightlog.errors import Note as Note
    from flightlog.estimates import Estimate as Estimate
    from flightlog.estimates import Wind as Wind
    from flightlog.gliding.pooling import glide_log as glide_log
    from flightlog.gliding.pooling import pool_gliding as pool_gliding
    from flightlog.logbook.opening import open_book as open_book
    from flightlog.logbook.reading import booked_logs as booked_logs
    from flightlog.measures.results import Flight as Flight
    from flightlog.places import Place as Place
    from flightlog.places import read_places as read_places
    from flightlog.settings import Settings as Settings
    from flightlog.settings import settings_for as settings_for
    from flightlog.tasks.task import Task as Task
    from flightlog.tracks.reading import read_track as read_track
    from flightlog.tracks.track import Track as Track
    from flightlog.wings import Wing as Wing
    from flightlog.wings import read_wing as read_wing
    from flightlog.writers.files import write_html as write_html
    from flightlog.writers.files import write_json as write_json
    from flightlog.writers.files import write_pdf as write_pdf
    from flightlog.writers.open_formats.converting import write_track as write_track

_HOMES = {
    "read_track": "flightlog.tracks.reading",
    "debrief": "flightlog.debriefing",
    "Debrief": "flightlog.debriefing",
    "debrief_logs": "flightlog.batch",
    "best_distances": "flightlog.distances.best",
    "read_task": "flightlog.comparing.task_files",
    "compare_pilots": "flightlog.comparing.comparing",
    "Comparison": "flightlog.comparing.results",
    "glide_log": "flightlog.gliding.pooling",
    "pool_gliding": "flightlog.gliding.pooling",
    "open_book": "flightlog.logbook.opening",
    "booked_logs": "flightlog.logbook.reading",
    "read_places": "flightlog.places",
    "read_wing": "flightlog.wings",
    "write_html": "flightlog.writers.files",
    "write_json": "flightlog.writers.files",
    "write_pdf": "flightlog.writers.files",
    "write_track": "flightlog.writers.open_formats.converting",
    "settings_for": "flightlog.settings",
    "Settings": "flightlog.settings",
    "Task": "flightlog.tasks.task",
    "Track": "flightlog.tracks.track",
    "Flight": "flightlog.measures.results",
    "Estimate": "flightlog.estimates",
    "Wind": "flightlog.estimates",
    "Place": "flightlog.places",
    "Wing": "flightlog.wings",
    "Note": "flightlog.errors",
    "FlightlogError": "flightlog.errors",
}
"""Public name -> the module it lives in; loaded when first asked for, so that `import flightlog` costs nothing."""

__all__ = [*_HOMES, "__version__"]


def __getattr__(name: str) -> Any:
    """Load a public name on first use (PEP 562)."""
    if name not in _HOMES:
        raise AttributeError(f"module 'flightlog' has no attribute {name!r}")
    value = getattr(import_module(_HOMES[name]), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    """Every public name, loaded or not."""
    return sorted(__all__)
