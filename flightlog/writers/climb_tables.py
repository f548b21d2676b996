"""The table of climbs: one row each, with what its circles, its air and its core were."""

from __future__ import annotations

from flightlog.measures.results import Climb
from flightlog.settings import Settings
from flightlog.writers import words
from flightlog.writers.display import UNKNOWN, Display
from flightlog.writers.page_parts import Column, Table
from flightlog.writers.page_tables import remarks_of, spans_of, wind_text
from flightlog.writers.words import word

WIND_GIVEN = "Wind: from where, where that is sure, and how fast, ± half the width of its 95 % interval"


def climbs_table(climbs: tuple[Climb, ...], show: Display, settings: Settings) -> Table:
    """One row a climb."""
    height, vertical = show.unit("height"), show.unit("vertical")
    columns = (
        Column("No."),
        Column("Start", show.zone_name),
        Column("Took"),
        Column("How", "", True),
        Column("From", height),
        Column("Highest", height),
        Column("Gain", height),
        Column("Mean climb", vertical),
        Column("Best 30 s", vertical),
        Column("Air rises", vertical),
        Column("Turns"),
        Column("Turning", "", True),
        Column("A turn takes", "s"),
        Column("Radius", show.unit("length")),
        Column("Bank", "°"),
        Column("Core rises", vertical),
        Column("Core at", height),
        Column("Core radius", show.unit("length")),
        Column("Wind", show.unit("speed")),
    )
    rows = tuple(_climb_row(climb, show) for climb in climbs)
    remarks = (
        *([core_given(settings)] if any(climb.core for climb in climbs) else []),
        *([WIND_GIVEN] if any(climb.wind for climb in climbs) else []),
        *remarks_of(climbs),
    )
    return Table("Climbs", columns, rows, remarks, spans=spans_of(climbs, "Climb"))


def core_given(settings: Settings) -> str:
    """Which part of a climb its core was met in, and that the rise of the air is that of all of it.

    >>> core_given(Settings()).partition(":")[2].strip()[:54]
    'as met from 15 s before the first circle to 90 s after'
    """
    before_s = settings.core_entry_s
    return (
        f"Core: as met from {before_s:.0f} s before the first circle to {settings.core_window_s - before_s:.0f} s"
        " after, at that height in the mean. Air rises: the mean of the whole climb, which may have been stronger"
        " or weaker than its beginning"
    )


def _climb_row(climb: Climb, show: Display) -> tuple[str, ...]:
    """A climb in one row."""
    core = climb.core
    return (
        str(climb.number),
        show.clock(climb.start),
        show.span(climb.start, climb.end),
        word(words.MODES, climb.mode),
        show.figure(climb.base_altitude_m, "height"),
        show.figure(climb.top_altitude_m, "height"),
        show.figure(climb.gain_m, "height"),
        show.estimate(climb.mean_climb_mps, "vertical"),
        show.figure(climb.best_30s_climb_mps, "vertical"),
        show.estimate(climb.airmass_mps, "vertical"),
        show.figure(climb.turns, "count") if climb.turns else UNKNOWN,
        word(words.TURNS, climb.turn_direction),
        show.figure(climb.circle_period_s, "seconds"),
        show.measured(climb.circle_radius_m, climb.circle_radius_interval_m, "length"),
        show.measured(climb.bank_deg, climb.bank_interval_deg, "degrees"),
        show.estimate(core.strength_mps if core else None, "vertical"),
        show.figure(core.altitude_m if core else None, "height"),
        show.estimate(core.radius_m if core else None, "length"),
        wind_text(climb.wind, show),
    )
