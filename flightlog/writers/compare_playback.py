"""The race played back: where every pilot was at a moment, by the clock or counted from each one's start."""

from __future__ import annotations

import base64
import hashlib
import math
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cache
from pathlib import Path

import numpy as np

from flightlog.arrays import Floats
from flightlog.comparing.results import Comparison, PilotCourse
from flightlog.earth.geodesy import LocalPlane
from flightlog.writers.chart_styles import LINES
from flightlog.writers.compare_charts import circle_points, goal_line, shown_courses
from flightlog.writers.display import Display

SHORTEST_STEP_S = 5.0
MOST_SAMPLES = 1200
"""Of one pilot: keeps the page small; between samples the dot goes straight on."""


@dataclass(frozen=True)
class PlayedTrack:
    """One pilot's way in display units, in samples `step_s` apart from `first_s` after the start of the play-back.

    `start_s` is when the start that counts was crossed, None without one. A height is None where it is not known.
    """

    name: str
    kind: str  # of its line
    colour: str
    shape: str
    first_s: float
    step_s: float
    start_s: float | None
    x: tuple[float, ...]
    y: tuple[float, ...]
    altitude: tuple[float | None, ...]
    to_goal: tuple[float, ...]


@dataclass(frozen=True)
class Playback:
    """What the play-back needs: tracks, cylinders as outlines, units, the local time of its first second."""

    tracks: tuple[PlayedTrack, ...]
    outlines: tuple[tuple[tuple[float, ...], tuple[float, ...]], ...]
    clock_s: float  # local seconds of the day at the start of the play-back
    length_s: float
    distance_unit: str
    height_unit: str
    zone: str


def playback_of(comparison: Comparison, show: Display) -> Playback | None:
    """The play-back of a comparison; None where nobody's way is known."""
    courses = shown_courses(comparison)
    if not courses:
        return None
    first_s = min(float(course.time_s[0]) for _, course in courses)
    last_s = max(float(course.time_s[-1]) for _, course in courses)
    starts = {pilot.name: pilot.started.timestamp() for pilot in comparison.pilots if pilot.started}
    origin = comparison.task.cylinders[0]
    plane = LocalPlane(origin.lat_deg, origin.lon_deg)
    tracks = []
    for kind, course in courses:
        start_s = starts.get(course.name)
        after_s = None if start_s is None else round(start_s - first_s, 1)
        tracks.append(_track(course, kind, first_s, after_s, plane, show))
    scale = show.converted(1.0, "distance")
    outlines = []
    for cylinder in comparison.task.cylinders:
        lat, lon = goal_line(comparison) if cylinder.line else circle_points(cylinder)
        east, north = plane.to_plane(lat, lon)
        outlines.append((_rounded(east * scale, 3), _rounded(north * scale, 3)))
    local = datetime.fromtimestamp(first_s, tz=UTC).astimezone(show.zone)
    return Playback(
        tracks=tuple(tracks),
        outlines=tuple(outlines),
        clock_s=local.hour * 3600.0 + local.minute * 60.0 + local.second,
        length_s=math.ceil(last_s - first_s),
        distance_unit=show.unit("distance"),
        height_unit=show.unit("height"),
        zone=show.zone_name,
    )


def _track(
    course: PilotCourse, kind: str, first_s: float, start_s: float | None, plane: LocalPlane, show: Display
) -> PlayedTrack:
    """One pilot, in samples of equal spacing."""
    span_s = float(course.time_s[-1] - course.time_s[0])
    step_s = max(SHORTEST_STEP_S, math.ceil(span_s / MOST_SAMPLES))
    moments = course.time_s[0] + np.arange(int(span_s // step_s) + 1) * step_s
    east, north = plane.to_plane(course.lat_deg, course.lon_deg)
    scale = show.converted(1.0, "distance")

    def at(values: Floats) -> Floats:
        found: Floats = np.interp(moments, course.time_s, values)
        return found

    altitude = at(course.altitude_m) * show.converted(1.0, "height")
    return PlayedTrack(
        name=course.name,
        kind=kind,
        colour=f"var({LINES[kind].colour})",
        shape=LINES[kind].shape,
        first_s=round(float(course.time_s[0]) - first_s, 1),
        step_s=float(step_s),
        start_s=start_s,
        x=_rounded(at(east) * scale, 3),
        y=_rounded(at(north) * scale, 3),
        altitude=tuple(round(value) if math.isfinite(value) else None for value in altitude.tolist()),
        to_goal=_rounded(at(course.to_goal_m) * scale, 2),
    )


def _rounded(values: Floats, decimals: int) -> tuple[float, ...]:
    """Plain numbers with so many decimals."""
    return tuple(np.round(values, decimals).tolist())


@cache
def playback_script() -> str:
    """The script that plays."""
    return (Path(__file__).parent / "compare_playback.js").read_text(encoding="utf-8")


@cache
def script_digest() -> str:
    """Its digest for the content policy of the page: no other script may run there."""
    return base64.b64encode(hashlib.sha256(playback_script().encode()).digest()).decode()
