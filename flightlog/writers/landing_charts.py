"""Charts of the landings at one place: touchdowns and decisions from above, and the passes from the side.

Landed and broken off differ in colour and in shape: touchdowns are solid discs, decisions open squares, low passes
that may have been attempts open triangles.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from flightlog.arrays import Floats
from flightlog.earth.geodesy import LocalPlane
from flightlog.landings.records import PassRecord
from flightlog.landings.reviewing import PlaceLines, ReviewedPlace
from flightlog.landings.totals import LandingRow
from flightlog.writers.display import Display
from flightlog.writers.page_parts import Arrow, Chart, Mark, Panel, Series, Tag
from flightlog.writers.svg_scales import round_length

MOST_LINES = 60
"""Lines drawn in one chart, the latest ones: more hide each other."""
MOST_NUMBERED = 25
"""With more marks than this their numbers would cover them."""
WAY_IN_S = 30.0
"""How much of each pass the plan shows: base leg and final take 20-40 s."""
FARTHEST_M, HIGHEST_M = 300.0, 90.0
"""What the side view shows of each pass: circuits of foot-launched wings stay within (common practice)."""
ARROW_SHARE = 0.22
"""Length of the arrow of a wind of 10 m/s, as a share of the chart's width."""
ARROW_KEY_MPS = 3.0
"""A wind whose arrow still has room in the legend."""
KINDS = {
    "landed": ("touchdown", "touchdown", "landed"),
    "go_around": ("broken_off", "broken off here", "broken off"),
    "possible": ("attempt", "low pass, possibly an attempt", "possibly an attempt"),
}
"""Outcome -> its mark, and what mark and line are called."""
Passes = tuple[tuple[int, int, PassRecord], ...]


@dataclass(frozen=True)
class _Spot:
    """A mark on the plan, metres east and north of the place, with the wind there (where the air goes)."""

    east_m: float
    north_m: float
    kind: str
    label: str
    wind: tuple[float, float] | None


def place_charts(
    place: ReviewedPlace, rows: tuple[LandingRow, ...], lines: PlaceLines | None, show: Display
) -> tuple[Chart, ...]:
    """The place from above, and its passes from the side; what would be empty is left out."""
    spots = _spots(place, rows)
    passes = lines.passes[-MOST_LINES:] if lines else ()
    charts = []
    if spots:
        counts = ", ".join(
            f"{sum(spot.kind == kind for spot in spots)} {name}" for kind, (_, name, _) in KINDS.items()
        )
        told = (
            f"{place.name} from above, north up, the same scale both ways: {counts}; ways in solid where they"
            " landed, dashed where they were broken off; arrows show the wind. The figures stand in the table of"
            " landings."
        )
        panel = _plan(place, spots, passes, show)
        charts.append(
            Chart(f"place-{place.number}-plan", "Touchdowns and decisions from above", told, "one", (panel,))
        )
    if passes:
        told = (
            f"Height above {place.name} against the distance from it of {len(passes)} passes: landed solid, broken"
            " off dashed with an open square where it was decided, possible attempts dotted."
        )
        title = "All passes from the side"
        if lines and len(lines.passes) > MOST_LINES:
            title = f"The last {MOST_LINES} of {len(lines.passes)} passes from the side"
        panel = _side(place, passes, show)
        charts.append(Chart(f"place-{place.number}-side", title, told, "tall", (panel,)))
    return tuple(charts)


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


def _plan(place: ReviewedPlace, spots: list[_Spot], passes: Passes, show: Display) -> Panel:
    """The place from above, with the last `WAY_IN_S` of each pass."""
    scale, unit = show.converted(1.0, "length"), show.unit("length")
    farthest_m = max([place.radius_m, *(max(abs(spot.east_m), abs(spot.north_m)) for spot in spots)])
    reach = 1.15 * farthest_m * scale
    arrows, key, words = _winds(spots, reach, scale, show)
    known = [Mark(s.east_m * scale, s.north_m * scale, *KINDS[kind][:2]) for kind, s in _by_kind(spots)]
    return Panel(
        f"east of the middle ({unit})",
        f"north ({unit})",
        (_circle(place, show), *_ways_in(place, passes, scale)),
        marks=(Mark(0.0, 0.0, "place", "middle of the place"), *known),
        tags=tuple(_tag(spot, scale) for spot in spots) if len(spots) <= MOST_NUMBERED else (),
        arrows=arrows,
        arrows_label=words,
        arrow_key=key,
        window=(-reach, reach, -reach, reach),
        has_equal_scales=True,
    )


def _by_kind(spots: list[_Spot]) -> list[tuple[str, _Spot]]:
    """The marks, kind by kind, as the legend names them."""
    return [(kind, spot) for kind in KINDS for spot in spots if spot.kind == kind]


def _tag(spot: _Spot, scale: float) -> Tag:
    """The number of a mark, upwind of it, where no arrow is."""
    east, north = spot.wind or (-1.0, -1.0)
    return Tag(spot.east_m * scale, spot.north_m * scale, spot.label, -east, -north)


def _circle(place: ReviewedPlace, show: Display) -> Series:
    """The edge of the place."""
    angle, radius = np.linspace(0.0, 2.0 * math.pi, 91), show.converted(place.radius_m, "length")
    label = f"radius {show.with_unit(place.radius_m, 'length')}"
    return _joined([(radius * np.sin(angle), radius * np.cos(angle))], "limit", label)


def _ways_in(place: ReviewedPlace, passes: Passes, scale: float) -> list[Series]:
    """The way over the ground of each pass to its end: landed solid, broken off dashed."""
    plane = _plane(place)
    ways: dict[str, list[tuple[Floats, Floats]]] = {}
    for _, _, one in passes:
        seconds = (one.figures.end - one.figures.start).total_seconds()
        points = max(2, math.ceil(one.flown_until * min(1.0, WAY_IN_S / max(seconds, 1.0))))
        last = slice(max(one.flown_until - points, 0), one.flown_until)
        east, north = plane.to_plane(one.line_lat_deg[last], one.line_lon_deg[last])
        ways.setdefault(_kind(one), []).append((east * scale, north * scale))
    return [_joined(ways[kind], f"{kind}_way") for kind in KINDS if kind in ways]


def _kind(one: PassRecord) -> str:
    """How a pass is drawn."""
    return one.figures.outcome if one.figures.certainty == "sure" else "possible"


def _joined(lines: Iterable[tuple[Floats, Floats]], kind: str, label: str = "") -> Series:
    """Lines of one look as one, broken between them."""
    x: list[float] = []
    y: list[float] = []
    for across, up in lines:
        x += [*across.tolist(), math.nan]
        y += [*up.tolist(), math.nan]
    return Series(tuple(x), tuple(y), kind, label)


def _winds(spots: list[_Spot], reach: float, scale: float, show: Display) -> tuple[tuple[Arrow, ...], float, str]:
    """An arrow at each mark flying with the wind; and a length with the speed that it stands for."""
    metre = 2.0 * reach * ARROW_SHARE / 10.0  # length of 1 m/s, in the units of the axes
    arrows = []
    for spot in spots:
        if spot.wind is not None:
            x, y = spot.east_m * scale, spot.north_m * scale
            arrows.append(Arrow(x, y, x + spot.wind[0] * metre, y + spot.wind[1] * metre))
    per_mps = show.converted(1.0, "speed")
    speed = round_length(ARROW_KEY_MPS * per_mps)
    return tuple(arrows), speed / per_mps * metre, f"wind of {show.joined(f'{speed:g}', 'speed')}"


def _side(place: ReviewedPlace, passes: Passes, show: Display) -> Panel:
    """The passes from the side."""
    length, height = show.converted(1.0, "length"), show.converted(1.0, "height")
    low_m = min([0.0, *(float(np.nanmin(one.line_height_m, initial=0.0)) for _, _, one in passes)])
    window = (0.0, FARTHEST_M * length, (max(low_m, -0.4 * HIGHEST_M) - 3.0) * height, HIGHEST_M * height)
    flown: dict[str, list[tuple[Floats, Floats]]] = {}
    after: dict[str, list[tuple[Floats, Floats]]] = {}
    ends: dict[str, list[Tag]] = {}
    for row, number, one in passes:
        kind, end = _kind(one), one.flown_until
        distance, heights = _distance_m(place, one) * length, one.line_height_m * height
        flown.setdefault(kind, []).append((distance[:end], heights[:end]))
        after.setdefault(kind, []).append((distance[end - 1 :], heights[end - 1 :]))
        x, y = float(distance[end - 1]), float(heights[end - 1])
        if x <= window[1] and window[2] <= y <= window[3]:
            ends.setdefault(kind, []).append(Tag(x, y, str(row) if kind == "landed" else f"{row}.{number}"))
    present = [kind for kind in KINDS if kind in flown]
    return Panel(
        f"distance from the middle of the place ({show.unit('length')})",
        f"height above it ({show.unit('height')})",
        (
            Series((0.0, window[1]), (0.0, 0.0), "line"),
            *(_joined(after[kind], f"{kind}_way") for kind in present),
            *(_joined(flown[kind], kind, KINDS[kind][2]) for kind in present),
        ),
        marks=tuple(Mark(end.x, end.y, *KINDS[kind][:2]) for kind in KINDS for end in ends.get(kind, ())),
        tags=_tags(ends) if len(passes) <= MOST_NUMBERED else (),
        window=window,
    )


def _tags(ends: dict[str, list[Tag]]) -> tuple[Tag, ...]:
    """The numbers of all marks."""
    return tuple(tag for kind in KINDS for tag in ends.get(kind, ()))


def _distance_m(place: ReviewedPlace, one: PassRecord) -> Floats:
    """Distance of the line's points from the middle of the place."""
    east, north = _plane(place).to_plane(one.line_lat_deg, one.line_lon_deg)
    distance: Floats = np.hypot(east, north)
    return distance
