"""The tables of a page that are about the ground: launch, approach passes, approach and touchdown."""

from __future__ import annotations

from flightlog.estimates import NORMAL_95, Estimate
from flightlog.measures.results import Approach, Flight, Launch, Pass
from flightlog.settings import Settings
from flightlog.writers import words
from flightlog.writers.display import UNKNOWN, Display, duration, sinking
from flightlog.writers.page_parts import Column, Table
from flightlog.writers.page_tables import remarks_of, spans_of
from flightlog.writers.words import unsteady_words, word


def passes_table(flight: Flight, show: Display) -> Table:
    """One row an approach pass; how many were broken off is remarked with its interval."""
    passes, count = flight.passes, flight.go_arounds
    remarks = remarks_of(passes)
    if count is not None and count.high > 0:
        may_be = f", 95 % interval {count.low:.0f} to {count.high:.0f}" if count.low < count.high else ""
        remarks = (f"Counted as broken off: {count.value:.0f}{may_be}", *remarks)
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
        Column("Broken off at", height),
        Column("at distance", length),
        Column("Height regained", height),
        Column("Next try after", "min:s"),
        Column("Ground speed", speed),
        Column("Headwind", speed),
        Column("Sink", show.unit("vertical")),
        Column("Off the straight path", length),
        Column("Off line", "°"),
    )
    rows = tuple(_pass_row(one, show) for one in passes)
    return Table("Approach passes", columns, rows, remarks, spans=spans_of(passes, "Pass"))


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
        _lowest(one, show),
        show.figure(one.closest_m, "length"),
        show.figure(decision.height_m if decision else None, "height"),
        show.figure(decision.distance_m if decision else None, "length"),
        show.figure(one.height_regained_m, "height"),
        UNKNOWN if one.seconds_to_next_s is None else duration(one.seconds_to_next_s).removesuffix(" min"),
        show.figure(one.ground_speed_mps, "speed"),
        show.estimate(one.headwind_mps, "speed"),
        show.figure(one.sink_mps, "vertical"),
        show.figure(one.path_deviation_m, "length"),
        show.figure(one.line_up_deg, "degrees"),
    )


def _lowest(one: Pass, show: Display) -> str:
    """The lowest height, and within what it lies with 95 %."""
    lowest = show.figure(one.lowest_height_m, "height")
    if one.lowest_height_sd_m is None:
        return lowest
    return f"{lowest} ± {show.figure(NORMAL_95 * one.lowest_height_sd_m, 'height')}"


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
        ("Height lost in the first 10 s", _lost(launch, show)),
        ("Runs given up before it", _aborted(launch, show)),
    )
    return _two_columns("Launch", rows, launch.note)


def _share(launch: Launch, show: Display) -> str:
    """Lift share at rest in two decimals."""
    share = launch.lift_share_at_rest
    if share is None:
        return "not known"
    return f"{show.number(share.value, 2)} ({show.number(share.low, 2)} to {show.number(share.high, 2)})"


def _lost(launch: Launch, show: Display) -> str:
    """Height lost after lift-off."""
    return "none" if launch.sink_after_liftoff_m is None else show.with_unit(launch.sink_after_liftoff_m, "height")


def _aborted(launch: Launch, show: Display) -> str:
    """How many runs were given up, when, and how fast they were."""
    if launch.aborted_runs is None:
        return "not told: fixes too far apart"
    told = [f"{show.clock(run.start)} ({show.with_unit(run.length_m, 'length')})" for run in launch.aborted_runs]
    return f"{len(told)}: {', '.join(told)}" if told else "none"


def approach_table(approach: Approach, show: Display, settings: Settings) -> Table:
    """The last descent, one row a figure."""
    turns = f"Turns of {show.with_unit(settings.low_turn_least_deg, 'degrees')} and more"
    rows = (
        ("Begins", show.clock(approach.start)),
        ("Takes", show.span(approach.start, approach.end)),
        ("Shape", word(words.PATTERNS, approach.pattern)),
        ("Length of the final", show.with_unit(approach.final_length_m, "length")),
        ("Sink on the final", sinking(approach.final_sink_mps, show, "")),
        ("Ground speed at touchdown", show.with_unit(approach.ground_speed_at_touchdown_mps, "speed")),
        ("Headwind", _estimate_with_unit(approach.headwind_mps, "speed", show)),
        ("Wind at the field", _field_wind(approach, show)),
        ("Speed on the final varied by", _known(approach.final_speed_spread_mps, "speed", show)),
        ("Off the straight path on the final", _known(approach.final_path_deviation_m, "height", show)),
        ("Sink at touchdown", sinking(approach.sink_at_touchdown_mps, show, "")),
        (f"{turns} below {show.with_unit(settings.low_turn_below_m, 'height')}", _low_turns(approach, show)),
        ("Touchdown from the centre of the place", _known(approach.touchdown_distance_m, "length", show)),
        ("Unsteady", "; ".join(unsteady_words(approach, show)) or "nothing"),
    )
    return _two_columns("Approach and touchdown", rows, approach.note)


def _known(value: float | None, kind: str, show: Display) -> str:
    """A figure with its unit, or "not known"."""
    return "not known" if value is None else show.with_unit(value, kind)


def _field_wind(approach: Approach, show: Display) -> str:
    """Where the wind at the field came from, and how strong it was."""
    if approach.wind_from_deg is None or approach.wind_speed_mps is None:
        return "not known"
    return f"{approach.wind_from_deg:03.0f}°, {show.with_unit(approach.wind_speed_mps, 'speed')}"


def _low_turns(approach: Approach, show: Display) -> str:
    """How many turns were flown near the ground, and how far round in all."""
    if not approach.low_turns:
        return "none"
    return f"{approach.low_turns}, {show.with_unit(approach.low_turn_deg, 'degrees')} in all"


def _estimate_with_unit(estimate: Estimate | None, kind: str, show: Display) -> str:
    """An estimate with its unit, or "not known"."""
    if estimate is None:
        return "not known"
    return show.joined(show.estimate(estimate, kind), kind)


def _two_columns(title: str, rows: tuple[tuple[str, str], ...], note: str | None) -> Table:
    """A table of names and figures."""
    return Table(title, (Column("What", "", True), Column("Figure")), rows, (note,) if note else ())
