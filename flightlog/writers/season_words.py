"""The season review in sentences."""

from __future__ import annotations

from flightlog.estimates import Estimate
from flightlog.season.results import GoAroundChange, SeasonPlace, ThermalRegion, ThermalSpot, Trend
from flightlog.writers.display import NO_BREAK, Display
from flightlog.writers.words import counted, sentence

FIGURES = {
    "glide_ratio_ground": ("glide ratio over ground", "ratio"),
    "glide_ratio_air": ("glide ratio through the air", "ratio"),
    "best_glide_ratio": ("best glide of the polar", "ratio"),
    "mean_climb_mps": ("mean climb in circles", "vertical"),
    "centred_share": ("share of the climb that centred circles would give", "share"),
}
"""Field -> its name, and how its figures are shown."""
EXPOSURE = (
    "Climbs are found where pilots fly. The first map therefore shows climbs per hour flown in a square, with"
    " twelve minutes at the mean rate added, so that one lucky minute is no good square; the second shows all."
    " Hours are those outside circling climbs, each flight's way moved upwind as its climbs are traced.",
    "A climb is traced from where it was met down to the ground against the wind, at the rise of the air; its"
    " place is unsure by hundreds of metres along the drift, and far less across it. Where the traces of many days"
    " cross, a spot is marked. Each is held against maps on which as many climbs lie by chance where the flying"
    " was: sure means that such maps show one as strong in 1 of 20 at most, possible that up to a quarter of the"
    " spots as strong may be chance.",
)
"""What the thermal map shows and how it was made."""
GRADES = {"sure": "sure", "possible": "possible"}
MOVES = {"higher": "it rose by", "lower": "it fell by"}


def trend_text(trend: Trend, show: Display) -> str:
    """A trend in plain sentences."""
    name, kind = FIGURES[trend.figure]
    flights = counted(len(trend.points), "flight")
    if not trend.points:
        return f"{sentence(name)[:-1]}: no flight tells it."
    mean = (
        f"season mean {_with_unit(trend.mean, kind, show)} over {flights}" if trend.mean else f"known of {flights}"
    )
    if trend.change is None or trend.verdict is None:
        return f"{sentence(name)[:-1]}: {mean}. No line is drawn: {trend.note or 'too little is known'}."
    if trend.verdict == "no_change_told":
        said = f"the season shows no change: the line moves by {_with_unit(trend.change, kind, show)}"
    else:
        change = trend.change
        size = change if trend.verdict == "higher" else Estimate(-change.value, -change.high, -change.low)
        said = f"from the first day to the last {MOVES[trend.verdict]} {_with_unit(size, kind, show)}"
    levels = (
        f" {counted(trend.groups, 'wing or pilot', 'wings or pilots')} have levels of their own."
        if trend.groups > 1
        else ""
    )
    return f"{sentence(name)[:-1]}: {mean}; {said}.{levels}"


def _with_unit(estimate: Estimate | None, kind: str, show: Display) -> str:
    """Best value, interval and unit."""
    return show.joined(show.estimate(estimate, kind), kind)


def go_around_text(change: GoAroundChange, show: Display) -> str:
    """Go-arounds over the season in plain sentences."""
    if change.per_landing is None:
        return "Go-arounds: no landing at a place where they are looked for; --places names top-landing places."
    whole = (
        f"Go-arounds: {change.go_arounds} at {counted(change.reviewed_landings, 'landing')},"
        f" {rate(change.per_landing, show)} per landing"
    )
    if change.verdict is None or change.first_half is None or change.second_half is None:
        return f"{whole}."
    halves = (
        f"{rate(change.first_half, show)} before {change.second_half_from},"
        f" {rate(change.second_half, show)} from then on"
    )
    said = {
        "more": "more in the second half of the landings",
        "fewer": "fewer in the second half of the landings",
        "no_change_told": "no change can be told between the halves",
    }[change.verdict]
    return f"{whole}; {said}: {halves}. The tries are taken for independent, which those of one windy day are not."


def rate(estimate: Estimate, show: Display) -> str:
    """A rate with its interval."""
    value, low, high = (show.number(part, 2) for part in (estimate.value, estimate.low, estimate.high))
    return f"{value} ({low} to {high})"


def place_text(place: SeasonPlace) -> str:
    """A place with what happened there."""
    return (
        f"{place.number} {place.name}: {counted(place.takeoffs, 'take-off')}, {counted(place.landings, 'landing')}"
    )


def spot_text(spot: ThermalSpot, show: Display) -> str:
    """A spot in one line."""
    strength = f", {show.with_unit(spot.strength_mps.median, 'vertical')}" if spot.strength_mps else ""
    return (
        f"spot {spot.number}, {GRADES[spot.grade]}: about {spot.climbs:.0f} climbs of"
        f" {counted(spot.flights, 'flight')}{strength}; within"
        f" {show.rough(spot.radius_m, 'length')}{NO_BREAK}{show.unit('length')}"
    )


def region_text(region: ThermalRegion, show: Display) -> str:
    """What a map is made of, and what it shows."""
    made_of = (
        f"{counted(region.climbs, 'circling climb')} of {counted(region.flights, 'flight')};"
        f" {region.traced_climbs} could be traced to the ground (climbs of one flight from one spot count once);"
        f" {region.hours_flown:.1f} h flown outside them"
    )
    ways = "" if region.has_recorded_ways else ", by straight lines between climbs, since some ways are not kept"
    if region.note:
        return f"{made_of}{ways}. {sentence(region.note)}"
    sure = sum(spot.grade == "sure" for spot in region.spots)
    if not region.spots:
        return f"{made_of}{ways}. No spot stands out from chance: more flights may show some."
    strength = region.strength_mps
    middle = (
        f" Half of the climbs made {show.figure(strength.low, 'vertical')} to"
        f" {show.joined(show.figure(strength.high, 'vertical'), 'vertical')}."
        if strength
        else ""
    )
    return f"{made_of}{ways}. {counted(len(region.spots), 'spot')}, {sure} of them sure.{middle}"
