"""What the logbook tells, as lines for a terminal; loads nothing of the analysis, so that it answers at once."""

from __future__ import annotations

from collections.abc import Sequence

from flightlog.errors import one_line
from flightlog.logbook.flights import LoggedFlight
from flightlog.logbook.totals import Total, total_of
from flightlog.writers.display import NO_BREAK, UNKNOWN, Display, duration, flight_count
from flightlog.writers.words import LANDINGS, word

LONGEST_CELL = 40
"""Characters of a name or note in a table; `show` has the whole."""
KEYS = {"month": "month", "year": "year", "place": "take-off at", "wing": "wing"}
DISTANCES = (
    "open: straight from one fix to a later one; free: over up to three turnpoints; each the best of its flight"
)
GO_AROUNDS = "go-arounds: the sure ones, looked for at top-landing places"


def list_lines(flights: Sequence[LoggedFlight], show: Display) -> list[str]:
    """A table of the flights; dates and times are those of the place of take-off."""
    if not flights:
        return ["no flight"]
    head = ("no.", "date", "take-off", "in the air", "from", "to", "wing", "gain", "open", "free", "go-arounds")
    has_notes = any(flight.note for flight in flights)
    rows: list[tuple[str, ...]] = [head + (("note",) if has_notes else ())]
    for flight in flights:
        rows.append(_list_row(flight, show) + ((short(flight.note),) if has_notes else ()))
    return [*text_table(rows), "", *_remarks(flights)]


def _list_row(flight: LoggedFlight, show: Display) -> tuple[str, ...]:
    """One line of the list."""
    return (
        str(flight.flight),
        flight.local_date or UNKNOWN,
        f"{flight.takeoff:%H:%M}",
        duration(flight.duration_s),
        short(flight.takeoff_place),
        landing_text(flight),
        short(flight.wing),
        show.with_unit(flight.gain_m, "height") if flight.gain_m is not None else UNKNOWN,
        show.with_unit(flight.open_distance_m, "distance") if flight.open_distance_m is not None else UNKNOWN,
        show.with_unit(flight.free_distance_m, "distance") if flight.free_distance_m is not None else UNKNOWN,
        str(flight.go_arounds) if flight.go_arounds else UNKNOWN,
    )


def landing_text(flight: LoggedFlight) -> str:
    """Where a flight ended: the place, and how where that is no plain landing."""
    how = "" if flight.landing_kind == "landing" else word(LANDINGS, flight.landing_kind)
    if flight.landing_place and how:
        return f"{short(flight.landing_place)} ({how})"
    return short(flight.landing_place) if flight.landing_place else how or UNKNOWN


def _remarks(flights: Sequence[LoggedFlight]) -> list[str]:
    """What the figures of a list mean."""
    undated = sum(flight.local_date is None for flight in flights)
    lines = [f"Dates and times are those of the place of take-off; {DISTANCES}; {GO_AROUNDS}."]
    if undated:
        lines.append(f"{flight_count(undated).capitalize()} without a date: the log has none.")
    return lines


def totals_lines(way: str, totals: Sequence[Total], flights: Sequence[LoggedFlight], show: Display) -> list[str]:
    """A table of the totals, and of all flights together."""
    if not flights:
        return ["no flight"]
    head = (KEYS[way], "flights", "in the air", "gain", "open", "free", "landings", "top landings", "go-arounds")
    rows: list[tuple[str, ...]] = [head]
    rows += [_total_row(short(total.key) if total.key else "not told", total, show) for total in totals]
    whole = total_of(None, flights)
    rows.append(_total_row("all", whole, show))
    remarks = [f"Distances are sums; {DISTANCES}; {GO_AROUNDS}."]
    if whole.note:
        remarks.append(f"{whole.note[:1].upper()}{whole.note[1:]}, and left out of the sums.")
    return [*text_table(rows), "", *remarks]


def _total_row(name: str, total: Total, show: Display) -> tuple[str, ...]:
    """One line of the totals."""
    return (
        name,
        str(total.flights),
        duration(total.airborne_s),
        show.with_unit(total.gain_m, "height") if total.gain_m is not None else UNKNOWN,
        show.with_unit(total.open_distance_m, "distance") if total.open_distance_m is not None else UNKNOWN,
        show.with_unit(total.free_distance_m, "distance") if total.free_distance_m is not None else UNKNOWN,
        str(total.landings),
        str(total.top_landings),
        str(total.go_arounds),
    )


def short(text: str | None) -> str:
    """A name or note in one line, cut where it is long.

    >>> short("A" * 50)[-3:], short(None)
    ('AA…', '–')
    """
    line = one_line(text or "")
    if not line:
        return UNKNOWN
    return line if len(line) <= LONGEST_CELL else f"{line[: LONGEST_CELL - 1]}…"


def text_table(rows: Sequence[Sequence[str]]) -> list[str]:
    """The rows with their columns one below the other."""
    plain_rows = [[cell.replace(NO_BREAK, " ") for cell in row] for row in rows]
    widths = [max(len(row[k]) for row in plain_rows) for k in range(len(plain_rows[0]))]
    return ["  ".join(map(str.ljust, row, widths)).rstrip() for row in plain_rows]
