"""Charts of a comparison: all tracks on one map, who led when, heights along the course, bars of seconds."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from flightlog.arrays import Floats
from flightlog.comparing.results import PARTS, Comparison, Difference, PilotCourse, SharedThermal, TaskCylinder
from flightlog.earth.geodesy import LocalPlane
from flightlog.writers.chart_data import clock_ticks
from flightlog.writers.chart_styles import MOST_PILOTS
from flightlog.writers.compare_tables import PART_LABELS
from flightlog.writers.display import MINUS, Display
from flightlog.writers.page_parts import Chart, Panel, Series

CIRCLE_POINTS = 72
LONGEST_LABEL = 18
BARS_BESIDE = 3
"""Pilots whose bars stand side by side in one chart."""
MOST_BAR_CHARTS = 4


def shown_courses(comparison: Comparison) -> list[tuple[str, PilotCourse]]:
    """The pilots drawn, the first by rank, each with the kind of its line."""
    courses = [course for course in comparison.courses if course.time_s.size > 1]
    return [(f"pilot_{number}", course) for number, course in enumerate(courses[:MOST_PILOTS], start=1)]


def who_is_drawn(comparison: Comparison) -> str:
    """A remark where not all pilots fit into one chart."""
    count = len(comparison.courses)
    return "" if count <= MOST_PILOTS else f" The first {MOST_PILOTS} of {count} pilots by rank are drawn."


def map_chart(comparison: Comparison, show: Display) -> Chart:
    """All tracks, the cylinders and the shortest route, north up."""
    task = comparison.task
    plane = LocalPlane(task.cylinders[0].lat_deg, task.cylinders[0].lon_deg)
    series = [
        _line(plane, course.lat_deg, course.lon_deg, kind, course.name, show)
        for kind, course in shown_courses(comparison)
    ]
    for number, cylinder in enumerate(task.cylinders):
        label = "cylinders" if number == 0 else ""
        lat, lon = goal_line(comparison) if cylinder.line else circle_points(cylinder)
        line = _line(plane, lat, lon, "limit", label, show)
        tag = cylinder.name if len(cylinder.name) <= LONGEST_LABEL else cylinder.name[: LONGEST_LABEL - 1] + "…"
        series.append(Series(line.x, line.y, line.kind, line.label, tag))
    lat = np.array([point.lat_deg for point in task.route])
    lon = np.array([point.lon_deg for point in task.route])
    series.append(_line(plane, lat, lon, "line", "shortest route", show))
    panel = Panel(show.unit("distance"), "", tuple(series), has_equal_scales=True, is_map=True)
    described = (
        f"The tracks of the pilots from above, north up, with the cylinders of the task and its shortest route of "
        f"{show.with_unit(task.distance_m, 'distance')}.{who_is_drawn(comparison)}"
    )
    return Chart("compare-map", "All tracks", described, "one", (panel,), is_wide=True)


def _line(plane: LocalPlane, lat: Floats, lon: Floats, kind: str, label: str, show: Display) -> Series:
    """A line on the map."""
    east, north = plane.to_plane(lat, lon)
    scale = show.converted(1.0, "distance")
    return Series(tuple((east * scale).tolist()), tuple((north * scale).tolist()), kind, label)


def circle_points(cylinder: TaskCylinder) -> tuple[Floats, Floats]:
    """Points round a cylinder, from its northern end."""
    own = LocalPlane(cylinder.lat_deg, cylinder.lon_deg)
    angle = np.linspace(0.0, 2.0 * math.pi, CIRCLE_POINTS + 1)
    return own.to_degrees(cylinder.radius_m * np.sin(angle), cylinder.radius_m * np.cos(angle))


def goal_line(comparison: Comparison) -> tuple[Floats, Floats]:
    """The ends of a goal line, square to the last leg."""
    goal = comparison.task.cylinders[-1]
    own = LocalPlane(goal.lat_deg, goal.lon_deg)
    for before in reversed(comparison.task.cylinders[:-1]):
        east, north = (float(value) for value in own.to_plane(before.lat_deg, before.lon_deg))
        away = math.hypot(east, north)
        if away >= 1.0:
            ends = np.array([-1.0, 1.0]) * goal.radius_m / away
            return own.to_degrees(ends * north, -ends * east)
    return np.array([goal.lat_deg]), np.array([goal.lon_deg])


def lead_chart(comparison: Comparison, show: Display) -> Chart | None:
    """Shortest way left to goal against time: the lowest line leads."""
    courses = shown_courses(comparison)
    begins = [pilot.started.timestamp() for pilot in comparison.pilots if pilot.started]
    if not courses or not begins:
        return None
    start_s = min(begins) - 300.0
    end_s = max(_until(course) for _, course in courses)
    scale = show.converted(1.0, "distance")
    series = []
    for kind, course in courses:
        chosen = (course.time_s >= start_s) & (course.time_s <= end_s)
        series.append(
            Series(
                tuple(course.time_s[chosen].tolist()),
                tuple((course.to_goal_m[chosen] * scale).tolist()),
                kind,
                course.name,
            )
        )
    panel = Panel(
        f"time ({show.zone_name})",
        f"shortest way to goal ({show.unit('distance')})",
        tuple(series),
        clock=clock_ticks(start_s, end_s, show),
    )
    described = (
        "The shortest way left to goal against time; whose line is lowest leads. A flat line is a climb, a search "
        f"or a way that brought nothing.{who_is_drawn(comparison)}"
    )
    return Chart("compare-lead", "Who led when", described, "one", (panel,), is_wide=True)


def _until(course: PilotCourse) -> float:
    """When a pilot got no nearer to goal any more, and half a minute."""
    least = float(np.nanmin(course.to_goal_m))
    return float(course.time_s[int(np.argmax(course.to_goal_m <= least + 1.0))]) + 30.0


def height_chart(comparison: Comparison, show: Display) -> Chart | None:
    """Altitude against the way made good along the course."""
    courses = shown_courses(comparison)
    if not courses:
        return None
    whole_m = comparison.task.distance_m
    series = []
    for kind, course in courses:
        started = course.to_goal_m < whole_m - 1.0
        chosen = started & (course.time_s <= _until(course))
        along = (whole_m - course.to_goal_m[chosen]) * show.converted(1.0, "distance")
        heights = course.altitude_m[chosen] * show.converted(1.0, "height")
        series.append(Series(tuple(along.tolist()), tuple(heights.tolist()), kind, course.name))
    panel = Panel(
        f"way made good along the course ({show.unit('distance')})",
        f"altitude ({show.unit('height')})",
        tuple(series),
    )
    described = (
        "Altitude of every pilot against the way made good along the shortest route: an upright piece is a climb, "
        f"a slope a glide.{who_is_drawn(comparison)}"
    )
    return Chart("compare-heights", "Height along the course", described, "one", (panel,), is_wide=True)


def difference_charts(differences: Sequence[Difference]) -> tuple[Chart, ...]:
    """Bars of the seconds lost and gained, three pilots a chart."""
    charts = []
    for number in range(0, min(len(differences), BARS_BESIDE * MOST_BAR_CHARTS), BARS_BESIDE):
        group = differences[number : number + BARS_BESIDE]
        reach = max(abs(getattr(one.parts, name)) for one in group for name in PARTS)
        panels = tuple(_bars(one, max(reach, 1.0)) for one in group)
        names = ", ".join(f"{one.pilot} {one.total_s:+.0f} s" for one in group).replace("-", MINUS)
        described = (
            f"Seconds lost (to the right) and gained (to the left) against {group[0].against}, by what they went "
            f"into: {names}. The same figures stand in the table."
        )
        title = f"Where the time went, against {group[0].against}"
        name = f"compare-difference-{number // BARS_BESIDE + 1}"
        charts.append(Chart(name, title, described, "beside", panels, is_wide=True))
    return tuple(charts)


def _bars(one: Difference, reach: float) -> Panel:
    """One pilot's bars, a row a part and the sum below."""
    rows = [*((PART_LABELS[name], float(getattr(one.parts, name))) for name in PARTS), ("Sum", one.total_s)]
    bars = tuple(
        Series((0.0, value), (float(level),) * 2, "lost" if value > 0 else "gained")
        for level, (_, value) in enumerate(rows)
        if abs(value) >= 0.002 * reach
    )
    return Panel(
        f"{one.pilot[:LONGEST_LABEL]} (s)",
        "",
        bars,
        rows=tuple((float(level), label) for level, (label, _) in enumerate(rows)),
    )


def thermal_chart(comparison: Comparison, thermal: SharedThermal, show: Display) -> Chart:
    """One thermal: the altitude of everybody against the time since each came into it."""
    kinds = {course.name: (kind, course) for kind, course in shown_courses(comparison)}
    series = []
    for use in thermal.uses:
        if use.pilot not in kinds:
            continue
        kind, course = kinds[use.pilot]
        start_s, end_s = use.start.timestamp(), use.end.timestamp()
        chosen = (course.time_s >= start_s) & (course.time_s <= end_s)
        minutes = (course.time_s[chosen] - start_s) / 60.0
        heights = course.altitude_m[chosen] * show.converted(1.0, "height")
        label = f"{use.pilot}, {show.clock(use.start)[:5]}"
        series.append(Series(tuple(minutes.tolist()), tuple(heights.tolist()), kind, label))
    panel = Panel("minutes since the begin of the climb", f"altitude ({show.unit('height')})", tuple(series))
    described = (
        f"Altitude against the time since each pilot began to climb in thermal {thermal.number}: the steeper, the "
        "better the climb. The figures stand in the table."
    )
    return Chart(f"compare-thermal-{thermal.number}", f"Thermal {thermal.number}", described, "one", (panel,))
