"""Numbers, times and intervals as a pilot reads them: in the units and the time zone of the reader."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime, tzinfo

from flightlog.estimates import Estimate
from flightlog.units import (
    metres_to_feet,
    metres_to_kilometres,
    metres_to_nautical_miles,
    mps_to_feet_per_minute,
    mps_to_kmh,
    mps_to_knots,
)
from flightlog.writers.basemaps import Basemap

UNKNOWN = "–"
"""Stands in a table where the log does not tell."""
MINUS = "−"
NO_BREAK = "\u00a0"

LEAST_MINUTE_S = 59.5
"""Rounded, a minute: from there on a time span is told in minutes and seconds."""


@dataclass(frozen=True)
class Quantity:
    """How one kind of figure is shown: its unit, the conversion from SI, the usual decimals."""

    unit: str
    convert: Callable[[float], float]
    decimals: int


def _same(value: float) -> float:
    """No conversion."""
    return value


def _in_percent(share: float) -> float:
    """Parts of a hundred."""
    return 100.0 * share


COMMON = {
    "ratio": Quantity("", _same, 1),
    "degrees": Quantity("°", _same, 0),
    "seconds": Quantity("s", _same, 1),
    "count": Quantity("", _same, 1),
    "share": Quantity("%", _in_percent, 0),
}
SYSTEMS: dict[str, dict[str, Quantity]] = {
    "metric": {
        **COMMON,
        "height": Quantity("m", _same, 0),
        "length": Quantity("m", _same, 0),
        "distance": Quantity("km", metres_to_kilometres, 2),
        "speed": Quantity("km/h", mps_to_kmh, 0),
        "vertical": Quantity("m/s", _same, 1),
    },
    "aviation": {
        **COMMON,
        "height": Quantity("ft", metres_to_feet, 0),
        "length": Quantity("ft", metres_to_feet, 0),
        "distance": Quantity("NM", metres_to_nautical_miles, 2),
        "speed": Quantity("kt", mps_to_knots, 0),
        "vertical": Quantity("ft/min", mps_to_feet_per_minute, 0),
    },
}
"""Unit system -> kind of figure -> how it is shown."""


@dataclass(frozen=True)
class Display:
    """The reader's units (`metric` or `aviation`) and time zone, and why it is this zone."""

    units: str = "metric"
    zone: tzinfo = UTC
    zone_name: str = "UTC"
    zone_reason: str = "as asked for"
    follows_log: bool = False  # the zone is not asked for: each log's own is shown (flightlog.writers.zones)
    basemap: Basemap | None = None  # no page asks for anything without one

    def quantity(self, kind: str) -> Quantity:
        """How figures of that kind are shown."""
        return SYSTEMS[self.units][kind]

    def unit(self, kind: str) -> str:
        """The unit of that kind of figure; empty where it has none."""
        return self.quantity(kind).unit

    def converted(self, value: float, kind: str) -> float:
        """An SI value in the reader's unit, not rounded; for charts."""
        return self.quantity(kind).convert(value)

    def figure(self, value: float | None, kind: str, *, signed: bool = False) -> str:
        """A value from SI in the reader's unit, without the unit.

        >>> Display().figure(10.0, "speed"), Display("aviation").figure(1000.0, "height")
        ('36', '3281')
        >>> Display().figure(None, "speed")
        '–'
        """
        quantity = self.quantity(kind)
        if value is None or not math.isfinite(value):
            return UNKNOWN
        return self.number(quantity.convert(value), quantity.decimals, signed=signed)

    def rough(self, value: float | None, kind: str) -> str:
        """As `figure`, with two digits that count: for radii that say how little is known.

        >>> Display().rough(919.8, "length"), Display().rough(47.2, "length"), Display().rough(None, "length")
        ('920', '47', '–')
        """
        if value is None or not math.isfinite(value):
            return UNKNOWN
        return self.number(float(f"{self.converted(value, kind):.2g}"), 0)

    def with_unit(self, value: float | None, kind: str) -> str:
        """As `figure`, with the unit behind it, or "not known".

        >>> Display().with_unit(812.4, "height") == "812" + NO_BREAK + "m", Display().with_unit(241.0, "degrees")
        (True, '241°')
        """
        if value is None or not math.isfinite(value):
            return "not known"
        return self.joined(self.figure(value, kind), kind)

    def joined(self, text: str, kind: str) -> str:
        """A figure and its unit, which no line break parts."""
        unit = self.unit(kind)
        return text if not unit else f"{text}{'' if unit == '°' else NO_BREAK}{unit}"

    def estimate(self, estimate: Estimate | None, kind: str) -> str:
        """Best value and 95 % interval, with as many decimals as the interval deserves.

        >>> Display().estimate(Estimate(1.8, 1.6, 2.0), "vertical")
        '1.8 (1.6 to 2.0)'
        >>> Display().estimate(Estimate(3.0, 2.9, 3.12), "speed")
        '10.8 (10.4 to 11.2)'
        >>> Display().estimate(None, "speed")
        '–'
        """
        if estimate is None:
            return UNKNOWN
        quantity = self.quantity(kind)
        value, low, high = (quantity.convert(part) for part in (estimate.value, estimate.low, estimate.high))
        decimals = decimals_for((high - low) / 2.0, quantity.decimals)
        best, least, most = (self.number(part, decimals) for part in (value, low, high))
        return f"{best} ({least} to {most})"

    def measured(self, value: float | None, interval: Estimate | None, kind: str) -> str:
        """A figure with its 95 % interval, where that is known.

        >>> Display().measured(24.0, Estimate(24.0, 22.9, 25.1), "degrees")
        '24 (23 to 25)'
        >>> Display().measured(24.0, None, "degrees")
        '24'
        """
        return self.figure(value, kind) if interval is None else self.estimate(interval, kind)

    def number(self, value: float, decimals: int, *, signed: bool = False) -> str:
        """A number with so many decimals, rounded half to even, a true minus sign, and no negative nought.

        >>> Display().number(-0.04, 1), Display().number(-2.26, 1), Display().number(3.0, 0, signed=True)
        ('0.0', '−2.3', '+3')
        """
        text = f"{value:.{decimals}f}"
        if not text.strip("-0."):
            return text.removeprefix("-")
        return text.replace("-", MINUS) if value < 0 else f"+{text}" if signed else text

    def clock(self, moment: datetime) -> str:
        """Time of day in the reader's zone, to the second.

        >>> Display().clock(datetime(2026, 6, 14, 11, 2, 3, 600_000, UTC))
        '11:02:03'
        """
        return moment.astimezone(self.zone).strftime("%H:%M:%S")

    def date(self, moment: datetime) -> str:
        """Date in the reader's zone, ISO 8601."""
        return moment.astimezone(self.zone).date().isoformat()

    def span(self, start: datetime, end: datetime) -> str:
        """How long it is from start to end."""
        return duration((end - start).total_seconds())


def decimals_for(half_width: float, usual: int) -> int:
    """Decimals that an interval of that half width deserves: one more than usual where it is narrow.

    >>> decimals_for(5.0, 0), decimals_for(0.4, 0), decimals_for(0.02, 1), decimals_for(0.2, 1)
    (0, 1, 2, 1)
    """
    return usual + 1 if half_width < 10.0**-usual else usual


def duration(seconds: float | None) -> str:
    """A time span as a pilot reads it; tenths of a second, which matter to a launch run, below ten.

    >>> [duration(seconds).replace(NO_BREAK, " ") for seconds in (7.26, 9.97, 53.4, 59.6, 65, 5025, None)]
    ['7.3 s', '10 s', '53 s', '1:00 min', '1:05 min', '1:23:45 h', '–']
    """
    if seconds is None or not math.isfinite(seconds):
        return UNKNOWN
    if seconds < LEAST_MINUTE_S:
        return f"{seconds:.{int(seconds < 9.95)}f}{NO_BREAK}s"
    whole = round(seconds)
    hours, minutes, rest = whole // 3600, whole // 60 % 60, whole % 60
    return f"{hours}:{minutes:02d}:{rest:02d}{NO_BREAK}h" if hours else f"{minutes}:{rest:02d}{NO_BREAK}min"


def duration_with_interval(seconds: float | None, interval: Estimate | None) -> str:
    """A time span with its 95 % interval, where that is known; in whole seconds, as no such interval is narrower.

    >>> duration_with_interval(0.2, Estimate(0.2, 0.0, 65.0)).replace(NO_BREAK, " ")
    '0 s (0 s to 1:05 min)'
    >>> duration_with_interval(38.2, None).replace(NO_BREAK, " ")
    '38 s'
    """
    if interval is None:
        return duration(seconds)
    best, low, high = (
        f"{part:.0f}{NO_BREAK}s" if part < LEAST_MINUTE_S else duration(part)
        for part in (interval.value, interval.low, interval.high)
    )
    return f"{best} ({low} to {high})"


def flight_count(count: int) -> str:
    """The number of flights in words.

    >>> flight_count(0), flight_count(1), flight_count(2)
    ('no flight', '1 flight', '2 flights')
    """
    return {0: "no flight", 1: "1 flight"}.get(count, f"{count} flights")


def over_ground(speed_mps: float | None, show: Display) -> str:
    """A speed over the ground in a sentence, after "at".

    >>> over_ground(None, Display())
    'a speed that the log does not tell'
    """
    if speed_mps is None:
        return "a speed that the log does not tell"
    return f"{show.with_unit(speed_mps, 'speed')} over the ground"


def sinking(sink_mps: float | None, show: Display, down: str = "sinking ") -> str:
    """How fast something sinks, or rises where it does; `down` stands before a sink.

    >>> [sinking(sink, Display()).replace(NO_BREAK, " ") for sink in (0.91, -0.52, 0.04)]
    ['sinking 0.9 m/s', 'rising 0.5 m/s', 'level']
    """
    if sink_mps is None or not math.isfinite(sink_mps):
        return "not known"
    if not show.figure(sink_mps, "vertical").strip("-0."):
        return "level"
    return f"{down if sink_mps > 0 else 'rising '}{show.with_unit(abs(sink_mps), 'vertical')}"


def display_in(units: str, timezone: str | None) -> Display:
    """Display in those units and that time zone (IANA name); None: in the time of each log.

    Raises
    ------
    ValueError
        No such system of units, or no such zone.
    """
    from zoneinfo import ZoneInfo

    if units not in SYSTEMS:
        raise ValueError(f"units {units!r} are not among {', '.join(SYSTEMS)}")
    if timezone is None:
        return Display(units, follows_log=True)
    if timezone == "UTC":
        return Display(units)
    try:
        return Display(units, ZoneInfo(timezone), timezone)
    except (OSError, ValueError, KeyError) as error:
        raise ValueError(f"{timezone!r} is no time zone such as Europe/Oslo") from error
