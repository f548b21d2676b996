"""Charts of a season in display units: months, calendar, places, and the thermal map."""

from __future__ import annotations

import math
from collections.abc import Sequence

from flightlog.earth.geodesy import LocalPlane
from flightlog.season.results import (
    HourCount,
    SeasonDay,
    SeasonMonth,
    SeasonPlace,
    ThermalRegion,
    ThermalSpot,
)
from flightlog.writers.display import Display, duration
from flightlog.writers.page_parts import Cell, Chart, Disc, Mark, Panel, Series
from flightlog.writers.season_words import place_text, place_title, spot_text
from flightlog.writers.words import counted

MOST_NUMBERED_PLACES = 20
MOST_MONTHS = 36
"""Months of the calendar, the latest ones."""
RING_STEPS = 36


def calendar_chart(days: Sequence[SeasonDay], show: Display) -> Chart:
    """A row for each month, a square for each day flown on, the fuller the longer it was flown."""
    months = _months(days)[-MOST_MONTHS:]
    row = {month: number for number, month in enumerate(months)}
    longest = max(day.duration_s for day in days)
    shown = [day for day in days if day.date[:7] in row]
    cells = tuple(
        Cell(
            float(day.date[8:]), row[day.date[:7]], 0.9, 0.8, day.duration_s / longest,
            f"{day.date}: {counted(day.flights, 'flight')}, {duration(day.duration_s)}",
        )
        for day in shown
    )  # fmt: skip
    panel = Panel(
        "day of the month", "", cells=cells, cells_label=f"flown, up to {duration(longest)}",
        series=(Series((0.5, 31.5), (math.nan, math.nan), "line"),),
        rows=tuple((number, month) for month, number in row.items()),
        clock=tuple((float(day), str(day)) for day in (1, 5, 10, 15, 20, 25, 30)),
    )  # fmt: skip
    told = (
        f"{counted(len(shown), 'day')} flown on in {counted(len(months), 'month')}, by month and day of the month,"
        f" on the clock of {show.zone_name}. The months stand in the table of months."
    )
    return Chart("calendar", "Days flown", told, "one", (panel,))


def _months(days: Sequence[SeasonDay]) -> list[str]:
    """All months from the first to the last, those without a flight too."""
    first, last = (12 * int(day.date[:4]) + int(day.date[5:7]) - 1 for day in (days[0], days[-1]))
    return [f"{number // 12:04d}-{number % 12 + 1:02d}" for number in range(first, last + 1)]


def go_around_chart(months: Sequence[SeasonMonth]) -> Chart:
    """Go-arounds per landing by month, with the exact interval."""
    rated = [month for month in months if month.go_arounds_per_landing is not None][-MOST_MONTHS:]
    rates = [month.go_arounds_per_landing for month in rated if month.go_arounds_per_landing is not None]
    levels = [float(number) for number in range(len(rates))]
    x = tuple(part for rate in rates for part in (rate.low, rate.high, math.nan))
    y = tuple(part for level in levels for part in (level, level, math.nan))
    panel = Panel(
        "go-arounds per landing", "",
        series=(
            Series(x, y, "glide", "95 % interval"),
            Series((0.0,), (math.nan,), "line"),
        ),
        marks=tuple(
            Mark(one.value, level, "bar", "go-arounds per landing")
            for one, level in zip(rates, levels, strict=True)
        ),
        rows=tuple(
            (level, f"{one.month} ({one.reviewed_landings})") for level, one in zip(levels, rated, strict=True)
        ),
    )  # fmt: skip
    told = "Go-arounds per landing by month, the landings beside it. The table of months holds the figures."
    return Chart("go-arounds", "Go-arounds per landing, by month (landings)", told, "one", (panel,))


def hours_chart(number: int, hours: Sequence[HourCount], show: Display) -> Chart:
    """Climbs by hour of the day."""
    x = tuple(part for one in hours for part in (one.hour + 0.5, one.hour + 0.5, math.nan))
    y = tuple(part for one in hours for part in (0.0, one.climbs, math.nan))
    edges = Series((float(hours[0].hour), float(hours[-1].hour + 1)), (0.0, 0.0), "line")
    panel = Panel(f"hour of the day ({show.zone_name})", "climbs begun", series=(Series(x, y, "lost"), edges))
    told = "; ".join(f"{one.hour} h: {one.climbs:.0f}" for one in hours)
    return Chart(
        f"region-{number}-hours", "When climbs began", f"Climbs begun by hour of the day: {told}.", "one", (panel,)
    )


def places_chart(region: int, places: Sequence[SeasonPlace], show: Display) -> Chart:
    """The busiest places of a region from above, by number; the others as small marks.

    The area of a disc grows with what happened there. Of a hundred places no number could be read.
    """
    plane, scale = _plane([(place.lat_deg, place.lon_deg) for place in places]), show.converted(1.0, "distance")
    busiest = _busiest(places)
    discs: list[Disc] = []
    marks: list[Mark] = []
    for place in places:
        east, north = (float(at) * scale for at in plane.to_plane(place.lat_deg, place.lon_deg))
        if place in busiest:
            discs.append(Disc(east, north, place.takeoffs + place.landings, str(place.number), place_text(place)))
        else:
            marks.append(Mark(east, north, "landing", "another place, less used: see the table"))
    room = _room([(disc.x, disc.y) for disc in discs] + [(mark.x, mark.y) for mark in marks], show)
    panel = Panel(
        show.unit("distance"), "", discs=tuple(discs),
        discs_label="place: the larger, the more take-offs and landings", marks=tuple(marks),
        series=(room,), has_equal_scales=True, is_map=True,
    )  # fmt: skip
    told = "North up, the same scale both ways: " + "; ".join(place_text(place) for place in busiest) + "."
    return Chart(f"places-{region}", "Places, by their numbers", told, "one", (panel,))


def _busiest(places: Sequence[SeasonPlace]) -> list[SeasonPlace]:
    """The places that get a number: all, or of many those used more than the first that is left out."""
    ordered = sorted(places, key=lambda place: (-place.takeoffs - place.landings, place.number))
    if len(ordered) <= MOST_NUMBERED_PLACES:
        return ordered
    least = ordered[MOST_NUMBERED_PLACES].takeoffs + ordered[MOST_NUMBERED_PLACES].landings
    return [place for place in ordered if place.takeoffs + place.landings > least] or ordered[:1]


def contacts_chart(place: SeasonPlace, show: Display) -> Chart:
    """Take-offs and touchdowns at one place from above."""
    plane, scale = LocalPlane(place.lat_deg, place.lon_deg), show.converted(1.0, "length")
    marks = []
    for contact in place.contacts:
        east, north = plane.to_plane(contact.lat_deg, contact.lon_deg)
        kind, label = ("takeoff", "lift-off") if contact.is_takeoff else ("landing", "touchdown")
        marks.append(Mark(float(east) * scale, float(north) * scale, kind, label))
    panel = Panel(
        show.unit("length"), "", marks=tuple(marks),
        series=(_room([(mark.x, mark.y) for mark in marks], show, "length", 20.0),),
        has_equal_scales=True, is_map=True,
    )  # fmt: skip
    told = f"Lift-offs and touchdowns at {place_text(place)}, north up, the same scale both ways."
    return Chart(f"place-{place.number}-contacts", place_title(place).capitalize(), told, "one", (panel,))


def _room(
    points: Sequence[tuple[float, float]], show: Display, kind: str = "distance", least_m: float = 300.0
) -> Series:
    """Nothing seen that keeps room around points: a map of one place is not a point."""
    x, y = [point[0] for point in points] or [0.0], [point[1] for point in points] or [0.0]
    least = show.converted(least_m, kind)
    return Series((min(x) - least, math.nan, max(x) + least), (min(y) - least, math.nan, max(y) + least), "line")


def _plane(points: Sequence[tuple[float, float]]) -> LocalPlane:
    """The plane about the first of them."""
    return LocalPlane(points[0][0], points[0][1])


def thermal_charts(region: ThermalRegion, places: Sequence[SeasonPlace], show: Display) -> tuple[Chart, ...]:
    """Climbs per hour flown with the spots, and climbs as they are, from above."""
    return (
        _thermal_map(region, places, show, per_hour=True),
        _thermal_map(region, places, show, per_hour=False),
    )


def _thermal_map(region: ThermalRegion, places: Sequence[SeasonPlace], show: Display, *, per_hour: bool) -> Chart:
    """One of the two maps."""
    cells, most = _squares(region, show, per_hour=per_hour)
    words = (
        f"climbs per hour flown, up to {most:.1f}" if per_hour else f"climbs traced to a square, up to {most:.1f}"
    )
    discs, series = _spots(region, show) if per_hour else ((), ())
    panel = Panel(
        show.unit("distance"), "", cells=cells, cells_label=words, discs=discs, discs_label=_spots_label(region),
        series=series, marks=_takeoffs(region, places, show), has_equal_scales=True, is_map=True,
    )  # fmt: skip
    described = (
        f"Squares of {show.with_unit(region.cell_m, 'length')}, north up, the same scale both ways: {words}."
        f" {counted(len(region.spots), 'spot')}; their figures stand in the table of spots."
    )
    title = "Climbs per hour flown, and the spots" if per_hour else "All climbs, however much was flown there"
    return Chart(f"region-{region.number}-{'rate' if per_hour else 'count'}", title, described, "one", (panel,))


def _squares(region: ThermalRegion, show: Display, *, per_hour: bool) -> tuple[tuple[Cell, ...], float]:
    """The squares of a region, the fuller the more climbs, and the most of one of them."""
    side = region.cell_m * show.converted(1.0, "distance")
    values = [cell.climbs_per_hour if per_hour else cell.climbs for cell in region.cells]
    most = max(values, default=0.0) or 1.0
    cells = []
    for cell, value in zip(region.cells, values, strict=True):
        fill = (value / most) ** (0.8 if per_hour else 0.5)
        label = f"{cell.climbs:.1f} climbs in {cell.hours_flown:.1f} h flown"
        cells.append(Cell(*_on_map(region, cell.lat_deg, cell.lon_deg, show), side, side, fill, label))
    return tuple(cells), most


def _spots(region: ThermalRegion, show: Display) -> tuple[tuple[Disc, ...], tuple[Series, ...]]:
    """The spots of a region as discs, each with the ring that holds it."""
    scale = show.converted(1.0, "distance")
    discs, series = [], []
    for spot in region.spots:
        x, y = _on_map(region, spot.lat_deg, spot.lon_deg, show)
        discs.append(Disc(x, y, spot.climbs, _spot_tag(spot), spot_text(spot, show)))
        ring = _ring(x, y, spot.radius_m * scale)
        series.append(Series(*ring, "limit", "holds the spot in 95 of 100 cases"))
    return tuple(discs), tuple(series)


def _takeoffs(region: ThermalRegion, places: Sequence[SeasonPlace], show: Display) -> tuple[Mark, ...]:
    """The take-off places on the map of a region."""
    return tuple(
        Mark(*_on_map(region, place.lat_deg, place.lon_deg, show), "takeoff", "take-off place")
        for place in places
        if place.takeoffs
    )


def _on_map(region: ThermalRegion, lat_deg: float, lon_deg: float, show: Display) -> tuple[float, float]:
    """How far east and north of the middle of a region a place lies, in the reader's unit."""
    east, north = LocalPlane(region.lat_deg, region.lon_deg).to_plane(lat_deg, lon_deg)
    scale = show.converted(1.0, "distance")
    return float(east) * scale, float(north) * scale


def _spot_tag(spot: ThermalSpot) -> str:
    """The number of a spot, with a question mark where it is possible only."""
    return str(spot.number) if spot.grade == "sure" else f"{spot.number}?"


def _spots_label(region: ThermalRegion) -> str:
    """What the discs of the spots say."""
    size = "spot: the larger, the more climbs, not ground"
    return size if all(spot.grade == "sure" for spot in region.spots) else f"{size}; ?: possible"


def _ring(x: float, y: float, radius: float) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """A circle as a line."""
    angles = [2.0 * math.pi * step / RING_STEPS for step in range(RING_STEPS + 1)]
    return tuple(x + radius * math.sin(a) for a in angles), tuple(y + radius * math.cos(a) for a in angles)
