"""Where the time of a flight went, as a table and as one bar."""

from __future__ import annotations

from flightlog.measures.results import TimeBudget, TimePart
from flightlog.writers import words
from flightlog.writers.display import Display, duration
from flightlog.writers.page_parts import Chart, Column, Panel, Slice, Table
from flightlog.writers.words import word

MEANINGS = (
    "Heights are summed over whole phases: gained in those that ended higher than they began, lost in the others",
    "The approach is the last descent, and every try to land that was broken off",
)


def part_name(part: TimePart) -> str:
    """A kind of flying in a pilot's words.

    >>> part_name(TimePart("climb", "circling", 2, 60.0, 0.1, 50.0, 0.0, None))
    'climb, circling'
    """
    name = word(words.PHASES, part.kind)
    return name if part.mode is None else f"{name}, {word(words.MODES, part.mode)}"


def budget_table(budget: TimeBudget, show: Display) -> Table:
    """One row a kind of flying, from launch to landing."""
    height = show.unit("height")
    columns = (
        Column("What", "", True),
        Column("Times"),
        Column("Took"),
        Column("Share", show.unit("share")),
        Column("Height gained", height),
        Column("Height lost", height),
        Column("Mean vertical speed", show.unit("vertical")),
    )
    rows = tuple(
        (
            part_name(part),
            str(part.count),
            duration(part.time_s),
            show.figure(part.share, "share"),
            show.figure(part.height_gained_m, "height"),
            show.figure(part.height_lost_m, "height"),
            show.estimate(part.mean_climb_mps, "vertical"),
        )
        for part in budget.parts
    )
    whole = f"All together {duration(budget.total_s)}, from the first step of the launch to the first touch"
    if budget.silent_s > 0.0:
        share = show.joined(show.figure(budget.silent_s / budget.total_s, "share"), "share")
        whole += f"; {duration(budget.silent_s)} of it, {share}, are missing in the recording"
    return Table("Time budget", columns, rows, (whole, *MEANINGS))


def budget_chart(number: int, budget: TimeBudget, show: Display) -> Chart:
    """The flight's time as one bar, from the launch at its top to the landing at its foot, each part named."""
    told = [f"{part_name(part)}{_share(part.share, show)}, {duration(part.time_s)}" for part in budget.parts]
    slices = tuple(
        Slice(part.share, part.kind, part.mode or "", text) for part, text in zip(budget.parts, told, strict=True)
    )
    described = (
        f"The time of the flight by kind of flying: {'; '.join(told)}. The table of the time has the heights."
    )
    return Chart(f"flight-{number}-budget", "Time budget", described, "one", (Panel("", "", slices=slices),))


def _share(share: float, show: Display) -> str:
    """A share with its unit; nothing for one too small for a whole per cent."""
    text = show.figure(share, "share")
    return "" if text == "0" else f" {show.joined(text, 'share')}"
