"""What happened in a flight, told in sentences, and its figures at a glance."""

from __future__ import annotations

from flightlog.debriefing import Debrief
from flightlog.estimates import Wind
from flightlog.measures.results import Approach, Event, Flight
from flightlog.wings import is_other_wing
from flightlog.writers import words
from flightlog.writers.display import Display, duration, over_ground
from flightlog.writers.page_parts import Fact
from flightlog.writers.page_tables import direction, give_or_take, has_direction
from flightlog.writers.words import counted, sentence, word


def story(flight: Flight, show: Display) -> tuple[str, ...]:
    """The flight from take-off to landing in a few sentences, notes last; its findings tell what it was like."""
    told = (
        _takeoff(flight, show),
        _flying(flight, show),
        _landing(flight, show),
        *(note for note in (flight.takeoff.note, flight.landing.note) if note),
        *flight.notes,
    )
    return tuple(sentence(text) for text in told if text)


def _takeoff(flight: Flight, show: Display) -> str:
    """How the flight began."""
    event, launch = flight.takeoff, flight.launch
    if event.kind == "start_of_log":
        return f"the log starts in the air at {_when_where(event, show)}"
    text = f"lift-off at {_when_where(event, show)}"
    if launch is None:
        return text
    run = show.with_unit(launch.run_length_m, "length")
    text += f", after a run of {duration(launch.run_duration_s)} over {run}"
    if launch.headwind_mps is not None:
        headwind = show.joined(show.estimate(launch.headwind_mps, "speed"), "speed")
        text += f" with a headwind of {headwind}"
    return text


def _when_where(event: Event, show: Display) -> str:
    """Time, place and altitude of an event."""
    place = f" at {event.place}" if event.place else ""
    return f"{show.clock(event.time)}{place}, {show.with_unit(event.altitude_m, 'height')} above the sea"


def _flying(flight: Flight, show: Display) -> str:
    """What the flight was made of."""
    parts = [
        f"{duration(flight.duration_s)} in the air",
        counted(len(flight.climbs), "climb"),
        counted(len(flight.glides), "glide"),
        f"highest at {show.with_unit(flight.max_altitude_m, 'height')}",
        f"{show.with_unit(flight.track_length_m, 'distance')} flown over the ground",
    ]
    return ", ".join(parts)


def _landing(flight: Flight, show: Display) -> str:
    """How the flight ended."""
    event = flight.landing
    if event.kind == "end_of_log":
        return f"the log ends in the air at {_when_where(event, show)}"
    text = f"{word(words.LANDINGS, event.kind)} at {_when_where(event, show)}"
    return text if flight.approach is None else f"{text}, {_from_approach(flight.approach, show)}"


def _from_approach(approach: Approach, show: Display) -> str:
    """The shape of the last descent and the speed at its end."""
    speed = over_ground(approach.ground_speed_at_touchdown_mps, show)
    return f"from {word(words.PATTERNS, approach.pattern)}, touching down at {speed}"


def _mean_wind(mean: Wind | None, show: Display) -> Fact:
    """The wind of a flight, and where it comes from where that is sure."""
    if mean is None:
        return Fact("Wind", "not known", "mean of the flight, and where it comes from")
    speed = show.joined(give_or_take(mean, show), "speed")
    if not has_direction(mean):
        return Fact("Wind", speed, "mean of the flight, from no sure direction")
    return Fact("Wind", f"{direction(mean, show)} {speed}", "mean of the flight, and where it comes from")


def flight_facts(flight: Flight, show: Display) -> tuple[Fact, ...]:
    """The figures of a flight at a glance."""
    performance = flight.performance
    over_ground, through_air = performance.glide_ratio_ground, performance.glide_ratio_air
    return (
        Fact("In the air", duration(flight.duration_s), "from lift-off to first touch"),
        Fact("Highest", show.with_unit(flight.max_altitude_m, "height"), "above the sea"),
        Fact("Gain", show.with_unit(flight.altitude_gain_m, "height"), "largest rise from a low point"),
        Fact("Strongest climb", show.with_unit(flight.max_climb_mps, "vertical"), "mean of 5 s"),
        Fact("Strongest sink", show.with_unit(flight.max_sink_mps, "vertical"), "mean of 5 s, downward"),
        _mean_wind(flight.wind.mean, show),
        Fact("Glide ratio", _or_unknown(show.estimate(over_ground, "ratio")), "over the ground, all glides"),
        Fact(
            "Glide ratio", _or_unknown(show.estimate(through_air, "ratio")), "through the air met, not still air"
        ),
    )


def _or_unknown(text: str) -> str:
    """A figure, or "not known" in words."""
    return "not known" if text == "–" else text


def log_facts(debrief: Debrief, show: Display) -> tuple[Fact, ...]:
    """What the log is: pilot, wing, recorder, and how it was recorded."""
    log = debrief.log
    wing = debrief.wing.name if debrief.wing else log.wing
    judged = f"judged as {word(words.WING_CLASSES, debrief.settings.wing_class)}"
    if debrief.wing and is_other_wing(log.wing, debrief.wing):
        judged += f"; the log names {log.wing}"
    interval = show.number(log.interval_s, 1).removesuffix(".0")
    return (
        Fact("Pilot", log.pilot or "not named"),
        Fact("Wing", wing or "not named", judged),
        Fact("Recorder", log.recorder or "not named", f"a fix every {interval} s"),
        Fact("Fixes", f"{log.fixes_used} of {log.fixes}", "used"),
        Fact("Heights", f"from {word(words.ALTITUDES, log.altitude_source)}", "above mean sea level"),
    )
