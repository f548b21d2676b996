"""What to look at in passes and landings, in plain sentences from measured facts: no score, no advice."""

from __future__ import annotations

from collections.abc import Sequence

from flightlog.estimates import Estimate
from flightlog.landings.totals import LandingRow, Try
from flightlog.measures.pass_details import STEADY_S
from flightlog.measures.results import Approach, Pass, PassDetail, PathPoint
from flightlog.settings import Settings
from flightlog.writers.display import NO_BREAK, Display, duration, over_ground, sinking
from flightlog.writers.words import PATTERNS, counted, sentence, unsteady_words, word

STABILISED = (
    "Held against the idea of a stabilised approach: one constant angle to a chosen point of the landing area"
    " (FAA, Airplane Flying Handbook), small changes of course, a held speed, a bounded sink (Flight Safety"
    " Foundation, ALAR Briefing Note 7.1). Both were written for aeroplanes with engines and are known here at"
    " second hand; for foot-launched wings no limits are published. Too high or too low means: kept straight on"
    " at the angle over the ground just flown, the wing would have crossed the place so much above, or below, its"
    " ground."
)
NO_ADVICE = "These figures tell what was flown; they are no advice for the next landing."
ORDINALS = ("First", "Second", "Third", "Fourth", "Fifth", "Sixth", "Seventh", "Eighth", "Ninth", "Tenth")
OUTCOMES = {
    "landed": "landed here",
    "landed_elsewhere": "not landed here: the flight ended elsewhere",
    "end_of_log": "not landed here: the log ends in the air",
}


def what_to_look_at(passes: Sequence[Pass], show: Display) -> tuple[str, ...]:
    """The passes of one flight in sentences, one text a pass; nothing where there is none.

    `STABILISED` and `NO_ADVICE` belong beside them.
    """
    return tuple(pass_text(one, show) for one in passes)


def approach_text(approach: Approach, show: Display, settings: Settings) -> str:
    """A landing in a few sentences: pattern, final, path, speed, wind, turns near the ground, touchdown."""
    length = show.with_unit(approach.final_length_m, "length")
    final = f"landed from {word(PATTERNS, approach.pattern)}: final of {length}"
    if approach.final_sink_mps is not None:
        final += f", {sinking(approach.final_sink_mps, show)} in the mean"
    steady = []
    if approach.final_path_deviation_m is not None:
        steady.append(
            f"{show.with_unit(approach.final_path_deviation_m, 'height')} off the straight path to the touchdown"
        )
    if approach.final_speed_spread_mps is not None:
        steady.append(f"the speed varied by {show.with_unit(approach.final_speed_spread_mps, 'speed')}")
    steady.append(wind_part(approach.headwind_mps, ("headwind", "tailwind"), show) or "the wind is not known")
    below = show.with_unit(settings.low_turn_below_m, "height")
    turned = f"{show.with_unit(approach.low_turn_deg, 'degrees')} in all"
    low = f"{counted(approach.low_turns, 'turn')} below {below}" + (f", {turned}" if approach.low_turns else "")
    touch = f"touched down at {over_ground(approach.ground_speed_at_touchdown_mps, show)}"
    if approach.sink_at_touchdown_mps is not None:
        touch += f", {sinking(approach.sink_at_touchdown_mps, show)}"
    if approach.touchdown_distance_m is not None:
        touch += f", {show.with_unit(approach.touchdown_distance_m, 'length')} from the centre of the place"
    unsteady = f"not steady: {'; '.join(unsteady_words(approach, show))}" if approach.unsteady else ""
    return " ".join(sentence(part) for part in (final, ", ".join(steady), low, touch, unsteady) if part)


def landing_text(row: LandingRow) -> str:
    """How one landing, or a row of tries in vain, came out.

    The tries follow in `tries_texts`.
    """
    text = OUTCOMES[row.outcome]
    if row.go_arounds is not None:
        text += f", after {counted(row.go_arounds, 'go-around')}" if row.go_arounds else ", at the first try"
        if row.outcome != "landed":
            text = f"{OUTCOMES[row.outcome]}; {counted(row.go_arounds, 'go-around')}"
    if row.possible_go_arounds:
        low = counted(row.possible_go_arounds, "low pass", "low passes")
        text += f"; {low} that may have been meant to land"
    return sentence(text)


def tries_texts(tries: Sequence[Try], show: Display) -> tuple[str, ...]:
    """The tries of a landing in sentences, each with the time since the one before."""
    texts = []
    for number, one in enumerate(tries, start=1):
        since = "" if one.since_last_s is None else f", {duration(one.since_last_s)} after the one before"
        texts.append(pass_text(one.figures, show, number=number, since=since))
    return tuple(texts)


def pass_text(one: Pass, show: Display, *, number: int | None = None, since: str = "") -> str:
    """One pass in a few sentences: how it ended, its path, speed and wind, how steady it was."""
    parts = [_head(one, number or one.number, since, show)]
    if one.detail:
        parts += [_path(one.detail.points, show)]
    parts += [_speeds(one, show)]
    if one.detail:
        parts += [_steadiness(one.detail, show)]
    parts += [_after(one, show)]
    if one.note:
        parts += [one.note]
    return " ".join(sentence(part) for part in parts if part)


def _after(one: Pass, show: Display) -> str:
    """What followed a pass that was broken off: height regained, and how soon the next try ended."""
    if one.height_regained_m is None or one.certainty != "sure":
        return ""
    text = f"then {show.with_unit(one.height_regained_m, 'height')} were regained"
    if one.seconds_to_next_s is not None:
        text += f", and the next try ended {duration(one.seconds_to_next_s)} later"
    return text


def _head(one: Pass, number: int, since: str, show: Display) -> str:
    """Which pass, when, and how it ended."""
    which = f"{ORDINALS[number - 1]} pass" if number <= len(ORDINALS) else f"Pass {number}"
    where = f" at {one.place}" if one.place else ""
    head = f"{which}{where} ({show.clock(one.end)}{since}): "
    if one.outcome == "landed":
        return head + "landed"
    if one.certainty != "sure":
        lowest = show.with_unit(one.lowest_height_m, "height")
        return head + f"may have been meant to land; its lowest point was {lowest} above the place"
    if one.decision is None:
        return head + f"broken off; its lowest point was {show.with_unit(one.lowest_height_m, 'height')} up"
    height = show.with_unit(one.decision.height_m, "height")
    return (
        head + f"broken off {height} above the place, {show.with_unit(one.decision.distance_m, 'length')} from it"
    )


def _path(points: Sequence[PathPoint], show: Display) -> str:
    """Height and height off the path at each distance that the pass came to."""
    told = []
    for point in points:
        to_go, height = show.with_unit(point.to_go_m, "length"), show.with_unit(point.height_m, "height")
        text = f"with {to_go} to go {height} up"
        if point.off_path_m is not None:
            text += f", {off_path(point.off_path_m, show)}"
        told.append(text)
    return "; ".join(told)


def off_path(off: Estimate, show: Display) -> str:
    """A height off the path in words; "on" it where the interval holds both sides.

    >>> off_path(Estimate(14.0, 8.0, 20.0), Display()).replace(NO_BREAK, " ")
    '14 (8 to 20) m too high'
    >>> off_path(Estimate(-9.0, -12.0, -6.0), Display()).replace(NO_BREAK, " ")
    '9 (6 to 12) m too low'
    >>> off_path(Estimate(1.0, -6.0, 8.0), Display()).replace(NO_BREAK, " ")
    'on the path as far as can be told (−6 to 8 m)'
    """
    if off.low <= 0.0 <= off.high:
        low, high = (show.figure(end, "height") for end in (off.low, off.high))
        return f"on the path as far as can be told ({low} to {show.joined(high, 'height')})"
    side = "too high" if off.value > 0 else "too low"
    size = off if off.value > 0 else Estimate(-off.value, -off.high, -off.low)
    return f"{show.joined(show.estimate(size, 'height'), 'height')} {side}"


def _speeds(one: Pass, show: Display) -> str:
    """Ground speed, sink and wind of the last seconds."""
    parts = [
        f"in the last {STEADY_S:.0f}{NO_BREAK}s ground speed {show.with_unit(one.ground_speed_mps, 'speed')}",
        sinking(one.sink_mps, show, "sink "),
        wind_part(one.headwind_mps, ("headwind", "tailwind"), show) or "the wind is not known",
    ]
    cross = wind_part(one.detail.crosswind_mps, ("from the right", "from the left"), show) if one.detail else ""
    return ", ".join([*parts, *([f"crosswind {cross}"] if cross else [])])


def wind_part(part: Estimate | None, sides: tuple[str, str], show: Display) -> str:
    """A component of the wind in words: its side first where the interval tells it; empty where not known.

    >>> wind_part(Estimate(-1.5, -2.5, -0.5), ("headwind", "tailwind"), Display()).replace(NO_BREAK, " ")
    'tailwind 5 (2 to 9) km/h'
    >>> wind_part(Estimate(0.3, -1.5, 2.1), ("headwind", "tailwind"), Display()).replace(NO_BREAK, " ")
    'headwind 1 (−5 to 8) km/h'
    """
    if part is None:
        return ""
    size = part if part.value >= 0 else Estimate(-part.value, -part.high, -part.low)
    figure = show.joined(show.estimate(size, "speed"), "speed")
    side = sides[0] if part.value >= 0 else sides[1]
    return f"{figure} {side}" if side.startswith("from") else f"{side} {figure}"


def _steadiness(detail: PassDetail, show: Display) -> str:
    """How far course, speed and sink wandered in the last seconds."""
    parts = []
    if detail.course_change_deg is not None:
        parts.append(f"the course swung by {show.with_unit(detail.course_change_deg, 'degrees')}")
    if detail.speed_spread_mps is not None:
        parts.append(
            f"the speed varied by {show.with_unit(detail.speed_spread_mps, 'speed')} (standard deviation)"
        )
    if detail.greatest_sink_mps is not None:
        parts.append(f"sink reached {show.with_unit(detail.greatest_sink_mps, 'vertical')}")
    return ", ".join(parts)
