"""Words beside the points of a chart, each where it covers no other."""

from __future__ import annotations

import math

from flightlog.writers.page_parts import Tag
from flightlog.writers.svg_shapes import HALO, Box, Frame, text, text_width

TAG_PX = 11.0
"""Size of the letters."""
BESIDE_PX = 13.0
"""From the point to the middle of the word's near end; twice as far where there is no room."""
TURNS_DEG = (0.0, 45.0, -45.0, 90.0, -90.0, 135.0, -135.0, 180.0)
"""Sides that are tried, from the one that was wished for."""


def draw_tags(frame: Frame, tags: tuple[Tag, ...]) -> list[str]:
    """The words, none over another where one of eight sides is free, near the point or farther off."""
    taken: list[Box] = []
    parts = []
    for tag in tags:
        sides = [_beside(frame, tag, turn, away) for away in (BESIDE_PX, 2.0 * BESIDE_PX) for turn in TURNS_DEG]
        free = [box for box in sides if _lies_in(box, frame.box) and not any(_overlap(box, one) for one in taken)]
        box = free[0] if free else sides[0]
        taken.append(box)
        more = f' font-size="{TAG_PX:g}"{HALO}'
        parts.append(text(box.left + box.width / 2.0, box.bottom - 2.0, tag.words, anchor="middle", more=more))
    return parts


def _beside(frame: Frame, tag: Tag, turn_deg: float, away_px: float) -> Box:
    """The room of a word, so much to the left of the side that was wished for."""
    angle = math.atan2(tag.up, tag.right) + math.radians(turn_deg)
    width, height = text_width(tag.words) * TAG_PX / 13.0, TAG_PX
    x = frame.x.at(tag.x) + math.cos(angle) * (away_px - 5.0 + width / 2.0)
    y = frame.y.at(tag.y) - math.sin(angle) * away_px
    return Box(x - width / 2.0, y - height / 2.0, width, height)


def _lies_in(box: Box, whole: Box) -> bool:
    """Whether a box lies in another."""
    return (
        box.left >= whole.left and box.right <= whole.right and box.top >= whole.top and box.bottom <= whole.bottom
    )


def _overlap(one: Box, other: Box) -> bool:
    """Whether two boxes have something in common."""
    return one.left < other.right and other.left < one.right and one.top < other.bottom and other.top < one.bottom
