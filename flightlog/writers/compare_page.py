"""A comparison as a page: what it says, in which order, in the reader's units; drawn as HTML or set as PDF."""

from __future__ import annotations

from dataclasses import dataclass

from flightlog import __version__
from flightlog.comparing.points import TaskPoints
from flightlog.comparing.results import Comparison
from flightlog.writers import compare_charts as charts
from flightlog.writers import compare_tables as tables
from flightlog.writers.compare_json import task_sha256
from flightlog.writers.compare_playback import Playback, playback_of, playback_script, script_digest
from flightlog.writers.display import Display, duration
from flightlog.writers.page import folded_if_long, without_blank_columns
from flightlog.writers.page_parts import Chart, Fact, Table
from flightlog.writers.words import counted

MOST_THERMALS = 12
"""Shared thermals shown, those with most pilots."""
MOST_THERMAL_CHARTS = 4
MOST_TOLD = 20
"""Differences told as paragraphs; all stand in the table."""


@dataclass(frozen=True)
class CompareSection:
    """One part of the page."""

    anchor: str
    title: str
    story: tuple[str, ...] = ()
    charts: tuple[Chart, ...] = ()
    tables: tuple[Table, ...] = ()
    quiet: tuple[str, ...] = ()


@dataclass(frozen=True)
class ComparePage:
    """Everything the page says, in the order in which it says it."""

    title: str
    subtitle: str
    generator: str
    sha256: str
    facts: tuple[Fact, ...]
    sections: tuple[CompareSection, ...]
    cautions: tuple[str, ...]
    playback: Playback | None = None  # on a screen alone
    script: str = ""
    script_digest: str = ""


def compare_page(comparison: Comparison, show: Display) -> bytes:
    """The comparison as UTF-8 HTML; the same comparison gives the same bytes. Rules as for `html_page`."""
    from flightlog.writers.html_page import rendered

    return rendered("compare.html", page_of_comparison(comparison, show))


def page_of_comparison(comparison: Comparison, show: Display) -> ComparePage:
    """What the page says."""
    task = comparison.task
    sections = [
        _results(comparison, show),
        _time_went(comparison, show),
        CompareSection("legs", "Leg by leg", tables=_clean(tables.leg_tables(comparison, show))),
    ]
    if comparison.points is not None:
        sections.insert(1, _points(comparison.points, show))
    if comparison.thermals:
        sections.append(_thermals(comparison, show))
    if comparison.problems:
        sections.append(CompareSection("problems", "Logs to look at", tables=(tables.problems_table(comparison),)))
    sections.append(CompareSection("task", "Task", tables=_clean((tables.task_table(comparison, show),))))
    return ComparePage(
        title=task.name,
        subtitle=f"{counted(len(comparison.pilots), 'pilot')} on one task",
        generator=f"flightlog {__version__}",
        sha256=task_sha256(task),
        facts=_facts(comparison, show),
        sections=tuple(sections),
        cautions=comparison.cautions,
        playback=playback_of(comparison, show),
        script=playback_script(),
        script_digest=script_digest(),
    )


def _clean(found: tuple[Table, ...]) -> tuple[Table, ...]:
    """Tables without empty columns, long ones folded."""
    return tuple(folded_if_long(without_blank_columns(table)) for table in found)


def _facts(comparison: Comparison, show: Display) -> tuple[Fact, ...]:
    """The task at a glance."""
    task = comparison.task
    kind = "race to goal" if task.kind == "race" else "elapsed time"
    facts = [
        Fact("Task", kind, "times from the start gate" if task.kind == "race" else "times from the own start"),
        Fact("Distance", show.with_unit(task.distance_m, "distance"), "shortest route"),
        Fact("Speed section", show.with_unit(task.speed_section_m, "distance"), "start to end of speed"),
    ]
    if task.gates:
        detail = f"{counted(len(task.gates), 'gate')}" if len(task.gates) > 1 else ""
        facts.append(Fact("Start opens", show.clock(task.gates[0]), detail))
    if task.deadline:
        facts.append(Fact("Deadline", show.clock(task.deadline)))
    goal = sum(1 for pilot in comparison.pilots if pilot.goal)
    facts.append(Fact("Goal", f"{goal} of {len(comparison.pilots)}", "reached it"))
    best = min((pilot.task_time_s for pilot in comparison.pilots if pilot.task_time_s), default=None)
    if best:
        facts.append(Fact("Best time", duration(best), "over the speed section"))
    return (*facts, Fact("Clock", show.zone_name, show.zone_reason))


def _results(comparison: Comparison, show: Display) -> CompareSection:
    """Ranks, pictures of the race, crossings."""
    drawn = [charts.map_chart(comparison, show)]
    drawn += [one for one in (charts.lead_chart(comparison, show), charts.height_chart(comparison, show)) if one]
    return CompareSection(
        "results",
        "Results",
        charts=tuple(drawn),
        tables=_clean((tables.results_table(comparison, show), tables.crossings_table(comparison, show))),
        quiet=("In goal by time, then by distance. A dash stands where a pilot did not get so far.",),
    )


def _points(points: TaskPoints, show: Display) -> CompareSection:
    """Points by the open formula, and what they come from."""
    return CompareSection(
        "points",
        "Points",
        tables=_clean((tables.points_table(points, show), tables.validity_table(points))),
        quiet=(points.source, *points.notes),
    )


def _time_went(comparison: Comparison, show: Display) -> CompareSection:
    """Differences: paragraphs, bars, a table."""
    differences = comparison.differences
    title = "Where the time went"
    if not differences:
        return CompareSection("time", title, ("No two pilots finished a leg: there is nothing to compare.",))
    story = [one.text for one in differences[:MOST_TOLD]]
    if len(differences) > MOST_TOLD:
        story.append(f"The other {len(differences) - MOST_TOLD} stand in the table.")
    return CompareSection(
        "time",
        title,
        tuple(story),
        charts.difference_charts(differences),
        _clean((tables.differences_table(differences, show),)),
    )


def _thermals(comparison: Comparison, show: Display) -> CompareSection:
    """Thermals that several pilots used."""
    by_pilots = sorted(comparison.thermals, key=lambda one: -len({use.pilot for use in one.uses}))
    chosen = sorted(by_pilots[:MOST_THERMALS], key=lambda one: one.number)
    drawn = sorted(by_pilots[:MOST_THERMAL_CHARTS], key=lambda one: one.number)
    quiet = "Climbs at one place and height within ten minutes of each other are taken for one thermal."
    return CompareSection(
        "thermals",
        "The same thermals",
        charts=tuple(charts.thermal_chart(comparison, one, show) for one in drawn),
        tables=_clean(tuple(tables.thermals_table(one, show) for one in chosen)),
        quiet=(quiet,),
    )
