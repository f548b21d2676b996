"""How figures went over a season: mean, line with its interval, and whether it shows a change at all."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from datetime import UTC, datetime, tzinfo

import numpy as np

from flightlog.arrays import Floats, Ints
from flightlog.estimates import Estimate
from flightlog.measures.rates import poisson_rate
from flightlog.season.records import SeasonFlight, sd_of
from flightlog.season.results import GoAroundChange, Trend, TrendLevel, TrendLine, TrendPoint
from flightlog.season.scatter_lines import LEAST_DAYS, ScatterLine, fit_scatter_line

FIGURES = ("glide_ratio_ground", "glide_ratio_air", "best_glide_ratio", "mean_climb_mps", "centred_share")
"""Fields of a flight that have a trend."""
LINE_POINTS = 25
DAY_S = 86400.0
LEAST_SPAN_DAYS = 7.0
"""A shorter season is one spell of weather: a line through it would tell of that."""


def trends_of(flights: Sequence[SeasonFlight], zone: tzinfo) -> tuple[Trend, ...]:
    """The trend of every figure, over the flights with a date, in order of time."""
    numbers = _level_numbers(flights)
    return tuple(_trend(figure, flights, zone, numbers) for figure in FIGURES)


def _level_numbers(flights: Sequence[SeasonFlight]) -> dict[tuple[str, str], int]:
    """Pilots and wings numbered from 1, those with most flights first: the same in every figure."""
    flown = Counter(_flown_by(flight) for flight in flights)
    return {key: number for number, (key, _) in enumerate(flown.most_common(), start=1)}


def _flown_by(flight: SeasonFlight) -> tuple[str, str]:
    """The pilot and the wing."""
    return flight.pilot or "", flight.wing or ""


def _trend(
    figure: str, flights: Sequence[SeasonFlight], zone: tzinfo, numbers: dict[tuple[str, str], int]
) -> Trend:
    """One figure over the season."""
    known = [(flight, getattr(flight, figure)) for flight in flights if getattr(flight, figure) is not None]
    values = np.array([value.value for _, value in known])
    errors = np.array([sd_of(value) for _, value in known])
    seconds = np.array([flight.takeoff.time.timestamp() for flight, _ in known])
    day = _numbered([flight.takeoff.time.astimezone(zone).date() for flight, _ in known])
    own = np.array([numbers[_flown_by(flight)] for flight, _ in known], dtype=np.int64)
    told, group = np.unique(own, return_inverse=True)
    levels = _levels(group)
    middle_s = float(seconds.mean()) if len(seconds) else 0.0
    time = (seconds - middle_s) / DAY_S
    flat = fit_scatter_line(values, errors, day, levels)
    line = fit_scatter_line(values, errors, day, np.column_stack([levels, time]))
    note = _why_not(day, time, line)
    shown = None if note else line
    scatter = shown or flat
    change, rate = _changes(shown, time)
    return Trend(
        figure=figure,
        points=tuple(
            TrendPoint(flight.takeoff.time, flight.file, flight.number, value, number)
            for (flight, value), number in zip(known, own.tolist(), strict=True)
        ),
        groups=len(told),
        levels=tuple(
            _level(number, known[at[0]][0], at, (flat, shown), (levels, time), middle_s)
            for number in told.tolist()
            for at in [np.flatnonzero(own == number)]
        ),
        mean=_at(flat, 0, 1.0) if flat else None,
        flight_sd=scatter.flight_sd if scatter else None,
        day_sd=scatter.day_sd if scatter else None,
        line=_line(shown, time, middle_s),
        change=change,
        change_per_30_days=rate,
        verdict=_verdict(change, "higher", "lower"),
        note=note,
    )


def _levels(group: Ints) -> Floats:
    """A column of ones, and one for each further group, centred: the first coefficient is the mean of all."""
    further = (group[:, None] == np.arange(1, int(group.max(initial=0)) + 1)).astype(np.float64)
    return np.column_stack([np.ones(len(group)), further - further.mean(axis=0) if len(group) else further])


def _level(
    number: int,
    first: SeasonFlight,
    own: Ints,
    lines: tuple[ScatterLine | None, ScatterLine | None],
    design: tuple[Floats, Floats],
    middle_s: float,
) -> TrendLevel:
    """The flights of one pilot and wing, `own` by their places among all; lines without a slope, and with it."""
    (flat, line), (levels, time) = lines, design
    ends = (time[own].min(), time[own].max()) if line else ()
    return TrendLevel(
        number=number,
        pilot=first.pilot,
        wing=first.wing,
        flights=len(own),
        mean=_estimate(flat, levels[own[0]]) if flat else None,
        line=tuple(
            TrendLine(_moment(middle_s, at), _estimate(line, np.append(levels[own[0]], at)))
            for at in ends
            if line is not None
        ),
    )


def _estimate(line: ScatterLine, row: Floats) -> Estimate:
    """The line at one row of its design."""
    value, half = line.at(row)
    return Estimate(value, value - half, value + half)


def _moment(middle_s: float, day: float) -> datetime:
    """So many days after the middle of the season, in UTC."""
    return datetime.fromtimestamp(round(middle_s + day * DAY_S), tz=UTC)


def _why_not(day: Ints, time: Floats, line: ScatterLine | None) -> str | None:
    """What stands in the way of a line."""
    days = int(day.max(initial=-1)) + 1
    if days < LEAST_DAYS:
        return f"a line needs {LEAST_DAYS} days or more with this figure"
    if float(np.ptp(time)) < LEAST_SPAN_DAYS:
        return "all flights lie within a week: a line would tell of its weather"
    return "too few days for so many wings and pilots" if line is None else None


def _at(line: ScatterLine, last: int, factor: float) -> Estimate:
    """The first coefficient, or the last one (`last` is 1), times a factor."""
    row = np.zeros(len(line.coefficients))
    row[-1 if last else 0] = factor
    return _estimate(line, row)


def _changes(line: ScatterLine | None, time: Floats) -> tuple[Estimate | None, Estimate | None]:
    """Change of the line over the season, and over 30 days."""
    if line is None:
        return None, None
    return _at(line, 1, float(np.ptp(time))), _at(line, 1, 30.0)


def _line(line: ScatterLine | None, time: Floats, middle_s: float) -> tuple[TrendLine, ...]:
    """The line with its interval, from the first flight to the last."""
    if line is None:
        return ()
    points = []
    for at in np.linspace(time.min(), time.max(), LINE_POINTS).tolist():
        row = np.zeros(len(line.coefficients))
        row[0], row[-1] = 1.0, at
        points.append(TrendLine(_moment(middle_s, at), _estimate(line, row)))
    return tuple(points)


def _verdict(change: Estimate | None, more: str, less: str) -> str | None:
    """What a change with its interval says."""
    if change is None:
        return None
    return more if change.low > 0.0 else less if change.high < 0.0 else "no_change_told"


def _numbered(keys: Sequence[object]) -> Ints:
    """Keys as numbers from 0, in order of first appearance."""
    numbers: dict[object, int] = {}
    return np.array([numbers.setdefault(key, len(numbers)) for key in keys], dtype=np.int64)


def go_around_change(flights: Sequence[SeasonFlight], zone: tzinfo) -> GoAroundChange:
    """Go-arounds per landing, of the season and of its halves; flights in order of time.

    Rates have the exact Poisson interval; the halves are compared given their sum, which makes the count of one a
    binomial (Przyborowski & Wilenski 1940, Biometrika 31:313-323, from memory). Both take the tries for
    independent, which those of one windy day are not: the verdict is the more daring side of what can be said.
    """
    counted = [flight for flight in flights if flight.reviewed_landings or flight.go_arounds]
    landings = np.array([flight.reviewed_landings for flight in counted], dtype=np.int64)
    tries = np.array([flight.go_arounds for flight in counted], dtype=np.int64)
    total, all_tries = int(landings.sum()), int(tries.sum())
    whole = poisson_rate(all_tries, total)
    dates = [flight.takeoff.time.astimezone(zone).date().isoformat() for flight in counted if flight.has_date]
    if len(dates) < len(counted) or len(set(dates)) < 2:
        note = "no landing at which go-arounds are looked for" if not counted else "all on one day, or undated"
        return GoAroundChange(all_tries, total, whole, None, None, None, None, None, note)
    at = _split(landings, dates)
    parts = [(int(tries[part].sum()), int(landings[part].sum())) for part in (slice(0, at), slice(at, None))]
    (first, first_landings), (second, second_landings) = parts
    rates = poisson_rate(first, first_landings), poisson_rate(second, second_landings)
    p_value = halves_p_value(first, first_landings, second, second_landings)
    verdict = None
    if p_value is not None and rates[0] and rates[1]:
        more = "more" if rates[1].value > rates[0].value else "fewer"
        verdict = more if p_value < 0.05 else "no_change_told"
    return GoAroundChange(all_tries, total, whole, *rates, dates[at], p_value, verdict)


def _split(landings: Ints, dates: Sequence[str]) -> int:
    """The first flight of the second half: at the start of the day nearest to half of the landings."""
    starts = [k for k in range(1, len(dates)) if dates[k] != dates[k - 1]]
    done = np.cumsum(landings)
    return min(starts, key=lambda k: (abs(2 * int(done[k - 1]) - int(done[-1])), k))


def halves_p_value(first: int, first_exposure: int, second: int, second_exposure: int) -> float | None:
    """Chance of two counts at least as far apart if their rates were one; None without exposure or events.

    >>> round(halves_p_value(0, 10, 5, 10), 4)  # 2 x 0.5^5
    0.0625
    >>> halves_p_value(4, 10, 4, 10)
    1.0
    """
    from scipy.special import bdtr, bdtrc

    total = first + second
    if total == 0 or first_exposure <= 0 or second_exposure <= 0:
        return None
    share = second_exposure / (first_exposure + second_exposure)
    at_most = float(bdtr(second, total, share))
    at_least = float(bdtrc(second - 1, total, share)) if second else 1.0
    return min(1.0, 2.0 * min(at_most, at_least))
