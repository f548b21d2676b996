"""The tables of a page: rows of finished texts, one a climb, glide, pass and so on."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import fields

from flightlog.debriefing import Debrief
from flightlog.estimates import NORMAL_95, Wind
from flightlog.measures.results import Approach, Climb, Flight, Glide, Launch, Pass, Polar, WindResult
from flightlog.settings import Settings
from flightlog.writers import words
from flightlog.writers.display import UNKNOWN, Display, duration
from flightlog.writers.page_parts import Column, Table
from flightlog.writers.words import word


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
    return Table("Flights", columns, rows)


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


def remarks_of(items: Iterable[Climb | Glide | Pass]) -> tuple[str, ...]:
    """What the items of a table have to say, each with its number."""
    return tuple(f"{item.number}: {item.note}" for item in items if item.note)


def climbs_table(climbs: tuple[Climb, ...], show: Display) -> Table:
    """One row a climb."""
    height, vertical = show.unit("height"), show.unit("vertical")
    columns = (
        Column("No."),
        Column("Start", show.zone_name),
        Column("Took"),
        Column("How", "", True),
        Column("From", height),
        Column("To", height),
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
        Column("Core radius", show.unit("length")),
        Column("Wind", show.unit("speed")),
    )
    return Table("Climbs", columns, tuple(_climb_row(climb, show) for climb in climbs), remarks_of(climbs))


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
        show.figure(climb.circle_radius_m, "length"),
        show.figure(climb.bank_deg, "degrees"),
        show.estimate(core.strength_mps if core else None, "vertical"),
        show.estimate(core.radius_m if core else None, "length"),
        wind_text(climb.wind, show),
    )


def wind_text(wind: Wind | None, show: Display) -> str:
    """A wind in a cell: where it comes from and how fast."""
    return UNKNOWN if wind is None else f"{direction(wind, show)} {show.figure(wind.speed_mps, 'speed')}"


def direction(wind: Wind, show: Display) -> str:
    """Where a wind comes from, three digits as pilots write it.

    >>> direction(Wind(7.4, 3.0, 0.0, 0.0, 0.3, 4.0), Display())
    '007°'
    """
    return f"{int(show.number(wind.from_deg, 0)) % 360:03d}°"


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
        Column("Tailwind", speed),
        Column("Sink", show.unit("vertical")),
        Column("Ratio over ground"),
        Column("Ratio through air"),
    )
    return Table("Glides", columns, tuple(_glide_row(glide, show) for glide in glides), remarks_of(glides))


def _glide_row(glide: Glide, show: Display) -> tuple[str, ...]:
    """A glide in one row."""
    return (
        str(glide.number),
        show.clock(glide.start),
        show.span(glide.start, glide.end),
        show.figure(glide.distance_m, "distance"),
        show.figure(glide.height_lost_m, "height"),
        show.figure(glide.track_deg, "degrees"),
        show.figure(glide.ground_speed_mps, "speed"),
        show.estimate(glide.airspeed_mps, "speed"),
        show.estimate(glide.tailwind_mps, "speed"),
        show.estimate(glide.sink_mps, "vertical"),
        show.estimate(glide.glide_ratio_ground, "ratio"),
        show.estimate(glide.glide_ratio_air, "ratio"),
    )


def polar_table(polar: Polar, show: Display) -> Table:
    """The sink polar, from slow to fast, and its two best points."""
    columns = (
        Column("Airspeed", show.unit("speed")),
        Column("Sink", show.unit("vertical")),
        Column("at least", show.unit("vertical")),
        Column("at most", show.unit("vertical")),
    )
    rows = tuple(
        (show.figure(speed, "speed"), *(show.number(show.converted(sink, "vertical"), 2) for sink in sinks))
        for speed, *sinks in zip(
            polar.airspeed_mps, polar.sink_mps, polar.sink_low_mps, polar.sink_high_mps, strict=True
        )
    )
    speed, vertical = show.unit("speed"), show.unit("vertical")
    remarks = (
        f"Best glide ratio {show.estimate(polar.best_glide_ratio, 'ratio')}"
        f" at {show.estimate(polar.best_glide_airspeed_mps, 'speed')} {speed}",
        f"Least sink {show.estimate(polar.min_sink_mps, 'vertical')} {vertical}"
        f" at {show.estimate(polar.min_sink_airspeed_mps, 'speed')} {speed}",
        f"Still air at {polar.density_reference_kgm3} kg/m³; speeds and sinks grow as air gets thinner",
        *([polar.note] if polar.note else []),
    )
    return Table("Sink polar", columns, rows, remarks, is_folded=True)


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
    """A wind in four cells."""
    return (
        direction(wind, show),
        show.figure(wind.speed_mps, "speed"),
        show.number(show.converted(NORMAL_95 * wind.se_mps, "speed"), 1),
        show.figure(wind.circles, "count"),
    )


def passes_table(passes: tuple[Pass, ...], show: Display) -> Table:
    """One row an approach pass."""
    height, length, speed = show.unit("height"), show.unit("length"), show.unit("speed")
    columns = (
        Column("No."),
        Column("Place", "", True),
        Column("Outcome", "", True),
        Column("Certainty", "", True),
        Column("Start", show.zone_name),
        Column("End", show.zone_name),
        Column("Lowest", height),
        Column("Closest", length),
        Column("Broken off", show.zone_name),
        Column("at height", height),
        Column("at distance", length),
        Column("Height regained", height),
        Column("Ground speed", speed),
        Column("Headwind", speed),
        Column("Sink", show.unit("vertical")),
        Column("Off the straight path", length),
        Column("Off line", "°"),
    )
    return Table("Approach passes", columns, tuple(_pass_row(one, show) for one in passes), remarks_of(passes))


def _pass_row(one: Pass, show: Display) -> tuple[str, ...]:
    """A pass in one row."""
    decision = one.decision
    return (
        str(one.number),
        one.place or UNKNOWN,
        word(words.OUTCOMES, one.outcome),
        word(words.CERTAINTIES, one.certainty),
        show.clock(one.start),
        show.clock(one.end),
        show.figure(one.lowest_height_m, "height"),
        show.figure(one.closest_m, "length"),
        show.clock(decision.time) if decision else UNKNOWN,
        show.figure(decision.height_m if decision else None, "height"),
        show.figure(decision.distance_m if decision else None, "length"),
        show.figure(one.height_regained_m, "height"),
        show.figure(one.ground_speed_mps, "speed"),
        show.estimate(one.headwind_mps, "speed"),
        show.figure(one.sink_mps, "vertical"),
        show.figure(one.path_deviation_m, "length"),
        show.figure(one.line_up_deg, "degrees"),
    )


def launch_table(launch: Launch, show: Display) -> Table:
    """The launch run, one row a figure."""
    rows = (
        ("Run begins", show.clock(launch.run_start)),
        ("Lift-off", show.clock(launch.liftoff)),
        ("Run takes", show.joined(show.figure(launch.run_duration_s, "seconds"), "seconds")),
        ("Run length", show.with_unit(launch.run_length_m, "length")),
        ("Ground speed at lift-off", show.with_unit(launch.ground_speed_mps, "speed")),
        ("Headwind", _estimate_with_unit(launch.headwind_mps, "speed", show)),
        ("Wind from the right", _estimate_with_unit(launch.crosswind_mps, "speed", show)),
        ("Airspeed at lift-off", _estimate_with_unit(launch.airspeed_mps, "speed", show)),
        ("Share of the wing's weight carried before the run", _share(launch, show)),
    )
    return _two_columns("Launch", rows, launch.note)


def _share(launch: Launch, show: Display) -> str:
    """Lift share at rest in two decimals."""
    share = launch.lift_share_at_rest
    if share is None:
        return "not known"
    return f"{show.number(share.value, 2)} ({show.number(share.low, 2)} to {show.number(share.high, 2)})"


def approach_table(approach: Approach, show: Display) -> Table:
    """The last descent, one row a figure."""
    rows = (
        ("Begins", show.clock(approach.start)),
        ("Takes", show.span(approach.start, approach.end)),
        ("Shape", word(words.PATTERNS, approach.pattern)),
        ("Length of the final", show.with_unit(approach.final_length_m, "length")),
        ("Sink on the final", show.with_unit(approach.final_sink_mps, "vertical")),
        ("Ground speed at touchdown", show.with_unit(approach.ground_speed_at_touchdown_mps, "speed")),
        ("Headwind", _estimate_with_unit(approach.headwind_mps, "speed", show)),
        ("Unsteady", "; ".join(approach.unsteady) or "nothing"),
    )
    return _two_columns("Approach and touchdown", rows, approach.note)


def _estimate_with_unit(estimate: object, kind: str, show: Display) -> str:
    """An estimate with its unit, or "not known"."""
    from flightlog.estimates import Estimate

    if not isinstance(estimate, Estimate):
        return "not known"
    return show.joined(show.estimate(estimate, kind), kind)


def _two_columns(title: str, rows: tuple[tuple[str, str], ...], note: str | None) -> Table:
    """A table of names and figures."""
    return Table(title, (Column("What", "", True), Column("Figure")), rows, (note,) if note else ())


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
    return Table("Phases", columns, rows, is_folded=True)


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
