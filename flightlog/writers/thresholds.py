"""The thresholds behind a result with their reasons, as they stand in `flightlog/settings.py`."""

from __future__ import annotations

import ast
import io
import tokenize
from functools import cache
from importlib import resources

from flightlog.measures import pass_details, passes
from flightlog.phases import approaches, attempts
from flightlog.settings import Settings
from flightlog.writers.display import UNKNOWN
from flightlog.writers.page_parts import Column, Table

PASS_PREFIXES = (
    "pass_",
    "attempt_",
    "decision_",
    "regain_",
    "ground_",
    "same_spot_",
    "place_level",
    "top_landing_",
    "unsteady_",
)
"""The settings that decide what a pass is, and where it may be."""
PASS_DEFINITION = (
    *approaches.PASS_DEFINITION,
    "The way to go is the path flown until touchdown or decision, and what was then left to the place. Too high is"
    " the height above the place at which the straight way on, at the angle over the ground flown in the"
    f" {pass_details.ANGLE_S:.0f} s before, would have crossed it.",
    "Wind is what the flight met during the pass, taken to the ground unchanged; its interval allows for that.",
    "No published numbers say what a go-around of a foot-launched wing is: these are the project's own.",
)
CONSTANTS = (
    ("last seconds (s)", passes.FINAL_S, "means of speed, sink and line-up are taken over them"),
    ("last stretch (m)", passes.FINAL_M, "height off the straight path is taken over it"),
    (
        "sink wanders by (m/s)",
        pass_details.SINK_SPREAD_MPS,
        "mean of 5 s in gusts of 0.45 m/s: makes the interval of the height off the path",
    ),
    ("flare (s)", pass_details.FLARE_S, "left out before a touchdown: a flare changes speed and sink on purpose"),
    *attempts.WEIGHTS,
    ("sink is a mean of (s)", pass_details.SINK_MEAN_S, "shorter is a gust, or the sensor"),
)


def pass_thresholds_table(settings: Settings) -> Table:
    """Every threshold that bears on passes: its name, the value used, its reason."""
    known = reasons()
    rows = [
        (name, str(getattr(settings, name)), known.get(name) or UNKNOWN)
        for name in Settings.__dataclass_fields__
        if name.startswith(PASS_PREFIXES)
    ]
    rows += [(name, str(value), reason) for name, value, reason in CONSTANTS]
    columns = (Column("Threshold", "", True), Column("Value"), Column("Reason", "", True))
    return Table("Thresholds and their reasons", columns, tuple(rows))


@cache
def reasons() -> dict[str, str]:
    """Name of a setting -> the comment that stands beside it.

    >>> reasons()["fewest_fixes"]
    'less is no track: nothing could be told from it'
    """
    text = resources.files("flightlog").joinpath("settings.py").read_text(encoding="utf-8")
    comments = {
        token.start[0]: token.string.lstrip("# ")
        for token in tokenize.generate_tokens(io.StringIO(text).readline)
        if token.type == tokenize.COMMENT
    }
    fields = next(node for node in ast.parse(text).body if isinstance(node, ast.ClassDef)).body
    return {
        node.target.id: " ".join(
            comments[line] for line in range(node.lineno, (node.end_lineno or node.lineno) + 1) if line in comments
        )
        for node in fields
        if isinstance(node, ast.AnnAssign) and isinstance(node.target, ast.Name)
    }
