"""How the pilot steers: towards a heading, along a track over the ground, around a point that moves."""

from __future__ import annotations

import math

from .craft import Craft

BANK_LIMIT = math.radians(32)


def wrapped(angle: float) -> float:
    """The same angle within -pi to pi."""
    return (angle + math.pi) % (2 * math.pi) - math.pi


def heading_for_track(craft: Craft, bearing: float) -> float:
    """Air heading that keeps the track over the ground on this bearing (as well as the wind allows)."""
    cross = craft.wx * math.cos(bearing) - craft.wy * math.sin(bearing)
    return bearing - math.asin(max(-0.97, min(0.97, cross / max(craft.v, 3.0))))


def bearing_to(craft: Craft, x: float, y: float) -> float:
    """Bearing over the ground from the pilot to a point (radians)."""
    return math.atan2(x - craft.x, y - craft.y)


def distance_to(craft: Craft, x: float, y: float) -> float:
    """Metres from the pilot to a point."""
    return math.hypot(x - craft.x, y - craft.y)


def bank_for_heading(craft: Craft, heading: float, limit: float = BANK_LIMIT, side: int = 0) -> float:
    """Bank that turns to this heading; `side` forces the way round (1 right) while it is far off."""
    error = wrapped(heading - craft.psi)
    if side and abs(error) > math.radians(50) and (error > 0) != (side > 0):
        return side * limit
    return max(-limit, min(limit, 1.1 * error))


def bank_for_point(craft: Craft, x: float, y: float, limit: float = BANK_LIMIT, side: int = 0) -> float:
    """Bank that flies to a point, holding off the wind."""
    return bank_for_heading(craft, heading_for_track(craft, bearing_to(craft, x, y)), limit, side)


def bank_around(
    craft: Craft, x: float, y: float, centre_velocity: tuple[float, float], radius: float, bank: float, side: int
) -> float:
    """Bank that circles a (moving) centre at this radius: the pilot tightens outside it and opens inside it."""
    dx, dy = craft.x - x, craft.y - y
    distance = math.hypot(dx, dy)
    correction = math.atan(1.1 * (distance - radius) / radius)
    wanted = math.atan2(dx, dy) + side * (math.pi / 2 + correction)
    east = craft.v * math.sin(wanted) - craft.wx + centre_velocity[0]
    north = craft.v * math.cos(wanted) - craft.wy + centre_velocity[1]
    error = side * wrapped(math.atan2(east, north) - craft.psi)
    if distance > 3.0 * radius:
        return side * max(-BANK_LIMIT, min(BANK_LIMIT, error))
    return side * max(-0.10, min(bank + 0.26, bank + 0.9 * error))
