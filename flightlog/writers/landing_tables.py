"""The tables of the landing review, for the page and for the terminal: finished texts in the reader's units."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from flightlog.estimates import Estimate
from flightlog.landings.reviewing import LandingReview, ReviewedPlace
from flightlog.landings.totals import LandingRow, PlaceTotals, Spread, Try
from flightlog.writers.display import NO_BREAK, UNKNOWN, Display, duration
from flightlog.writers.page_parts import Column, Fact, Table
from flightlog.writers.words import counted

OUTCOMES = {"landed": "landed", "landed_elsewhere": "landed elsewhere", "end_of_log": "log ends in the air"}
FOUND_NOTE = (
    "Places called top or field with a number were found where the logs touched the ground: a places file tells"
    " them better, and finds tries at places where a log did not land"
)


def spread_text(spread: Spread | None, kind: str, show: Display) -> str:
    """Median and ends of several figures.

    >>> spread_text(Spread(3, 7.0, 4.0, 9.6), "height", Display())
    '7 (4 to 10)'
    >>> spread_text(Spread(1, 7.0, 7.0, 7.0), "height", Display()), spread_text(None, "height", Display())
    ('7', '–')
    """
    if spread is None:
        return UNKNOWN
    median, least, greatest = (
        show.figure(value, kind) for value in (spread.median, spread.least, spread.greatest)
    )
    return median if least == greatest else f"{median} ({least} to {greatest})"


def places_table(review: LandingReview, show: Display) -> Table:
    """One row a place."""
    height = show.unit("height")
    columns = (
        Column("Place", "", True),
        Column("Used", "", True),
        Column("Ground", height),
        Column("Take-offs"),
        Column("Landings"),
        Column("Go-arounds"),
        Column("Tried in vain"),
        Column("Go-arounds per landing"),
        Column("Share of tries broken off"),
        Column("Decision height", height),
        Column("Wind at go-arounds", show.unit("speed")),
    )
    rows = tuple(_place_row(place, show) for place in review.places)
    remarks = (
        *([FOUND_NOTE] if any(not place.is_users for place in review.places) else []),
        *_place_notes(review),
    )
    return Table("Places", columns, rows, remarks)


def _place_row(place: ReviewedPlace, show: Display) -> tuple[str, ...]:
    """A place in one row."""
    totals = place.totals
    return (
        place.name,
        _used(place),
        _ground(place, show),
        str(place.takeoffs),
        str(place.landings),
        _count(totals.go_arounds, totals.go_arounds_interval),
        str(totals.tries_in_vain),
        rate_text(totals.go_arounds_per_landing, show),
        rate_text(totals.broken_off_share, show),
        spread_text(totals.decision_height_m, "height", show),
        wind_text(totals.go_around_wind_mps, totals.go_around_wind_from_deg, show),
    )


def _used(place: ReviewedPlace) -> str:
    """First and last day of a place."""
    first, last = place.first_date, place.last_date
    if first is None or last is None or first == last:
        return first or last or UNKNOWN
    return f"{first} to {last}"


def _ground(place: ReviewedPlace, show: Display) -> str:
    """Altitude of a place, and the standard deviation of its contacts where there are several."""
    ground = show.figure(place.altitude_m, "height")
    spread = place.altitude_spread_m
    return ground if spread is None else f"{ground} ± {show.figure(spread, 'height')}"


def _place_notes(review: LandingReview) -> Iterable[str]:
    """What the totals of the places have to say, each text once."""
    notes: dict[str, list[str]] = {}
    for place in review.places:
        if place.totals.note:
            notes.setdefault(place.totals.note, []).append(place.name)
    return (f"{', '.join(names)}: {note}" for note, names in notes.items())


def _count(count: int | None, interval: Estimate | None = None) -> str:
    """A count, with its interval where that is wider, or a dash."""
    if count is None or interval is None or interval.low == interval.high:
        return UNKNOWN if count is None else str(count)
    return f"{count} ({interval.low:.0f} to {interval.high:.0f})"


def rate_text(rate: Estimate | None, show: Display) -> str:
    """A rate with its interval, two decimals.

    >>> rate_text(Estimate(1.0, 0.206, 2.92), Display())
    '1.00 (0.21 to 2.92)'
    """
    if rate is None:
        return UNKNOWN
    best, low, high = (show.number(value, 2) for value in (rate.value, rate.low, rate.high))
    return f"{best} ({low} to {high})"


def wind_text(speed: Spread | None, from_deg: float | None, show: Display) -> str:
    """Winds: their mean direction, median speed and range."""
    if speed is None:
        return UNKNOWN
    direction = "" if from_deg is None else f"{direction_text(from_deg)}, "
    return f"{direction}{spread_text(speed, 'speed', show)}"


def direction_text(from_deg: float) -> str:
    """A direction in three digits.

    >>> direction_text(359.8), direction_text(45.0)
    ('000°', '045°')
    """
    return f"{round(from_deg) % 360:03d}°"


def landings_table(rows: Sequence[LandingRow], show: Display, *, with_place: bool = False) -> Table:
    """One row a landing, or a row of tries in vain; the tries before it in one cell each."""
    height, speed = show.unit("height"), show.unit("speed")
    columns = [
        Column("No."),
        Column("Date", "", True),
        Column("Time", show.zone_name),
        *([Column("Place", "", True)] if with_place else []),
        Column("Outcome", "", True),
        Column("Go-arounds"),
        Column("Possible"),
        Column("Decided at", height, True),
        Column("Wind at those", speed, True),
        Column("Between tries", "", True),
        Column("Wind at landing", speed),
        Column("Log", "", True),
    ]
    cells = tuple(_landing_row(row, show, with_place=with_place) for row in rows)
    return Table("Landings", tuple(columns), cells, _row_notes(rows))


def _row_notes(rows: Sequence[LandingRow]) -> tuple[str, ...]:
    """What rows have to say, each text once, with the numbers of those that say it."""
    notes: dict[str, list[str]] = {}
    for row in rows:
        if row.note and row.go_arounds is not None:  # what was not looked for is said with the place
            notes.setdefault(row.note, []).append(str(row.number))
    return tuple(f"No. {', '.join(numbers)}: {note}" for note, numbers in notes.items())


def _landing_row(row: LandingRow, show: Display, *, with_place: bool) -> tuple[str, ...]:
    """A landing in one row."""
    broken = [one for one in row.tries if one.figures.outcome == "go_around" and one.figures.certainty == "sure"]
    landed = [one for one in row.tries if one.figures.outcome == "landed"]
    return (
        str(row.number),
        show.date(row.end) if row.date else UNKNOWN,
        show.clock(row.end),
        *([row.place_name] if with_place else []),
        OUTCOMES[row.outcome],
        _count(row.go_arounds, row.go_arounds_interval),
        _count(row.possible_go_arounds),
        _row_of(_decided(one, show) for one in broken),
        _row_of(_wind_of(one, show) for one in broken),
        _row_of(duration(one.since_last_s) for one in row.tries if one.since_last_s is not None),
        _row_of(_wind_of(one, show) for one in landed),
        row.file,
    )


def _row_of(texts: Iterable[str]) -> str:
    """Texts in a row; a dash for none."""
    return ", ".join(texts) or UNKNOWN


def _decided(one: Try, show: Display) -> str:
    """The height of a decision."""
    return show.figure(one.figures.decision.height_m if one.figures.decision else None, "height")


def _wind_of(one: Try, show: Display) -> str:
    """The wind of one pass."""
    detail = one.figures.detail
    if detail is None or detail.wind_speed_mps is None or detail.wind_from_deg is None:
        return UNKNOWN
    return f"{direction_text(detail.wind_from_deg)}{NO_BREAK}{show.figure(detail.wind_speed_mps, 'speed')}"


def heights_table(totals: PlaceTotals, show: Display) -> Table | None:
    """Heights with 100, 50 and 25 m to go, of passes that landed beside those broken off; None without any."""
    if not any(entry.landed_m or entry.broken_off_m for entry in totals.heights):
        return None
    height = show.unit("height")
    columns = (
        Column("To go", show.unit("length")),
        Column("Landed", height),
        Column("of passes"),
        Column("Broken off", height),
        Column("of passes"),
    )
    rows = tuple(
        (
            show.figure(entry.to_go_m, "length"),
            spread_text(entry.landed_m, "height", show),
            str(entry.landed_m.count if entry.landed_m else 0),
            spread_text(entry.broken_off_m, "height", show),
            str(entry.broken_off_m.count if entry.broken_off_m else 0),
        )
        for entry in totals.heights
    )
    return Table("Height on the way in: median, least to greatest", columns, rows)


def place_facts(place: ReviewedPlace, show: Display) -> tuple[Fact, ...]:
    """The totals of a place at a glance."""
    totals = place.totals
    ground = show.with_unit(place.altitude_m, "height")
    spread = (
        "one contact" if place.altitude_spread_m is None else f"± {show.figure(place.altitude_spread_m, 'height')}"
    )
    share = totals.first_try_share
    landings = Fact("Landings", str(place.landings), counted(place.takeoffs, "take-off"))
    if totals.go_arounds is None:  # passes were not looked for here: nothing but dashes would follow
        return landings, Fact("Ground", ground, f"above the sea, {spread}")
    return (
        landings,
        Fact(
            "Go-arounds",
            _count(totals.go_arounds, totals.go_arounds_interval),
            f"{_count(totals.possible_go_arounds)} more possible",
        ),
        Fact("Go-arounds per landing", rate_text(totals.go_arounds_per_landing, show), "95 %, exact Poisson"),
        Fact(
            "Share at the first try",
            rate_text(share, show),
            f"95 %, score, of {counted(totals.reviewed_landings, 'landing')}",
        ),
        Fact("Share of tries broken off", rate_text(totals.broken_off_share, show), "95 %, score"),
        Fact("Decision height", _with_unit(totals.decision_height_m, "height", show), "median, least to greatest"),
        Fact("Between tries", _seconds(totals.between_tries_s), "median"),
        Fact(
            "Wind at go-arounds",
            wind_text(totals.go_around_wind_mps, totals.go_around_wind_from_deg, show),
            show.unit("speed"),
        ),
        Fact(
            "Wind at landings",
            wind_text(totals.landing_wind_mps, totals.landing_wind_from_deg, show),
            show.unit("speed"),
        ),
        Fact("Ground", ground, f"above the sea, {spread}"),
    )


def _with_unit(spread: Spread | None, kind: str, show: Display) -> str:
    """Several figures with their unit."""
    text = spread_text(spread, kind, show)
    return text if spread is None else show.joined(text, kind)


def _seconds(spread: Spread | None) -> str:
    """The median of several durations."""
    return UNKNOWN if spread is None else duration(spread.median)
