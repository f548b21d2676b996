"""The table "how closely flightlog recovers known answers": `python -m tests.truth.accuracy`.

Runs every suite of simulated flights through the analysis (minutes), writes the raw figures to accuracy.json
beside this file, and puts the table into the README between its two markers.
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path

from .cases import run_suites
from .figures import Figure, all_figures

RAW = Path(__file__).with_name("accuracy.json")
README = Path(__file__).resolve().parents[2] / "README.md"
OPEN, CLOSE = "<!-- accuracy -->", "<!-- /accuracy -->"
BLOCK = re.compile(re.escape(OPEN) + ".*?" + re.escape(CLOSE), re.DOTALL)
DIGITS = {"s": 1, "m": 1, "m/s": 2, "deg": 1, "%": 1, "share": 3}
SMALL_MPS = 0.1  # below it a speed is shown to the millimetre
NOTE = """\
Simulated days through the whole analysis: 60 cross-country flights, 100 days of top landings, 207 flights for the
polars of 54 wings (12 of them better or worse than their class), 12 days of steady air; 0-10 m/s of wind, 1-5 s
between fixes, three classes of wing, recorders with faults. *holds*: how often the 95 % interval holds the truth;
*half width*: its median. What misses its target is in **bold**. Real air is rougher than simulated air: expect no
better than this. The table is made by
`python -m tests.truth.accuracy`."""


def number(value: float | None, unit: str) -> str:
    """A value as the table shows it."""
    if value is None or math.isnan(value):
        return ""
    return f"{value:.{DIGITS[unit] + (unit == 'm/s' and value < SMALL_MPS)}f}"


def with_unit(value: float | None, unit: str) -> str:
    """The same with its unit; a share has none."""
    text = number(value, unit)
    return text if unit == "share" or not text else f"{text} {unit}"


def table(figures: Sequence[Figure]) -> str:
    """The figures as a Markdown table."""
    lines = ["| figure | error | holds | half width | cases | target |", "|---|---|---|---|---|---|"]
    group = ""
    for one in figures:
        if one.group != group:
            group = one.group
            lines.append(f"| **{group}** | | | | | |")
        target = "" if one.target is None else with_unit(one.target, one.unit)
        target = f"**{target}**" if not one.meets_target else target
        holds = number(one.coverage, "share")[:4]
        holds = f"**{holds}**" if not one.meets_coverage else holds
        error = f"{with_unit(one.value, one.unit)} ({one.statistic})"
        cells = (one.name, error, holds, with_unit(one.half_width, one.unit), str(one.cases), target)
        lines.append("| " + " | ".join(cells) + " |")
    return "\n".join(lines)


def block(figures: Sequence[Figure]) -> str:
    """What stands in the README, markers included."""
    return f"{OPEN}\n{NOTE}\n\n{table(figures)}\n{CLOSE}"


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


def write(figures: Sequence[Figure]) -> None:
    """Write accuracy.json and the block of the README."""
    RAW.write_text(json.dumps({"figures": rounded(figures)}, indent=1) + "\n", encoding="utf-8")
    text = README.read_text(encoding="utf-8")
    if not BLOCK.search(text):
        raise SystemExit(f"{README}: no {OPEN} ... {CLOSE}; put both markers where the table shall stand")
    README.write_text(BLOCK.sub(lambda _: block(committed()), text), encoding="utf-8")


def main() -> None:
    """Run the suites and write what came out."""
    figures = all_figures(run_suites())
    write(figures)
    print(table(figures))


if __name__ == "__main__":
    main()
