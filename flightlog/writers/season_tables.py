"""The tables and figures at a glance of the season review: finished texts in the reader's units."""

from __future__ import annotations

from collections.abc import Sequence

from flightlog.season.results import HourCount, Quartiles, SeasonReview, ThermalRegion, ThermalSpot, Trend
from flightlog.writers.display import UNKNOWN, Display, duration
from flightlog.writers.page_parts import Column, Fact, Table
from flightlog.writers.season_words import FIGURES, GRADES, rate
from flightlog.writers.words import counted

MOST_SPOTS = 60
"""Rows of a table of spots, the strongest: JSON and GeoJSON hold all."""


def season_facts(review: SeasonReview, show: Display) -> tuple[Fact, ...]:
    """The season at a glance."""
    landing, launch = review.go_arounds.per_landing, review.launches
    facts = [
        Fact("Flights", str(review.flights), f"of {review.logs} logs"),
        Fact("Days", str(len(review.days)), "flown on"),
        Fact("Time in the air", duration(review.duration_s)),
        Fact("Height gained", show.with_unit(review.altitude_gain_m, "height")),
    ]
    if landing is not None:
        told = f"95 %; {review.go_arounds.go_arounds} at {counted(review.go_arounds.reviewed_landings, 'landing')}"
        facts.append(Fact("Go-arounds per landing", rate(landing, show), told))
    if launch.foot_launches:
        run = "" if launch.median_run_s is None else f"median run {duration(launch.median_run_s)}"
        facts.append(Fact("Launches on foot", str(launch.foot_launches), run))
    if launch.aborted_per_launch is not None:
        told = f"95 %; {launch.aborted_runs} at {counted(launch.reviewed_launches, 'launch', 'launches')}"
        facts.append(Fact("Runs given up per launch", rate(launch.aborted_per_launch, show), told))
    return tuple(facts)


def trends_table(review: SeasonReview, show: Display) -> Table:
    """One row a figure."""
    columns = (
        Column("Figure", "", True),
        Column("Unit", "", True),
        Column("Flights"),
        Column("Season mean", "95 %"),
        Column("Scatter of flights"),
        Column("Scatter of days"),
        Column("Change over the season", "95 %"),
        Column("Change in 30 days", "95 %"),
    )
    rows = []
    for trend in review.trends:
        if not trend.points:
            continue
        name, kind = FIGURES[trend.figure]
        scatter = (trend.flight_sd, trend.day_sd)
        rows.append(
            (
                name.capitalize(), show.unit(kind) or UNKNOWN, str(len(trend.points)),
                show.estimate(trend.mean, kind),
                *(UNKNOWN if sd is None else show.number(show.converted(sd, kind), 2) for sd in scatter),
                show.estimate(trend.change, kind), show.estimate(trend.change_per_30_days, kind),
            )
        )  # fmt: skip
    remarks = (
        "Scatter: standard deviation between flights of a day, and between days, beyond their own intervals",
        "A change is told where its interval leaves out nought; of twenty figures that do not change one does so",
    )
    return Table("Trends", columns, tuple(rows), remarks)


def levels_table(trends: Sequence[Trend], show: Display) -> tuple[Table, ...]:
    """One row a figure, pilot and wing; none where no figure has several."""
    several = [trend for trend in trends if len(trend.levels) > 1]
    columns = (
        Column("Figure", "", True),
        Column("Unit", "", True),
        Column("Pilot", "", True),
        Column("Wing", "", True),
        Column("Flights"),
        Column("Level", "95 %"),
    )
    rows = tuple(
        (
            FIGURES[trend.figure][0].capitalize(), show.unit(FIGURES[trend.figure][1]) or UNKNOWN,
            level.pilot or UNKNOWN, level.wing or UNKNOWN, str(level.flights),
            show.estimate(level.mean, FIGURES[trend.figure][1]),
        )
        for trend in several
        for level in trend.levels
    )  # fmt: skip
    remark = "Level: the mean of those flights alone, no change over the season taken out"
    return (Table("Levels of wings and pilots", columns, rows, (remark,)),) if rows else ()


def months_table(review: SeasonReview, show: Display) -> Table:
    """One row a month."""
    columns = (
        Column("Month", "", True),
        Column("Days"),
        Column("Flights"),
        Column("Time in the air"),
        Column("Height gained", show.unit("height")),
        Column("Climbs in circles"),
        Column("Launches on foot"),
        Column("Runs given up"),
        Column("Landings looked at"),
        Column("Go-arounds"),
        Column("Go-arounds per landing", "95 %"),
    )
    rows = tuple(
        (
            month.month, str(month.days), str(month.flights), duration(month.duration_s),
            show.figure(month.altitude_gain_m, "height"), str(month.climbs), str(month.launches),
            UNKNOWN if month.aborted_runs is None else str(month.aborted_runs), str(month.reviewed_landings),
            str(month.go_arounds),
            UNKNOWN if month.go_arounds_per_landing is None else rate(month.go_arounds_per_landing, show),
        )
        for month in review.months
    )  # fmt: skip
    remark = "Landings are looked at for go-arounds at top-landing places alone: a places file names them"
    return Table("Months", columns, rows, (remark,))


def places_table(review: SeasonReview, show: Display) -> Table:
    """One row a place."""
    columns = (
        Column("No."),
        Column("Place", "", True),
        Column("Ground", show.unit("height")),
        Column("Take-offs"),
        Column("Landings"),
        Column("First", "", True),
        Column("Last", "", True),
        Column("Latitude", "°"),
        Column("Longitude", "°"),
    )
    rows = tuple(
        (
            str(place.number), place.name, show.figure(place.altitude_m, "height"), str(place.takeoffs),
            str(place.landings), place.first_date or UNKNOWN, place.last_date or UNKNOWN,
            show.number(place.lat_deg, 4), show.number(place.lon_deg, 4),
        )
        for place in review.places
    )  # fmt: skip
    remark = "Places with a number for a name were found where the logs touched the ground"
    return Table("Places", columns, rows, (remark,) if any(not place.is_named for place in review.places) else ())


def spots_table(region: ThermalRegion, show: Display) -> Table:
    """One row a spot."""
    columns = (
        Column("Spot"),
        Column("Grade", "", True),
        Column("Climbs"),
        Column("Expected there"),
        Column("Flights"),
        Column("Mean climb", show.unit("vertical")),
        Column("Gain", show.unit("height")),
        Column("Hours", show.zone_name, True),
        Column("Within", show.unit("length")),
        Column("By chance"),
        Column("Latitude", "°"),
        Column("Longitude", "°"),
    )
    shown = region.spots[:MOST_SPOTS]
    rows = tuple(_spot_row(spot, show) for spot in shown)
    remarks = (
        "Climbs: each counts by its chance to be from the spot; expected: what the flying over 400 m around would"
        " find if the spot were like the country about it",
        "Mean climb and gain: median and the range of the middle half; within: radius that holds the spot in 95 of"
        " 100 cases; by chance: spots as strong that a map by chance would show",
        *([f"The strongest {MOST_SPOTS} of {len(region.spots)}; JSON and GeoJSON hold all"]
          if len(shown) < len(region.spots) else []),
    )  # fmt: skip
    return Table("Spots that climbs come from", columns, rows, remarks if rows else ())


def _spot_row(spot: ThermalSpot, show: Display) -> tuple[str, ...]:
    """One spot."""
    return (
        str(spot.number), GRADES[spot.grade], show.number(spot.climbs, 1), show.number(spot.expected_climbs, 1),
        str(spot.flights), quartiles_text(spot.strength_mps, "vertical", show),
        quartiles_text(spot.gain_m, "height", show), hours_text(spot.hours), show.rough(spot.radius_m, "length"),
        "under 0.001" if spot.chance_count < 0.001 else show.number(spot.chance_count, 3),
        show.number(spot.lat_deg, 4), show.number(spot.lon_deg, 4),
    )  # fmt: skip


def quartiles_text(quartiles: Quartiles | None, kind: str, show: Display) -> str:
    """Median and middle half.

    >>> quartiles_text(Quartiles(1.0, 2.0, 2.52), "vertical", Display())
    '2.0 (1.0 to 2.5)'
    """
    if quartiles is None:
        return UNKNOWN
    low, median, high = (show.figure(part, kind) for part in (quartiles.low, quartiles.median, quartiles.high))
    return f"{median} ({low} to {high})"


def hours_text(hours: tuple[HourCount, ...]) -> str:
    """From when to when there were climbs.

    >>> hours_text((HourCount(11, 2.0), HourCount(12, 3.0))), hours_text(())
    ('11 to 13 h', '–')
    """
    there = [count.hour for count in hours if count.climbs >= 0.5]
    return f"{there[0]} to {there[-1] + 1} h" if there else UNKNOWN
