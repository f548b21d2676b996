"""The gliding of many flights: pooled by wing, day or note, a polar for each, and whether two are told apart."""

from __future__ import annotations

import fnmatch
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from flightlog.air.wing_polars import WingExpectation, expectations
from flightlog.debriefing import Debrief
from flightlog.errors import Note, SettingsError
from flightlog.measures.polar_differences import (
    PolarDifference,
    common_airspeeds_mps,
    compare_polars,
    compare_with_maker,
    flown_range_mps,
)
from flightlog.measures.polars import GlideBlocks, glide_blocks, measure_performance, pool_blocks
from flightlog.measures.results import Glide, Performance
from flightlog.settings import settings_for
from flightlog.wings import Wing

GROUPINGS = ("wing", "date", "note")
"""By what logs can be grouped."""
NO_NAME = {"wing": "wing not named", "date": "no date", "note": "no note"}
NAMES_TOLD = 3
LIFT_SHARE_APART = 0.05
"""Two sets whose shares of straight climbing differ by more were not flown in the same way."""
GLIDES_CAUTIONS = (
    "Pilots choose lines of lift: the air of a glide does not rise and sink alike, and no log tells a better line "
    "from a better wing. Achieved ratios hold the air that was met; only the polar speaks of still air.",
    "A difference between two groups holds everything that differed between them: wing and setting, but also "
    "days, air, load and pilot. Flying both in turn on the same days tells most.",
    "Every interval misses the truth once in twenty: of many comparisons some will look real by chance.",
)


@dataclass(frozen=True, eq=False)
class GlideLog:
    """What one log adds to the gliding of a wing: kept small, so that many can be held."""

    file: str
    sha256: str
    date: str | None
    wing: str | None
    note: str | None
    flights: int
    glides: tuple[Glide, ...]
    blocks: GlideBlocks
    flown_s: tuple[tuple[float, float], ...] = ()  # take-off and landing of every flight, UTC


@dataclass(frozen=True)
class LogRow:
    """A log and the group it went into."""

    file: str
    date: str | None
    wing: str | None
    note: str | None
    group: str
    flights: int
    glide_time_s: float  # that counts for the polar


@dataclass(frozen=True)
class MakerComparison:
    """What the glides show less what the maker says; `sentence` says what can be told."""

    differences: tuple[PolarDifference, ...]
    sentence: str
    note: str | None = None


@dataclass(frozen=True)
class GlideGroup:
    """The gliding of the flights of one group. `performance` is as of one flight; its polar leans on the class."""

    name: str
    logs: int
    flights: int
    glides: int
    first_date: str | None
    last_date: str | None
    polar_time_s: float  # straight glide that counts for the polar
    airspeed_low_mps: float | None  # equivalent, of that glide
    airspeed_high_mps: float | None
    straight_climb_share: float | None  # of the straight flight; None without any
    performance: Performance
    maker: MakerComparison | None
    note: str | None = None


@dataclass(frozen=True)
class GroupComparison:
    """Second group less first; `sentence` says whether the logs can tell the two apart."""

    first: str
    second: str
    differences: tuple[PolarDifference, ...]
    tells_apart: bool
    sentence: str
    note: str | None = None


@dataclass(frozen=True)
class Gliding:
    """The gliding of many logs. `expected` names what the polars lean on where the glides say little."""

    group_by: str
    wing: str | None  # of the wing file
    wing_class: str
    expected: str
    logs: tuple[LogRow, ...]
    groups: tuple[GlideGroup, ...]
    comparisons: tuple[GroupComparison, ...]
    problems: tuple[Note, ...]
    cautions: tuple[str, ...]


def glide_log(debrief: Debrief, note: str | None = None) -> GlideLog:
    """The gliding of one debriefed log; `note` is a word of the pilot's own, such as "flaps out"."""
    blocks = [glide_blocks(debrief.motion, debrief.air, span, debrief.settings) for span in debrief.spans]
    return GlideLog(
        file=debrief.log.file,
        sha256=debrief.log.sha256,
        date=debrief.log.date,
        wing=debrief.log.wing,
        note=note,
        flights=len(debrief.flights),
        glides=tuple(glide for flight in debrief.flights for glide in flight.glides),
        blocks=pool_blocks(blocks),
        flown_s=tuple((span.liftoff_s, span.touchdown_s) for span in debrief.spans),
    )


def note_for(names: Sequence[str], notes: Sequence[tuple[str, str]]) -> str | None:
    """The note of a log: the first whose pattern fits its path or its name; None where none does.

    Parameters
    ----------
    names : sequence of str
        The log's path and its own name.
    notes : sequence of (str, str)
        Note and pattern, with `*`, `?` and `[...]` as in a shell; letters count as they are written.

    >>> note_for(["season/monday.igc", "monday.igc"], [("flaps in", "tue*"), ("flaps out", "mon*")])
    'flaps out'
    """
    for note, pattern in notes:
        if any(fnmatch.fnmatchcase(name, pattern) for name in names):
            return note
    return None


def pool_gliding(
    logs: Iterable[GlideLog], *, group_by: str = "wing", wing: Wing | None = None, wing_class: str | None = None
) -> Gliding:
    """Group the logs, fit a polar to each group, and compare every group with the one of most glide.

    Parameters
    ----------
    logs : iterable of GlideLog
        Two of the same content count once.
    group_by : str
        `wing` (as the log names it, or the wing file for all), `date` or `note`.
    wing : Wing, optional
        The wing all logs were flown with; its maker's polar is compared with the glides, and draws nothing.
    wing_class : str, optional
        What the polars lean on; without it the class of the wing, or any foot-launched wing.

    Raises
    ------
    SettingsError
        No such grouping or class.
    """
    if group_by not in GROUPINGS:
        raise SettingsError(f"cannot group by {group_by!r}", f"use {', '.join(GROUPINGS)}")
    chosen_class = wing_class or (wing.wing_class if wing else "unknown")
    expected = expectations(settings_for(chosen_class).wing_class)
    kept, problems = _once_each(logs)
    members: dict[str, list[GlideLog]] = {}
    for log in kept:
        members.setdefault(_group_name(log, group_by, wing), []).append(log)
    pooled = {name: pool_blocks(log.blocks for log in group) for name, group in members.items()}
    return Gliding(
        group_by=group_by,
        wing=wing.name if wing else None,
        wing_class=chosen_class,
        expected=_expected_words(chosen_class),
        logs=tuple(_row(log, name) for name, group in members.items() for log in group),
        groups=tuple(_group(name, group, pooled[name], expected, wing) for name, group in members.items()),
        comparisons=_comparisons(pooled, expected),
        problems=(*problems, *_flown_at_once(members), *_other_wings(kept, wing)),
        cautions=GLIDES_CAUTIONS,
    )


def _once_each(logs: Iterable[GlideLog]) -> tuple[list[GlideLog], tuple[Note, ...]]:
    """The logs, ordered by date and name, without those of the same content as one before."""
    seen: dict[str, str] = {}
    kept, problems = [], []
    for log in logs:
        if log.sha256 in seen:
            message = f"{log.file} holds the same as {seen[log.sha256]}, which is counted once"
            problems.append(Note("repeated_log", message))
            continue
        seen[log.sha256] = log.file
        kept.append(log)
    return sorted(kept, key=lambda log: (log.date or "", log.file, log.sha256)), tuple(problems)


def _flown_at_once(members: dict[str, list[GlideLog]]) -> tuple[Note, ...]:
    """A note for every log of a group whose flight began while that of another was not over."""
    problems = []
    for group in members.values():
        flown = sorted((start, end, log.file) for log in group for start, end in log.flown_s)
        for (_, end_s, before), (start_s, _, file) in pairwise(flown):
            if start_s < end_s and file != before:
                message = (
                    f"{before} and {file} were flown at the same time: "
                    "if one flight was recorded twice, its glides count twice"
                )
                problems.append(Note("flown_at_once", message))
    return tuple(problems)


def _other_wings(logs: Sequence[GlideLog], wing: Wing | None) -> tuple[Note, ...]:
    """A note where logs name another wing than the wing file does."""
    if wing is None:
        return ()
    others = sorted({log.wing for log in logs if log.wing and log.wing.casefold() != wing.name.casefold()})
    if not others:
        return ()
    more = f" and {len(others) - NAMES_TOLD} more" if len(others) > NAMES_TOLD else ""
    message = (
        f"logs name {', '.join(others[:NAMES_TOLD])}{more}; all count as flown with {wing.name}, the wing file's"
    )
    return (Note("other_wing", message, count=len(others)),)


def _group_name(log: GlideLog, group_by: str, wing: Wing | None) -> str:
    """The group a log goes into."""
    if group_by == "wing":
        own = wing.name if wing else " ".join((log.wing or "").split())
    else:
        own = (log.date if group_by == "date" else log.note) or ""
    return own or NO_NAME[group_by]


def _expected_words(wing_class: str) -> str:
    """What the polars lean on, in words."""
    if wing_class == "unknown":
        return "what is usual for foot-launched wings"
    return f"what is usual for a {wing_class.replace('_', ' ')}"


def _row(log: GlideLog, group: str) -> LogRow:
    """A log as published."""
    return LogRow(log.file, log.date, log.wing, log.note, group, log.flights, log.blocks.glide_time_s)


def _group(
    name: str,
    logs: Sequence[GlideLog],
    blocks: GlideBlocks,
    expected: tuple[WingExpectation, ...],
    wing: Wing | None,
) -> GlideGroup:
    """The gliding of one group; its polar leans on the class alone, never on the maker's polar."""
    glides = [glide for log in logs for glide in log.glides]
    dates = sorted(log.date for log in logs if log.date)
    wing_class = expected[0].name if len(expected) == 1 else "unknown"
    low, high = flown_range_mps(blocks) if blocks.glide_time_s > 0 else (None, None)
    return GlideGroup(
        name=name,
        logs=len(logs),
        flights=sum(log.flights for log in logs),
        glides=len(glides),
        first_date=dates[0] if dates else None,
        last_date=dates[-1] if dates else None,
        polar_time_s=blocks.glide_time_s,
        airspeed_low_mps=low,
        airspeed_high_mps=high,
        straight_climb_share=blocks.lift_share if blocks.straight_s > 0 else None,
        performance=measure_performance(glides, blocks, settings_for(wing_class)),
        maker=_maker(blocks, wing, expected) if wing and wing.polar else None,
        note=_group_note(name, glides),
    )


def _group_note(name: str, glides: Sequence[Glide]) -> str | None:
    """What stands in the way of trusting the group."""
    if not glides:
        return "no glides"
    if name == NO_NAME["wing"]:
        return "these logs name no wing: they may be of several"
    return None


def _maker(blocks: GlideBlocks, wing: Wing, expected: tuple[WingExpectation, ...]) -> MakerComparison:
    """The glides beside the maker's polar."""
    differences = compare_with_maker(blocks, wing, expected)
    note = (
        f"the maker's polar holds for an all-up weight of {wing.all_up_kg:.0f} kg: "
        "speeds and sinks go with the root of the weight"
    )
    if not differences:
        return MakerComparison((), "There is too little straight glide to compare with the maker's polar.", note)
    told = [one for one in differences if one.tells_apart]
    if not told:
        middle = _headline(differences)
        text = f"These logs cannot tell the wing from its maker's polar: {_in_words(middle)}."
        return MakerComparison(differences, text, note)
    text = f"These logs show another polar than the maker's: {_told_words(told)}."
    return MakerComparison(differences, text, note)


def _comparisons(
    pooled: dict[str, GlideBlocks], expected: tuple[WingExpectation, ...]
) -> tuple[GroupComparison, ...]:
    """Every other group against the one of most glide."""
    if len(pooled) < 2:
        return ()
    first = max(pooled, key=lambda name: pooled[name].glide_time_s)
    return tuple(
        _comparison(first, pooled[first], name, blocks, expected)
        for name, blocks in pooled.items()
        if name != first
    )


def _comparison(
    first: str, one: GlideBlocks, second: str, other: GlideBlocks, expected: tuple[WingExpectation, ...]
) -> GroupComparison:
    """Second less first, and whether the two can be told apart."""
    differences = compare_polars(one, other, expected)
    if not differences:
        text = "These logs cannot tell the two apart: one of them has too little straight glide."
        return GroupComparison(first, second, (), False, text)
    told = [item for item in differences if item.tells_apart]
    if told:
        text = f"These logs tell the two apart: {_told_words(told)}."
    else:
        text = f"These logs cannot tell the two apart: {_in_words(_headline(differences))}."
    return GroupComparison(first, second, differences, bool(told), text, _comparison_note(one, other))


def _comparison_note(one: GlideBlocks, other: GlideBlocks) -> str:
    """What the comparison rests on, and what stands in its way."""
    words = ["both polars share one expectation, so this is not the difference of the two polars shown"]
    (low, high), (other_low, other_high) = flown_range_mps(one), flown_range_mps(other)
    if not common_airspeeds_mps(max(low, other_low), min(high, other_high)):
        words.append("no airspeed was flown in both: what differs with speed is told by the class alone")
    if abs(one.lift_share - other.lift_share) > LIFT_SHARE_APART:
        words.append(
            f"{one.lift_share:.0%} of the straight flight of the first climbed and {other.lift_share:.0%} of the "
            "second's: the air was not the same"
        )
    return "; ".join(words)


def _headline(differences: Sequence[PolarDifference]) -> PolarDifference:
    """The difference that is named where none is told: that of the best glide, else the middle one."""
    return next(
        (item for item in differences if item.figure == "best_glide_ratio"), differences[len(differences) // 2]
    )


def _told_words(told: Sequence[PolarDifference]) -> str:
    """The figures that differ; of the sinks that at the airspeed where it shows most clearly."""
    sinks = [item for item in told if item.figure == "sink_mps"]
    clearest = max(sinks, key=_clearness, default=None)
    named = [item for item in told if item.figure != "sink_mps" or item is clearest]
    return "; ".join(_in_words(item) for item in named)


def _clearness(item: PolarDifference) -> float:
    """How far nought lies outside, in widths of the interval."""
    width = item.difference.high - item.difference.low
    return abs(item.difference.value) / width if width > 0 else 0.0


def _in_words(item: PolarDifference) -> str:
    """One difference as a clause.

    >>> from flightlog.estimates import Estimate
    >>> _in_words(PolarDifference("best_glide_ratio", None, Estimate(0.3, -0.9, 1.5), False))
    'the difference in best glide is 0.3, from -0.9 to 1.5'
    """
    name, unit, decimals = {
        "best_glide_ratio": ("best glide", "", 1),
        "min_sink_mps": ("least sink", " m/s", 2),
    }.get(item.figure, (f"sink at {item.airspeed_mps or 0.0:g} m/s", " m/s", 2))
    value, low, high = (
        f"{part:.{decimals}f}" if round(part, decimals) else "0"
        for part in (item.difference.value, item.difference.low, item.difference.high)
    )
    return f"the difference in {name} is {value}{unit}, from {low} to {high}"
