"""Drawings by matplotlib in the style of the page, as SVG; the same drawing gives the same text.

Colours are written as CSS variables (`var(--chart-climb)`): the page decides them for light, dark and print.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import matplotlib as mpl
from matplotlib.figure import Figure

from flightlog.writers.chart_styles import PAPER

INK, GRID = "#010101", "#020202"
NARROW_INCHES = 4.9
COLOURS = {
    "landed": "#030105",
    "go_around": "#030102",
    "possible": "#030104",
    "limit": "#030106",
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
    "limit": {"linewidth": 0.9, "linestyle": (0, (4, 2))},
    "landed": {"linewidth": 1.6},
    "go_around": {"linewidth": 1.4, "linestyle": (0, (4, 2))},
    "possible": {"linewidth": 1.2, "linestyle": (0, (1, 1.5))},
}
"""Kind -> width and dashes, so that a chart is read without its colours."""
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


def on_paper(svg: str) -> str:
    """A drawing made for the page (`figure_svg`), with the fixed colours of paper."""
    return re.sub(r"var\((--[a-z-]+)\)", lambda name: PAPER[name.group(1)], svg)


def figure_svg(draw: Callable[[], Figure], name: str, description: str) -> str:
    """What `draw` makes in the style of the page, as one `<svg>` element.

    Its ids begin with its name, it holds its description for screen readers, no date and no link.
    """
    with mpl.rc_context(_style()):
        return _fit_for_page(_svg_text(draw()), name, description)


def _style() -> dict[Any, Any]:
    """All settings of matplotlib, whatever the user's own are."""
    return {**mpl.rcParamsDefault, **STYLE, "backend": mpl.rcParams["backend"]}


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
