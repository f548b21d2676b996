"""The tables "how closely flightlog recovers known answers": `python -m tests.truth.accuracy`.

Runs every suite of simulated flights through the analysis (minutes), writes the raw figures to accuracy.json
beside this file, and puts the tables between their two markers: all figures into DEVELOPERS.md; those that say
most to a pilot, and every one that misses its target, into the README. With `--stored` nothing is flown: the
tables are written from accuracy.json.
"""

from __future__ import annotations

import json
import math
import re
import sys
from collections.abc import Sequence
from dataclasses import asdict
from itertools import groupby
from pathlib import Path

from .cases import run_suites
from .figures import Figure, all_figures

RAW = Path(__file__).with_name("accuracy.json")
ROOT = Path(__file__).resolve().parents[2]
README, DEVELOPERS = ROOT / "README.md", ROOT / "DEVELOPERS.md"
OPEN, CLOSE = "<!-- accuracy -->", "<!-- /accuracy -->"
BLOCK = re.compile(re.escape(OPEN) + ".*?" + re.escape(CLOSE), re.DOTALL)
DIGITS = {"s": 1, "m": 1, "m/s": 2, "deg": 1, "%": 1, "share": 3}
HEAD = ("| figure | error | holds | half width | cases | target |", "|---|---|---|---|---|---|")
SMALL_MPS = 0.1  # below it a speed is shown to the millimetre
NOTE = """\
Simulated days through the whole analysis: 60 cross-country flights, 100 days of top landings, 621 flights for the
polars of 162 wings (36 of them better or worse than their class, in rows of their own), 12 days of steady air;
0-10 m/s of wind, 1-5 s between fixes, three classes of wing, recorders with faults. *holds*: how often the 95 %
interval holds the truth; *half width*: its median. What misses its target is in **bold**. Real air is rougher than
simulated air: expect no better than this. The table is made by `python -m tests.truth.accuracy`."""
SHORT_NOTE = """\
Some hundreds of simulated flights, whose true answers are known, went through the whole analysis. *holds*: how
often the 95 % interval holds the truth; *half width*: its median; *RMS*: root mean square error; *F1*: how well
each second is named, 1 at best. What misses its target stands here too, in **bold**. Real air is rougher than
simulated air: expect no better than this."""
HEADLINES = (
    "liftoff", "touchdown", "f1", "climb_recall", "climb_precision", "mean_climb", "wind_climb_1 s", "wind_band",
    "glide_ground", "glide_air", "best_glide_thermic_60", "min_sink_thermic_60", "pass_count_held", "lowest",
)  # fmt: skip
"""Keys of the figures that the README shows."""


def number(value: float | None, unit: str) -> str:
    """A value as the table shows it."""
    if value is None or math.isnan(value):
        return ""
    return f"{value:.{DIGITS[unit] + (unit == 'm/s' and value < SMALL_MPS)}f}"


def with_unit(value: float | None, unit: str) -> str:
    """The same with its unit; a share has none."""
    text = number(value, unit)
    return text if unit == "share" or not text else f"{text} {unit}"


def cells(figure: Figure, name: str) -> str:
    """One row of a Markdown table."""
    target = "" if figure.target is None else with_unit(figure.target, figure.unit)
    target = f"**{target}**" if not figure.meets_target else target
    holds = number(figure.coverage, "share")[:4]
    holds = f"**{holds}**" if not figure.meets_coverage else holds
    error = f"{with_unit(figure.value, figure.unit)} ({figure.statistic})"
    row = (name, error, holds, with_unit(figure.half_width, figure.unit), str(figure.cases), target)
    return "| " + " | ".join(row) + " |"


def table(figures: Sequence[Figure]) -> str:
    """All figures as a Markdown table, by group."""
    lines = [*HEAD]
    for group, members in groupby(figures, key=lambda one: one.group):
        lines.append(f"| **{group}** | | | | | |")
        lines += [cells(one, one.name) for one in members]
    return "\n".join(lines)


def short_table(figures: Sequence[Figure]) -> str:
    """The figures that say most to a pilot, and every one that misses what it should reach."""
    shown = [one for one in figures if one.key in HEADLINES or not (one.meets_target and one.meets_coverage)]
    return "\n".join([*HEAD, *(cells(one, f"{one.group}: {one.name}") for one in shown)])


def blocks(figures: Sequence[Figure]) -> dict[Path, str]:
    """What stands in each document, markers included."""
    return {
        README: f"{OPEN}\n{SHORT_NOTE}\n\n{short_table(figures)}\n{CLOSE}",
        DEVELOPERS: f"{OPEN}\n{NOTE}\n\n{table(figures)}\n{CLOSE}",
    }


def rounded(figures: Sequence[Figure]) -> list[dict[str, object]]:
    """The raw figures, a little finer than the table shows them."""
    made = []
    for one in figures:
        row = asdict(one)
        digits = {"value": DIGITS[one.unit] + 2, "half_width": DIGITS[one.unit] + 2, "coverage": 4}
        row |= {key: None if row[key] is None else round(row[key], places) for key, places in digits.items()}
        made.append(row)
    return made


def committed() -> list[Figure]:
    """The figures of accuracy.json."""
    return [Figure(**row) for row in json.loads(RAW.read_text(encoding="utf-8"))["figures"]]


def write_tables() -> None:
    """Write the tables of accuracy.json into the documents."""
    for path, block in blocks(committed()).items():
        text = path.read_text(encoding="utf-8")
        if not BLOCK.search(text):
            raise SystemExit(f"{path}: no {OPEN} ... {CLOSE}; put both markers where the table shall stand")
        path.write_text(BLOCK.sub(lambda _, block=block: block, text), encoding="utf-8")


def main() -> None:
    """Run the suites and write what came out; with `--stored` write only the tables."""
    if "--stored" not in sys.argv[1:]:
        figures = all_figures(run_suites())
        RAW.write_text(json.dumps({"figures": rounded(figures)}, indent=1) + "\n", encoding="utf-8")
    write_tables()
    print(table(committed()))


if __name__ == "__main__":
    main()
