"""A whole and its parts: one bar from top to bottom, every part with its name beside it."""

from __future__ import annotations

from collections.abc import Sequence

from flightlog.writers.chart_styles import BANDS, GRID, HATCHES, INK, MODE_HATCHES
from flightlog.writers.page_parts import Slice
from flightlog.writers.svg_scales import short
from flightlog.writers.svg_shapes import FONT_PX, Frame, colour, patterned, text

BAR_PX, LABEL_PX = 110.0, 150.0
"""Width of the bar, and where the labels begin."""
LINE_PX = FONT_PX + 8.0
"""Height of a label with the room it needs."""
STRENGTH = 0.75


def draw_slices(frame: Frame, slices: Sequence[Slice]) -> list[str]:
    """The parts, the first on top, each joined by a line to its label."""
    box, parts = frame.box, []
    tops = [sum(one.share for one in slices[:at]) for at in range(len(slices))]
    middles = [top + one.share / 2.0 for top, one in zip(tops, slices, strict=True)]
    levels = levels_apart(middles, LINE_PX / box.height)
    for one, top, middle, level in zip(slices, tops, middles, levels, strict=True):
        where = f'x="{short(box.left)}" y="{short(box.top + top * box.height)}" width="{BAR_PX:g}"'
        where += f' height="{short(one.share * box.height)}"'
        name = colour(BANDS.get(one.kind, GRID))
        parts.append(f'<rect {where} fill="{name}" fill-opacity="{STRENGTH}"/>')
        pattern = MODE_HATCHES.get(one.mode) or HATCHES.get(one.kind)
        fill = patterned(frame.name, pattern) if pattern else 'fill="none"'
        parts.append(f'<rect {where} {fill} stroke="{colour(INK)}" stroke-width=".6"/>')
        y, right = box.top + level * box.height, box.left + LABEL_PX
        start = box.top + middle * box.height
        path = f"M{short(box.left + BAR_PX)} {short(start)}h8L{short(right - 14.0)} {short(y)}h8"
        parts.append(f'<path d="{path}" fill="none" stroke="{colour(INK)}" stroke-width=".7"/>')
        parts.append(text(right, y + 0.35 * FONT_PX, one.label))
    return parts


def levels_apart(middles: Sequence[float], apart: float) -> list[float]:
    """Levels for labels in the order of their parts, as near to them as room allows, none on another.

    They stay between 0 and 1 where they fit there at all.

    >>> [round(level, 3) for level in levels_apart([0.001, 0.002, 0.5], 0.1)]
    [0.05, 0.15, 0.5]
    """
    levels: list[float] = []
    for middle in middles:
        levels.append(max(middle, levels[-1] + apart if levels else apart / 2.0))
    lowest = 1.0 - apart / 2.0
    for at in reversed(range(len(levels))):
        levels[at] = min(levels[at], lowest)
        lowest = levels[at] - apart
    return levels
