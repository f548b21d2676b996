"""What the logbook tells, as lines for a terminal; loads nothing of the analysis, so that it answers at once."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import TYPE_CHECKING

from flightlog.errors import one_line
from flightlog.logbook.currency import CAUTION, Recency
from flightlog.logbook.flights import LoggedClimb, LoggedFlight, LoggedPass
from flightlog.logbook.totals import Total, total_of
from flightlog.writers.display import UNKNOWN, Display, duration, flight_count
from flightlog.writers.plain_text import cut, text_table
from flightlog.writers.words import LANDINGS, MODES, OUTCOMES, TURNS, counted, sentence, word

if TYPE_CHECKING:
    from flightlog.logbook.checking import Checked, Overlap
    from flightlog.logbook.remarks import Remark

LONGEST_CELL, LONGEST_KEY = 22, 40
"""Characters of a name or note in the list, and of a name that totals go by; `show` has the whole."""
ENDINGS = {"landing": "", "top_landing": "top", "end_of_log": "in the air"}
"""How a flight ended, in the list."""
LIST_HEAD = (
    "no.", "date", "take-off", "hours", "from", "to", "wing", "gain", "open", "free", "go-arounds", "note",
)  # fmt: skip
LEFT_OUT_FIRST = ("note", "open", "gain", "to", "go-arounds", "wing")
"""Columns that a narrow terminal goes without, in this order."""
KEYS = {"month": "month", "year": "year", "place": "take-off at", "wing": "wing"}
DISTANCES = (
    "open: straight from one fix to a later one; free: over up to three turnpoints; each the best of its flight"
)
GO_AROUNDS = "go-arounds: the sure ones, looked for at top-landing places"


def list_lines(flights: Sequence[LoggedFlight], show: Display, width: int | None = None) -> list[str]:
    """A table of the flights, no wider than the terminal; dates and times are those of the place of take-off."""
    if not flights:
        return ["no flight"]
    rows = [LIST_HEAD, *(_list_row(flight, show) for flight in flights)]
    left_out = [] if any(flight.note for flight in flights) else ["note"]
    table = _without(rows, left_out)
    told = []
    for name in LEFT_OUT_FIRST:
        if width is None or max(map(len, table)) <= width:
            break
        left_out.append(name)
        told.append(name)
        table = _without(rows, left_out)
    told = [name for name in told if name != "note" or any(flight.note for flight in flights)]
    lines = [*table, "", *_remarks(flights)]
    return [*lines, f"Left out, as the terminal is narrow: {', '.join(told)}."] if told else lines


def _without(rows: Sequence[tuple[str, ...]], names: Sequence[str]) -> list[str]:
    """The table without some of its columns."""
    kept = [k for k, name in enumerate(rows[0]) if name not in names]
    return text_table([[row[k] for k in kept] for row in rows])


def _list_row(flight: LoggedFlight, show: Display) -> tuple[str, ...]:
    """One line of the list."""
    return (
        str(flight.flight),
        flight.local_date or UNKNOWN,
        f"{flight.takeoff:%H:%M}",
        hours(flight.duration_s),
        short(flight.takeoff_place),
        landing_text(flight),
        short(flight.wing),
        show.with_unit(flight.gain_m, "height") if flight.gain_m is not None else UNKNOWN,
        show.with_unit(flight.open_distance_m, "distance") if flight.open_distance_m is not None else UNKNOWN,
        show.with_unit(flight.free_distance_m, "distance") if flight.free_distance_m is not None else UNKNOWN,
        str(flight.go_arounds) if flight.go_arounds else UNKNOWN,
        short(flight.note),
    )


def landing_text(flight: LoggedFlight) -> str:
    """Where a flight ended: the place, and how where that is no plain landing."""
    how = word(ENDINGS, flight.landing_kind)
    place = short(flight.landing_place)
    return f"{place} ({how})" if how else place


def hours(seconds: float) -> str:
    """A time in the air in hours and minutes, as logbooks have it, to the nearest minute.

    >>> hours(3570.0), hours(29.0), hours(45 * 3600.0)
    ('1:00', '0:00', '45:00')
    """
    minutes = round(seconds / 60.0)
    return f"{minutes // 60}:{minutes % 60:02d}"


def _remarks(flights: Sequence[LoggedFlight]) -> list[str]:
    """What the figures of a list mean."""
    undated = sum(flight.local_date is None for flight in flights)
    lines = [
        "Dates and times are those of the place of take-off; hours: in the air, with minutes.",
        sentence(DISTANCES),
        sentence(GO_AROUNDS),
    ]
    if undated:
        lines.append(f"{flight_count(undated).capitalize()} without a date: the log has none.")
    return lines


def totals_lines(way: str, totals: Sequence[Total], flights: Sequence[LoggedFlight], show: Display) -> list[str]:
    """A table of the totals, and of all flights together."""
    if not flights:
        return ["no flight"]
    head = (KEYS[way], "flights", "hours", "gain", "open", "free", "landings", "top landings", "go-arounds")
    rows: list[tuple[str, ...]] = [head]
    rows += [
        _total_row(short(total.key, LONGEST_KEY) if total.key else "not told", total, show) for total in totals
    ]
    whole = total_of(None, flights)
    rows.append(_total_row("all", whole, show))
    remarks = ["Hours: in the air, with minutes. Distances are sums.", sentence(DISTANCES), sentence(GO_AROUNDS)]
    if whole.note:
        remarks.append(f"{whole.note[:1].upper()}{whole.note[1:]}, and left out of the sums.")
    return [*text_table(rows), "", *remarks]


def _total_row(name: str, total: Total, show: Display) -> tuple[str, ...]:
    """One line of the totals."""
    return (
        name,
        str(total.flights),
        hours(total.airborne_s),
        show.with_unit(total.gain_m, "height") if total.gain_m is not None else UNKNOWN,
        show.with_unit(total.open_distance_m, "distance") if total.open_distance_m is not None else UNKNOWN,
        show.with_unit(total.free_distance_m, "distance") if total.free_distance_m is not None else UNKNOWN,
        str(total.landings),
        str(total.top_landings),
        str(total.go_arounds),
    )


def flight_lines(
    flight: LoggedFlight,
    climbs: Sequence[LoggedClimb],
    passes: Sequence[LoggedPass],
    log: Mapping[str, str | None],
    show: Display,
) -> list[str]:
    """One flight: what happened, its climbs and passes; `log` is what the log itself says of names and places."""
    facts = {
        "date": flight.local_date or "the log has none",
        "in the air": f"{duration(flight.duration_s)}, {flight.takeoff:%H:%M} to {flight.landing:%H:%M}"
        f" ({flight.zone})",
        "from": _said(flight.takeoff_place, log["takeoff_place"]),
        "to": _said(flight.landing_place, log["landing_place"]) + f" ({word(LANDINGS, flight.landing_kind)})",
        "pilot": _said(flight.pilot, log["pilot"]),
        "wing": _said(flight.wing, log["wing"]),
        "gain": show.with_unit(flight.gain_m, "height"),
        "highest": show.with_unit(flight.max_altitude_m, "height"),
        "open distance": show.with_unit(flight.open_distance_m, "distance"),
        "free distance": show.with_unit(flight.free_distance_m, "distance"),
        "flown": show.with_unit(flight.track_length_m, "distance"),
        "log": f"{one_line(flight.log_file)}, flight {flight.number} in it, sha256 {flight.log_sha256[:12]}",
    }
    title = f"Flight {flight.flight}" + ("" if flight.is_flight else ": no flight, you say")
    lines = [title, *text_table(list(facts.items()))]
    lines += [f"note: {one_line(line)}" for line in (flight.note or "").splitlines() if line.strip()]
    if climbs:
        lines += ["", *text_table([CLIMB_HEAD, *(_climb_row(climb, flight, show) for climb in climbs)])]
    if passes:
        lines += ["", *text_table([PASS_HEAD, *(_pass_row(one, flight, show) for one in passes)])]
    return lines


CLIMB_HEAD = ("climb", "at", "for", "how", "gain", "mean", "top")
PASS_HEAD = ("pass", "at", "place", "outcome", "lowest", "broken off")


def _said(text: str | None, log: str | None) -> str:
    """A name, and what the log says where that is another."""
    shown = one_line(text or "") or UNKNOWN
    if text == log:
        return shown
    return f"{shown} (as you say; else {one_line(log)})" if log else f"{shown} (as you say)"


def _climb_row(climb: LoggedClimb, flight: LoggedFlight, show: Display) -> tuple[str, ...]:
    """One climb."""
    return (
        str(climb.number),
        f"{flight.local_time(climb.start_s):%H:%M}",
        duration(climb.end_s - climb.start_s),
        word(MODES, climb.mode) + (f", {word(TURNS, climb.turn_direction)}" if climb.turn_direction else ""),
        show.with_unit(climb.gain_m, "height"),
        show.with_unit(climb.mean_climb_mps, "vertical"),
        show.with_unit(climb.top_altitude_m, "height"),
    )


def _pass_row(one: LoggedPass, flight: LoggedFlight, show: Display) -> tuple[str, ...]:
    """One pass."""
    outcome = word(OUTCOMES, one.outcome) if one.certainty == "sure" else "may have been meant to land"
    off = UNKNOWN
    if one.decision_height_m is not None and one.certainty == "sure":
        off = f"{show.with_unit(one.decision_height_m, 'height')} up"
        off += f", {show.with_unit(one.decision_distance_m, 'length')} out"
    return (
        str(one.number),
        f"{flight.local_time(one.end_s):%H:%M:%S}",
        short(one.place),
        outcome,
        show.with_unit(one.lowest_height_m, "height"),
        off,
    )


def currency_lines(today: date, whole: Recency, wings: Sequence[Recency], undated: int) -> list[str]:
    """How recent the flying is, in all and by wing."""
    if whole.last_date is None:
        return [f"no flight up to {today}", "", CAUTION]
    ago = {0: "today", 1: "yesterday"}.get(whole.days_since or 0, f"{whole.days_since} days ago")
    head = ("", "last flight", "90 days: flights", "hours", "landings")
    rows: list[tuple[str, ...]] = [(*head, "12 months: flights", "hours", "landings")]
    rows += [("all", *_recency_cells(whole))]
    rows += [
        (short(one.wing, LONGEST_KEY) if one.wing else "wing not told", *_recency_cells(one)) for one in wings
    ]
    spans = f"90 days: since {whole.last_90_days.since}; 12 months: since {whole.last_12_months.since}"
    lines = [f"Last flight: {whole.last_date} ({ago}), no. {whole.last_flight}", "", *text_table(rows), ""]
    lines += [f"Up to {today}; {spans}; days are those of the place of take-off.", CAUTION]
    if undated:
        lines.insert(-1, f"{flight_count(undated).capitalize()} without a date not counted.")
    return lines


def _recency_cells(one: Recency) -> tuple[str, ...]:
    """The cells of one line."""
    cells = [one.last_date or UNKNOWN]
    for span in (one.last_90_days, one.last_12_months):
        cells += [str(span.flights), hours(span.airborne_s), str(span.landings)]
    return tuple(cells)


def check_lines(found: Checked) -> list[str]:
    """What a check found."""
    counts = f"{counted(found.logs, 'log')}, {flight_count(found.flights)}"
    lines = [f"{counts}: {counted(len(found.faults), 'fault')}"]
    lines += [f"{fault.log}: {fault.message}" if fault.log else fault.message for fault in found.faults]
    lines += [f"kept, but no flight takes off then any more: {remark_text(one)}" for one in found.loose_remarks]
    lines += [overlap_text(overlap) for overlap in found.overlaps]
    if found.outdated_logs:
        lines.append(f"{counted(found.outdated_logs, 'log')} analysed by another flightlog: flightlog book renew")
    return lines


def overlap_text(overlap: Overlap) -> str:
    """Two flights that are perhaps one, and what to do."""
    return one_line(
        f"flight {overlap.flight} of {overlap.date} ({overlap.log}) may be flight {overlap.earlier_flight}"
        f" ({overlap.earlier_log}) recorded twice; if so: flightlog book correct {overlap.flight} --not-a-flight"
    )


def remark_text(remark: Remark) -> str:
    """What was said about a flight, in a line."""
    said = [
        f"{name.replace('_', '-')} {getattr(remark, name)!r}"
        for name in ("pilot", "wing", "takeoff_place", "landing_place")
        if getattr(remark, name) is not None
    ]
    said += [f"note {short(remark.note)!r}"] if remark.note else []
    said += [] if remark.is_flight else ["no flight"]
    when = f"{remark.takeoff:%Y-%m-%d %H:%M} UTC"
    return one_line(f"{remark.log_file}, flight {remark.flight}, take-off {when}: {', '.join(said)}")


def short(text: str | None, longest: int = LONGEST_CELL) -> str:
    """A name or note in one line, cut where it is long.

    >>> short("A" * 50), short(None)
    ('AAAAAAAAAAAAAAAAAAAAA…', '–')
    """
    return cut(text or "", longest) or UNKNOWN
