"""What drawings are made of: boxes and scales, texts, lines and marks as SVG."""

from __future__ import annotations

import math
from dataclasses import dataclass
from html import escape

from flightlog.writers.chart_styles import CARD, INK, MARKS, QUIET, LineStyle
from flightlog.writers.svg_scales import Scale, short

FONT_PX = 13.0
LETTER_PX = 0.58 * FONT_PX
"""Mean width of a letter, enough for the room that a text needs."""
LINE_MARK_PX = 4.5
"""Half the size of the marks that stand on lines."""
HALO = f' paint-order="stroke" stroke="var({CARD})" stroke-width="2.5" stroke-linejoin="round"'
"""About letters that stand on lines."""
ARROW_HEAD_PX = 7.0


@dataclass(frozen=True)
class Box:
    """A rectangle of the drawing, in pixels; y grows downward."""

    left: float
    top: float
    width: float
    height: float

    @property
    def right(self) -> float:
        """Its right edge."""
        return self.left + self.width

    @property
    def bottom(self) -> float:
        """Its lower edge."""
        return self.top + self.height


@dataclass(frozen=True)
class Frame:
    """A box with its two scales; ids of what is drawn in it begin with `name`."""

    name: str
    box: Box
    x: Scale
    y: Scale


def colour(name: str) -> str:
    """A colour of the page by its name."""
    return f"var({name})"


def text(x: float, y: float, words: str, *, anchor: str = "start", name: str = INK, more: str = "") -> str:
    """A line of text; what XML does not allow in it is left out."""
    clean = "".join(letter for letter in words if letter.isprintable() or letter in "\u00a0\u202f\u2009")
    where = f' text-anchor="{anchor}"' if anchor != "start" else ""
    return f'<text x="{short(x)}" y="{short(y)}"{where} fill="{colour(name)}"{more}>{escape(clean)}</text>'


def text_width(words: str) -> float:
    """About how wide a text is, in pixels."""
    return LETTER_PX * len(words)


def stroke(style: LineStyle) -> str:
    """How a line is drawn, as attributes."""
    dashes = f' stroke-dasharray="{" ".join(short(part) for part in style.dashes)}"' if style.dashes else ""
    opacity = f' stroke-opacity="{style.opacity:g}"' if style.opacity < 1.0 else ""
    return f'fill="none" stroke="{colour(style.colour)}" stroke-width="{style.width:g}"{dashes}{opacity}'


def line(x1: float, y1: float, x2: float, y2: float, name: str, width: float) -> str:
    """A straight line."""
    path = f"M{short(x1)} {short(y1)} {short(x2)} {short(y2)}"
    return f'<path d="{path}" stroke="{colour(name)}" stroke-width="{width:g}"/>'


def mark(kind: str, x: float, y: float, size: float = 6.0) -> str:
    """A mark by its kind, about its middle."""
    name, shape = MARKS[kind]
    return drawn_shape(shape, x, y, size, INK if shape == "plus" else name)


def drawn_shape(shape: str, x: float, y: float, size: float, name: str) -> str:
    """A disc, square, diamond, plus, cross or triangle (`up`, `down`) in a colour, about its middle.

    What begins with `open_` is an outline alone.
    """
    s = size
    corners: tuple[tuple[float, float], ...]
    if shape == "plus":
        path = f"M{short(x - s)} {short(y)}h{short(2 * s)}M{short(x)} {short(y - s)}v{short(2 * s)}"
        return f'<path d="{path}" stroke="{colour(name)}" stroke-width="1.8"/>'
    if shape == "cross":
        s *= 0.8
        across = f"M{short(x - s)} {short(y - s)}l{short(2 * s)} {short(2 * s)}m0 {short(-2 * s)}"
        return f'<path d="{across}l{short(-2 * s)} {short(2 * s)}" stroke="{colour(name)}" stroke-width="2.2"/>'
    look = f'fill="{colour(name)}" stroke="{colour(INK)}" stroke-width=".8"'
    if shape.startswith("open_"):
        shape, look = shape.removeprefix("open_"), f'fill="none" stroke="{colour(name)}" stroke-width="1.8"'
    if shape == "disc":
        return f'<circle cx="{short(x)}" cy="{short(y)}" r="{short(0.85 * s)}" {look}/>'
    if shape in ("up", "down"):
        sign = 1.0 if shape == "up" else -1.0
        corners = ((x, y - sign * s), (x + s, y + sign * s * 0.8), (x - s, y + sign * s * 0.8))
    elif shape == "diamond":
        corners = ((x, y - s), (x + s, y), (x, y + s), (x - s, y))
    else:
        s *= 0.8
        corners = ((x - s, y - s), (x + s, y - s), (x + s, y + s), (x - s, y + s))
    points = " ".join(f"{short(px)},{short(py)}" for px, py in corners)
    return f'<polygon points="{points}" {look}/>'


def arrow(x: float, y: float, to_x: float, to_y: float) -> str:
    """An arrow from one place to another, its head no longer than itself."""
    length = math.hypot(to_x - x, to_y - y)
    if length < 0.5:
        return ""
    along_x, along_y = (to_x - x) / length, (to_y - y) / length
    head = min(ARROW_HEAD_PX, length)
    back_x, back_y, half = to_x - head * along_x, to_y - head * along_y, 0.35 * head
    corners = (
        (to_x, to_y),
        (back_x - half * along_y, back_y + half * along_x),
        (back_x + half * along_y, back_y - half * along_x),
    )
    points = " ".join(f"{short(px)},{short(py)}" for px, py in corners)
    return line(x, y, back_x, back_y, QUIET, 1.4) + f'<polygon points="{points}" fill="{colour(QUIET)}"/>'


def line_swatch(style: LineStyle) -> str:
    """A line in a legend, 26 pixels wide about the height 0, with its mark."""
    drawn = f'<path d="M1 0h24" {stroke(style)}/>'
    return drawn + (drawn_shape(style.shape, 13.0, 0.0, LINE_MARK_PX, style.colour) if style.shape else "")


def patterned(name: str, pattern: str) -> str:
    """A fill with a pattern; panels of one drawing (`c-panel-1`, `c-panel-2`) share it."""
    return f'fill="url(#{name.rpartition("-panel-")[0]}-hatch-{pattern})"'
