"""The plain facts of a flight, told where nothing more telling fills the room."""

from __future__ import annotations

from flightlog.measures import findings as facts
from flightlog.measures.tellings import PLAIN
from flightlog.writers.display import duration, over_ground
from flightlog.writers.finding_parts import Subject, Told, whence, with_interval
from flightlog.writers.page_tables import give_or_take
from flightlog.writers.words import PATTERNS, counted, listed, word

LEAST_PART = 0.01
"""A kind of flying with less of the time is not named in a sentence."""
PARTS_NAMED = 3
DOING = {
    "launch_run": "the launch run",
    "circling": "climbing in circles",
    "ridge": "soaring along the slope",
    "straight": "climbing straight on",
    "glide": "gliding",
    "search": "searching",
    "approach": "approaches",
}
"""Mode of a climb, or kind of a phase, as a pilot says it in a sentence."""


def budget(subject: Subject) -> Told | None:
    """Where most of the time went."""
    show, budget = subject.show, subject.flight.time_budget
    if budget is None:
        return None
    parts = sorted((part for part in budget.parts if part.share >= LEAST_PART), key=lambda part: -part.share)
    named = [
        f"{show.joined(show.figure(part.share, 'share'), 'share')} went into {DOING[part.mode or part.kind]}"
        for part in parts[:PARTS_NAMED]
    ]
    return Told(PLAIN, "log", f"of {duration(budget.total_s)}, {listed(named)}", "Time budget")


def height(subject: Subject) -> Told | None:
    """How high, and the largest rise."""
    show, flight = subject.show, subject.flight
    if flight.max_altitude_m is None or flight.altitude_gain_m is None:
        return None
    text = (
        f"the highest point was {show.with_unit(flight.max_altitude_m, 'height')} above the sea, the largest rise"
        f" from a low point {show.with_unit(flight.altitude_gain_m, 'height')}"
    )
    return Told(PLAIN, "log", text, "Climbs" if flight.climbs else "Time budget")


def mean_wind(subject: Subject) -> Told | None:
    """The wind on the whole."""
    show, mean = subject.show, subject.flight.wind.mean
    if mean is None:
        return None
    speed = show.joined(give_or_take(mean, show), "speed")
    return Told(PLAIN, "air", f"the wind was {speed} {whence(mean, show)}", "Wind by height")


def launch(subject: Subject) -> Told | None:
    """The launch run."""
    show, launch = subject.show, subject.flight.launch
    if launch is None or facts.odd_launch(subject.flight) is not None:
        return None
    run = show.joined(show.figure(launch.run_duration_s, "seconds"), "seconds")
    text = f"the launch run took {run} over {show.with_unit(launch.run_length_m, 'length')}"
    if launch.headwind_mps is not None:
        text += f" into {with_interval(launch.headwind_mps, 'speed', show)} of headwind"
    return Told(PLAIN, "ground", text, "Launch")


def landing(subject: Subject) -> Told | None:
    """A landing that was steady."""
    show, approach = subject.show, subject.flight.approach
    if approach is None or approach.unsteady:
        return None
    speed = over_ground(approach.ground_speed_at_touchdown_mps, show)
    text = (
        f"the landing came from {word(PATTERNS, approach.pattern)} with a final of"
        f" {show.with_unit(approach.final_length_m, 'length')}, touching down at {speed}"
    )
    if approach.headwind_mps is not None:
        text += f" with {with_interval(approach.headwind_mps, 'speed', show)} of headwind"
    return Told(PLAIN, "ground", text, "Approach and touchdown")


def possible_passes(subject: Subject) -> Told | None:
    """Low passes that may have been meant to land."""
    possible = [one for one in subject.flight.passes if one.certainty == "possible"]
    if not possible:
        return None
    lowest = min(possible, key=lambda one: one.lowest_height_m)
    height = subject.show.with_unit(lowest.lowest_height_m, "height")
    passes = counted(len(possible), "low pass", "low passes")
    text = f"{passes} may have been meant to land, the lowest {height} above the place"
    return Told(PLAIN, "ground", text, "Approach passes", str(lowest.number))
