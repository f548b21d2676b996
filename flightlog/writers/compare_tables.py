"""Tables of a comparison: results, crossings, legs, differences, thermals, in the reader's units."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from flightlog.comparing.points import TaskPoints
from flightlog.comparing.results import (
    PARTS,
    Comparison,
    Difference,
    LegResult,
    PilotResult,
    SharedThermal,
)
from flightlog.writers.display import MINUS, UNKNOWN, Display, duration
from flightlog.writers.page_parts import Column, Table

PART_LABELS = {
    "start": "Start",
    "detour": "Detour",
    "glide_speed": "Glide speed",
    "glide_ratio": "Glide ratio",
    "climbing": "Climbing",
    "searching": "Searching",
    "height": "Height",
}
PART_MEANINGS = (
    "Start: from the gate to the own start. Detour: way flown in gliding. Glide speed: its speed over the ground. "
    "Glide ratio: height lost for that way.",
    "Climbing: mean rate of climb. Searching: time that was neither climb nor glide. Height: height brought to a "
    "leg, left at its end, or gained without climbing.",
    "Each part is the mean change of the time when that one thing is switched from one pilot's to the other's, "
    "over all orders of switching (Shapley 1953): the parts add up exactly. ± is one "
    "standard deviation; errors of the parts trade off against each other: the sum is surer than any of them.",
)
ROLES = {
    "launch": "launch",
    "start": "start",
    "turnpoint": "turnpoint",
    "speed_end": "end of speed",
    "goal": "goal",
}


def results_table(comparison: Comparison, show: Display) -> Table:
    """Who came how far, and when."""
    section_m = comparison.task.speed_section_m
    rows = []
    for pilot in comparison.pilots:
        speed = section_m / pilot.task_time_s if pilot.task_time_s else None
        rows.append((
            str(pilot.rank),
            pilot.name,
            show.figure(pilot.distance_m, "distance"),
            str(pilot.reached),
            clock(pilot.started, show),
            clock(pilot.gate, show),
            clock(pilot.speed_end, show),
            clock(pilot.goal, show),
            duration(pilot.task_time_s),
            show.figure(speed, "speed"),
        ))  # fmt: skip
    columns = (
        Column("Rank"), Column("Pilot", "", True), Column("Distance", show.unit("distance")), Column("Cylinders"),
        Column("Start"), Column("Gate"), Column("End of speed"), Column("Goal"), Column("Time"),
        Column("Speed", show.unit("speed")),
    )  # fmt: skip
    return Table("Ranks", columns, tuple(rows))


def clock(moment: datetime | None, show: Display) -> str:
    """Time of day, or a dash."""
    return UNKNOWN if moment is None else show.clock(moment)


def task_table(comparison: Comparison, show: Display) -> Table:
    """The cylinders of the task."""
    rows = tuple(
        (
            str(number),
            one.name,
            "goal line" if one.line else ROLES[one.role],
            "" if one.line else one.direction,
            show.figure(one.radius_m, "length"),
            show.figure(one.to_here_m, "distance"),
        )
        for number, one in enumerate(comparison.task.cylinders, start=1)
    )
    columns = (
        Column("Number"), Column("Name", "", True), Column("Role", "", True), Column("Reached by", "", True),
        Column("Radius", show.unit("length")), Column("Shortest way to it", show.unit("distance")),
    )  # fmt: skip
    remarks = (
        f"Tolerance: {comparison.task.tolerance}. Distances are on the WGS 84 ellipsoid, from the centre of the "
        "first cylinder.",
    )
    return Table("The task", columns, rows, remarks)


def crossings_table(comparison: Comparison, show: Display) -> Table:
    """When and how high every pilot reached each cylinder."""
    names = [one.name for one in comparison.task.cylinders if one.role != "launch"]
    rows = []
    for pilot in comparison.pilots:
        cells = [
            f"{show.clock(one.time)}{' *' if one.in_band else ''}, {show.with_unit(one.altitude_m, 'height')}"
            for one in pilot.crossings
        ]
        rows.append((pilot.name, *cells, *[UNKNOWN] * (len(names) - len(cells))))
    remarks: tuple[str, ...] = ("Times are on the true boundary, between two fixes.",)
    if any(one.in_band for pilot in comparison.pilots for one in pilot.crossings):
        remarks += ("* reached within the tolerance only.",)
    columns = (Column("Pilot", "", True), *(Column(name) for name in names))
    return Table("Times and heights at the cylinders", columns, tuple(rows), remarks)


def leg_tables(comparison: Comparison, show: Display) -> tuple[Table, ...]:
    """All legs together, then each leg, with every pilot who finished it."""
    names = [one.name for one in comparison.task.cylinders if one.role != "launch"]
    together = [(pilot, pilot.total) for pilot in comparison.pilots if pilot.total is not None]
    tables = [_legs_table("All legs, as far as each pilot came", together, show)] if together else []
    for number in range(len(names) - 1):
        flown = [(pilot, pilot.legs[number]) for pilot in comparison.pilots if len(pilot.legs) > number]
        if flown:
            tables.append(_legs_table(f"Leg {number + 1}: {names[number]} to {names[number + 1]}", flown, show))
    return tuple(tables)


def _legs_table(title: str, flown: Sequence[tuple[PilotResult, LegResult]], show: Display) -> Table:
    """One leg side by side."""
    columns = (
        Column("Pilot", "", True), Column("Time"), Column("Climbing"), Column("Gliding"), Column("Searching"),
        Column("Mean climb", show.unit("vertical")), Column("Glide speed", show.unit("speed")),
        Column("Ratio over ground"), Column("through the air"), Column("Flown", show.unit("distance")),
        Column("Shortest", show.unit("distance")), Column("Height at start", show.unit("height")),
        Column("at end", show.unit("height")), Column("Wind from", "°"), Column("Wind", show.unit("speed")),
    )  # fmt: skip
    rows = tuple(
        (
            pilot.name,
            duration(leg.time_s),
            duration(leg.climb_time_s),
            duration(leg.glide_time_s),
            duration(leg.search_time_s),
            show.figure(leg.mean_climb_mps, "vertical"),
            show.figure(leg.glide_speed_mps, "speed"),
            show.figure(leg.glide_ratio_ground, "ratio"),
            show.figure(leg.glide_ratio_air, "ratio"),
            show.figure(leg.flown_m, "distance"),
            show.figure(leg.shortest_m, "distance"),
            show.figure(leg.start_altitude_m, "height"),
            show.figure(leg.end_altitude_m, "height"),
            UNKNOWN if leg.wind_from_deg is None else f"{round(leg.wind_from_deg) % 360:03d}",
            show.figure(leg.wind_speed_mps, "speed"),
        )
        for pilot, leg in flown
    )
    return Table(title, columns, rows)


def differences_table(differences: Sequence[Difference], show: Display) -> Table:
    """Seconds lost and gained by everybody, by part."""
    del show
    columns = (
        Column("Pilot", "", True), Column("Compared to", "", True), Column("Difference", "s"),
        *(Column(PART_LABELS[name], "s") for name in PARTS),
    )  # fmt: skip
    rows = []
    for one in differences:
        cells = []
        for name in PARTS:
            sd = 0.0 if one.parts_sd is None else getattr(one.parts_sd, name)
            text = seconds(getattr(one.parts, name))
            cells.append(f"{text} ± {sd:.0f}" if sd >= 0.5 else text)
        rows.append((one.pilot, one.to, f"{seconds(one.total_s)} ± {max(one.total_sd_s, 0.1):.1f}", *cells))
    title = f"Seconds more (+) or less ({MINUS}) than {differences[0].against}" if differences else "Differences"
    return Table(title, columns, tuple(rows), PART_MEANINGS)


def seconds(value: float) -> str:
    """Whole seconds with their sign."""
    return f"{value:+.0f}".replace("-", MINUS) if round(value) else "0"


def thermals_table(thermal: SharedThermal, show: Display) -> Table:
    """One thermal and all who used it."""
    columns = (
        Column("Pilot", "", True), Column("From"), Column("To"), Column("Base", show.unit("height")),
        Column("Top", show.unit("height")), Column("Mean climb", show.unit("vertical")), Column("Best 30 s",
        show.unit("vertical")), Column("Turns", "", True), Column("Circle", show.unit("length")), Column("Bank",
        "°"),
    )  # fmt: skip
    rows = tuple(
        (
            use.pilot,
            show.clock(use.start),
            show.clock(use.end),
            show.figure(use.base_altitude_m, "height"),
            show.figure(use.top_altitude_m, "height"),
            show.estimate(use.mean_climb_mps, "vertical"),
            show.figure(use.best_30s_climb_mps, "vertical"),
            use.turn_direction or UNKNOWN,
            show.figure(use.circle_radius_m, "length"),
            show.figure(use.bank_deg, "degrees"),
        )
        for use in thermal.uses
    )
    return Table(f"Thermal {thermal.number}, from {show.clock(thermal.uses[0].start)}", columns, rows)


def points_table(points: TaskPoints, show: Display) -> Table:
    """Points of every pilot who took off, by kind."""
    columns = (
        Column("Rank"), Column("Pilot", "", True), Column("Points"), Column("Distance points"),
        Column("Time points"), Column("Leading points"), Column("Arrival points"), Column("Penalty"),
        Column("Scored distance", show.unit("distance")),
    )  # fmt: skip
    rows = tuple(
        (
            str(one.rank),
            one.name,
            str(one.points),
            show.number(one.distance_points, 1),
            show.number(one.time_points, 1),
            show.number(one.leading_points, 1),
            show.number(one.arrival_points, 1),
            show.number(one.penalty_points, 1),
            show.figure(one.distance_m, "distance"),
        )
        for one in points.pilots
    )
    return Table(f"Points by the open formula, edition {points.edition}", columns, rows)


def validity_table(points: TaskPoints) -> Table:
    """What the points of the task come from."""
    validity, weights = points.validity, points.weights
    rows = (
        ("Validity of launch", f"{validity.launch:.3f}"),
        ("Validity of distance", f"{validity.distance:.3f}"),
        ("Validity of time", f"{validity.time:.3f}"),
        ("Validity of the day", f"{validity.day:.3f}"),
        ("Share in goal", f"{points.goal_share:.3f}"),
        ("Weight of distance", f"{weights.distance:.3f}"),
        ("Weight of time", f"{weights.time:.3f}"),
        ("Weight of leading", f"{weights.leading:.3f}"),
        ("Weight of arrival", f"{weights.arrival:.3f}"),
    )
    return Table("Validities and weights", (Column("Figure", "", True), Column("Value")), rows, is_folded=True)


def problems_table(comparison: Comparison) -> Table:
    """What was odd about the logs."""
    columns = (Column("Log", "", True), Column("What", "", True))
    return Table("Odd about the logs", columns, tuple((one.file, one.message) for one in comparison.problems))
