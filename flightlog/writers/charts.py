"""Charts as SVG, drawn by matplotlib; the same chart gives the same text.

Colours are written as CSS variables (`var(--chart-climb)`): the page decides them for light, dark and print.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import matplotlib as mpl
from matplotlib.figure import Figure

from flightlog.writers.chart_axes import GRID, INK, TOKENS, draw_panel, legend_handles
from flightlog.writers.chart_slices import draw_slices
from flightlog.writers.page_parts import Chart

WIDE_INCHES, NARROW_INCHES = 7.4, 4.9
STYLE: dict[Any, Any] = {
    "svg.fonttype": "none",  # text stays text: it can be read aloud, found and takes the page's font
    "svg.hashsalt": "flightlog",
    "font.size": 9.0,
    "axes.linewidth": 0.7,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "path.simplify": True,
    "path.simplify_threshold": 0.4,
    "text.parse_math": False,
    "legend.frameon": False,
    "legend.fontsize": 8.0,
    "text.color": INK,
    "axes.labelcolor": INK,
    "axes.edgecolor": INK,
    "xtick.color": INK,
    "ytick.color": INK,
}

ON_PAPER = {
    INK: "#1c2227",
    GRID: "#d5d8da",
    "#030101": "#b5548f",
    "#030102": "#c44e00",
    "#030103": "#0067a5",
    "#030104": "#6e6e6e",
    "#030105": "#00845f",
    "#030106": "#566069",
}
"""As TOKENS, for print: dark enough for thin lines on white (3:1 at least, WCAG 2.2, success criterion 1.4.11)."""


def chart_svg(chart: Chart) -> str:
    """The chart as one `<svg>` element for a page.

    Its ids begin with the chart's name, it holds its description for screen readers, no date and no link.
    """
    return figure_svg(lambda: _drawn(chart), chart.name, chart.description)


def printed_svg(chart: Chart) -> str:
    """The chart as one `<svg>` element for paper: fixed colours, text in the font that matplotlib brings along."""
    with mpl.rc_context(_style()):
        text = _svg_text(_drawn(chart))
    text = text[text.index("<svg") :]
    return re.sub(r"#0[1-3]0[1-3]0[1-6]\b", lambda colour: ON_PAPER.get(colour.group(), colour.group()), text)


def on_paper(svg: str) -> str:
    """A drawing made for the page (`figure_svg`), with the fixed colours of paper."""
    fixed = {token: ON_PAPER[colour] for colour, token in TOKENS.items() if colour in ON_PAPER}
    return re.sub(r"var\(--[a-z-]+\)", lambda token: fixed.get(token.group(), ON_PAPER[INK]), svg)


def figure_svg(draw: Callable[[], Figure], name: str, description: str) -> str:
    """What `draw` makes in the style of the page, as one `<svg>` element; as for `chart_svg`."""
    with mpl.rc_context(_style()):
        return _fit_for_page(_svg_text(draw()), name, description)


def _style() -> dict[Any, Any]:
    """All settings of matplotlib, whatever the user's own are."""
    return {**mpl.rcParamsDefault, **STYLE, "backend": mpl.rcParams["backend"]}


def _drawn(chart: Chart) -> Figure:
    """The chart as a figure."""
    width = WIDE_INCHES if chart.is_wide else NARROW_INCHES
    rows, columns = (len(chart.panels), 1) if chart.layout == "stacked" else (1, len(chart.panels))
    height = {"stacked": 4.4, "beside": 3.5, "one": 4.3 if chart.panels[0].has_equal_scales else 3.3}[chart.layout]
    figure = Figure(figsize=(width, height), layout="constrained")
    all_axes = figure.subplots(
        rows,
        columns,
        squeeze=False,
        sharex=chart.layout == "stacked",
        height_ratios=[1.4, 1.0] if chart.layout == "stacked" and rows == 2 else None,
    ).ravel()
    lefts = (None, *chart.panels) if chart.layout == "beside" else (None,) * len(chart.panels)
    for axes, panel, left in zip(all_axes, chart.panels, lefts, strict=False):
        if panel.slices:
            draw_slices(axes, panel.slices)
        else:
            draw_panel(axes, panel, left)
    handles = legend_handles(chart)
    if handles:
        figure.legend(
            handles=handles, loc="outside lower center", ncols=min(len(handles), 5 if chart.is_wide else 3)
        )
    return figure


def _svg_text(figure: Figure) -> str:
    """The figure as SVG text."""
    from io import StringIO

    file = StringIO()
    nothing = dict.fromkeys(("Date", "Creator", "Format", "Type"))
    figure.savefig(file, format="svg", transparent=True, metadata=nothing)
    return file.getvalue()


def _fit_for_page(text: str, name: str, description: str) -> str:
    """The SVG element alone: ids of its own, colours of the page, its description in it."""
    from html import escape

    text = text[text.index("<svg") :].strip()
    text = re.sub(r"<[^<>]*>", lambda tag: _with_own_names(tag.group(), name), text)
    head, _, rest = text.partition(">")
    label = escape(description, quote=True)
    return f'{head} role="img" aria-label="{label}">{rest}'


def _with_own_names(tag: str, name: str) -> str:
    """One tag with ids that begin with the chart's name, and with colours as variables."""
    tag = re.sub(r'\bid="', f'id="{name}-', tag)
    tag = tag.replace("url(#", f"url(#{name}-").replace('href="#', f'href="#{name}-')
    return re.sub(r"#[0-9a-f]{6}", lambda colour: TOKENS.get(colour.group(), colour.group()), tag)
