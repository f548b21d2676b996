"""One pair of axes as SVG: bands, lines, marks, bars and discs of a panel in a box of the drawing."""

from __future__ import annotations

import math
from collections.abc import Iterable
from html import escape

import numpy as np

from flightlog.arrays import Floats
from flightlog.writers.chart_styles import (
    BAND_OPACITY,
    BANDS,
    CLIMB,
    GLIDE,
    GRID,
    HATCHES,
    INK,
    PILOT_SHAPES,
    LineStyle,
    line_style,
)
from flightlog.writers.page_parts import Band, Bar, Cell, Panel, Series
from flightlog.writers.svg_maps import draw_discs, draw_map_strip
from flightlog.writers.svg_scales import Scale, line_path, round_ticks, short, widened
from flightlog.writers.svg_shapes import (
    FONT_PX,
    HALO,
    LINE_MARK_PX,
    Frame,
    arrow,
    colour,
    drawn_shape,
    line,
    mark,
    patterned,
    stroke,
    text,
    text_width,
)
from flightlog.writers.svg_tags import draw_tags

RIBBON_PX = 8.0
"""Height of the strip above a time axis in which the phases stand in full colour."""
X_TICK_PX, Y_TICK_PX = 52.0, 30.0
"""Least room between two ticks."""
LINE_MARKS_APART_PX, MOST_LINE_MARKS = 90.0, 12
"""Along a line, between two of its marks; and how many stand on a long one."""
TURN_STEPS_DEG = (5.0, 10.0, 30.0, 45.0, 90.0)


def draw_panel(frame: Frame, panel: Panel, left: Panel | None = None, *, has_x_texts: bool = True) -> list[str]:
    """All that a panel holds; a y axis that has the name of the one on its left stays bare."""
    centre = centre_deg(panel) if panel.wraps_at_360 else None
    parts = [] if panel.is_map else _axes(frame, panel, left, has_x_texts=has_x_texts)
    inside = [_band(frame, band) for band in panel.bands]
    inside += [_cell(frame, cell) for cell in panel.cells]
    inside += [_series(frame, series, centre) for series in panel.series]
    inside += _bars(frame, panel.bars, centre)
    inside += [
        arrow(frame.x.at(a.x), frame.y.at(a.y), frame.x.at(a.to_x), frame.y.at(a.to_y)) for a in panel.arrows
    ]
    box = frame.box
    clip = f"{frame.name}-clip"
    parts.append(
        f'<clipPath id="{clip}"><rect x="{short(box.left)}" y="{short(box.top)}" width="{short(box.width)}"'
        f' height="{short(box.height)}"/></clipPath><g clip-path="url(#{clip})">{"".join(inside)}</g>'
    )
    parts += draw_discs(frame, panel.discs)
    parts += [mark(one.kind, frame.x.at(one.x), frame.y.at(one.y)) for one in panel.marks]
    parts += [_tag(frame, series, centre) for series in panel.series if series.tag and series.x]
    parts += draw_tags(frame, panel.tags)
    if panel.is_map:
        parts += draw_map_strip(frame, panel)
    return parts


def draw_plan(frame: Frame, panel: Panel) -> list[str]:
    """A small plan in a bare frame, its name below it."""
    box = frame.box
    where = f'x="{short(box.left)}" y="{short(box.top)}" width="{short(box.width)}" height="{short(box.height)}"'
    parts = [f'<rect {where} fill="none" stroke="{colour(GRID)}"/>']
    parts += [_series(frame, series, None) for series in panel.series]
    middle = box.left + box.width / 2.0
    return [*parts, text(middle, box.bottom + FONT_PX + 3.0, panel.x_label, anchor="middle")]


def x_ticks(panel: Panel, scale: Scale) -> tuple[tuple[float, str], ...]:
    """Where the x axis is marked, and with what."""
    width = abs(scale.end - scale.start)
    if panel.clock:
        return panel.clock
    if panel.wraps_at_360:
        span = scale.high - scale.low
        step = next((step for step in TURN_STEPS_DEG if span / step <= width / X_TICK_PX), 180.0)
        first, last = math.ceil(scale.low / step), math.floor(scale.high / step)
        return tuple((at * step, f"{round(at * step) % 360:03d}") for at in range(first, last + 1))
    return round_ticks(scale.low, scale.high, max(2, int(width / X_TICK_PX)))


def y_ticks(panel: Panel, scale: Scale) -> tuple[tuple[float, str], ...]:
    """Where the y axis is marked, and with what."""
    if panel.rows:
        return panel.rows
    return round_ticks(scale.low, scale.high, max(2, int(abs(scale.end - scale.start) / Y_TICK_PX)))


def _axes(frame: Frame, panel: Panel, left: Panel | None, *, has_x_texts: bool) -> list[str]:
    """Grid, ticks, and the names of both axes."""
    box, parts = frame.box, []
    for value, words in x_ticks(panel, frame.x):
        x = frame.x.at(value)
        parts.append(line(x, box.top, x, box.bottom, GRID, 0.8))
        if has_x_texts:
            parts.append(text(x, box.bottom + FONT_PX + 4.0, words, anchor="middle"))
    is_bare = left is not None and bool(panel.rows) and left.rows == panel.rows
    widest = 0.0
    for value, words in y_ticks(panel, frame.y):
        y = frame.y.at(value)
        parts.append(line(box.left, y, box.right, y, GRID, 0.8))
        if not is_bare:
            parts.append(text(box.left - 6.0, y + 0.35 * FONT_PX, words, anchor="end"))
            widest = max(widest, text_width(words))
    parts.append(line(box.left, box.bottom, box.right, box.bottom, INK, 1.0))
    zero = frame.x.at(0.0) if panel.rows else box.left
    parts.append(line(zero, box.top, zero, box.bottom, INK, 1.0))
    if panel.x_label and has_x_texts:
        middle = box.left + box.width / 2.0
        parts.append(text(middle, box.bottom + 2.0 * FONT_PX + 9.0, panel.x_label, anchor="middle"))
    if panel.y_label and panel.y_label != (left.y_label if left else None):
        x, y = box.left - widest - 14.0, box.top + box.height / 2.0
        turned = f' transform="rotate(-90 {short(x)} {short(y)})"'
        parts.append(text(x, y, panel.y_label, anchor="middle", more=turned))
    return parts


def _band(frame: Frame, band: Band) -> str:
    """A stretch of the x axis: a tint over the whole height, and full colour with a pattern in the ribbon."""
    box, name = frame.box, BANDS.get(band.kind, GRID)
    start, end = sorted((frame.x.at(band.start), frame.x.at(band.end)))
    where = f'x="{short(start)}" y="{short(box.top)}" width="{short(max(end - start, 0.3))}"'
    tint = f'<rect {where} height="{short(box.height)}" fill="{colour(name)}" fill-opacity="{BAND_OPACITY}"/>'
    ribbon = f'<rect {where} height="{RIBBON_PX:g}" fill="{colour(name)}"/>'
    if band.kind in HATCHES:
        ribbon += f'<rect {where} height="{RIBBON_PX:g}" {patterned(frame.name, HATCHES[band.kind])}/>'
    return tint + ribbon


def _cell(frame: Frame, cell: Cell) -> str:
    """A rectangle in the colour of climbs, with what it says."""
    left, right = sorted(frame.x.at(cell.x + sign * cell.width / 2.0) for sign in (-1.0, 1.0))
    top, bottom = sorted(frame.y.at(cell.y + sign * cell.height / 2.0) for sign in (-1.0, 1.0))
    return (
        f'<rect x="{short(left)}" y="{short(top)}" width="{short(right - left)}" height="{short(bottom - top)}"'
        f" {cell_look(cell.share)}><title>{escape(cell.label)}</title></rect>"
    )


def cell_look(share: float) -> str:
    """How a cell is filled: never so faint that it is not seen.

    >>> cell_look(0.0), cell_look(1.0)
    ('fill="var(--chart-climb)" fill-opacity="0.06"', 'fill="var(--chart-climb)" fill-opacity="0.85"')
    """
    return f'fill="{colour(CLIMB)}" fill-opacity="{0.06 + 0.79 * min(max(share, 0.0), 1.0):.2f}"'


def _series(frame: Frame, series: Series, centre: float | None) -> str:
    """A line, its points, or what it fills."""
    x = np.asarray(series.x, dtype=np.float64)
    x = frame.x.all_at(x if centre is None else near_deg(x, centre))
    y = frame.y.all_at(np.asarray(series.y, dtype=np.float64))
    style = line_style(series.kind, series.tag)
    if style.is_dots:
        dots = "".join(
            f"M{short(px)} {short(py)}h0"
            for px, py in zip(x.tolist(), y.tolist(), strict=True)
            if math.isfinite(px + py)
        )
        return (
            f'<path d="{dots}" fill="none" stroke="{colour(style.colour)}" stroke-width="{2 * style.width:g}"'
            f' stroke-linecap="round" stroke-opacity="{style.opacity:g}"/>'
        )
    if series.base:
        base = frame.y.all_at(np.asarray(series.base, dtype=np.float64))
        area = line_path(x, y) + line_path(x[::-1], base[::-1]).replace("M", "L", 1) + "Z"
        return f'<path d="{area}" fill="{colour(style.colour)}" fill-opacity=".18"/>'
    cap = "" if style.width > 8.0 else ' stroke-linejoin="round"'
    return f'<path d="{line_path(x, y)}" {stroke(style)}{cap}/>' + _marks_on(x, y, style)


def _marks_on(x: Floats, y: Floats, style: LineStyle) -> str:
    """The marks on a line: equally far apart along it, for every shape elsewhere: so few cover each other."""
    known = np.isfinite(x + y)
    if not style.shape or known.sum() < 2:
        return ""
    x, y = x[known], y[known]
    along = np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(x), np.diff(y)))])
    step = max(LINE_MARKS_APART_PX, float(along[-1]) / MOST_LINE_MARKS)
    first = step * (PILOT_SHAPES.index(style.shape) + 0.5) / len(PILOT_SHAPES)
    spots = np.arange(min(first, float(along[-1]) / 2.0), float(along[-1]), step)
    places = zip(np.interp(spots, along, x).tolist(), np.interp(spots, along, y).tolist(), strict=True)
    return "".join(drawn_shape(style.shape, px, py, LINE_MARK_PX, style.colour) for px, py in places)


def _tag(frame: Frame, series: Series, centre: float | None) -> str:
    """What stands where a line begins, inside the box."""
    x, y = series.x[0], series.y[0]
    if not math.isfinite(x + y):
        return ""
    if centre is not None:
        x = float(near_deg(np.array([x]), centre)[0])
    box = frame.box
    px = min(max(frame.x.at(x) + 5.0, box.left + 2.0), box.right - 1.2 * text_width(series.tag))
    py = min(max(frame.y.at(y) - 4.0, box.top + FONT_PX), box.bottom - 3.0)
    return text(px, py, series.tag, more=f' font-weight="bold"{HALO}')


def _bars(frame: Frame, bars: tuple[Bar, ...], centre: float | None) -> list[str]:
    """Values by height with their intervals, joined by a line."""
    if not bars:
        return []
    values = np.array([bar.value for bar in bars])
    x = frame.x.all_at(values if centre is None else near_deg(values, centre))
    y = frame.y.all_at(np.array([bar.level for bar in bars]))
    per_unit = (frame.x.end - frame.x.start) / (frame.x.high - frame.x.low)
    parts = [f'<path d="{line_path(x, y)}" fill="none" stroke="{colour(GLIDE)}" stroke-width="1.6"/>']
    for bar, px, py in zip(bars, x.tolist(), y.tolist(), strict=True):
        half = bar.half_width * per_unit
        if math.isfinite(half):
            path = f"M{short(px - half)} {short(py - 4)}v8M{short(px + half)} {short(py - 4)}v8"
            path += f"M{short(px - half)} {short(py)}h{short(2 * half)}"
            parts.append(f'<path d="{path}" stroke="{colour(GLIDE)}" stroke-width="1.6"/>')
        parts.append(mark("bar", px, py, 5.0))
    return parts


def centre_deg(panel: Panel) -> float:
    """The direction in the middle of all that a panel shows."""
    angles = [math.radians(bar.value) for bar in panel.bars]
    angles = angles or [math.radians(value) for series in panel.series for value in series.x]
    return math.degrees(math.atan2(sum(map(math.sin, angles)), sum(map(math.cos, angles))))


def near_deg(values: Floats, centre: float) -> Floats:
    """The same directions within 180 degrees of the centre.

    >>> near_deg(np.array([350.0, 20.0]), 10.0)
    array([-10.,  20.])
    """
    return centre + (values - centre + 180.0) % 360.0 - 180.0


def spans(panel: Panel) -> tuple[tuple[float, float], tuple[float, float]]:
    """From where to where both axes of a panel go."""
    if panel.window is not None:
        return panel.window[:2], panel.window[2:]
    centre = centre_deg(panel) if panel.wraps_at_360 else None
    x = [np.asarray(series.x, dtype=np.float64) for series in panel.series]
    y = [np.asarray(part, dtype=np.float64) for series in panel.series for part in (series.y, series.base) if part]
    spots = [(one.x, one.y) for one in panel.marks] + [(disc.x, disc.y) for disc in panel.discs]
    for sign in (-0.5, 0.5):
        spots += [(cell.x + sign * cell.width, cell.y + sign * cell.height) for cell in panel.cells]
    x.append(np.array([spot[0] for spot in spots], dtype=np.float64))
    y.append(np.array([spot[1] for spot in spots], dtype=np.float64))
    x = x if centre is None else [near_deg(part, centre) for part in x]
    for sign in (-1.0, 1.0):
        values = np.array([bar.value for bar in panel.bars])
        values = values if centre is None else near_deg(values, centre)
        halves = np.nan_to_num(
            np.array([min(bar.half_width, 180.0) if centre is not None else bar.half_width for bar in panel.bars])
        )
        x.append(values + sign * halves)
    y.append(np.array([bar.level for bar in panel.bars], dtype=np.float64))
    across, up = _limits(x), _limits(y)
    if panel.clock and panel.bands:
        across = panel.bands[0].start, panel.bands[-1].end
    elif not panel.clock:
        across = widened(*across)
    if panel.rows:
        levels = [level for level, _ in panel.rows]
        return across, (max(levels) + 0.6, min(levels) - 0.6)
    return across, widened(*up)


def _limits(arrays: Iterable[Floats]) -> tuple[float, float]:
    """The least and the greatest finite figure; NaN where there is none."""
    known = np.concatenate([part[np.isfinite(part)] for part in arrays] or [np.array([])])
    return (float(known.min()), float(known.max())) if len(known) else (math.nan, math.nan)
