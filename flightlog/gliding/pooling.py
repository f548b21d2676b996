"""Logs grouped by wing, day or note, and a polar fitted to each group."""

from __future__ import annotations

import fnmatch
from collections.abc import Iterable, Sequence
from itertools import pairwise

from flightlog.air.wing_polars import WingExpectation, expectations
from flightlog.debriefing import Debrief
from flightlog.errors import Note, SettingsError
from flightlog.gliding.comparisons import comparisons, maker_comparison
from flightlog.gliding.results import GlideGroup, GlideLog, Gliding, LogRow
from flightlog.measures.polar_differences import (
    flown_range_mps,
)
from flightlog.measures.polars import GlideBlocks, glide_blocks, measure_performance, pool_blocks
from flightlog.measures.results import ANY_WING, Glide
from flightlog.settings import settings_for
from flightlog.wings import Wing, is_other_wing

GROUPINGS = ("wing", "date", "note")
"""By what logs can be grouped."""
NO_NAME = {"wing": "wing not named", "date": "no date", "note": "no note"}
NAMES_TOLD = 3
GLIDES_CAUTIONS = (
    "Pilots choose lines of lift: the air of a glide does not rise and sink alike, and no log tells a better line "
    "from a better wing. Achieved ratios hold the air that was met; only the polar speaks of still air.",
    "A difference between two groups holds everything that differed between them: wing and setting, but also "
    "days, air, load and pilot. Flying both in turn on the same days tells most.",
    "Every interval misses the truth once in twenty: of many comparisons some will look real by chance.",
)


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


def unused_notes(notes: Sequence[tuple[str, str]], logs: Sequence[GlideLog]) -> tuple[Note, ...]:
    """A problem for every note that no log was given: a pattern mistyped, or another that was asked before it."""
    used = {log.note for log in logs}
    return tuple(
        Note("note_unused", f"no log was given the note {note!r}: check its pattern {pattern!r}")
        for note, pattern in notes
        if note not in used
    )


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
        comparisons=comparisons(pooled, expected, NO_NAME[group_by]),
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
    others = sorted({log.wing for log in logs if log.wing and is_other_wing(log.wing, wing)})
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
        return ANY_WING
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
        maker=maker_comparison(blocks, wing, expected) if wing and wing.polar else None,
        note=_group_note(name, glides),
    )


def _group_note(name: str, glides: Sequence[Glide]) -> str | None:
    """What stands in the way of trusting the group."""
    if not glides:
        return "no glides"
    if name == NO_NAME["wing"]:
        return "these logs name no wing: they may be of several"
    return None
