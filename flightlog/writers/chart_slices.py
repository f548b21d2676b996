"""A whole and its parts: one bar from top to bottom, every part with its name beside it."""

from __future__ import annotations

from collections.abc import Sequence

from matplotlib.axes import Axes
from matplotlib.patches import Rectangle

from flightlog.writers.chart_axes import COLOURS, GRID, HATCHES, INK
from flightlog.writers.page_parts import Slice

MODE_HATCHES = {"circling": "//", "ridge": "..", "straight": "||"}
"""Three kinds of climb have one colour: their hatching tells them apart, for everybody."""
BAR_RIGHT, LABEL_LEFT = 0.26, 0.36
LINE = 0.09
"""Height of a label with the room it needs, as a share of the bar."""
STRENGTH = 0.6


def draw_slices(axes: Axes, slices: Sequence[Slice]) -> None:
    """Draw the parts, the first on top, each joined by a line to its label."""
    axes.set_axis_off()
    axes.set_xlim(0.0, 1.0)
    axes.set_ylim(1.0, 0.0)
    tops = [sum(one.share for one in slices[:at]) for at in range(len(slices))]
    middles = [top + one.share / 2.0 for top, one in zip(tops, slices, strict=True)]
    for one, top, middle, level in zip(slices, tops, middles, levels_apart(middles), strict=True):
        axes.add_patch(
            Rectangle(
                (0.0, top),
                BAR_RIGHT,
                one.share,
                facecolor=COLOURS.get(one.kind, GRID),
                alpha=STRENGTH,
                hatch=MODE_HATCHES.get(one.mode, HATCHES.get(one.kind)),
                edgecolor=INK,
                linewidth=0.6,
            )
        )
        axes.plot(
            [BAR_RIGHT, BAR_RIGHT + 0.03, LABEL_LEFT - 0.04, LABEL_LEFT - 0.015],
            [middle, middle, level, level],
            color=INK,
            linewidth=0.6,
            clip_on=False,
        )
        axes.text(LABEL_LEFT, level, one.label, va="center", clip_on=False)


def levels_apart(middles: Sequence[float], apart: float = LINE) -> list[float]:
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
