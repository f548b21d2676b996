"""The tables of a page: rows of finished texts, one a flight, climb, glide, band of wind and so on."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import fields

from flightlog import __version__
from flightlog.debriefing import Debrief
from flightlog.estimates import Estimate, Wind
from flightlog.measures.findings import wind_half_width_mps
from flightlog.measures.results import (
    ANY_WING,
    Climb,
    Flight,
    Glide,
    Pass,
    Polar,
    PolarBasis,
    SpeedToFly,
    WindResult,
)
from flightlog.settings import Settings
from flightlog.writers import words
from flightlog.writers.display import NO_BREAK, UNKNOWN, Display, duration
from flightlog.writers.page_parts import Column, Span, Table
from flightlog.writers.words import numbered, sentence, word


def overview_table(debrief: Debrief, show: Display) -> Table:
    """One row a flight."""
    columns = (
        Column("Flight"),
        Column("Take-off", show.zone_name),
        Column("Landing", show.zone_name),
        Column("In the air"),
        Column("Highest", show.unit("height")),
        Column("Gain", show.unit("height")),
        Column("Flown", show.unit("distance")),
        Column("Climbs"),
        Column("Go-arounds"),
        Column("Ended as", "", True),
    )
    rows = tuple(_overview_row(flight, show) for flight in debrief.flights)
    links = tuple(f"flight-{flight.number}" for flight in debrief.flights)
    return Table("Flights", columns, rows, links=links)


def _overview_row(flight: Flight, show: Display) -> tuple[str, ...]:
    """A flight in one row."""
    return (
        str(flight.number),
        show.clock(flight.takeoff.time),
        show.clock(flight.landing.time),
        duration(flight.duration_s),
        show.figure(flight.max_altitude_m, "height"),
        show.figure(flight.altitude_gain_m, "height"),
        show.figure(flight.track_length_m, "distance"),
        str(len(flight.climbs)),
        str(len(go_arounds(flight))),
        word(words.LANDINGS, flight.landing.kind),
    )


def go_arounds(flight: Flight) -> list[Pass]:
    """The passes that were surely broken off."""
    return [one for one in flight.passes if one.outcome == "go_around" and one.certainty == "sure"]


def remarks_of(items: Iterable[Climb | Glide | Pass | SpeedToFly]) -> tuple[str, ...]:
    """What the items of a table have to say, each once, with the numbers of those that say it.

    >>> remarks_of([])
    ()
    """
    numbers: dict[str, list[int]] = {}
    for item in items:
        if item.note:
            numbers.setdefault(item.note, []).append(item.number)
    return tuple(f"{numbered(those)}: {note}" for note, those in numbers.items())


def spans_of(items: Iterable[Climb | Glide | Pass], name: str) -> tuple[Span, ...]:
    """The stretches of the flight that the rows of a table are about.

    >>> spans_of([], "Climb")
    ()
    """
    return tuple(Span(one.start.timestamp(), one.end.timestamp(), f"{name} {one.number}") for one in items)


def wind_text(wind: Wind | None, show: Display) -> str:
    """A wind in a cell: where it comes from, where that is sure, and how fast, give or take how much."""
    if wind is None:
        return UNKNOWN
    return f"{direction(wind, show) if has_direction(wind) else UNKNOWN} {give_or_take(wind, show)}"


def give_or_take(wind: Wind, show: Display) -> str:
    """The speed of a wind with the half width of its 95 % interval, without the unit.

    >>> give_or_take(Wind(7.4, 3.0, 0.0, 0.0, 0.3, 4.0), Display()).replace(NO_BREAK, " ")
    '11 ± 2.1'
    """
    half = show.number(show.converted(wind_half_width_mps(wind), "speed"), 1)
    return f"{show.figure(wind.speed_mps, 'speed')}{NO_BREAK}±{NO_BREAK}{half}"


def has_direction(wind: Wind) -> bool:
    """Whether a wind is surely one: a weaker one than its error may come from anywhere."""
    return wind.speed_mps > wind_half_width_mps(wind)


def direction(wind: Wind, show: Display) -> str:
    """Where a wind comes from, three digits as pilots write it.

    >>> direction(Wind(7.4, 3.0, 0.0, 0.0, 0.3, 4.0), Display())
    '007°'
    """
    return f"{int(show.number(wind.from_deg, 0)) % 360:03d}°"


ROUND_CORNERS = (
    "Course is that of the straight line from start to end, also where a glide went round a corner; tailwind is"
    " the wind along the way flown, on average over the time"
)
EQUIVALENT = (
    "Airspeed is true. Equivalent: the airspeed that feels the same to the wing in the denser air at sea level, as"
    " the polar has it; its interval is the same in proportion"
)


def glides_table(glides: tuple[Glide, ...], show: Display) -> Table:
    """One row a glide."""
    speed = show.unit("speed")
    columns = (
        Column("No."),
        Column("Start", show.zone_name),
        Column("Took"),
        Column("Distance", show.unit("distance")),
        Column("Height lost", show.unit("height")),
        Column("Course", "°"),
        Column("Ground speed", speed),
        Column("Airspeed", speed),
        Column("Equivalent", speed),
        Column("Tailwind", speed),
        Column("Sink", show.unit("vertical")),
        Column("Ratio over ground"),
        Column("Ratio through air"),
    )
    rows = tuple(_glide_row(glide, show) for glide in glides)
    remarks = (ROUND_CORNERS, EQUIVALENT, *remarks_of(glides))
    return Table("Glides", columns, rows, remarks, spans=spans_of(glides, "Glide"))


def _glide_row(glide: Glide, show: Display) -> tuple[str, ...]:
    """A glide in one row."""
    equivalent = glide.equivalent_airspeed_mps
    return (
        str(glide.number),
        show.clock(glide.start),
        show.span(glide.start, glide.end),
        show.figure(glide.distance_m, "distance"),
        show.figure(glide.height_lost_m, "height"),
        show.figure(glide.track_deg, "degrees"),
        show.figure(glide.ground_speed_mps, "speed"),
        show.estimate(glide.airspeed_mps, "speed"),
        show.figure(equivalent.value if equivalent else None, "speed"),
        show.estimate(glide.tailwind_mps, "speed"),
        show.estimate(glide.sink_mps, "vertical"),
        show.estimate(glide.glide_ratio_ground, "ratio"),
        show.estimate(glide.glide_ratio_air, "ratio"),
    )


def speeds_table(speeds: tuple[SpeedToFly, ...], show: Display, basis: PolarBasis | None = None) -> Table:
    """One row a glide: the speed flown, the best one, and what the difference cost.

    `basis` is that of the polar behind it: a best airspeed beyond those glided at is said to be one.
    """
    vertical, speed = show.unit("vertical"), show.unit("speed")
    columns = (
        Column("Glide"),
        Column("Best is least", "", True),
        Column("Next climb", vertical),
        Column("Tailwind", speed),
        Column("Air rises", vertical),
        Column("Flown airspeed", speed),
        Column("Best airspeed", speed),
        Column("Time lost", "s"),
        Column("Height lost", show.unit("height")),
    )
    remarks = (*remarks_of(speeds), *_beyond_the_flown(speeds, basis, show))
    return Table("Speed to fly", columns, tuple(_speed_row(one, show) for one in speeds), remarks)


def _beyond_the_flown(speeds: tuple[SpeedToFly, ...], basis: PolarBasis | None, show: Display) -> tuple[str, ...]:
    """A remark on best airspeeds faster than the flight glided, where its polar is hardly its own."""
    if basis is None:
        return ()
    beyond = [
        one.number
        for one in speeds
        if one.best_equivalent_mps is not None and one.best_equivalent_mps.value > basis.airspeed_high_mps
    ]
    if not beyond:
        return ()
    fastest = show.with_unit(basis.airspeed_high_mps, "speed")
    return (
        f"{numbered(beyond)}: the best airspeed is faster than the {fastest} (at sea-level density) up to which"
        f" the polar was flown; beyond, it leans on {basis.leans_on}",
    )


def _speed_row(one: SpeedToFly, show: Display) -> tuple[str, ...]:
    """The speeds of one glide in one row."""
    return (
        str(one.number),
        word(words.REFERENCES, one.reference),
        show.figure(one.climb_mps, "vertical"),
        show.estimate(one.tailwind_mps, "speed"),
        show.estimate(one.air_mps, "vertical"),
        show.estimate(one.flown_airspeed_mps, "speed"),
        show.estimate(one.best_airspeed_mps, "speed"),
        _cost_text(one.cost_s, show),
        show.estimate(one.cost_m, "height"),
    )


WIDE_S = 20.0


def _cost_text(cost_s: Estimate | None, show: Display) -> str:
    """A time with its interval, in whole seconds where that is wider than `WIDE_S`."""
    if cost_s is None or cost_s.high - cost_s.low < WIDE_S:
        return show.estimate(cost_s, "seconds")
    best, low, high = (show.number(part, 0) for part in (cost_s.value, cost_s.low, cost_s.high))
    return f"{best} ({low} to {high})"


BESIDE_THE_MAKER = (
    "It is drawn towards the maker's polar where your glides tell little, so it is no test of the maker's figures;"
    " flightlog glides --wing compares your glides with them, leaning on the class alone"
)

BESIDE_THE_CLASS = (
    "The values lean on what is usual for such wings, the more so the less glide there was;"
    " the intervals leave room for better and worse ones"
)

CLASS_NOT_NAMED = "Naming the kind of wing (flightlog debrief --class, or --wing) may narrow it"


def polar_table(polar: Polar, show: Display, *, leans_on_maker: bool = False) -> Table:
    """The sink polar, from slow to fast, its two best points, and what it leans on."""
    columns = (
        Column("Airspeed", show.unit("speed")),
        Column("Sink", show.unit("vertical")),
        Column("95 % from", show.unit("vertical")),
        Column("to", show.unit("vertical")),
    )
    rows = tuple(
        (show.figure(speed, "speed"), *(show.number(show.converted(sink, "vertical"), 2) for sink in sinks))
        for speed, *sinks in zip(
            polar.airspeed_mps, polar.sink_mps, polar.sink_low_mps, polar.sink_high_mps, strict=True
        )
    )
    speed, vertical, note = show.unit("speed"), show.unit("vertical"), words.polar_note(polar, show)
    remarks = (
        *([sentence(note).rstrip(".")] if note else []),
        BESIDE_THE_MAKER if leans_on_maker else BESIDE_THE_CLASS,
        *([CLASS_NOT_NAMED] if polar.basis and polar.basis.leans_on == ANY_WING else []),
        f"Best glide ratio {show.estimate(polar.best_glide_ratio, 'ratio')}"
        f" at {show.estimate(polar.best_glide_airspeed_mps, 'speed')} {speed}",
        f"Least sink {show.estimate(polar.min_sink_mps, 'vertical')} {vertical}"
        f" at {show.estimate(polar.min_sink_airspeed_mps, 'speed')} {speed}",
        f"Still air at {polar.density_reference_kgm3} kg/m³; speeds and sinks grow as air gets thinner",
    )
    return Table("Sink polar", columns, rows, remarks)


def wind_table(wind: WindResult, show: Display) -> Table:
    """One row a band of height, the highest first."""
    height, speed = show.unit("height"), show.unit("speed")
    columns = (
        Column("Between", height),
        Column("and", height),
        Column("From"),
        Column("Speed", speed),
        Column("95 % within ±", speed),
        Column("Circles"),
    )
    rows = tuple(
        (
            show.figure(band.altitude_low_m, "height"),
            show.figure(band.altitude_high_m, "height"),
            *_wind_cells(band.wind, show),
        )
        for band in reversed(wind.profile)
    )
    mean = (("all heights", "", *_wind_cells(wind.mean, show)),) if wind.mean else ()
    return Table("Wind by height", columns, rows + mean, (wind.note,) if wind.note else ())


def _wind_cells(wind: Wind, show: Display) -> tuple[str, ...]:
    """A wind in four cells; no direction where the wind may as well be none."""
    return (
        direction(wind, show) if has_direction(wind) else "not sure",
        show.figure(wind.speed_mps, "speed"),
        show.number(show.converted(wind_half_width_mps(wind), "speed"), 1),
        show.figure(wind.circles, "count"),
    )


def phases_table(flight: Flight, show: Display) -> Table:
    """One row a phase."""
    columns = (Column("Start", show.zone_name), Column("Took"), Column("What", "", True), Column("How", "", True))
    rows = tuple(
        (
            show.clock(phase.start),
            show.span(phase.start, phase.end),
            word(words.PHASES, phase.kind),
            word(words.MODES, phase.mode),
        )
        for phase in flight.phases
    )
    spans = tuple(
        Span(phase.start.timestamp(), phase.end.timestamp(), sentence(word(words.PHASES, phase.kind)).rstrip("."))
        for phase in flight.phases
    )
    return Table("Phases", columns, rows, is_folded=True, spans=spans)


def quality_table(debrief: Debrief) -> Table:
    """What was odd in the log, in the order of its lines."""
    columns = (Column("Line"), Column("Times"), Column("What was found", "", True))
    notes = sorted(debrief.log.problems, key=lambda note: note.line or 0)
    rows = tuple((str(note.line) if note.line else UNKNOWN, str(note.count), note.message) for note in notes)
    return Table("What was odd in the log", columns, rows)


def settings_table(settings: Settings) -> Table:
    """Every threshold that the analysis used, under its own name."""
    columns = (Column("Setting", "", True), Column("Value"))
    rows = tuple((entry.name, str(getattr(settings, entry.name))) for entry in fields(settings))
    return Table("Settings used", columns, rows, is_folded=True)


def own_settings_table(settings: Settings) -> Table:
    """The thresholds that are not the defaults, and the class of wing that sets most of them."""
    whole, usual = settings_table(settings), settings_table(Settings())
    rows = tuple(
        row for row, other in zip(whole.rows, usual.rows, strict=True) if row != other or row[0] == "wing_class"
    )
    count = len(whole.rows) - len(rows)
    rest = f"The other {count} are the defaults of flightlog {__version__}; all stand in the web page of this log"
    return Table(whole.title, whole.columns, rows, remarks=(rest,))
