"""Charts as SVG, for the page and for paper: panels in their places, a legend below.

The same chart gives the same text. Colours are written as CSS variables (`var(--chart-climb)`): the page says what
they are in light, dark and print.
"""

from __future__ import annotations

import re
from html import escape

from flightlog.writers.chart_slices import draw_slices
from flightlog.writers.chart_styles import BAND_OPACITY, BANDS, CARD, HATCHES, INK, PAPER, PATTERNS, line_style
from flightlog.writers.page_parts import Chart, Panel, Series
from flightlog.writers.svg_maps import DISC_LOOK, MAP_STRIP_PX
from flightlog.writers.svg_panels import cell_look, draw_panel, draw_plan, spans, y_ticks
from flightlog.writers.svg_scales import Scale, round_length, short
from flightlog.writers.svg_shapes import (
    FONT_PX,
    Box,
    Frame,
    arrow,
    colour,
    line_swatch,
    mark,
    patterned,
    text,
    text_width,
)

WIDE_PX, NARROW_PX = 860.0, 440.0
EDGE_PX = 8.0
GAP_PX = 16.0
"""Between panels one above the other."""
X_TEXTS_PX, X_LABEL_PX = FONT_PX + 8.0, FONT_PX + 6.0
"""Room below an axis for the texts of its ticks, and for its name."""
GRID_COLUMNS = 5
HEIGHTS = {"stacked": (200.0, 135.0), "beside": (230.0,), "one": (230.0,), "tall": (390.0,)}
"""Height of the panels of each layout; those with equal scales are as high as what they show, within bounds."""
LOWEST_SHARE, HIGHEST_SHARE, HIGHEST_WIDE_SHARE = 0.35, 1.0, 0.6
EQUAL_MARGIN = 0.05
"""Room about what is drawn with equal scales, as a share of its size."""
ROW_PX = 26.0
LEGEND_ROW_PX, SWATCH_PX, LEGEND_GAP_PX = FONT_PX + 6.0, 26.0, 18.0
PAPER_FONT = "DejaVu Sans"


def chart_svg(chart: Chart) -> str:
    """The chart as one `<svg>` element for a page.

    Its ids begin with the chart's name, it holds its description for screen readers, no date and no link.
    """
    width = WIDE_PX if chart.is_wide else NARROW_PX
    frames, bottom = _frames(chart, width)
    parts: list[str] = []
    lefts = (None, *chart.panels) if chart.layout == "beside" else (None,) * len(chart.panels)
    for number, (frame, panel, left) in enumerate(zip(frames, chart.panels, lefts, strict=False), 1):
        is_lowest = chart.layout != "stacked" or number == len(chart.panels)
        if panel.slices:
            parts += draw_slices(frame, panel.slices)
        elif chart.layout == "grid":
            parts += draw_plan(frame, panel)
        else:
            parts += draw_panel(frame, panel, left, has_x_texts=is_lowest)
    legend, height = _legend(_entries(chart, frames[0] if frames else None), width, bottom)
    drawn = "".join([*parts, *legend])
    label = escape(chart.description, quote=True)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:g} {height:.0f}" font-size="{FONT_PX:g}"'
        f' role="img" aria-label="{label}">{_patterns(chart.name, drawn)}{drawn}</svg>'
    )


def printed_svg(chart: Chart) -> str:
    """The chart as one `<svg>` element for paper: fixed colours, text in a font that every computer is given."""
    svg = re.sub(r"var\((--[a-z-]+)\)", lambda name: PAPER[name.group(1)], chart_svg(chart))
    return svg.replace("<svg ", f'<svg font-family="{PAPER_FONT}" ', 1)


def _patterns(name: str, drawn: str) -> str:
    """The patterns that a drawing uses, so that what has one colour is told apart."""
    look = f'stroke="{colour(CARD)}" stroke-width="1.2"'
    return "".join(
        f'<pattern id="{name}-hatch-{pattern}" width="6" height="6" patternUnits="userSpaceOnUse">'
        f'<path d="{path}" {look}/></pattern>'
        for pattern, path in PATTERNS.items()
        if f"(#{name}-hatch-{pattern})" in drawn
    )


def _has_band(chart: Chart, kind: str) -> bool:
    """Whether a chart has bands of that kind."""
    return any(band.kind == kind for panel in chart.panels for band in panel.bands)


def _frames(chart: Chart, width: float) -> tuple[list[Frame], float]:
    """Box and scales of every panel, and where the room for the legend begins."""
    if chart.layout == "grid":
        return _grid_frames(chart, width)
    is_stacked = chart.layout == "stacked"
    count = 1 if is_stacked else len(chart.panels)
    share = (width - 2 * EDGE_PX) / count
    margins = [_left_margin(panel, _before(chart, number)) for number, panel in enumerate(chart.panels)]
    if is_stacked:
        margins = [max(margins)] * len(margins)
    frames, top, lowest = [], EDGE_PX, EDGE_PX
    for number, panel in enumerate(chart.panels):
        left = EDGE_PX + margins[number] + (0.0 if is_stacked else number * share)
        inner = share - margins[number] - (GAP_PX if not panel.is_map else 0.0)
        box = Box(left, top, inner, _height(chart, panel, number, inner))
        frames.append(_frame(f"{chart.name}-panel-{number + 1}", box, panel))
        is_last = number == len(chart.panels) - 1
        texts = (X_TEXTS_PX if is_last or not is_stacked else 0.0) + (X_LABEL_PX if panel.x_label else 0.0)
        end = box.bottom + (MAP_STRIP_PX if panel.is_map else texts)
        lowest = max(lowest, end)
        top = end + GAP_PX if is_stacked else top
    return frames, lowest


def _grid_frames(chart: Chart, width: float) -> tuple[list[Frame], float]:
    """Squares in rows, each with a line of text below it."""
    side = (width - 2 * EDGE_PX - (GRID_COLUMNS - 1) * GAP_PX) / GRID_COLUMNS
    frames, below = [], X_TEXTS_PX + 4.0
    for number, panel in enumerate(chart.panels):
        row, column = divmod(number, GRID_COLUMNS)
        box = Box(EDGE_PX + column * (side + GAP_PX), EDGE_PX + row * (side + below), side, side)
        frames.append(_frame(f"{chart.name}-panel-{number + 1}", box, panel))
    return frames, frames[-1].box.bottom + below


def _before(chart: Chart, number: int) -> Panel | None:
    """The panel to the left."""
    return chart.panels[number - 1] if chart.layout == "beside" and number else None


def _left_margin(panel: Panel, left: Panel | None) -> float:
    """Room for the texts of the y axis and its name."""
    if panel.is_map or panel.slices:
        return 0.0
    if panel.rows:
        return (
            GAP_PX / 2
            if left and left.rows == panel.rows
            else 10.0 + max(text_width(words) for _, words in panel.rows)
        )
    low, high = spans(panel)[1]
    widest = max((text_width(words) for _, words in y_ticks(panel, Scale(low, high, 200.0, 0.0))), default=0.0)
    has_name = panel.y_label and panel.y_label != (left.y_label if left else None)
    return 12.0 + widest + (FONT_PX + 6.0 if has_name else 0.0)


def _height(chart: Chart, panel: Panel, number: int, width: float) -> float:
    """How high a panel is drawn."""
    heights = HEIGHTS[chart.layout]
    if panel.rows:
        return ROW_PX * len(panel.rows)
    if panel.has_equal_scales and chart.layout in ("one", "tall"):
        (west, east), (south, north) = spans(panel)
        shape = (north - south) / (east - west)
        return width * min(max(shape, LOWEST_SHARE), HIGHEST_WIDE_SHARE if chart.is_wide else HIGHEST_SHARE)
    return heights[min(number, len(heights) - 1)]


def _frame(name: str, box: Box, panel: Panel) -> Frame:
    """A panel's box with its scales."""
    (low_x, high_x), (low_y, high_y) = spans(panel)
    if panel.has_equal_scales and panel.window is None:
        margin = 1.0 + 2 * EQUAL_MARGIN
        per_px = max((high_x - low_x) / box.width, (high_y - low_y) / box.height) * margin
        middle_x, middle_y = (low_x + high_x) / 2.0, (low_y + high_y) / 2.0
        low_x, high_x = middle_x - per_px * box.width / 2.0, middle_x + per_px * box.width / 2.0
        low_y, high_y = middle_y - per_px * box.height / 2.0, middle_y + per_px * box.height / 2.0
    return Frame(name, box, Scale(low_x, high_x, box.left, box.right), Scale(low_y, high_y, box.bottom, box.top))


def _legend(entries: list[tuple[str, str]], width: float, top: float) -> tuple[list[str], float]:
    """What stands for what, in rows in the middle; and the height of the whole drawing."""
    rows: list[list[tuple[str, str]]] = [[]]
    room = 0.0
    for words, drawn in entries:
        need = SWATCH_PX + 5.0 + text_width(words) + LEGEND_GAP_PX
        if rows[-1] and room + need > width:
            rows.append([])
            room = 0.0
        rows[-1].append((words, drawn))
        room += need
    parts = []
    y = top + (LEGEND_ROW_PX if entries else 0.0)
    for row in rows if entries else []:
        needs = [SWATCH_PX + 5.0 + text_width(words) + LEGEND_GAP_PX for words, _ in row]
        x = max((width - sum(needs) + LEGEND_GAP_PX) / 2.0, EDGE_PX)
        for (words, drawn), need in zip(row, needs, strict=True):
            parts.append(f'<g transform="translate({x:.1f} {y - 0.35 * FONT_PX:.1f})">{drawn}</g>')
            parts.append(text(x + SWATCH_PX + 5.0, y, words))
            x += need
        y += LEGEND_ROW_PX
    return parts, (y - LEGEND_ROW_PX if entries else top) + EDGE_PX


def _entries(chart: Chart, frame: Frame | None) -> list[tuple[str, str]]:
    """What the legend shows: each phase, line and mark once; its text and its drawing about (0, 0)."""
    from flightlog.writers.words import PHASES

    entries = {PHASES[kind]: _phase_swatch(chart, kind) for kind in PHASES if _has_band(chart, kind)}
    for panel in chart.panels:
        for series in panel.series:
            if series.label:
                entries.setdefault(series.label, _line_swatch(series))
        if panel.cells and panel.cells_label:
            entries[panel.cells_label] = "".join(
                f'<rect x="{2 + 8 * step}" y="-6" width="8" height="12" {cell_look(step / 2.0)}/>'
                for step in range(3)
            )
        if panel.arrows and panel.arrows_label and frame:
            length_px = panel.arrow_key * frame.box.width / (frame.x.high - frame.x.low)
            entries[panel.arrows_label] = arrow(1.0, 0.0, 1.0 + length_px, 0.0)
        if panel.discs and panel.discs_label:
            entries[panel.discs_label] = f'<circle cx="13" cy="0" r="6" {DISC_LOOK}/>'
        for one in panel.marks:
            words = "broken off" if one.kind == "decision" else one.label
            entries.setdefault(words, mark(one.kind, SWATCH_PX / 2, 0.0, 5.5))
    if chart.layout == "grid" and frame:
        per_unit = frame.box.width / (frame.x.high - frame.x.low)
        length = round_length((SWATCH_PX - 2.0) / per_unit)
        path = f"M1 -4v8M1 0h{short(length * per_unit)}m0 -4v8"
        look = f'fill="none" stroke="{colour(INK)}" stroke-width="1.6"'
        entries[f"{length:g} {chart.panels[0].y_label}, north up"] = f'<path d="{path}" {look}/>'
    return list(entries.items())


def _phase_swatch(chart: Chart, kind: str) -> str:
    """A phase in the legend: its full colour and pattern over its tint."""
    where, name = 'x="2" width="22"', colour(BANDS[kind])
    drawn = f'<rect {where} y="-6" height="12" fill="{name}" fill-opacity="{2 * BAND_OPACITY}"/>'
    drawn += f'<rect {where} y="-6" height="6" fill="{name}"/>'
    if kind in HATCHES:
        drawn += f'<rect {where} y="-6" height="6" {patterned(f"{chart.name}-panel-1", HATCHES[kind])}/>'
    return drawn


def _line_swatch(series: Series) -> str:
    """A line in the legend."""
    style = line_style(series.kind, series.tag)
    if style.is_dots:
        return f'<circle cx="13" cy="0" r="{style.width + 1:g}" fill="{colour(style.colour)}" fill-opacity=".7"/>'
    if series.base:
        return f'<rect x="2" y="-6" width="22" height="12" fill="{colour(style.colour)}" fill-opacity=".18"/>'
    return line_swatch(style)
