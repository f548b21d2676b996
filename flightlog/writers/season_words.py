"""The season review in sentences."""

from __future__ import annotations

from collections.abc import Sequence

from flightlog.estimates import Estimate
from flightlog.season.results import GoAroundChange, SeasonPlace, ThermalRegion, ThermalSpot, Trend, TrendLevel
from flightlog.writers.display import NO_BREAK, Display
from flightlog.writers.words import counted, listed, sentence

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
    " was: sure means that such maps show one as strong in 1 of 20 at most, possible that of the spots so called"
    " up to a quarter may be chance. Climbs of one day that may be of one thermal count once, however many pilots"
    " and circles; a radius allows for the height of the ground and the rise of the air being wrong for all climbs"
    " of a spot alike.",
)
"""What the thermal map shows and how it was made."""
NO_CLIMBS = "No flight has a circling climb whose place is known: nothing can be traced to the ground."
MOST_LETTERS = 24
"""Of a name in a legend."""
GRADES = {"sure": "sure", "possible": "possible"}
MOVES = {"higher": "it rose by", "lower": "it fell by"}


def trend_texts(trends: Sequence[Trend], show: Display) -> tuple[str, ...]:
    """The trends that flights tell; what is the same for several is said once, after them, and of which."""
    told = [trend for trend in trends if trend.points]
    remarks = [_remark(trend) for trend in told]
    shared = [remark for remark in dict.fromkeys(remarks) if remark and remarks.count(remark) > 1]
    texts = [
        _trend_alone(trend, show) + ("" if remark in shared or not remark else f" {remark}")
        for trend, remark in zip(told, remarks, strict=True)
    ]
    return (*texts, *(_said_of(told, remarks, said) for said in shared))


def _said_of(told: list[Trend], remarks: list[str], said: str) -> str:
    """A remark on several trends, named where they are not all."""
    names = [FIGURES[trend.figure][0] for trend, remark in zip(told, remarks, strict=True) if remark == said]
    return said if len(names) == len(told) else f"{sentence(listed(names))[:-1]}: {said[0].lower()}{said[1:]}"


def trend_text(trend: Trend, show: Display) -> str:
    """A trend in plain sentences."""
    return f"{_trend_alone(trend, show)} {_remark(trend)}".rstrip()


def _trend_alone(trend: Trend, show: Display) -> str:
    """What a trend tells."""
    name, kind = FIGURES[trend.figure]
    flights = counted(len(trend.points), "flight")
    if not trend.points:
        return f"{sentence(name)[:-1]}: no flight tells it."
    mean = (
        f"season mean {_with_unit(trend.mean, kind, show)} over {flights}" if trend.mean else f"known of {flights}"
    )
    if trend.change is None or trend.verdict is None:
        return f"{sentence(name)[:-1]}: {mean}."
    if trend.verdict == "no_change_told":
        said = f"the season shows no change: the line moves by {_with_unit(trend.change, kind, show)}"
    else:
        change = trend.change
        size = change if trend.verdict == "higher" else Estimate(-change.value, -change.high, -change.low)
        said = f"from the first day to the last {MOVES[trend.verdict]} {_with_unit(size, kind, show)}"
    return f"{sentence(name)[:-1]}: {mean}; {said}."


def _remark(trend: Trend) -> str:
    """Why a trend has no line, or that its line is one of several."""
    if trend.points and (trend.change is None or trend.verdict is None):
        return f"No line is drawn: {trend.note or 'too little is known'}."
    if trend.groups > 1:
        groups = counted(trend.groups, "wing or pilot", "wings or pilots")
        return f"{groups.capitalize()}: each has a level of its own, and all share one slope."
    return ""


def _with_unit(estimate: Estimate | None, kind: str, show: Display) -> str:
    """Best value, interval and unit."""
    return show.joined(show.estimate(estimate, kind), kind)


def level_name(level: TrendLevel, *, pilot: bool, wing: bool) -> str:
    """Who and on what, short enough for a legend."""
    parts = ((pilot, level.pilot, "pilot"), (wing, level.wing, "wing"))
    words = (
        shortened(name, MOST_LETTERS) if name else f"{what} not told" for is_said, name, what in parts if is_said
    )
    return ", ".join(words)


def shortened(name: str, letters: int) -> str:
    """A name cut to so many letters.

    >>> shortened("A wing of many words", 10), shortened("Wing", 10)
    ('A wing of…', 'Wing')
    """
    return name if len(name) <= letters else f"{name[: letters - 1].rstrip()}…"


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
    return f"{place_title(place)}: {counted(place.takeoffs, 'take-off')}, {counted(place.landings, 'landing')}"


def place_title(place: SeasonPlace) -> str:
    """Number and name; a place that has its number for a name says it once."""
    return f"{place.number} {place.name}" if place.is_named else place.name


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
        f" {region.traced_climbs} could be traced to the ground (climbs of one day from one spot count once);"
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
