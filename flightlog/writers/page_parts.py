"""The parts a page is made of: finished texts and numbers in display units, which a writer only draws."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Fact:
    """One figure with its name: `value` is finished text; `detail` says what it is."""

    label: str
    value: str
    detail: str = ""


@dataclass(frozen=True)
class Column:
    """Head of a table's column; figures stand right, words left."""

    label: str
    unit: str = ""
    is_text: bool = False


@dataclass(frozen=True)
class Span:
    """A stretch of a flight that a row of a table is about, UTC seconds, with its name."""

    start_s: float
    end_s: float
    name: str


@dataclass(frozen=True)
class Table:
    """A table of finished texts; the first cell of a row names it. `remarks` stand below.

    Where there are `spans`, one a row, choosing a row shows its stretch in the live charts; where there are
    `links`, the first cell of a row leads to that part of the page.
    """

    title: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[str, ...], ...]
    remarks: tuple[str, ...] = ()
    is_folded: bool = False
    spans: tuple[Span, ...] = ()
    anchor: str = ""  # by which a link finds it; its rows are found by their number behind it
    links: tuple[str, ...] = ()


@dataclass(frozen=True)
class Series:
    """Points of a line in a chart; NaN breaks the line.

    `kind` chooses colour and style, `label` stands in the legend, `tag` where the line begins. Where there is a
    `base`, what lies between it and y is filled.
    """

    x: tuple[float, ...]
    y: tuple[float, ...]
    kind: str
    label: str = ""
    tag: str = ""
    base: tuple[float, ...] = ()


@dataclass(frozen=True)
class Mark:
    """A point with a name in a chart."""

    x: float
    y: float
    kind: str
    label: str


@dataclass(frozen=True)
class Tag:
    """A word beside a point of a chart, on the side (right, up) where there is most room."""

    x: float
    y: float
    words: str
    right: float = 1.0
    up: float = 1.0


@dataclass(frozen=True)
class Arrow:
    """From one point of a chart to another."""

    x: float
    y: float
    to_x: float
    to_y: float


@dataclass(frozen=True)
class Disc:
    """A climb on a map: the area of its disc grows with `weight`; `tag` stands in it, `label` tells of it."""

    x: float
    y: float
    weight: float
    tag: str
    label: str


@dataclass(frozen=True)
class Cell:
    """A rectangle about (x, y), the fuller in colour the larger its `share`, 0 to 1; `label` tells of it."""

    x: float
    y: float
    width: float
    height: float
    share: float
    label: str


@dataclass(frozen=True)
class Band:
    """A stretch of the x axis in which the pilot did one thing."""

    start: float
    end: float
    kind: str


@dataclass(frozen=True)
class Bar:
    """A value at a height with the half width of its 95 % interval; NaN where there is none."""

    value: float
    half_width: float
    level: float


@dataclass(frozen=True)
class Slice:
    """A part of a whole, as a share of it; `kind` and `mode` choose colour and hatching."""

    share: float
    kind: str
    mode: str
    label: str


@dataclass(frozen=True)
class Panel:
    """One pair of axes: what is drawn in it and how its axes are named."""

    x_label: str
    y_label: str
    series: tuple[Series, ...] = ()
    marks: tuple[Mark, ...] = ()
    bands: tuple[Band, ...] = ()
    bars: tuple[Bar, ...] = ()
    cells: tuple[Cell, ...] = ()
    cells_label: str = ""  # what the fullness of a cell says
    discs: tuple[Disc, ...] = ()
    discs_label: str = ""  # what the size of a disc says
    tags: tuple[Tag, ...] = ()
    arrows: tuple[Arrow, ...] = ()
    arrows_label: str = ""  # what an arrow of the length `arrow_key` says
    arrow_key: float = 0.0
    window: tuple[float, float, float, float] | None = None  # lowest x, highest x, then y; None: everything
    has_equal_scales: bool = False
    is_map: bool = False  # a scale bar and north instead of axes; `x_label` is the unit of length
    wraps_at_360: bool = False
    wind_to_deg: float | None = None  # direction the air goes, for an arrow
    wind_label: str = ""
    clock: tuple[tuple[float, str], ...] = ()  # ticks of a time axis: position and text
    rows: tuple[tuple[float, str], ...] = ()  # ticks of the y axis that are words, the first row on top
    slices: tuple[Slice, ...] = ()  # one bar from top to bottom, instead of axes


@dataclass(frozen=True)
class Chart:
    """A figure of one or more panels: `layout` is `one`, `tall` (one that is nearly square), `stacked` (one x
    axis), `beside` (one y axis) or `grid` (small plans in rows, one scale for all, a legend entry for its length).

    `description` tells in words what it shows, for those who do not see it. What `is_live` is drawn anew, to
    follow the pointer, where a page runs its scripts.
    """

    name: str
    title: str
    description: str
    layout: str
    panels: tuple[Panel, ...]
    is_wide: bool = False
    is_live: bool = False


@dataclass(frozen=True)
class Packed:
    """Figures in whole steps of `step`: the first, then differences of `bits` bits in base64, little end first.

    In `holes` (first and one past the last, in pairs) nothing is known.
    """

    first: int
    step: float
    bits: int
    data: str
    holes: tuple[int, ...] = ()


@dataclass(frozen=True)
class Tiles:
    """Map tiles below a track: their address, whose they are, and where the square map of the world lies.

    `x` and `y` hold the terms of `flightlog.earth.web_mercator.TileFit`, in units of distance, of the `powers`.
    """

    template: str
    credit: str
    x0: float
    y0: float
    span: float
    x: tuple[float, ...]
    y: tuple[float, ...]
    powers: tuple[tuple[int, int], ...]


@dataclass(frozen=True)
class LiveFlight:
    """The fixes of a flight in display units, for charts that follow the pointer: one value a fix in each column.

    Times are seconds after `start_s` (UTC); `clock_s` is the reader's time of day there. East and north are those
    of the plane of the log, in units of distance. `gaps` are the fixes after which the recorder was silent.
    """

    number: int
    start_s: float
    clock_s: float
    time: Packed
    east: Packed
    north: Packed
    altitude: Packed
    climb: Packed
    ground_speed: Packed
    gaps: tuple[int, ...]
    phases: tuple[Band, ...]
    marks: tuple[Mark, ...]
    discs: tuple[Disc, ...]
    zone: str
    distance_unit: str
    height_unit: str
    vertical_unit: str
    speed_unit: str
    wind_to_deg: float | None
    wind_label: str
    tiles: Tiles | None = None


@dataclass(frozen=True)
class Finding:
    """A sentence on top of a flight, and the table (or its row) that shows it: `target` is the anchor there."""

    text: str
    target: str
    label: str  # what the link says: "Climbs", "Climbs, 3"


@dataclass(frozen=True)
class FlightSection:
    """One flight: what happened, its figures, charts and tables."""

    number: int
    title: str
    story: tuple[str, ...]
    facts: tuple[Fact, ...]
    charts: tuple[Chart, ...]
    tables: tuple[Table, ...]
    looks: tuple[str, ...] = ()  # what to look at in its passes, a text each
    look_notes: tuple[str, ...] = ()  # what they are held against, and what they are not
    live: LiveFlight | None = None  # the same flight for a screen: what paper shows is in the charts
    findings: tuple[Finding, ...] = ()  # what the flight says, the most telling first


@dataclass(frozen=True)
class Page:
    """Everything a report of one log says, in the order in which it says it."""

    title: str
    subtitle: str
    generator: str
    sha256: str
    facts: tuple[Fact, ...]
    overview: Table
    flights: tuple[FlightSection, ...]
    quality: Table
    settings: Table
    own_settings: Table  # those of them that are not the defaults: what paper shows
    cautions: tuple[str, ...]
    checks: tuple[str, ...] = ()  # how the figures compare with the recorder's own columns
    tile_host: str = ""  # the one address that the page may ask for pictures
