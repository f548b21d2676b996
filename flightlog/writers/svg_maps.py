"""What only maps have: climbs as discs, and below them a bar for the scale, the wind and north."""

from __future__ import annotations

import math
from html import escape

from flightlog.writers.chart_styles import CARD, CLIMB, GLIDE, INK
from flightlog.writers.page_parts import Disc, Panel
from flightlog.writers.svg_scales import round_length, short
from flightlog.writers.svg_shapes import HALO, Frame, colour, text, text_width

MAP_STRIP_PX = 34.0
"""Room below a map for scale, wind and north, so that they hide nothing."""
LARGEST_DISC_PX, SMALLEST_DISC_PX = 15.0, 3.5
MOST_NUMBERED = 40
"""Discs whose numbers do not cover each other; of more than these the numbers are left out."""
DISC_LOOK = f'fill="var({CARD})" fill-opacity=".6" stroke="var({CLIMB})" stroke-width="1.6"'


def disc_radius_px(weight: float, largest: float) -> float:
    """Radius of a disc whose area grows with its weight.

    >>> disc_radius_px(400.0, 400.0), disc_radius_px(100.0, 400.0)
    (15.0, 7.5)
    """
    share = max(weight, 0.0) / largest if largest > 0.0 else 0.0
    return max(SMALLEST_DISC_PX, LARGEST_DISC_PX * math.sqrt(share))


def draw_discs(frame: Frame, discs: tuple[Disc, ...]) -> list[str]:
    """Climbs on a map: discs that let the track through, the largest first."""
    largest = max((disc.weight for disc in discs), default=0.0)
    parts = []
    for disc in sorted(discs, key=lambda one: -one.weight):
        x, y, radius = frame.x.at(disc.x), frame.y.at(disc.y), disc_radius_px(disc.weight, largest)
        parts.append(
            f'<circle cx="{short(x)}" cy="{short(y)}" r="{short(radius)}" {DISC_LOOK}>'
            f"<title>{escape(disc.label)}</title></circle>"
        )
    for disc in discs if len(discs) <= MOST_NUMBERED else ():
        x, y = frame.x.at(disc.x), frame.y.at(disc.y) + 4.0
        parts.append(text(x, y, disc.tag, anchor="middle", more=f' font-size="11"{HALO}'))
    return parts


def draw_map_strip(frame: Frame, panel: Panel) -> list[str]:
    """Below a map: a bar for the scale, an arrow for north and one that flies with the wind."""
    box = frame.box
    per_unit = (frame.x.end - frame.x.start) / (frame.x.high - frame.x.low)
    length = round_length(box.width * 0.28 / per_unit)
    y, wide = box.bottom + MAP_STRIP_PX - 10.0, length * per_unit
    path = f"M{short(box.left)} {short(y - 5)}v5h{short(wide)}v-5"
    parts = [f'<path d="{path}" fill="none" stroke="{colour(INK)}" stroke-width="1.8"/>']
    parts.append(text(box.left + 5.0, y - 5.0, length_text(length, panel.x_label)))
    north = box.right - 8.0
    parts.append(_arrow(north, y - 7.0, 0.0, INK))
    parts.append(text(north - 8.0, y, "north", anchor="end"))
    if panel.wind_to_deg is not None:
        room = text_width(panel.wind_label)
        middle = box.left + max(wide + 40.0, (box.width - room) / 2.0)
        parts.append(_arrow(middle, y - 6.0, panel.wind_to_deg, GLIDE))
        parts.append(text(middle + 15.0, y, panel.wind_label))
    return parts


def length_text(length: float, unit: str) -> str:
    """A round length with its unit; metres below a kilometre.

    >>> length_text(0.5, "km"), length_text(2.0, "km"), length_text(0.5, "NM")
    ('500 m', '2 km', '0.5 NM')
    """
    return f"{1000.0 * length:g} m" if unit == "km" and length < 1.0 else f"{length:g} {unit}"


def _arrow(x: float, y: float, to_deg: float, name: str) -> str:
    """An arrow about a point that flies towards a direction, north up."""
    where = f"translate({short(x)} {short(y)}) rotate({to_deg:.0f})"
    shape = "M0-11 5-2 1.6-3.5 1.6 10-1.6 10-1.6-3.5-5-2Z"
    return (
        f'<path transform="{where}" d="{shape}" fill="{colour(name)}" stroke="{colour(INK)}" stroke-width=".6"/>'
    )
