"""Trends of a season: flights by pilot and wing with their intervals, and the line or lines through them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import UTC, date, datetime, timedelta

from flightlog.season.results import Trend, TrendLevel, TrendPoint
from flightlog.writers.chart_styles import MOST_WINGS
from flightlog.writers.display import Display
from flightlog.writers.page_parts import Chart, Mark, Panel, Series
from flightlog.writers.season_words import FIGURES, level_name, trend_text
from flightlog.writers.words import counted

MOST_TICKS, MOST_DAY_TICKS = 5, 4
TICKED_SHARE = 0.9
"""Of the days shown: a date nearer to the end than the rest would be cut off."""
AXES = {"centred_share": "share of centred climb"}
"""Names of axes that would be too long."""
LEVEL_LINES = "a line for each at its level, one slope for all"


def trend_chart(trend: Trend, show: Display) -> Chart:
    """One figure over the season: flights with their intervals, and the line with its band.

    Flights of several wings or pilots have a mark each, and a line each at their own level.
    """
    name, kind = FIGURES[trend.figure]
    axis = AXES.get(trend.figure, name)
    scale = show.converted(1.0, kind)
    times = [point.time.timestamp() for point in trend.points]
    series = [_bars(trend.points, scale)]
    marks: tuple[Mark, ...] = ()
    if len(trend.levels) > 1:
        series += _level_lines(trend, scale)
        marks = _marks(trend, scale)
    else:
        series += _one_line(trend, scale)
    if times:
        room = 0.02 * (times[-1] - times[0]) + 3600.0
        first, last = (trend.points[at].figure.low * scale for at in (0, -1))
        series.append(Series((times[0] - room, math.nan, times[-1] + room), (first, math.nan, last), "line"))
    unit = show.unit(kind)
    label = f"{axis} ({unit})" if unit else axis
    ticks = date_ticks(times[0], times[-1], show) if times else ()
    panel = Panel("", label, series=tuple(series), marks=marks, clock=ticks)
    return Chart(
        f"trend-{trend.figure.replace('_', '-')}", name.capitalize(), trend_text(trend, show), "one", (panel,)
    )


def _bars(points: Sequence[TrendPoint], scale: float) -> Series:
    """The intervals of the flights."""
    return Series(
        tuple(x for point in points for x in (*(2 * (point.time.timestamp(),)), math.nan)),
        tuple(y for point in points for y in (point.figure.low * scale, point.figure.high * scale, math.nan)),
        "bars",
        "95 % interval of a flight",
    )


def _one_line(trend: Trend, scale: float) -> list[Series]:
    """Flights as dots, and the line with its band."""
    x = tuple(point.time.timestamp() for point in trend.points)
    found = [Series(x, tuple(point.figure.value * scale for point in trend.points), "dots", "flight")]
    if trend.line:
        x = tuple(point.time.timestamp() for point in trend.line)
        value, low, high = (
            tuple(getattr(point.figure, part) * scale for point in trend.line) for part in ("value", "low", "high")
        )
        found.insert(0, Series(x, high, "climb", "95 % band of the line", base=low))
        found.append(Series(x, value, "climb", "line over the season"))
    return found


def _level_lines(trend: Trend, scale: float) -> list[Series]:
    """A line for each level, from its first flight to its last."""
    shown = [level for level in trend.levels if level.line and level.number <= MOST_WINGS]
    return [
        Series(
            tuple(point.time.timestamp() for point in level.line),
            tuple(point.figure.value * scale for point in level.line),
            f"wing_{level.number}",
        )
        for level in shown
    ] + [Series((shown[0].line[0].time.timestamp(),), (math.nan,), "line", LEVEL_LINES) for _ in shown[:1]]


def _marks(trend: Trend, scale: float) -> tuple[Mark, ...]:
    """Flights with the marks of their levels; those beyond the first few share one."""
    names = level_names(trend.levels)
    rest = sum(level.number > MOST_WINGS for level in trend.levels)
    others = counted(rest, "other wing or pilot", "other wings or pilots")
    by_level = sorted(trend.points, key=lambda point: (point.level, point.time))
    return tuple(
        Mark(
            point.time.timestamp(),
            point.figure.value * scale,
            f"wing_{point.level}" if point.level <= MOST_WINGS else "wing_other",
            names[point.level] if point.level <= MOST_WINGS else others,
        )
        for point in by_level
    )


def level_names(levels: Sequence[TrendLevel]) -> dict[int, str]:
    """What the levels are called: by wing, by pilot where pilots differ, and by number where both say the same.

    Numbers are those of `TrendLevel`.
    """
    has_pilots = len({level.pilot for level in levels}) > 1
    has_wings = len({level.wing for level in levels}) > 1 or not has_pilots
    names = {level.number: level_name(level, pilot=has_pilots, wing=has_wings) for level in levels}
    twice = {name for name in names.values() if list(names.values()).count(name) > 1}
    return {number: f"{name} ({number})" if name in twice else name for number, name in names.items()}


def date_ticks(start_s: float, end_s: float, show: Display) -> tuple[tuple[float, str], ...]:
    """Firsts of months, at most five, else days, at most four, between two times on the reader's clock.

    >>> [text for _, text in date_ticks(1.78e9, 1.78e9 + 9 * 86400.0, Display())]
    ['2026-05-28', '2026-05-31', '2026-06-03']
    """
    first, last = (datetime.fromtimestamp(time, tz=UTC).astimezone(show.zone).date() for time in (start_s, end_s))
    months = [
        date(number // 12, number % 12 + 1, 1)
        for number in range(first.year * 12 + first.month - 1, last.year * 12 + last.month)
    ]
    inside = [month for month in months if first <= month <= last]
    if len(inside) >= 3:
        step = math.ceil(len(inside) / MOST_TICKS)
        return tuple((_noon(month), month.isoformat()[:7]) for month in inside[::step])
    days = (last - first).days
    step = max(math.ceil((days + 1) / MOST_DAY_TICKS), 1)
    chosen = [first + timedelta(days=at) for at in range(0, math.floor(TICKED_SHARE * days) + 1, step)]
    return tuple((_noon(day), day.isoformat()) for day in chosen)


def _noon(day: date) -> float:
    """Noon of a day, UTC."""
    return datetime(day.year, day.month, day.day, 12, tzinfo=UTC).timestamp()
