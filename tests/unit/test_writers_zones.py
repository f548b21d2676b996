"""Whose clock a page shows: asked for, named in the log, legal at the place; UTC only where nothing is known."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from flightlog.writers.display import Display, display_in
from flightlog.writers.page import page_of
from flightlog.writers.zones import settled, zone_at, zone_shared_by
from tests.unit.made_debrief import made_debrief, without_flights

OPEN = Display(follows_log=True)


def at(lat_deg: float, lon_deg: float, *, offset_h: float | None = None, when: datetime | None = None):
    """A made Debrief moved to another place, with what its header says of local time."""
    debrief = made_debrief()
    takeoff = replace(debrief.flights[0].takeoff, lat_deg=lat_deg, lon_deg=lon_deg)
    if when is not None:
        takeoff = replace(takeoff, time=when)
    flights = (replace(debrief.flights[0], takeoff=takeoff),)
    header = replace(debrief.track.header, utc_offset_s=None if offset_h is None else offset_h * 3600.0)
    return replace(debrief, flights=flights, track=replace(debrief.track, header=header))


@pytest.mark.parametrize(
    ("lat_deg", "lon_deg", "name", "offset_h"),
    [  # places far from any border; zones and offsets in June: IANA time zone database
        (60.0, 10.0, "Europe/Oslo", 2.0),
        (28.0, 84.5, "Asia/Kathmandu", 5.75),
        (-31.0, 117.0, "Australia/Perth", 8.0),
        (-44.0, 170.5, "Pacific/Auckland", 12.0),
        (4.5, -75.7, "America/Bogota", -5.0),
        (40.0, -110.5, "America/Denver", -6.0),
        (0.0, -30.0, "UTC−2", -2.0),
    ],
)
def test_legal_time_of_the_place(lat_deg, lon_deg, name, offset_h):
    show = settled(at(lat_deg, lon_deg), OPEN)
    assert show.zone_name == name
    assert show.zone_reason == "legal time at take-off"
    assert datetime(2026, 6, 14, tzinfo=UTC).astimezone(show.zone).utcoffset().total_seconds() == offset_h * 3600.0


@pytest.mark.parametrize(
    ("year", "month", "local"),
    # Turkey left UTC+2 with summer time for UTC+3 all year in September 2016 (IANA database, europe)
    [(2015, 12, "12:00:00"), (2015, 7, "13:00:00"), (2018, 12, "13:00:00")],
)
def test_the_rules_of_the_day_hold(year, month, local):
    moment = datetime(year, month, 1, 10, tzinfo=UTC)
    show = settled(at(38.5, 34.5, when=moment), OPEN)
    assert show.zone_name == "Europe/Istanbul"
    assert show.clock(moment) == local


def test_the_offset_in_the_log_comes_first():
    show = settled(at(46.5, 10.9, offset_h=1.0), OPEN)  # in summer time the place had UTC+2
    assert (show.zone_name, show.zone_reason) == ("UTC+1", "named in the log; legal time there was UTC+2")
    show = settled(at(46.5, 10.9, offset_h=2.0), OPEN)
    assert (show.zone_name, show.zone_reason) == ("Europe/Rome", "legal time at take-off, as the log says")


def test_an_offset_that_was_never_set_gives_way_to_the_place():
    assert settled(at(46.5, 10.9, offset_h=0.0), OPEN).zone_name == "Europe/Rome"
    assert settled(at(46.5, 10.9, offset_h=-9.0), OPEN).zone_name == "Europe/Rome"


def test_the_zone_asked_for_stays():
    assert settled(at(46.5, 10.9, offset_h=1.0), display_in("metric", "UTC")).zone_name == "UTC"
    assert settled(at(46.5, 10.9), display_in("aviation", "Asia/Kathmandu")).zone_name == "Asia/Kathmandu"


def test_without_a_date_only_the_log_itself_knows():
    bare = at(46.5, 10.9)
    undated = replace(bare, log=replace(bare.log, date=None))
    show = settled(undated, OPEN)
    assert (show.zone_name, show.zone_reason) == ("UTC", "local time changes with the date, and the log has none")
    with_offset = at(46.5, 10.9, offset_h=1.0)
    assert settled(replace(with_offset, log=replace(with_offset.log, date=None)), OPEN).zone_name == "UTC+1"


def test_a_place_whose_zone_is_not_known_is_shown_in_utc_and_says_so(monkeypatch):
    monkeypatch.setattr("tzfpy.get_tz", lambda *_: "")
    page = page_of(at(46.5, 10.9))
    clock = next(fact for fact in page.facts if fact.label == "Clock")
    assert (clock.value, clock.detail) == ("UTC", "the log does not tell the local time")


def test_a_zone_newer_than_the_installed_rules_is_not_known(monkeypatch):
    monkeypatch.setattr("tzfpy.get_tz", lambda *_: "Europe/Nowhere-yet")
    assert zone_at(46.5, 10.9) is None


def test_a_log_without_flights_is_shown_in_the_time_of_its_place():
    show = settled(without_flights(), OPEN)
    assert (show.zone_name, show.zone_reason) == ("Europe/Rome", "legal time at the place")


def test_the_page_names_its_clock_and_the_local_day():
    page = page_of(at(-44.0, 170.5, when=datetime(2026, 6, 14, 22, 0, 0, tzinfo=UTC)))
    assert page.title == "Soaring log of 2026-06-15"
    assert ("Clock", "Pacific/Auckland") in [(fact.label, fact.value) for fact in page.facts]
    assert page.flights[0].title.startswith("Flight 1, 10:00:00 to ")
    assert page.flights[0].title.endswith("Pacific/Auckland")


def test_one_page_about_several_logs():
    rome, oslo = settled(at(46.5, 10.9), OPEN), settled(at(60.0, 10.0), OPEN)
    assert zone_shared_by([rome, rome], OPEN).zone_name == "Europe/Rome"
    mixed = zone_shared_by([rome, oslo], OPEN)
    assert (mixed.zone_name, mixed.zone_reason) == ("UTC", "the logs are from several time zones")
    assert zone_shared_by([], OPEN).zone_name == "UTC"
    assert zone_shared_by([rome, oslo], display_in("metric", "Asia/Kathmandu")).zone_name == "Asia/Kathmandu"
