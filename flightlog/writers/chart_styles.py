"""How the kinds of lines, marks and bands of a chart look: by colour, and always by shape or dashes as well."""

from __future__ import annotations

from dataclasses import dataclass

INK, GRID, QUIET, CARD = "--ink", "--line", "--quiet", "--card"
LAUNCH, CLIMB, GLIDE, SEARCH, APPROACH = (
    "--chart-launch",
    "--chart-climb",
    "--chart-glide",
    "--chart-search",
    "--chart-approach",
)
"""Names of colours; the style of the page says what they are in light, dark and print."""
PAPER = {
    INK: "#1c2227",
    GRID: "#d5d8da",
    QUIET: "#566069",
    CARD: "#ffffff",
    LAUNCH: "#c46f9f",
    CLIMB: "#cf5c00",
    GLIDE: "#0054ad",
    SEARCH: "#4a4a4a",
    APPROACH: "#009562",
}
"""The same for print: dark enough for thin lines on white (3:1 at least, WCAG 2.2, success criterion 1.4.11)."""
MOST_PILOTS = 12
"""Pilots told apart in one chart: by five colours, and without them by four kinds of line with six marks on them.
No two pilots have both in common."""
MOST_WINGS = 6
"""Wings told apart by mark, colour and dashes in one chart."""
_WINGS = (
    (GLIDE, "disc", ()),
    (CLIMB, "square", (9.0, 2.5)),
    (APPROACH, "up", (5.0, 2.0)),
    (LAUNCH, "diamond", (9.0, 2.0, 1.6, 2.0)),
    (INK, "down", (1.8, 2.2)),
    (SEARCH, "cross", (14.0, 3.0)),
)
_PILOT_COLOURS = (GLIDE, CLIMB, APPROACH, LAUNCH, INK)
_PILOT_DASHES = ((), (6.0, 3.0), (1.8, 2.4), (10.0, 2.6, 1.8, 2.6))
PILOT_SHAPES = ("disc", "square", "up", "diamond", "plus", "down")


@dataclass(frozen=True)
class LineStyle:
    """Colour, width in pixels, dashes and opacity of a line; `is_dots` draws its points alone.

    `shape` names the marks that stand on it now and then.
    """

    colour: str
    width: float
    dashes: tuple[float, ...] = ()
    opacity: float = 1.0
    is_dots: bool = False
    shape: str = ""


LINES = {
    "launch_run": LineStyle(LAUNCH, 4.0),
    "climb": LineStyle(CLIMB, 2.2),
    "glide": LineStyle(GLIDE, 1.5),
    "search": LineStyle(SEARCH, 1.7, (1.6, 2.2)),
    "approach": LineStyle(APPROACH, 2.2, (8.0, 2.0)),
    "line": LineStyle(INK, 1.4),
    "strong": LineStyle(CLIMB, 2.4),
    "weak": LineStyle(GLIDE, 1.1),
    "interval": LineStyle(GLIDE, 1.2),
    "limit": LineStyle(QUIET, 1.2, (5.0, 2.5)),
    "bars": LineStyle(QUIET, 1.0, opacity=0.5),
    "dots": LineStyle(QUIET, 2.0, opacity=0.6, is_dots=True),
    "landed": LineStyle(APPROACH, 2.2),
    "go_around": LineStyle(CLIMB, 2.0, (5.0, 2.5)),
    "possible": LineStyle(SEARCH, 1.7, (1.6, 2.4)),
    "landed_way": LineStyle(APPROACH, 1.1, opacity=0.75),
    "go_around_way": LineStyle(CLIMB, 1.1, (5.0, 2.5), opacity=0.75),
    "possible_way": LineStyle(SEARCH, 1.1, (1.6, 2.4), opacity=0.75),
    "lost": LineStyle(CLIMB, 11.0),
    "gained": LineStyle(APPROACH, 11.0, opacity=0.75),
    **{
        f"pilot_{number + 1}": LineStyle(
            _PILOT_COLOURS[number % 5], 1.5, _PILOT_DASHES[number % 4], shape=PILOT_SHAPES[number % 6]
        )
        for number in range(MOST_PILOTS)
    },
    **{f"wing_{number}": LineStyle(name, 1.8, dashes) for number, (name, _, dashes) in enumerate(_WINGS, start=1)},
}
GO_AROUND_DASHES = ((6.0, 3.0), (12.0, 3.5), (7.0, 2.0, 1.6, 2.0), (3.5, 2.0))
"""Go-arounds after each other differ in their dashes."""
MARKS = {
    "takeoff": (LAUNCH, "up"),
    "landing": (APPROACH, "down"),
    "place": (INK, "plus"),
    "decision": (CLIMB, "square"),
    "turnpoint": (CLIMB, "square"),
    "touchdown": (APPROACH, "disc"),
    "broken_off": (CLIMB, "open_square"),
    "attempt": (SEARCH, "open_up"),
    "bar": (GLIDE, "diamond"),
    **{f"wing_{number}": (name, shape) for number, (name, shape, _) in enumerate(_WINGS, start=1)},
    "wing_other": (QUIET, "plus"),
}
"""Kind of a mark -> its colour and its shape."""
BANDS = {"launch_run": LAUNCH, "climb": CLIMB, "glide": GLIDE, "search": SEARCH, "approach": APPROACH}
HATCHES = {"launch_run": "cross", "climb": "up", "approach": "down"}
MODE_HATCHES = {"circling": "up", "ridge": "dots", "straight": "upright"}
"""Three kinds of climb have one colour: their patterns tell them apart, for everybody."""
_UP, _DOWN = "M-1 7 7-1M-1 1 1-1M5 7 7 5", "M-1-1 7 7M5-1 7 1M-1 5 1 7"
PATTERNS = {"up": _UP, "down": _DOWN, "cross": _UP + _DOWN, "dots": "M1 2h2M4 5h2", "upright": "M3-1v8"}
"""Name of a pattern -> its lines in a square of 6 pixels."""
BAND_OPACITY = 0.13


def line_style(kind: str, tag: str = "") -> LineStyle:
    """Colour, width and dashes of a line of that kind.

    >>> line_style("go_around", "2").dashes == line_style("go_around", "1").dashes
    False
    """
    style = LINES[kind]
    if kind == "go_around" and tag.isdigit():
        dashes = GO_AROUND_DASHES[(int(tag) - 1) % len(GO_AROUND_DASHES)]
        return LineStyle(style.colour, style.width, dashes, style.opacity)
    return style
