"""What the flight says: its most telling facts in sentences, each with the place in the page that shows it.

What makes a fact telling, and every threshold of that, stands in `flightlog.measures.findings`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from flightlog.estimates import NORMAL_95, Estimate
from flightlog.measures import climb_findings as climb_facts
from flightlog.measures import findings as facts
from flightlog.measures.results import Pass, SpeedToFly, WindBand
from flightlog.measures.tellings import LEAST_TELLING, PLAIN
from flightlog.writers import plain_findings
from flightlog.writers.budget_tables import part_name
from flightlog.writers.display import NO_BREAK, Display, duration
from flightlog.writers.finding_parts import Subject, Told, claim_text, cost_text, whence, with_interval
from flightlog.writers.page_tables import give_or_take
from flightlog.writers.words import counted, listed, unsteady_words

MOST_TOLD = 7
"""Sentences on top of a flight: more are not read."""
ENOUGH = 4
"""Plain facts are added up to so many; they are not what a flight is opened for."""
MOST_OF_A_SUBJECT = 3
"""Of the climbs, the glides, the air or the ground: so that none of them takes all the room."""
LEAST_NAMED_M = 10.0
"""A height won or lost by the way is named from here on."""
SAVED = {"time": "taken less time, had the next climb been known,", "height": "lost less height"}
FAR_APART_S = 1200.0
"""Winds of two heights met further apart in time are told with it: a quarter of the wind's own time (own)."""
MOST_LISTED = 3
"""Go-arounds told one by one; of more the range is told."""


def findings_of(subject: Subject) -> tuple[Told, ...]:
    """The most telling facts, three to seven of them as far as the flight has any, the most telling first.

    Facts that are plain fill up to four. Where two are equally telling, the order of the rules decides.
    """
    told = [one for rule in RULES if (one := rule(subject)) is not None]
    told = [one for one in told if one.telling == PLAIN or one.telling >= LEAST_TELLING]
    order = sorted(told, key=lambda one: -one.telling)  # keeps the order of the rules among equals
    chosen: list[Told] = []
    for one in order:
        of_its_kind = sum(other.about == one.about for other in chosen)
        most = MOST_TOLD if one.telling > PLAIN else ENOUGH
        if len(chosen) < most and of_its_kind < MOST_OF_A_SUBJECT:
            chosen.append(one)
    return tuple(chosen)


def _go_arounds(subject: Subject) -> Told | None:
    """Approaches that were broken off, where, and how soon the next try came."""
    show, found = subject.show, facts.go_arounds(subject.flight)
    if found is None:
        return None
    broken = found.passes
    places = [place for place in dict.fromkeys(one.place for one in broken) if place]
    to = f" to {listed(places)}" if places else ""
    text = (
        f"{counted(len(broken), 'approach', 'approaches')}{to} {'was' if len(broken) == 1 else 'were'} broken off"
    )
    if len(broken) <= MOST_LISTED:
        text += f", {listed([_broken_off(one, show) for one in broken])}"
    else:
        heights = [one.decision.height_m if one.decision else one.lowest_height_m for one in broken]
        low, high = show.figure(min(heights), "height"), show.with_unit(max(heights), "height")
        text += f", between {low} and {high} above the ground"
    if found.height_sd_m is not None:
        text += f" (heights within {show.with_unit(NORMAL_95 * found.height_sd_m, 'height')})"
    count = subject.flight.go_arounds
    if count is not None and count.low < count.high:
        text += f"; from the track alone it may have been {count.low:.0f} to {count.high:.0f}"
    later = [one.seconds_to_next_s for one in broken if one.seconds_to_next_s is not None]
    if later and len(later) <= MOST_LISTED:
        text += f"; the next try ended {listed([duration(seconds) for seconds in later])} later"
    return Told(found.telling, "ground", text, "Approach passes", str(broken[0].number))


def _broken_off(one: Pass, show: Display) -> str:
    """Where a pass was broken off; its lowest point where the decision is not known."""
    if one.decision is None:
        return f"lowest {show.with_unit(one.lowest_height_m, 'height')} up"
    return (
        f"{show.with_unit(one.decision.height_m, 'height')} up"
        f" {show.with_unit(one.decision.distance_m, 'length')} out"
    )


def _odd_launch(subject: Subject) -> Told | None:
    """Wind from behind or across, runs given up, height lost: what set the launch apart."""
    show, found = subject.show, facts.odd_launch(subject.flight)
    if found is None:
        return None
    parts = []
    if found.tailwind_mps is not None:
        parts.append(f"with wind from behind, {with_interval(found.tailwind_mps, 'speed', show)}")
    if found.crosswind_mps is not None:
        parts.append(f"with more wind across than along, {_across(found.crosswind_mps, show)}")
    if found.aborted:
        parts.append(f"after {counted(found.aborted, 'run')} given up")
    return Told(found.telling, "ground", f"launched {listed(parts)}", "Launch")


def _across(crosswind: Estimate, show: Display) -> str:
    """A crosswind, and from which side."""
    if crosswind.value >= 0:
        return f"{with_interval(crosswind, 'speed', show)} from the right"
    turned = Estimate(-crosswind.value, -crosswind.high, -crosswind.low)
    return f"{with_interval(turned, 'speed', show)} from the left"


def _unsteady_landing(subject: Subject) -> Told | None:
    """In which ways the last approach was not steady."""
    show, approach, telling = subject.show, subject.flight.approach, facts.unsteady_landing(subject.flight)
    if approach is None or telling is None:
        return None
    text = f"the last approach was not steady by the limits used here: {'; '.join(unsteady_words(approach, show))}"
    return Told(telling, "ground", text, "Approach and touchdown")


def _wind_change(subject: Subject) -> Told | None:
    """How the wind changed with height."""
    show, found = subject.show, facts.wind_change(subject.flight)
    if found is None:
        return None
    text = (
        f"the wind changed with height: {_band(found.low, show)}, {_band(found.high, show)};"
        f" a difference of {with_interval(found.change_mps, 'speed', show)}"
    )
    if found.apart_s >= FAR_APART_S:
        minutes = show.number(found.apart_s / 60.0, 0)
        text += f"; as they were met {minutes}{NO_BREAK}min apart, the hour may have its part in it"
    return Told(found.telling, "air", text, "Wind by height", show.figure(found.high.altitude_low_m, "height"))


def _band(band: WindBand, show: Display) -> str:
    """The wind of a band of height."""
    wind = band.wind
    low, high = show.figure(band.altitude_low_m, "height"), show.with_unit(band.altitude_high_m, "height")
    speed = show.joined(give_or_take(wind, show), "speed")
    return f"{speed} {whence(wind, show)} between {low} and {high}"


def _no_wind(subject: Subject) -> Told | None:
    """That the log does not tell the wind, why, and what stays open for it."""
    wind = subject.flight.wind
    if wind.mean is not None:
        return None
    why = f": {wind.note}" if wind.note else ""
    text = f"this flight does not tell the wind{why}; what would need it is left open"
    return Told(facts.NO_WIND_STAKE, "air", text, "Glides" if subject.flight.glides else "Time budget")


def _glides_in_wind(subject: Subject) -> Told | None:
    """Glide ratios over the ground and through the air, and whether they can be told apart."""
    show, found = subject.show, facts.glides_in_wind(subject.flight)
    if found is None:
        return None
    ground = show.estimate(found.over_ground, "ratio")
    if found.through_air is None:
        text = (
            f"all glides together had a glide ratio of {ground} over the ground; through the air it is not known"
        )
        return Told(found.telling, "glides", text, "Glides")
    air = show.estimate(found.through_air, "ratio")
    both = f"glide ratio {ground} over the ground, {air} through the air that was met"
    if found.is_clear:
        lifted = found.over_ground.value > found.through_air.value
        text = f"the wind made the glides {'flatter' if lifted else 'steeper'}: {both}"
    else:
        text = f"the glides do not show whether the wind helped them or hindered: {both}"
    return Told(found.telling, "glides", text, "Glides")


def _beside_the_maker(subject: Subject) -> Told | None:
    """Whether the glides can be told from the maker's polar."""
    if subject.claim is None:
        return None
    difference = subject.claim.difference
    claimed = claim_text(subject.claim, subject.show)
    if difference.tells_apart:
        text = (
            f"these glides point to another polar than the maker's: {claimed}; the choice of line, and rising or"
            " sinking air, count in"
        )
    else:
        text = f"these glides cannot tell the wing from its maker's polar: {claimed}"
    table = "Sink polar" if subject.flight.performance.polar is not None else "Glides"
    return Told(subject.claim.telling, "glides", text, table)


def _weak_climbing(subject: Subject) -> Told | None:
    """How much of the circling climbed weakly against its own best."""
    found = climb_facts.weak_climbing(subject.flight)
    if found is None:
        return None
    whole = duration(found.circling_s)
    if found.weak_s < 1.0:
        text = f"all {whole} of circling climbed at least half as fast as the best half minute of the same climb"
    else:
        text = (
            f"of {whole} in circles, {duration(found.weak_s)} climbed less than half as fast as the best half"
            " minute of the same climb"
        )
    return Told(found.telling, "climbs", text, "Thermals in detail")


def _ways_in_and_out(subject: Subject) -> Told | None:
    """What entering and leaving thermals took and cost."""
    show, found = subject.show, climb_facts.ways_in_and_out(subject.flight)
    if found is None:
        return None
    text = (
        f"the ways into and out of {counted(found.climbs, 'thermal')} took {duration(found.seconds_s)} and cost"
        f" {with_interval(found.cost, 'height', show)} against climbing steadily all the while"
    )
    return Told(found.telling, "climbs", text, "Thermals in detail")


def _off_centre(subject: Subject) -> Told | None:
    """The climb whose circles surely lay off its core."""
    show, found = subject.show, climb_facts.off_centre(subject.flight)
    if found is None:
        return None
    share = with_interval(found.centred_share, "share", show)
    text = f"climb {found.number} gave {share} of what circles of its size about its core would have given"
    return Told(found.telling, "climbs", text, "Thermals in detail", str(found.number))


def _best_climb(subject: Subject) -> Told | None:
    """The climb that saved most time."""
    show, found = subject.show, climb_facts.best_climb(subject.flight)
    if found is None:
        return None
    climb = found.climb
    others = f"the other {found.others} in circles" if found.others > 1 else "the other one in circles"
    text = (
        f"climb {climb.number} saved most time: {show.with_unit(climb.gain_m, 'height')} at"
        f" {with_interval(found.mean_climb_mps, 'vertical', show)}, where {others} gave"
        f" {show.with_unit(found.others_mps, 'vertical')} in the mean"
    )
    return Told(found.telling, "climbs", text, "Climbs", str(climb.number))


def _searching(subject: Subject) -> Told | None:
    """Time spent searching, and what it did to the height."""
    show, telling, budget = subject.show, facts.searching(subject.flight), subject.flight.time_budget
    part = next((part for part in budget.parts if part.kind == "search"), None) if budget else None
    if telling is None or part is None:
        return None
    share = show.joined(show.figure(part.share, "share"), "share")
    text = f"searching, neither climbing nor on a glide, took {duration(part.time_s)}, {share} of the flight"
    changes = [
        f"{did} {show.with_unit(height_m, 'height')}"
        for did, height_m in (("losing", part.height_lost_m), ("gaining", part.height_gained_m))
        if height_m is not None and height_m >= LEAST_NAMED_M
    ]
    text += f", {listed(changes)}" if changes else ""
    return Told(telling, "air", text, "Time budget", part_name(part))


def _time_cost(subject: Subject) -> Told | None:
    """Time that other airspeeds would have saved."""
    return _speed_cost(subject, "time")


def _height_cost(subject: Subject) -> Told | None:
    """Height that other airspeeds would have saved."""
    return _speed_cost(subject, "height")


def _speed_cost(subject: Subject, what: str) -> Told | None:
    """What flown airspeeds cost by the theory of the speed to fly, where that is clear of nothing."""
    show, found = subject.show, facts.speed_cost(subject.flight, what)
    if found is None:
        return None
    text = (
        f"on {found.glides} of {counted(found.of, 'glide')} another airspeed would have {SAVED[what]} by the"
        f" theory of the speed to fly: {cost_text(found, what, show)} less in all"
    )
    text += _most(found.most, show)
    return Told(found.telling, "glides", text, "Speed to fly", str(found.most.number))


def _most(one: SpeedToFly, show: Display) -> str:
    """On which glide most was lost, and at what speeds."""
    if one.flown_airspeed_mps is None or one.best_airspeed_mps is None:
        return ""
    flown, best = (
        with_interval(figure, "speed", show) for figure in (one.flown_airspeed_mps, one.best_airspeed_mps)
    )
    return f"; most on glide {one.number}, flown at {flown} where {best} would have been best"


def _silence(subject: Subject) -> Told | None:
    """How much the recorder missed."""
    telling, budget = facts.silence(subject.flight), subject.flight.time_budget
    if telling is None or budget is None:
        return None
    share = subject.show.joined(subject.show.figure(budget.silent_s / budget.total_s, "share"), "share")
    text = f"the recorder was silent for {duration(budget.silent_s)}, {share} of the flight"
    return Told(telling, "log", text, "Time budget")


RULES: Sequence[Callable[[Subject], Told | None]] = (
    _go_arounds,
    _odd_launch,
    _unsteady_landing,
    _wind_change,
    _no_wind,
    _glides_in_wind,
    _beside_the_maker,
    _weak_climbing,
    _ways_in_and_out,
    _off_centre,
    _best_climb,
    _searching,
    _time_cost,
    _height_cost,
    _silence,
    plain_findings.budget,
    plain_findings.height,
    plain_findings.mean_wind,
    plain_findings.possible_passes,
    plain_findings.landing,
    plain_findings.launch,
)
"""One a kind of fact; those that are plain come last, in the order in which they are wanted."""
