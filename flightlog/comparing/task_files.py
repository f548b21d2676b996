"""Which kind of task file? Its content decides: GPX routes, IGC declarations, else TOML."""

from __future__ import annotations

import re
from pathlib import Path

from flightlog.errors import TaskFileError, TrackFileError
from flightlog.tasks.point_tasks import DEFAULT_RADIUS_M, task_from_points
from flightlog.tasks.task import Task
from flightlog.tasks.toml_tasks import parse_toml_task
from flightlog.tracks.gpx_routes import RoutePoint, read_gpx_route, read_igc_declaration
from flightlog.tracks.kinds import is_gpx, is_igc

_TOML = re.compile(rb"^\s*(?:\[\[\s*cylinder|cylinder\s*=|(?:name|kind)\s*=)", re.MULTILINE)
MOST_BYTES = 30_000_000
"""A log with a declaration may be the task; larger ones are passed over."""


def read_task(path: str | Path, *, radius_m: float | None = None) -> Task:
    """The task of a file: TOML, a GPX route, or the declaration (C records) of an IGC file.

    Parameters
    ----------
    path : path
        The file; its content decides how it is read.
    radius_m : float, optional
        Of every cylinder of a route or a declaration, which hold none; 400 without it. Not for TOML.

    Raises
    ------
    TaskFileError
        A file that cannot be read, or a task that nobody could fly; the message is one line with the line of the
        file.
    """
    data = _bytes_of(Path(path))
    head = data[:65536]
    points: tuple[RoutePoint, ...]
    try:
        if _TOML.search(head):
            if radius_m is not None:
                raise TaskFileError("--radius is for routes and declarations", "a TOML task names its own", path)
            return parse_toml_task(data, path)
        if is_gpx(head):
            kind = "no route with points in this GPX file"
            name, points = read_gpx_route(data, Path(path).name)
        elif is_igc(head) or head.lstrip().startswith(b"C"):
            kind = "no task declared in this IGC file"
            name, points = read_igc_declaration(data, Path(path).name)
        else:
            return parse_toml_task(data, path)  # which says what is wrong with it
    except TrackFileError as error:
        raise TaskFileError(error.found, error.advice, path, error.line) from error
    if not points:
        raise TaskFileError(kind, "write the task as TOML, or save it with its points", path)
    return task_from_points(
        name,
        [(point.name, point.lat_deg, point.lon_deg) for point in points],
        [point.line for point in points],
        path,
        DEFAULT_RADIUS_M if radius_m is None else radius_m,
    )


def _bytes_of(path: Path) -> bytes:
    """The bytes of a file, not too many."""
    try:
        with path.open("rb") as file:
            data = file.read(MOST_BYTES + 1)
    except OSError as error:
        raise TaskFileError(f"cannot be read ({error.strerror})", "check its name and rights", path) from error
    if len(data) > MOST_BYTES:
        raise TaskFileError(f"larger than {MOST_BYTES} bytes", "no task is; is it the right file?", path)
    return data
