"""From a scenario and a seed to a log and its truth."""

from __future__ import annotations

import math
import random
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from functools import cached_property

from .craft import Craft
from .crosscountry import fill_with_thermals
from .days import fly_day
from .recording import gpx_text, igc_text, places_geojson
from .scenario import Scenario
from .sensors import Fixes, record
from .terrain import SITES, Hill, Site, to_latitude_longitude
from .truth import Truth
from .wing import Wing, draw_wing
from .world import AirSettings, World


@dataclass(frozen=True, eq=False)
class SimulatedLog:
    """A log whose answer is known."""

    scenario: Scenario
    seed: int
    site: Site
    wing: Wing
    fixes: Fixes
    truth: Truth

    @cached_property
    def igc(self) -> str:
        """The log as an IGC file."""
        return igc_text(self.scenario, self.site, self.fixes, self.truth.epoch_s, self.wing.name)

    @cached_property
    def gpx(self) -> str:
        """The log as a GPX 1.1 file."""
        return gpx_text(self.scenario, self.site, self.fixes, self.truth.epoch_s)

    @property
    def text(self) -> str:
        """The log in the form the scenario asks for."""
        return self.gpx if self.scenario.form == "gpx" else self.igc

    @cached_property
    def places_geojson(self) -> str:
        """The launch, the top meadow and the valley field."""
        return places_geojson(self.site, self.truth.world.hill.places)

    @cached_property
    def wing_toml(self) -> str:
        """A wing file: the still-air polar of the wing as its maker would give it."""
        return wing_toml(self.wing)

    def latitude_longitude(self, east_m: float, north_m: float) -> tuple[float, float]:
        """Degrees of a point of the truth."""
        return to_latitude_longitude(self.site, east_m, north_m)


def wing_toml(wing: Wing) -> str:
    """A wing file in the form of the contract."""
    lines = [
        f'name = "{wing.name}"', f'class = "{wing.wing_class}"', f"empty_kg = {wing.empty_kg:.1f}",
        f"all_up_kg = {wing.all_up_kg:.1f}",
    ]  # fmt: skip
    for k in range(7):
        speed = wing.min_sink_speed_mps * 0.97 + k * (wing.top_mps - wing.min_sink_speed_mps * 0.97) / 6
        lines += ["", "[[polar]]", f"airspeed_mps = {speed:.2f}", f"sink_mps = {wing.sink_mps(speed):.3f}"]
    return "\n".join(lines) + "\n"


def simulate(scenario: Scenario, seed: int) -> SimulatedLog:
    """Fly the scenario; the same scenario and seed give the same log."""
    draw = random.Random(f"world {seed if scenario.world_seed is None else scenario.world_seed}")
    site = SITES[scenario.site if scenario.site is not None else draw.randrange(len(SITES))]
    from_deg = scenario.wind_from_deg if scenario.wind_from_deg is not None else draw.uniform(0, 360)
    hill = Hill(draw, (from_deg + scenario.wind_off_slope_deg) % 360, scenario.hill_name)
    air = AirSettings(
        scenario.wind_mps, from_deg, scenario.shear_per_km, scenario.veer_deg_per_km, scenario.wind_wander_share,
        scenario.wind_wander_deg, scenario.gust_mps, scenario.gust_length_m, scenario.general_air_mps,
        scenario.thermal_mps, scenario.anabatic_mps,
    )  # fmt: skip
    world = World(air, hill, draw)
    wing = draw_wing(
        scenario.wing_class, random.Random(f"wing {seed if scenario.wing_seed is None else scenario.wing_seed}")
    )
    if scenario.best_ratio is not None:
        wing = replace(wing, best_ratio=scenario.best_ratio)
    longest = scenario.flight_minutes * 60 * 2.5 + 6000
    craft = Craft(
        wing, world, random.Random(f"flight {seed}"), scenario.speed_wander_mps, min(longest, 5.5 * 3600)
    )
    if scenario.kind in ("cross_country", "task") and scenario.thermal_mps > 0:
        fill_with_thermals(
            world, draw, 15000 + 4000 * scenario.flight_minutes / 60, scenario.flight_minutes * 60 + 3000
        )
    fly_day(craft, scenario)
    return _recorded(scenario, seed, site, wing, craft, draw)


def _recorded(
    scenario: Scenario, seed: int, site: Site, wing: Wing, craft: Craft, draw: random.Random
) -> SimulatedLog:
    first, last = craft.rows[0][0], craft.rows[-1][0]
    lift_offs = [t for t, name, _ in craft.marks.events if name == "lift_off"]
    downs = [t for t, name, _ in craft.marks.events if name == "touchdown"]
    if scenario.start_in_air and lift_offs:
        first = lift_offs[0] + draw.uniform(40, 300)
    if scenario.ends_before_landing and downs:
        last = downs[-1] - draw.uniform(20, 150)
    truth = Truth(craft, craft.world, wing, _epoch(scenario, site, last, draw), (first, last))
    rows = truth.states.copy()
    rows[:, 0] -= truth.epoch_s
    fixes, truth.sensors = record(scenario, rows, first, last, random.Random(f"sensors {seed}"))
    return SimulatedLog(scenario, seed, site, wing, fixes, truth)


def _epoch(scenario: Scenario, site: Site, last: float, draw: random.Random) -> float:
    """UTC second at which the day begins: around noon of the place, or so that midnight UTC is crossed."""
    day = datetime(2025, 4, 1, tzinfo=UTC) + timedelta(days=draw.randrange(120))
    hour = site.local_noon_utc_h + draw.uniform(-1.5, 1.0)
    if scenario.over_midnight:
        return float(math.floor(day.timestamp() + 86400 - last * draw.uniform(0.25, 0.75)))
    return float(math.floor(day.timestamp() + hour * 3600))
