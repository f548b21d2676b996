"""The season review as one page that needs nothing else: sentences, charts, tables, maps."""

from __future__ import annotations

from dataclasses import dataclass

from flightlog import __version__
from flightlog.season.results import SeasonPlace, SeasonReview, ThermalRegion
from flightlog.writers.display import Display, flight_count
from flightlog.writers.html_page import rendered
from flightlog.writers.page import folded_if_long, without_blank_columns
from flightlog.writers.page_parts import Chart, Column, Fact, Table
from flightlog.writers.season_charts import (
    calendar_chart,
    contacts_chart,
    go_around_chart,
    hours_chart,
    places_chart,
    thermal_charts,
)
from flightlog.writers.season_tables import (
    levels_table,
    months_table,
    places_table,
    season_facts,
    spots_table,
    trends_table,
)
from flightlog.writers.season_trends import trend_chart
from flightlog.writers.season_words import EXPOSURE, NO_CLIMBS, go_around_text, region_text, trend_texts
from flightlog.writers.words import counted

PAGE_MARK = '<meta name="flightlog-page" content="season">'
MOST_REGIONS = 6
"""Regions with maps, those with most climbs: JSON and GeoJSON hold all."""
MOST_PLACE_MAPS = 6
LEAST_CONTACTS = 4
"""A place with fewer take-offs and touchdowns has no map of them."""
LEAST_POINTS = 2


@dataclass(frozen=True)
class SeasonSection:
    """One part of the page: sentences, charts, tables."""

    anchor: str
    title: str
    story: tuple[str, ...]
    charts: tuple[Chart, ...]
    tables: tuple[Table, ...]
    quiet: tuple[str, ...] = ()


@dataclass(frozen=True)
class SeasonPage:
    """Everything the page says, in the order in which it says it."""

    title: str
    subtitle: str
    generator: str
    mark: str
    facts: tuple[Fact, ...]
    sections: tuple[SeasonSection, ...]
    problems: Table
    cautions: tuple[str, ...]


def season_page(review: SeasonReview, show: Display) -> bytes:
    """The review as UTF-8 HTML; the same review gives the same bytes. Rules as for `html_page`."""
    return rendered("season.html", page_of_season(review, show))


def page_of_season(review: SeasonReview, show: Display) -> SeasonPage:
    """What the page says, in the reader's units; dates and hours are on the review's own clock."""
    first, last = review.first_date, review.last_date
    when = "" if first is None else f", {first}" if first == last else f", {first} to {last}"
    sections = [_trends(review, show), _calendar(review, show), _places(review, show)]
    sections += [_region(region, review, show) for region in review.thermals[:MOST_REGIONS]] or [
        _no_climbs(review)
    ]
    return SeasonPage(
        title="Season",
        subtitle=f"{counted(review.logs, 'log')}, {flight_count(review.flights)}{when}; clock: {review.zone}",
        generator=f"flightlog {__version__}",
        mark=PAGE_MARK,
        facts=season_facts(review, show),
        sections=tuple(section for section in sections if section is not None),
        problems=Table(
            "Odd about the logs", (Column("What", "", True),), tuple((one.message,) for one in review.problems)
        ),
        cautions=review.cautions,
    )


def _trends(review: SeasonReview, show: Display) -> SeasonSection:
    """How figures went."""
    drawn = [trend for trend in review.trends if len(trend.points) >= LEAST_POINTS]
    charts = [trend_chart(trend, show) for trend in drawn]
    if sum(month.go_arounds_per_landing is not None for month in review.months) >= LEAST_POINTS:
        charts.append(go_around_chart(review.months))
    return SeasonSection(
        "trends",
        "How the season went",
        (*trend_texts(review.trends, show), go_around_text(review.go_arounds, show)),
        tuple(charts),
        (without_blank_columns(trends_table(review, show)), *levels_table(drawn, show)) if drawn else (),
    )


def _calendar(review: SeasonReview, show: Display) -> SeasonSection | None:
    """Days and months; None where no log has a date."""
    if not review.days:
        return None
    return SeasonSection(
        "calendar",
        "Calendar",
        (),
        (calendar_chart(review.days, show),),
        (without_blank_columns(months_table(review, show)),),
    )


def _places(review: SeasonReview, show: Display) -> SeasonSection | None:
    """Take-offs and landings."""
    if not review.places:
        return None
    regions: dict[int, list[SeasonPlace]] = {}
    for place in review.places:
        regions.setdefault(place.region, []).append(place)
    charts = [places_chart(region, own, show) for region, own in regions.items()][:MOST_REGIONS]
    busiest = sorted(review.places, key=lambda place: (-len(place.contacts), place.number))[:MOST_PLACE_MAPS]
    charts += [contacts_chart(place, show) for place in busiest if len(place.contacts) >= LEAST_CONTACTS]
    return SeasonSection(
        "places", "Places", (), tuple(charts), (folded_if_long(without_blank_columns(places_table(review, show))),)
    )


def _region(region: ThermalRegion, review: SeasonReview, show: Display) -> SeasonSection:
    """The thermal map of one region."""
    where = f"{show.number(region.lat_deg, 2)}°, {show.number(region.lon_deg, 2)}°"
    title = "Where climbs come from"
    if len(review.thermals) > 1:
        title += f", region {region.number} (about {where})"
    near = [place for place in review.places if _is_near(place, region)]
    charts = thermal_charts(region, near, show) if region.cells else ()
    hours = (hours_chart(region.number, region.hours, show),) if region.hours else ()
    return SeasonSection(
        f"region-{region.number}",
        title,
        (region_text(region, show),),
        (*charts, *hours),
        (without_blank_columns(spots_table(region, show)),) if region.spots else (),
        EXPOSURE if region.number == 1 else (),
    )


def _no_climbs(review: SeasonReview) -> SeasonSection | None:
    """That nothing could be mapped; None where nothing was flown."""
    if not review.flights:
        return None
    return SeasonSection("region-0", "Where climbs come from", (NO_CLIMBS,), (), ())


def _is_near(place: SeasonPlace, region: ThermalRegion) -> bool:
    """Whether a place lies on the map of a region."""
    return any(
        abs(cell.lat_deg - place.lat_deg) < 0.01 and abs(cell.lon_deg - place.lon_deg) < 0.02
        for cell in region.cells
    )
