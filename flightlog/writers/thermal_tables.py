"""The tables of a page about thermals in detail: ways in and out, centring, lean, source, and climb by height."""

from __future__ import annotations

from flightlog.measures.results import Climb
from flightlog.measures.thermal_leans import ThermalLean
from flightlog.measures.thermals import ThermalDetail
from flightlog.writers.display import UNKNOWN, Display, duration, duration_with_interval
from flightlog.writers.page_parts import Column, Table
from flightlog.writers.words import numbered

MEANINGS = (
    "Entry and leaving are the times before the first and after the last circle that climbed at 80 % of the usual"
    " or more; their cost is the height that the steady climb would have given more in them. One circle more or"
    " less that counts moves them by its time: hence the wide intervals of some",
    "Weak for: how long the half minute around climbed less than half as fast as the best 30 s of the climb",
    "Centred: the climb as a share of what circles of the same size about the core would have given;"
    " with an interval beyond 100 % it may have been as good as possible",
    "A lean is an angle from the vertical: of the line of your circles, and of a thermal that drifts freely with"
    " the wind. Worked upwind: how much slower than the wind your circles drifted",
    "Where the air would have left the ground is within the distance named in 95 of 100 cases, if the thermal"
    " drifted freely and the ground lies as high as assumed",
)


def thermal_tables(climbs: tuple[Climb, ...], show: Display) -> list[Table]:
    """The tables that the climbs in circles fill: none where none is told in detail."""
    known = [(climb.number, climb.detail) for climb in climbs if climb.detail is not None]
    if not known:
        return []
    tables = [_detail_table(known, show)]
    return [*tables, _bands_table(known, show)] if any(detail.bands for _, detail in known) else tables


def _detail_table(known: list[tuple[int, ThermalDetail]], show: Display) -> Table:
    """One row a climb."""
    height, speed = show.unit("height"), show.unit("speed")
    columns = (
        Column("Climb"),
        Column("Steady climb", show.unit("vertical")),
        Column("Entry took"),
        Column("Entry cost", height),
        Column("Leaving took"),
        Column("Leaving cost", height),
        Column("Weak for"),
        Column("Centred", show.unit("share")),
        Column("Circles drift", speed),
        Column("towards"),
        Column("Worked upwind", speed),
        Column("Lean of the circles", "°"),
        Column("Lean of the thermal", "°"),
        Column("Would leave the ground at", "latitude, longitude"),
        Column("give or take", show.unit("length")),
        Column("Ground taken at", height),
    )
    return Table(
        "Thermals in detail",
        columns,
        tuple(_detail_row(number, detail, show) for number, detail in known),
        (*MEANINGS, *_remarks(known)),
        is_folded=True,
    )


def _detail_row(number: int, detail: ThermalDetail, show: Display) -> tuple[str, ...]:
    """A thermal in one row."""
    source = detail.source
    return (
        str(number),
        show.measured(detail.steady_climb_mps, detail.steady_climb_interval_mps, "vertical"),
        duration_with_interval(detail.entry_s, detail.entry_interval_s),
        show.measured(detail.entry_loss_m, detail.entry_loss_interval_m, "height"),
        duration_with_interval(detail.leaving_s, detail.leaving_interval_s),
        show.measured(detail.leaving_loss_m, detail.leaving_loss_interval_m, "height"),
        duration(detail.weak_s),
        show.estimate(detail.centred_share, "share"),
        *_lean_cells(detail.lean, show),
        f"{show.number(source.lat_deg, 3)}, {show.number(source.lon_deg, 3)}" if source else UNKNOWN,
        show.rough(source.radius_m if source else None, "length"),
        show.figure(source.altitude_m if source else None, "height"),
    )


def _lean_cells(lean: ThermalLean | None, show: Display) -> tuple[str, ...]:
    """How a thermal leant, in five cells."""
    if lean is None:
        return (UNKNOWN,) * 5
    return (
        show.estimate(lean.drift_mps, "speed"),
        f"{int(show.number(lean.towards_deg, 0)) % 360:03d}°",
        show.estimate(lean.upwind_mps, "speed"),
        show.estimate(lean.track_lean_deg, "degrees"),
        show.estimate(lean.air_lean_deg, "degrees"),
    )


def _remarks(known: list[tuple[int, ThermalDetail]]) -> tuple[str, ...]:
    """What the climbs have to say, each once, with the numbers of those that say it."""
    numbers: dict[str, list[int]] = {}
    for number, detail in known:
        told = [detail.note, f"source traced {detail.source.note}" if detail.source else None]
        for note in filter(None, told):
            numbers.setdefault(note, []).append(number)
    return tuple(f"{numbered(those)}: {note}" for note, those in numbers.items())


def _bands_table(known: list[tuple[int, ThermalDetail]], show: Display) -> Table:
    """One row a slice of height, upwards as they were flown."""
    height = show.unit("height")
    columns = (
        Column("Climb"),
        Column("From", height),
        Column("To", height),
        Column("Took"),
        Column("Mean climb", show.unit("vertical")),
    )
    rows = tuple(
        (
            str(number),
            show.figure(band.altitude_low_m, "height"),
            show.figure(band.altitude_high_m, "height"),
            duration(band.seconds_s),
            show.estimate(band.climb_mps, "vertical"),
        )
        for number, detail in known
        for band in detail.bands
    )
    remark = "Each thermal in equal slices of height; sinking within a slice counts"
    return Table("Climb by height", columns, rows, (remark,), is_folded=True)
