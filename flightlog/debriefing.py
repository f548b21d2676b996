"""The whole analysis in one function: from a track to a Debrief.

The module is not called `debrief`, because `flightlog.debrief` is the function.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from flightlog.air.air import Air
from flightlog.air.estimating import estimate_air
from flightlog.air.ground_way import ground_way_m
from flightlog.air.recorder_check import RecorderCheck, check_against_recorder, constant_columns
from flightlog.air.wing_polars import expectations
from flightlog.arrays import Floats
from flightlog.errors import Note, TrackFileError
from flightlog.measures.approach import measure_approach
from flightlog.measures.climbs import measure_climbs
from flightlog.measures.events import measure_landing, measure_takeoff
from flightlog.measures.glides import measure_glides
from flightlog.measures.launch import measure_launch
from flightlog.measures.overview import measure_overview, phase_rows
from flightlog.measures.pass_details import add_details
from flightlog.measures.passes import measure_passes
from flightlog.measures.phases_flown import phases_flown
from flightlog.measures.polars import draw_polars, glide_blocks, measure_performance
from flightlog.measures.results import Flight
from flightlog.measures.speed_to_fly import measure_speed_to_fly
from flightlog.measures.thermals import with_thermal_details
from flightlog.measures.time_budgets import measure_time_budget
from flightlog.measures.winds import measure_wind
from flightlog.motion.cleaning import clean_motion
from flightlog.motion.motion import Motion, Spell
from flightlog.motion.spells import find_spells
from flightlog.phases.approaches import PassSpan, find_passes
from flightlog.phases.counting import go_around_count
from flightlog.phases.flights import find_flights
from flightlog.phases.grounds import Ground, find_grounds
from flightlog.phases.labelling import label_phases
from flightlog.phases.phases import FlightSpan
from flightlog.places import Place
from flightlog.settings import Settings, settings_for
from flightlog.tables import results_table
from flightlog.tracks.track import Track
from flightlog.wings import Wing, is_other_wing

if TYPE_CHECKING:
    import pandas as pd

CAUTIONS = (
    "For review after the flight only; not for use in flight, and not a certification of anything.",
    "Figures of past approaches are no advice for the next: local and site rules and your instructor come first.",
    "Heights and speeds come from a recorder, not from a survey; the intervals say how far they can be trusted.",
)


@dataclass(frozen=True)
class LogSummary:
    """The log itself: which file, by whom, how it was recorded, and what was odd."""

    file: str
    format: str
    sha256: str
    date: str | None
    pilot: str | None
    wing: str | None
    recorder: str | None
    fixes: int
    fixes_used: int
    interval_s: float
    altitude_source: str
    problems: tuple[Note, ...]


@dataclass(frozen=True, eq=False)
class Debrief:
    """Everything that one log tells: the results, and the arrays they were drawn from."""

    log: LogSummary
    flights: tuple[Flight, ...]
    cautions: tuple[str, ...]
    track: Track
    motion: Motion
    air: Air
    spans: tuple[FlightSpan, ...]
    pass_spans: tuple[tuple[PassSpan, ...], ...]  # of each flight
    grounds: tuple[Ground, ...]
    settings: Settings
    places: tuple[Place, ...] = ()
    wing: Wing | None = None
    recorder_check: tuple[RecorderCheck, ...] | None = None  # None: no airspeed or wind by the recorder itself

    def flights_table(self) -> pd.DataFrame:
        """One row a flight: times, durations, heights, glide ratios, number of passes."""
        return results_table(self.flights, "flights")

    def phases_table(self) -> pd.DataFrame:
        """One row a phase of any flight."""
        return results_table(self.flights, "phases")

    def climbs_table(self) -> pd.DataFrame:
        """One row a climb; estimates take three columns: value, `_low`, `_high`."""
        return results_table(self.flights, "climbs")

    def glides_table(self) -> pd.DataFrame:
        """One row a glide; estimates take three columns: value, `_low`, `_high`."""
        return results_table(self.flights, "glides")

    def passes_table(self) -> pd.DataFrame:
        """One row an approach pass."""
        return results_table(self.flights, "passes")

    def wind_table(self) -> pd.DataFrame:
        """One row a height band of each flight's wind profile."""
        return results_table(self.flights, "wind")


_SPELLS_PER_FLIGHT = 4
"""A flight may fall into a few spells in the air; so many for every flight allowed are no pilot's log."""


def _not_countless(track: Track, spells: Sequence[Spell], settings: Settings) -> None:
    """Refuse a made-up log of thousands of hops before the dear part of the analysis."""
    long = sum(
        spell.kind == "air" and spell.end_s - spell.start_s >= settings.shortest_flight_s for spell in spells
    )
    if long > _SPELLS_PER_FLIGHT * settings.most_flights:
        raise TrackFileError(f"more than {settings.most_flights} flights", "split the log by day", track.file)


def debrief(
    track: Track,
    *,
    settings: Settings | None = None,
    places: Sequence[Place] = (),
    wing: Wing | None = None,
) -> Debrief:
    """Analyse one log from end to end.

    Parameters
    ----------
    track : Track
        From `read_track`.
    settings : Settings, optional
        Thresholds; without them those of the wing's class, or of any foot-launched wing.
    places : sequence of Place
        Known launch and landing places; without them the log's own take-offs and touchdowns serve.
    wing : Wing, optional
        Weights and maker's polar, for lift shares and air-mass figures.

    Returns
    -------
    Debrief
        With no, one or several flights. The same track and settings give the same result, to the bit.

    Raises
    ------
    TrackFileError
        The track holds too few usable fixes, or more flights and hours than any log of a pilot's.
    """
    chosen = settings or settings_for(wing.wing_class if wing else "unknown")
    motion = clean_motion(track, chosen)
    spells = find_spells(motion, chosen)
    _not_countless(track, spells, chosen)
    air = estimate_air(motion, spells, chosen)
    bare_spans = find_flights(motion, air, spells, chosen)
    if len(bare_spans) > chosen.most_flights:
        raise TrackFileError(f"more than {chosen.most_flights} flights", "split the log by day", track.file)
    grounds = find_grounds(motion, bare_spans, tuple(places), chosen)
    way_m = ground_way_m(motion, air, chosen)
    spans, passes, flights = [], [], []
    for span in bare_spans:
        found = find_passes(motion, air, span, grounds, chosen)
        labelled = replace(span, phases=label_phases(motion, air, span, found, chosen))
        spans.append(labelled)
        passes.append(found)
        before_s = spans[-2].touchdown_s if len(spans) > 1 else None
        flights.append(
            _measure(motion, air, way_m, labelled, found, grounds, chosen, wing, tuple(places), before_s)
        )
    return Debrief(
        log=_summary(track, motion, air, wing),
        flights=tuple(flights),
        cautions=CAUTIONS,
        track=track,
        motion=motion,
        air=air,
        spans=tuple(spans),
        pass_spans=tuple(passes),
        grounds=grounds,
        settings=chosen,
        places=tuple(places),
        wing=wing,
        recorder_check=check_against_recorder(track, motion, air) or None,
    )


def _measure(
    motion: Motion,
    air: Air,
    way_m: Floats,
    span: FlightSpan,
    passes: tuple[PassSpan, ...],
    grounds: tuple[Ground, ...],
    settings: Settings,
    wing: Wing | None,
    places: tuple[Place, ...],
    earliest_s: float | None,
) -> Flight:
    """All measures of one flight; the one before it touched down at `earliest_s`."""
    overview = measure_overview(motion, span, way_m)
    flown = phases_flown(motion, air, span, settings, way_m)
    glides = measure_glides(motion, air, span, settings, flown)
    blocks = glide_blocks(motion, air, span, settings)
    polars = draw_polars(blocks, expectations(settings.wing_class, wing))
    climbs = measure_climbs(motion, air, span, settings, wing, polars, flown)
    climbs = with_thermal_details(motion, air, span, climbs, grounds, settings)
    speeds = measure_speed_to_fly(motion, air, glides, climbs, settings, wing, polars)
    return Flight(
        number=span.number,
        takeoff=measure_takeoff(motion, span, places, settings),
        landing=measure_landing(motion, span, grounds, places, settings),
        duration_s=overview.duration_s,
        track_length_m=overview.track_length_m,
        altitude_gain_m=overview.altitude_gain_m,
        max_altitude_m=overview.max_altitude_m,
        max_climb_mps=overview.max_climb_mps,
        max_sink_mps=overview.max_sink_mps,
        phases=phase_rows(span, motion),
        launch=measure_launch(motion, air, span, settings, wing, earliest_s=earliest_s),
        climbs=climbs,
        glides=glides,
        wind=measure_wind(motion, air, span, settings),
        performance=measure_performance(glides, blocks, settings, wing, polars),
        passes=add_details(motion, air, passes, measure_passes(motion, air, passes, settings)),
        approach=measure_approach(motion, air, span, grounds, settings),
        notes=tuple(note.message for note in span.notes),
        speed_to_fly=speeds.speeds,
        speed_costs=speeds.costs,
        time_budget=measure_time_budget(motion, air, span, settings, flown),
        go_arounds=go_around_count(passes) if any("top_landing" in one.use for one in grounds) else None,
    )


def _other_wing(track: Track, wing: Wing | None) -> tuple[Note, ...]:
    """That the log names another wing than the one it was analysed with."""
    named = track.header.wing
    if wing is None or not is_other_wing(named, wing):
        return ()
    return (Note("other_wing", f"the log names {named}; it counts as flown with {wing.name}, the wing file's"),)


def _summary(track: Track, motion: Motion, air: Air, wing: Wing | None) -> LogSummary:
    """What the log says about itself, and every oddity met on the way."""
    header = track.header
    return LogSummary(
        file=track.file,
        format=track.format,
        sha256=track.sha256,
        date=header.date,
        pilot=header.pilot,
        wing=header.wing,
        recorder=header.recorder,
        fixes=track.records_read,
        fixes_used=len(motion.time_s),
        interval_s=motion.interval_s,
        altitude_source=motion.altitude_source,
        problems=(*track.notes, *_other_wing(track, wing), *constant_columns(track), *motion.notes, *air.notes),
    )
