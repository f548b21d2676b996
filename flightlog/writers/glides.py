"""The gliding of many flights as JSON, as lines for a terminal, or as a table of comma-separated values."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from flightlog.errors import Note
from flightlog.estimates import Estimate
from flightlog.gliding.comparisons import Wording, group_sentence, maker_sentence
from flightlog.gliding.results import GlideGroup, Gliding, GroupComparison, LogRow
from flightlog.measures.polar_differences import PolarDifference
from flightlog.writers.display import UNKNOWN, Display, duration
from flightlog.writers.files import is_kind, write_report
from flightlog.writers.json_results import GENERATOR, Generator, encoded
from flightlog.writers.plain_text import csv_text, cut, terminal_line, text_table
from flightlog.writers.words import counted, polar_note

GLIDES_SCHEMA = "flightlog/glides/1"
TITLE = "Gliding by"
"""First words of the text; with them a file is known for one of ours."""
CSV_FIELDS = (
    "group",
    "logs",
    "flights",
    "glides",
    "first_date",
    "last_date",
    "glide_time_s",
    "polar_time_s",
    "airspeed_low_mps",
    "airspeed_high_mps",
    "straight_climb_share",
)
CSV_ESTIMATES = (
    "glide_ratio_ground",
    "glide_ratio_air",
    "best_glide_ratio",
    "best_glide_airspeed_mps",
    "min_sink_mps",
    "min_sink_airspeed_mps",
)
STARTS = (f'{{"schema":"{GLIDES_SCHEMA}"', TITLE, ",".join(CSV_FIELDS[:6]))
"""How files written here begin."""
LONGEST_NAME = 28


@dataclass(frozen=True)
class GlidesDocument:
    """What `flightlog glides --to json` writes."""

    schema: str
    generator: Generator
    group_by: str
    wing: str | None
    wing_class: str
    expected: str
    logs: tuple[LogRow, ...]
    groups: tuple[GlideGroup, ...]
    comparisons: tuple[GroupComparison, ...]
    problems: tuple[Note, ...]
    cautions: tuple[str, ...]


def glides_json(gliding: Gliding, *, indent: int = 0) -> bytes:
    """The gliding as UTF-8 JSON, one line unless `indent` is given; rules as in `debrief_json`."""
    document = GlidesDocument(
        GLIDES_SCHEMA,
        GENERATOR,
        gliding.group_by,
        gliding.wing,
        gliding.wing_class,
        gliding.expected,
        gliding.logs,
        gliding.groups,
        gliding.comparisons,
        gliding.problems,
        gliding.cautions,
    )
    return encoded(document, indent)


def glides_csv(gliding: Gliding) -> str:
    """One row a group, SI units; an estimate takes three columns (value, `_low`, `_high`); unknown is empty."""
    text = io.StringIO()
    writer = csv.writer(text)
    estimates = [f"{name}{end}" for name in CSV_ESTIMATES for end in ("", "_low", "_high")]
    writer.writerow([*CSV_FIELDS, *estimates])
    for group in gliding.groups:
        figures = _estimates(group)
        facts = [
            group.performance.glide_time_s if name == "glide_time_s" else _fact(group, name) for name in CSV_FIELDS
        ]
        parts = [part for name in CSV_ESTIMATES for part in _parts(figures[name])]
        writer.writerow([_cell(value) for value in (*facts, *parts)])
    return text.getvalue()


def _fact(group: GlideGroup, name: str) -> object:
    """One plain field of a group."""
    return getattr(group, "name" if name == "group" else name)


def _estimates(group: GlideGroup) -> dict[str, Estimate | None]:
    """The figures of a group that have an interval."""
    performance, polar = group.performance, group.performance.polar
    return {
        "glide_ratio_ground": performance.glide_ratio_ground,
        "glide_ratio_air": performance.glide_ratio_air,
        "best_glide_ratio": polar.best_glide_ratio if polar else None,
        "best_glide_airspeed_mps": polar.best_glide_airspeed_mps if polar else None,
        "min_sink_mps": polar.min_sink_mps if polar else None,
        "min_sink_airspeed_mps": polar.min_sink_airspeed_mps if polar else None,
    }


def _parts(estimate: Estimate | None) -> tuple[float | None, ...]:
    """Best value, low and high."""
    return (None, None, None) if estimate is None else (estimate.value, estimate.low, estimate.high)


def _cell(value: object) -> str:
    """One cell."""
    if isinstance(value, float):
        return f"{value:.4f}"
    return csv_text(value)


def glides_lines(gliding: Gliding, display: Display) -> list[str]:
    """Lines for a terminal: the groups, their polars, the comparisons, and what cannot be told."""
    wording = _wording(display)
    lines = [f"{TITLE} {gliding.group_by}: {counted(len(gliding.logs), 'log')}, {_flights(gliding)}", ""]
    lines += text_table(_overview(gliding, display))
    lines += ["", f"Polars in still air at sea-level density, leaning on {gliding.expected}:", ""]
    lines += text_table(_polars(gliding, display))
    for group in gliding.groups:
        if group.maker is not None:
            said = group.maker.sentence
            if group.maker.differences:
                said = maker_sentence(group.maker.differences, wording)
            lines += ["", f"{cut(group.name, LONGEST_NAME)} beside the maker's polar: {said}"]
            lines += text_table(_difference_rows(group.maker.differences, display))
            lines += _notes(group.maker.note)
    for comparison in gliding.comparisons:
        first, second = (cut(name, LONGEST_NAME) for name in (comparison.first, comparison.second))
        said = comparison.sentence
        if comparison.differences:
            said = group_sentence(comparison.differences, wording)
        lines += ["", f"{second} less {first}: {said}"]
        lines += text_table(_difference_rows(comparison.differences, display))
        lines += _notes(comparison.note)
    notes = [
        f"{cut(group.name, LONGEST_NAME)}: {text}"
        for group in gliding.groups
        for text in (group.note, group.performance.note, polar_note(group.performance.polar, display))
        if text
    ]
    told = [f"{text}." for text in (*notes, *(problem.message for problem in gliding.problems))]  # names first
    lines += ["", *(f"- {text}" for text in (*told, *gliding.cautions))]
    return [terminal_line(line) for line in lines]


def _wording(display: Display) -> Wording:
    """Speeds in sentences in the reader's units."""
    return Wording(
        airspeed=lambda mps: display.with_unit(mps, "speed"),
        sink=lambda mps: _fine_figure(mps, display),
        sink_unit=display.unit("vertical"),
        ratio=lambda ratio: display.figure(ratio, "ratio"),
    )


def _flights(gliding: Gliding) -> str:
    """The number of flights."""
    return counted(sum(group.flights for group in gliding.groups), "flight")


def _notes(text: str | None) -> list[str]:
    """A note as a line of its own."""
    return [f"  ({text})"] if text else []


def _overview(gliding: Gliding, display: Display) -> list[list[str]]:
    """What was flown, and what was achieved."""
    rows = [[gliding.group_by, "dates", "flights", "glides", "glide time", "over ground", "through the air"]]
    for group in gliding.groups:
        performance = group.performance
        dates = " to ".join(dict.fromkeys(date for date in (group.first_date, group.last_date) if date))
        rows.append(
            [
                cut(group.name, LONGEST_NAME),
                dates or UNKNOWN,
                str(group.flights),
                str(group.glides),
                duration(performance.glide_time_s),
                display.estimate(performance.glide_ratio_ground, "ratio"),
                display.estimate(performance.glide_ratio_air, "ratio"),
            ]
        )
    return rows


def _polars(gliding: Gliding, display: Display) -> list[list[str]]:
    """The figures of every polar."""
    speed, vertical = display.unit("speed"), display.unit("vertical")
    rows = [
        [
            gliding.group_by,
            "best glide",
            f"at {speed}",
            f"least sink {vertical}",
            f"at {speed}",
            f"flown at {speed}",
        ]
    ]
    for group in gliding.groups:
        figures = _estimates(group)
        flown = UNKNOWN
        if group.airspeed_low_mps is not None and group.airspeed_high_mps is not None:
            ends = (display.figure(end, "speed") for end in (group.airspeed_low_mps, group.airspeed_high_mps))
            flown = " to ".join(ends)
        rows.append(
            [
                cut(group.name, LONGEST_NAME),
                display.estimate(figures["best_glide_ratio"], "ratio"),
                display.estimate(figures["best_glide_airspeed_mps"], "speed"),
                _fine(figures["min_sink_mps"], "vertical", display),
                display.estimate(figures["min_sink_airspeed_mps"], "speed"),
                flown,
            ]
        )
    return rows


def _difference_rows(differences: Sequence[PolarDifference], display: Display) -> list[list[str]]:
    """One row a figure; it is told apart where the interval leaves out nought."""
    words = {"best_glide_ratio": ("best glide", "ratio"), "min_sink_mps": ("least sink", "vertical")}
    rows = []
    for item in differences:
        name, kind = words.get(
            item.figure, (f"sink at {display.with_unit(item.airspeed_mps, 'speed')}", "vertical")
        )
        figure = display.joined(_fine(item.difference, kind, display), kind)
        rows.append([f"  {name}", figure, "told apart" if item.tells_apart else ""])
    return rows


def _fine(estimate: Estimate | None, kind: str, display: Display) -> str:
    """An estimate; sinks as in `_fine_figure`."""
    if estimate is None or kind != "vertical":
        return display.estimate(estimate, kind)
    best, low, high = (_fine_figure(part, display) for part in (estimate.value, estimate.low, estimate.high))
    return f"{best} ({low} to {high})"


def _fine_figure(sink_mps: float, display: Display) -> str:
    """A sink in hundredths of a metre a second, since tenths are what is compared, or in whole feet a minute."""
    usual = display.quantity("vertical").decimals
    return display.number(display.converted(sink_mps, "vertical"), usual + 1 if usual else 0)


def glides_bytes(gliding: Gliding, ending: str, display: Display) -> bytes:
    """The gliding as `text`, `json` or `csv`, with a line break at its end."""
    if ending == "json":
        return glides_json(gliding) + b"\n"
    if ending == "csv":
        return glides_csv(gliding).encode()
    return ("\n".join(glides_lines(gliding, display)) + "\n").encode()


def write_glides(content: bytes, folder: Path, ending: str, *, force: bool = False) -> Path:
    """Write it into a folder as `glides.txt`, `glides.json` or `glides.csv`.

    An earlier file of this kind is renewed; another file there is left alone unless `force` is given.

    Raises
    ------
    ReportError
        A file that is none of ours stands there, or it cannot be written.
    """
    path = folder / f"glides.{'txt' if ending == 'text' else ending}"
    return write_report(path, content, "", force=force or is_kind(path, STARTS))
