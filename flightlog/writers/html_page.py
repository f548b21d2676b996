"""A page as one HTML file that needs nothing else: style, charts and scripts inside, every text escaped."""

from __future__ import annotations

import re
from dataclasses import asdict
from functools import cache
from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined, Template
from jinja2.utils import htmlsafe_json_dumps
from markupsafe import Markup

from flightlog.writers.chart_styles import line_style
from flightlog.writers.live_scripts import live_scripts, script_sources
from flightlog.writers.page_parts import Chart, Page
from flightlog.writers.svg_charts import chart_svg
from flightlog.writers.svg_shapes import line_swatch
from flightlog.writers.words import PHASES


def html_page(page: Page) -> bytes:
    """The page as UTF-8 HTML; the same page gives the same bytes.

    It asks nothing of the network (a content policy in it forbids that), and reads at any width from 320 pixels,
    in light and dark, and on paper.
    """
    return rendered("page.html", page)


def rendered(template: str, page: object) -> bytes:
    """A page drawn with one of the templates beside this module, as UTF-8."""
    return (_template(template).render(page=page) + "\n").encode("utf-8", "replace")


@cache
def _template(name: str) -> Template:
    """One of the templates beside this module, with the style in it."""
    folder = Path(__file__).parent
    environment = Environment(
        loader=FileSystemLoader(folder),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.globals["style"] = Markup((folder / "page.css").read_text(encoding="utf-8"))  # noqa: S704 (our own file)
    environment.globals["phase_names"] = PHASES
    environment.globals["live_scripts"] = live_scripts  # read only where a page has live charts
    environment.globals["script_sources"] = script_sources
    environment.filters["svg"] = _svg
    environment.filters["as_data"] = _as_data
    environment.filters["breakable"] = _breakable
    environment.filters["swatch"] = _swatch
    return environment.get_template(name)


def _svg(chart: Chart) -> Markup:
    """A chart ready to stand in the page; its texts were escaped when it was drawn."""
    return Markup(chart_svg(chart))  # noqa: S704 (drawn by us, texts escaped)


def _swatch(kind: str) -> Markup:
    """What a kind of line looks like, for a text beside it that names it."""
    drawn = line_swatch(line_style(kind))
    return Markup(f'<svg class="swatch" viewBox="0 -7 26 14" aria-hidden="true">{drawn}</svg>')  # noqa: S704 (ours)


WORD_JOINER = "\u2060"
"""Keeps what stands on both sides of it on one line."""


def _breakable(text: str) -> Markup:
    """The text, escaped, that may go to the next line after a comma or a stroke within a long word, not in a unit.

    >>> _breakable("sea,sky km/h") == Markup("sea,<wbr>sky km/" + WORD_JOINER + "h")
    True
    """
    joined = re.sub(r"/(?=\w\b)", f"/{WORD_JOINER}", text)
    return Markup("<wbr>").join(re.split(rf"(?<=[,/])(?=[^\s{WORD_JOINER}])", joined))


def _as_data(value: Any) -> Markup:
    """A dataclass as JSON in a script element: no text in it can end the element."""
    return htmlsafe_json_dumps(asdict(value), separators=(",", ":"), sort_keys=True)
