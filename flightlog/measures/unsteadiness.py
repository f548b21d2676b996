"""The ways in which an approach can be unsteady: each with its figure, and in words in any units."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass


@dataclass(frozen=True)
class Unsteadiness:
    """One way in which an approach was not steady, beyond the limit of the settings.

    `kind` is `sink`, `speed` or `tailwind` (`value` in m/s), `turn` or `off_course` (degrees), or `short_final`
    (s); a sink or a turn was one below the height `below_m` above the touchdown.
    """

    kind: str
    value: float
    below_m: float | None = None


UNITS = {
    "vertical": (" m/s", 1),
    "speed": (" m/s", 1),
    "height": (" m", 0),
    "degrees": (" degrees", 0),
    "seconds": (" s", 0),
}
"""Kind of figure -> unit and decimals of the words in SI."""


def in_si(value: float, kind: str) -> str:
    """A figure in words, in SI.

    >>> in_si(3.42, "vertical"), in_si(75.0, "degrees")
    ('3.4 m/s', '75 degrees')
    """
    unit, decimals = UNITS[kind]
    return f"{value:.{decimals}f}{unit}"


def unsteady_in_words(way: Unsteadiness, figure: Callable[[float, str], str] = in_si) -> str:
    """What an `Unsteadiness` says, with its figures as `figure` writes a value from SI of one of the `UNITS`.

    >>> unsteady_in_words(Unsteadiness("sink", 3.42, 20.0))
    'sank 3.4 m/s below 20 m'
    >>> unsteady_in_words(Unsteadiness("tailwind", 2.0), lambda value, kind: f"{3.6 * value:.0f} km/h")
    'landed with 7 km/h of wind from behind'
    """
    below = "" if way.below_m is None else f" below {figure(way.below_m, 'height')}"
    match way.kind:
        case "sink":
            return f"sank {figure(way.value, 'vertical')}{below}"
        case "turn":
            return f"turned {figure(way.value, 'degrees')}{below}"
        case "short_final":
            return f"final of only {figure(way.value, 'seconds')}"
        case "speed":
            return f"speed on final varied by {figure(way.value, 'speed')}"
        case "tailwind":
            return f"landed with {figure(way.value, 'speed')} of wind from behind"
        case "off_course":
            return f"final {figure(way.value, 'degrees')} off the field's course"
    raise ValueError(f"no way of being unsteady: {way.kind!r}")
