"""What the rules of `page_findings` are given, and what they give."""

from __future__ import annotations

from dataclasses import dataclass

from flightlog.estimates import Estimate, Wind
from flightlog.measures.findings import Claim, DearSpeeds
from flightlog.measures.results import Flight
from flightlog.writers.display import Display, duration
from flightlog.writers.page_tables import direction, has_direction


@dataclass(frozen=True)
class Subject:
    """What rules are given: a flight, how it stands beside the maker's polar, and how to speak."""

    flight: Flight
    claim: Claim | None
    show: Display


@dataclass(frozen=True)
class Told:
    """A sentence, how telling it is, what it is about, and the title of the table that shows it."""

    telling: float
    about: str  # ground | climbs | glides | air | log
    text: str
    table: str
    row: str = ""  # first cell of the row in it


def with_interval(figure: Estimate, kind: str, show: Display) -> str:
    """An estimate with its unit."""
    return show.joined(show.estimate(figure, kind), kind)


def cost_text(found: DearSpeeds, what: str, show: Display) -> str:
    """Time or height lost, with its interval."""
    if what == "height":
        return with_interval(found.cost, "height", show)
    return f"{duration(found.cost.value)} ({duration(found.cost.low)} to {duration(found.cost.high)})"


def claim_text(claim: Claim, show: Display) -> str:
    """The difference from the maker's polar in one figure."""
    one = claim.difference
    if one.figure == "best_glide_ratio":
        makers = show.figure(claim.makers, "ratio")
        return f"best glide ratio {_signed(one.difference, 'ratio', show)} against its {makers}"
    at = f" at {show.with_unit(one.airspeed_mps, 'speed')}" if one.airspeed_mps is not None else ""
    name = "least sink" if one.figure == "min_sink_mps" else f"sink{at}"
    makers = show.with_unit(claim.makers, "vertical")
    return f"{name} {_signed(one.difference, 'vertical', show)} against its {makers}"


def _signed(figure: Estimate, kind: str, show: Display) -> str:
    """A difference with its sign and its interval."""
    text = with_interval(figure, kind, show)
    return f"+{text}" if figure.value > 0 and text.partition(" ")[0].strip("0.") else text


def whence(wind: Wind, show: Display) -> str:
    """Where a wind comes from; no direction where the wind is not surely one.

    >>> [whence(Wind(7.4, speed, 0.0, 0.0, 0.3, 4.0), Display()) for speed in (3.0, 0.5)]
    ['from 007°', 'from no sure direction']
    """
    return f"from {direction(wind, show)}" if has_direction(wind) else "from no sure direction"
