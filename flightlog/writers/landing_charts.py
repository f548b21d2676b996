"""Pictures of the landings at one place: touchdowns and decisions from above, and the passes from the side.

Landed and broken off differ in colour and in shape: touchdowns are solid discs, decisions hollow squares, low
passes that may have been attempts hollow triangles.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from flightlog.arrays import Floats
from flightlog.earth.geodesy import LocalPlane
from flightlog.landings.records import PassRecord
from flightlog.landings.reviewing import PlaceLines, ReviewedPlace
from flightlog.landings.totals import LandingRow
from flightlog.writers.charts import COLOURS, GRID, INK, NARROW_INCHES, STYLES, figure_svg
from flightlog.writers.display import Display

MOST_LINES = 60
"""Lines drawn in one picture, the latest ones: more hide each other."""
MOST_NUMBERED = 25
"""With more marks than this their numbers would cover them."""
WAY_IN_S = 30.0
"""How much of each pass the plan shows: base leg and final take 20-40 s."""
FARTHEST_M, HIGHEST_M = 300.0, 90.0
"""What the side view shows of each pass: circuits of foot-launched wings stay within (common practice)."""
ARROW_SHARE = 0.22
"""Length of the arrow of a wind of 10 m/s, as a share of the picture's width."""
MARKS: dict[str, dict[str, Any]] = {
    "landed": {"marker": "o", "markerfacecolor": COLOURS["landed"], "markeredgecolor": INK, "markersize": 7},
    "go_around": {
        "marker": "s", "markerfacecolor": "none", "markeredgecolor": COLOURS["go_around"],
        "markersize": 8, "markeredgewidth": 1.8,
    },
    "possible": {
        "marker": "^", "markerfacecolor": "none", "markeredgecolor": COLOURS["possible"],
        "markersize": 7, "markeredgewidth": 1.4,
    },
}  # fmt: skip
NAMES = {"landed": "touchdown", "go_around": "broken off here", "possible": "low pass, possibly an attempt"}
LINE_NAMES = {"landed": "landed", "go_around": "broken off", "possible": "possibly an attempt"}


@dataclass(frozen=True)
class Picture:
    """A finished drawing: its title, and its SVG, whose texts are escaped."""

    title: str
    svg: str


@dataclass(frozen=True)
class _Spot:
    """A mark on the plan, metres east and north of the place, with the wind there (where the air goes)."""

    east_m: float
    north_m: float
    kind: str
    label: str
    wind: tuple[float, float] | None


def place_pictures(
    place: ReviewedPlace, rows: tuple[LandingRow, ...], lines: PlaceLines | None, show: Display
) -> tuple[Picture, ...]:
    """The place from above, and its passes from the side; what would be empty is left out."""
    spots = _spots(place, rows)
    passes = lines.passes[-MOST_LINES:] if lines else ()
    pictures = []
    if spots:
        counts = ", ".join(f"{sum(spot.kind == kind for spot in spots)} {name}" for kind, name in NAMES.items())
        told = (
            f"{place.name} from above, north up, the same scale both ways: {counts}; ways in solid where they"
            " landed, dashed where they were broken off; arrows show the wind. The figures stand in the table of"
            " landings."
        )
        svg = figure_svg(lambda: _plan(place, spots, passes, show), f"place-{place.number}-plan", told)
        pictures.append(Picture("Touchdowns and decisions from above", svg))
    if passes:
        told = (
            f"Height above {place.name} against the distance from it of {len(passes)} passes: landed solid, broken"
            " off dashed with a hollow square where it was decided, possible attempts dotted."
        )
        svg = figure_svg(lambda: _side(place, passes, show), f"place-{place.number}-side", told)
        title = "All passes from the side"
        if lines and len(lines.passes) > MOST_LINES:
            title = f"The last {MOST_LINES} of {len(lines.passes)} passes from the side"
        pictures.append(Picture(title, svg))
    return tuple(pictures)


def _plane(place: ReviewedPlace) -> LocalPlane:
    """Metres east and north of the place."""
    return LocalPlane(place.lat_deg, place.lon_deg)


def _spots(place: ReviewedPlace, rows: tuple[LandingRow, ...]) -> list[_Spot]:
    """Touchdowns, decisions and possible attempts at a place."""
    plane = _plane(place)
    spots = []

    def add(lat: float | None, lon: float | None, kind: str, label: str, wind: tuple[float, float] | None) -> None:
        if lat is not None and lon is not None:
            east, north = plane.to_plane(lat, lon)
            spots.append(_Spot(float(east), float(north), kind, label, wind))

    for row in rows:
        wind = None
        for number, one in enumerate(row.tries, start=1):
            figures = one.figures
            wind = _wind(figures.detail.wind_from_deg, figures.detail.wind_speed_mps) if figures.detail else None
            if figures.outcome != "landed":
                kind = "go_around" if figures.certainty == "sure" else "possible"
                add(one.end_lat_deg, one.end_lon_deg, kind, f"{row.number}.{number}", wind)
        landed_by_pass = bool(row.tries) and row.tries[-1].figures.outcome == "landed"
        add(row.lat_deg, row.lon_deg, "landed", str(row.number), wind if landed_by_pass else None)
    return spots


def _wind(from_deg: float | None, speed_mps: float | None) -> tuple[float, float] | None:
    """Where the air goes, m/s east and north."""
    if from_deg is None or speed_mps is None:
        return None
    return -speed_mps * math.sin(math.radians(from_deg)), -speed_mps * math.cos(math.radians(from_deg))


def _plan(
    place: ReviewedPlace, spots: list[_Spot], passes: tuple[tuple[int, int, PassRecord], ...], show: Display
) -> Figure:
    """The place from above, with the last `WAY_IN_S` of each pass."""
    figure = Figure(figsize=(NARROW_INCHES, 5.0), layout="constrained")
    axes = figure.subplots()
    scale = show.converted(1.0, "length")
    reach = max([place.radius_m, *(max(abs(spot.east_m), abs(spot.north_m)) for spot in spots)]) * 1.15 * scale
    angle = np.linspace(0.0, 2.0 * math.pi, 181)
    radius = place.radius_m * scale
    axes.plot(radius * np.sin(angle), radius * np.cos(angle), color=COLOURS["limit"], **STYLES["limit"])
    axes.plot(0.0, 0.0, marker="+", color=INK, markersize=10, linestyle="none")
    _draw_ways_in(axes, place, passes, scale)
    _draw_winds(axes, spots, reach, scale, show)
    for kind, style in MARKS.items():
        own = [spot for spot in spots if spot.kind == kind]
        axes.plot([s.east_m * scale for s in own], [s.north_m * scale for s in own], linestyle="none", **style)
    if len(spots) <= MOST_NUMBERED:
        for spot in spots:
            at = (spot.east_m * scale, spot.north_m * scale)
            east, north = spot.wind or (-1.0, -1.0)
            beside = 13.0 / max(math.hypot(east, north), 0.1)  # upwind of the mark, where no arrow is
            offset = (-east * beside, -north * beside)
            axes.annotate(
                spot.label, at, xytext=offset, textcoords="offset points", ha="center", va="center", fontsize=8
            )
    axes.set_xlim(-reach, reach)
    axes.set_ylim(-reach, reach)
    axes.set_aspect("equal", adjustable="box")
    unit = show.unit("length")
    axes.set_xlabel(f"east of the middle ({unit})")
    axes.set_ylabel(f"north ({unit})")
    axes.grid(color=GRID, linewidth=0.5)
    axes.set_axisbelow(True)
    axes.annotate(
        "N", xy=(0.95, 0.99), xytext=(0.95, 0.88), xycoords="axes fraction", ha="center", va="center",
        arrowprops={"arrowstyle": "-|>", "color": INK, "linewidth": 1.0},
    )  # fmt: skip
    present = [kind for kind in MARKS if any(spot.kind == kind for spot in spots)]
    handles = [Line2D([], [], linestyle="none", label=NAMES[kind], **MARKS[kind]) for kind in present]
    limit = f"radius {show.with_unit(place.radius_m, 'length')}"
    handles.append(Line2D([], [], color=COLOURS["limit"], label=limit, **STYLES["limit"]))
    figure.legend(handles=handles, loc="outside lower center", ncols=2)
    return figure


def _draw_ways_in(
    axes: Axes, place: ReviewedPlace, passes: tuple[tuple[int, int, PassRecord], ...], scale: float
) -> None:
    """The way over the ground of each pass to its end: landed solid, broken off dashed."""
    plane = _plane(place)
    for _, _, one in passes:
        kind = one.figures.outcome if one.figures.certainty == "sure" else "possible"
        seconds = (one.figures.end - one.figures.start).total_seconds()
        points = max(2, math.ceil(one.flown_until * min(1.0, WAY_IN_S / max(seconds, 1.0))))
        last = slice(max(one.flown_until - points, 0), one.flown_until)
        east, north = plane.to_plane(one.line_lat_deg[last], one.line_lon_deg[last])
        style = {**STYLES[kind], "linewidth": 1.0}
        axes.plot(east * scale, north * scale, color=COLOURS[kind], alpha=0.7, zorder=1.2, **style)


def _draw_winds(axes: Axes, spots: list[_Spot], reach: float, scale: float, show: Display) -> None:
    """An arrow at each mark flying with the wind, and the length that stands for a known speed."""
    known = [(spot, spot.wind) for spot in spots if spot.wind is not None]
    if not known:
        return
    metre = 2.0 * reach * ARROW_SHARE / 10.0  # length of 1 m/s, in the units of the axes
    arrows = axes.quiver(
        [spot.east_m * scale for spot, _ in known], [spot.north_m * scale for spot, _ in known],
        [wind[0] * metre for _, wind in known], [wind[1] * metre for _, wind in known],
        angles="xy", scale_units="xy", scale=1.0, width=0.004, color=COLOURS["limit"], zorder=1.5,
    )  # fmt: skip
    label = f"wind {show.with_unit(5.0, 'speed')}"
    axes.quiverkey(
        arrows, 0.17, 0.95, 5.0 * metre, label, labelpos="E", coordinates="axes", color=COLOURS["limit"]
    )


def _side(place: ReviewedPlace, passes: tuple[tuple[int, int, PassRecord], ...], show: Display) -> Figure:
    """The passes from the side."""
    figure = Figure(figsize=(NARROW_INCHES, 5.0), layout="constrained")
    axes = figure.subplots()
    length, height = show.converted(1.0, "length"), show.converted(1.0, "height")
    kinds = []
    for row, number, one in passes:
        kind = one.figures.outcome if one.figures.certainty == "sure" else "possible"
        kinds.append(kind)
        distance, heights = _distance_m(place, one) * length, one.line_height_m * height
        end = one.flown_until
        axes.plot(distance[:end], heights[:end], color=COLOURS[kind], alpha=0.85, **STYLES[kind])
        axes.plot(distance[end - 1 :], heights[end - 1 :], color=COLOURS[kind], linewidth=0.6, alpha=0.6)
        at = (float(distance[end - 1]), float(heights[end - 1]))
        if all(map(math.isfinite, at)):
            axes.plot(*at, linestyle="none", zorder=5, **MARKS[kind])
            if len(passes) <= MOST_NUMBERED and at[0] <= FARTHEST_M * length and at[1] <= HIGHEST_M * height:
                label = str(row) if kind == "landed" else f"{row}.{number}"
                axes.annotate(label, at, xytext=(6, 5), textcoords="offset points", fontsize=8)
    axes.set_xlim(0.0, FARTHEST_M * length)
    low = min([0.0, *(float(np.nanmin(one.line_height_m, initial=0.0)) for _, _, one in passes)])
    axes.set_ylim(max(low, -0.4 * HIGHEST_M) * height - 3.0 * height, HIGHEST_M * height)
    axes.axhline(0.0, color=INK, linewidth=0.8)
    axes.set_xlabel(f"distance from the middle of the place ({show.unit('length')})")
    axes.set_ylabel(f"height above it ({show.unit('height')})")
    axes.grid(color=GRID, linewidth=0.5)
    axes.set_axisbelow(True)
    handles = [
        Line2D([], [], color=COLOURS[kind], label=LINE_NAMES[kind], **STYLES[kind], **_mark_of(kind))
        for kind in LINE_NAMES
        if kind in kinds
    ]
    figure.legend(handles=handles, loc="outside lower center", ncols=2)
    return figure


def _mark_of(kind: str) -> dict[str, Any]:
    """The mark of a line in the legend."""
    return {**MARKS[kind], "markersize": 6}


def _distance_m(place: ReviewedPlace, one: PassRecord) -> Floats:
    """Distance of the line's points from the middle of the place."""
    east, north = _plane(place).to_plane(one.line_lat_deg, one.line_lon_deg)
    distance: Floats = np.hypot(east, north)
    return distance
