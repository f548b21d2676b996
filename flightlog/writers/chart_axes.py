"""One pair of axes: lines, bands, marks and bars of a panel, told apart by colour and by shape."""

from __future__ import annotations

import math
from typing import Any

from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.patches import Patch
from matplotlib.ticker import FuncFormatter, MaxNLocator

from flightlog.writers.page_parts import Bar, Chart, Panel, Series
from flightlog.writers.words import PHASES

INK, GRID = "#010101", "#020202"
MOST_PILOTS = 12
"""Pilots told apart in one chart: by six colours, each with a solid and a dashed line."""
PILOT_COLOURS = ("#030103", "#030102", "#030105", "#030101", INK, "#030104")
COLOURS = {
    "launch_run": "#030101",
    "climb": "#030102",
    "glide": "#030103",
    "search": "#030104",
    "approach": "#030105",
    "line": INK,
    "dots": "#030106",
    "limit": "#030106",
    "bars": "#030103",
    "landed": "#030105",
    "go_around": "#030102",
    "possible": "#030104",
    "takeoff": "#030101",
    "landing": "#030105",
    "place": INK,
    "decision": "#030102",
    "turnpoint": "#030102",
    "lost": "#030102",
    "gained": "#030105",
    **{f"pilot_{number}": PILOT_COLOURS[(number - 1) % 6] for number in range(1, MOST_PILOTS + 1)},
}
"""Kind -> a colour that stands for a variable of the page; the names are in TOKENS."""
TOKENS = {
    INK: "var(--ink)",
    GRID: "var(--line)",
    "#030101": "var(--chart-launch)",
    "#030102": "var(--chart-climb)",
    "#030103": "var(--chart-glide)",
    "#030104": "var(--chart-search)",
    "#030105": "var(--chart-approach)",
    "#030106": "var(--quiet)",
}
STYLES: dict[str, dict[str, Any]] = {
    "launch_run": {"linewidth": 3.0},
    "climb": {"linewidth": 1.6},
    "glide": {"linewidth": 1.0},
    "search": {"linewidth": 1.2, "linestyle": (0, (1, 1.2))},
    "approach": {"linewidth": 1.6, "linestyle": (0, (4, 1))},
    "line": {"linewidth": 1.0},
    "limit": {"linewidth": 0.9, "linestyle": (0, (4, 2))},
    "dots": {"linestyle": "none", "marker": "o", "markersize": 2.2, "alpha": 0.6},
    "landed": {"linewidth": 1.6},
    "go_around": {"linewidth": 1.4, "linestyle": (0, (4, 2))},
    "possible": {"linewidth": 1.2, "linestyle": (0, (1, 1.5))},
    "lost": {"linewidth": 9.0, "solid_capstyle": "butt"},
    "gained": {"linewidth": 9.0, "solid_capstyle": "butt", "alpha": 0.75},
    **{
        f"pilot_{number}": {"linewidth": 1.1, **({"linestyle": (0, (3, 1.2))} if number > 6 else {})}
        for number in range(1, MOST_PILOTS + 1)
    },
}
"""Kind -> width and dashes, so that a chart is read without its colours."""
GO_AROUND_DASHES = ((5, 2), (9, 2.5), (5, 1.5, 1, 1.5), (2.5, 1.5))
HATCHES = {"launch_run": "xx", "climb": "//", "approach": "\\\\"}
MARKERS = {"takeoff": "^", "landing": "v", "place": "+", "decision": "s", "turnpoint": "s"}
BAND_STRENGTH = 0.22
MARGIN = 0.3
"""Room about a track for scale, north and wind, as a share of its size."""


def style_of(series: Series) -> dict[str, Any]:
    """Width and dashes of a line; go-arounds after each other differ in their dashes."""
    style = STYLES[series.kind]
    if series.kind == "go_around" and series.tag.isdigit():
        return {**style, "linestyle": (0, GO_AROUND_DASHES[(int(series.tag) - 1) % len(GO_AROUND_DASHES)])}
    return style


def draw_panel(axes: Axes, panel: Panel, left: Panel | None = None) -> None:
    """Draw all that a panel holds; a y axis that has the name of the one on its left stays bare."""
    axes.set_xlabel(panel.x_label)
    if panel.y_label != (left.y_label if left else None):
        axes.set_ylabel(panel.y_label)
    for band in panel.bands:
        axes.axvspan(
            band.start,
            band.end,
            facecolor=COLOURS.get(band.kind, GRID),
            alpha=BAND_STRENGTH,
            linewidth=0,
            hatch=HATCHES.get(band.kind),
            edgecolor=INK,
        )
    centre = _centre_deg(panel) if panel.wraps_at_360 else None
    for series in panel.series:
        x = [_near(value, centre) for value in series.x] if centre is not None else series.x
        axes.plot(x, series.y, color=COLOURS[series.kind], **style_of(series))
        if series.tag and series.x:
            axes.annotate(
                series.tag,
                (series.x[0], series.y[0]),
                xytext=(4, 3),
                textcoords="offset points",
                fontweight="bold",
            )
    for mark in panel.marks:
        axes.plot(
            mark.x,
            mark.y,
            marker=MARKERS[mark.kind],
            color=COLOURS[mark.kind],
            markersize=7,
            markeredgecolor=INK,
            markeredgewidth=1.4 if mark.kind == "place" else 0.6,
            linestyle="none",
            zorder=5,
        )
    _draw_bars(axes, panel.bars, centre)
    if panel.rows:
        texts = ["" if left and left.rows == panel.rows else text for _, text in panel.rows]
        axes.set_yticks([level for level, _ in panel.rows], texts)
        axes.set_ylim(max(level for level, _ in panel.rows) + 0.6, min(level for level, _ in panel.rows) - 0.6)
        axes.axvline(0.0, color=INK, linewidth=0.8)
    if panel.clock:
        axes.set_xticks([time for time, _ in panel.clock], [text for _, text in panel.clock])
        axes.set_xlim(panel.bands[0].start, panel.bands[-1].end) if panel.bands else None
    if panel.wraps_at_360:
        axes.xaxis.set_major_locator(MaxNLocator(4, steps=[1, 2, 3, 4.5, 10]))
        axes.xaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{round(value) % 360:03d}"))
    if panel.has_equal_scales:
        _set_equal_scales(axes, panel)
    if panel.is_map:
        _make_map(axes, panel)
    else:
        axes.grid(color=GRID, linewidth=0.5)
        axes.set_axisbelow(True)


def _set_equal_scales(axes: Axes, panel: Panel) -> None:
    """The same scale along both axes, in limits that hold every point and fill the box."""
    x = [value for part in panel.series for value in _finite(part.x)] + [mark.x for mark in panel.marks]
    y = [value for part in panel.series for value in _finite(part.y)] + [mark.y for mark in panel.marks]
    width, height = max(x) - min(x), max(y) - min(y)
    box = axes.get_window_extent()
    shape = box.width / box.height
    half = max(width / 2.0, height / 2.0 * shape, 0.01) * (1.0 + MARGIN)
    middle_x, middle_y = (max(x) + min(x)) / 2.0, (max(y) + min(y)) / 2.0
    axes.set_xlim(middle_x - half, middle_x + half)
    axes.set_ylim(middle_y - half / shape, middle_y + half / shape)
    axes.set_aspect("equal", adjustable="box")


def _finite(values: tuple[float, ...]) -> list[float]:
    """The values that are numbers."""
    return [value for value in values if math.isfinite(value)]


def _draw_bars(axes: Axes, bars: tuple[Bar, ...], centre: float | None) -> None:
    """Values by height with their intervals."""
    if not bars:
        return
    values = [bar.value if centre is None else _near(bar.value, centre) for bar in bars]
    axes.errorbar(
        values,
        [bar.level for bar in bars],
        xerr=[bar.half_width for bar in bars],
        color=COLOURS["bars"],
        marker="D",
        markersize=4.5,
        linewidth=1.2,
        elinewidth=1.2,
        capsize=3,
    )


def _centre_deg(panel: Panel) -> float:
    """The direction in the middle of all that a panel shows."""
    angles = [math.radians(bar.value) for bar in panel.bars]
    angles = angles or [math.radians(value) for series in panel.series for value in series.x]
    return math.degrees(math.atan2(sum(map(math.sin, angles)), sum(map(math.cos, angles))))


def _near(value: float, centre: float) -> float:
    """The same direction within 180 degrees of the centre.

    >>> _near(350.0, 10.0)
    -10.0
    """
    return centre + (value - centre + 180.0) % 360.0 - 180.0


def _make_map(axes: Axes, panel: Panel) -> None:
    """No axes but a bar for the scale, an arrow for north and one for the wind."""
    axes.set_axis_off()
    (left, right), (bottom, top) = axes.get_xlim(), axes.get_ylim()
    width, height = right - left, top - bottom
    length = round_length(width * 0.3)
    y = bottom + 0.03 * height
    axes.plot([left, left + length], [y, y], color=INK, linewidth=2.5, solid_capstyle="butt")
    axes.text(left, y + 0.02 * height, f"{length:g} {panel.x_label}", fontsize=8)
    axes.annotate(
        "N",
        xy=(0.96, 1.0),
        xytext=(0.96, 0.88),
        xycoords="axes fraction",
        ha="center",
        va="center",
        arrowprops={"arrowstyle": "-|>", "color": INK, "linewidth": 1.0},
    )
    if panel.wind_to_deg is not None:
        _draw_wind(axes, panel.wind_to_deg, panel.wind_label)


def _draw_wind(axes: Axes, to_deg: float, label: str) -> None:
    """An arrow in the corner, flying with the wind."""
    box = axes.get_window_extent()
    slope = box.width / box.height
    reach = 0.045
    east, north = math.sin(math.radians(to_deg)) * reach, math.cos(math.radians(to_deg)) * reach * slope
    x, y = 0.06, 0.93
    axes.annotate(
        "",
        xy=(x + east, y + north),
        xytext=(x - east, y - north),
        xycoords="axes fraction",
        arrowprops={"arrowstyle": "simple", "facecolor": COLOURS["glide"], "edgecolor": INK, "linewidth": 0.5},
    )
    axes.text(0.13, 0.93, label, transform=axes.transAxes, va="center", fontsize=8)


def round_length(longest: float) -> float:
    """The longest of 1, 2 or 5 times a power of ten that fits.

    >>> round_length(0.73), round_length(23.0), round_length(1.0)
    (0.5, 20.0, 1.0)
    """
    if not longest > 0.0 or not math.isfinite(longest):
        return 1.0
    power = 10.0 ** math.floor(math.log10(longest))
    return float(f"{max(step for step in (1.0, 2.0, 5.0) if step * power <= longest * (1 + 1e-9)) * power:.3g}")


def legend_handles(chart: Chart) -> list[Line2D | Patch]:
    """What the legend shows: each phase or line once."""
    bands = dict.fromkeys(band.kind for panel in chart.panels for band in panel.bands)
    handles: list[Line2D | Patch] = [
        Patch(
            facecolor=COLOURS.get(kind, GRID),
            alpha=BAND_STRENGTH * 2,
            hatch=HATCHES.get(kind),
            edgecolor=INK,
            label=PHASES.get(kind, kind),
            linewidth=0,
        )
        for kind in PHASES
        if kind in bands
    ]
    first: dict[str, Series] = {}
    for panel in chart.panels:
        for series in panel.series:
            if series.label:
                first.setdefault(series.label, series)
    handles += [Line2D([], [], color=COLOURS[s.kind], label=label, **style_of(s)) for label, s in first.items()]
    marks = {mark.label: mark for panel in chart.panels for mark in panel.marks if mark.kind != "decision"}
    if any(mark.kind == "decision" for panel in chart.panels for mark in panel.marks):
        handles.append(_mark_handle("decision", "broken off"))
    return handles + [_mark_handle(mark.kind, label) for label, mark in marks.items()]


def _mark_handle(kind: str, label: str) -> Line2D:
    """A mark in the legend."""
    return Line2D(
        [],
        [],
        marker=MARKERS[kind],
        color=COLOURS[kind],
        markeredgecolor=INK,
        markeredgewidth=0.8,
        markersize=6,
        linestyle="none",
        label=label,
    )
