"""Whole days as a pilot flies them."""

from __future__ import annotations

from contextlib import suppress

from .craft import Craft, DayOverError, GroundContactError
from .crosscountry import cross_country, polar_day, task_flight
from .landing import settle
from .onfoot import drive, stand
from .scenario import Scenario
from .toplanding import top_landing_day

KINDS = {
    "cross_country": cross_country,
    "top_landing": top_landing_day,
    "polar": polar_day,
    "task": task_flight,
}


def fly_day(craft: Craft, scenario: Scenario) -> None:
    """The whole day, until it is over."""
    try:
        for _ in range(4):
            with suppress(GroundContactError):
                KINDS[scenario.kind](craft, scenario)
            if not craft.rows[-1][-1]:
                break
            settle(craft, None)  # still flying: the ground came up
            if scenario.kind != "cross_country" or craft.z < craft.world.hill.crest_m - 20:
                break  # too far to walk back and try again
        stand(craft, craft.rng.uniform(30, 180))
        if scenario.drives_home:
            drive(craft, craft.rng.uniform(240, 700))
    except DayOverError:
        craft.event("end_of_day")
