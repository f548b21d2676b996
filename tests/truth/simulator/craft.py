"""A wing moving through the air of the day, one small step after another, and what was true at each step."""

from __future__ import annotations

import math
import random
from dataclasses import dataclass, field

from .terrain import CARRY_HEIGHT_M
from .wing import GRAVITY_MPS2, Wing, density_speed_factor
from .world import World

STEP_S = 0.2
_SPEED_PUSH, _BANK_PUSH = math.sqrt(2 * STEP_S / 9), math.sqrt(2 * STEP_S / 5)
STATE_COLUMNS = (
    "time_s", "east_m", "north_m", "altitude_m", "airspeed_mps", "heading_rad", "bank_rad",
    "wind_east_mps", "wind_north_mps", "gust_east_mps", "gust_north_mps", "airmass_mps", "climb_mps",
    "drag_share", "in_air",
)  # fmt: skip


class DayOverError(Exception):
    """The day is over, whatever the pilot was doing."""


class GroundContactError(Exception):
    """The wing touches the ground."""


@dataclass
class Marks:
    """What the pilot was doing, written down as it was done."""

    phases: list[tuple[float, str, str | None, str]] = field(default_factory=list)  # start, kind, mode, behaviour
    events: list[tuple[float, str, dict]] = field(default_factory=list)


@dataclass(frozen=True)
class Checkpoint:
    """A moment of the day to come back to."""

    state: dict[str, float]
    counts: tuple[int, ...]


class Craft:
    """State of the wing: position, airspeed, heading, bank; `step` moves it on by one time step."""

    def __init__(self, wing: Wing, world: World, rng: random.Random, speed_wander_mps: float, end_s: float):
        self.wing, self.world, self.rng = wing, world, rng
        self.speed_wander_mps = speed_wander_mps
        self.end_s = end_s
        self.t = 0.0
        self.x, self.y = world.hill.launch.x_m, world.hill.launch.y_m
        self.z = world.hill.height(self.x, self.y) + CARRY_HEIGHT_M
        self.v = 0.0
        self.psi = math.radians(world.hill.faces_deg)
        self.bank = 0.0
        self.wx, self.wy = world.mean_wind(0.0, self.z)
        self.gx = self.gy = self.gz = 0.0
        self.slow_rise = 0.0
        self.wander = 0.0
        self.bank_wander = 0.0
        self.air_rise = 0.0
        self.climb = 0.0
        self.vario = 0.0  # felt by the pilot: smoothed over about 1.5 s
        self.ground_z = self.z - CARRY_HEIGHT_M
        self.rows: list[tuple[float, ...]] = []
        self.marks = Marks()
        self._polar = wing.polar

    # -- marks ------------------------------------------------------------------------------------------------
    def phase(self, kind: str, mode: str | None = None, behaviour: str = "") -> None:
        """From now on the pilot does this."""
        self.marks.phases.append((self.t, kind, mode, behaviour or kind))

    def event(self, name: str, **details: object) -> None:
        """Something true happened now."""
        self.marks.events.append((self.t, name, details))

    def checkpoint(self) -> Checkpoint:
        """Where everything stands now, for `rewind`."""
        state = {name: value for name, value in vars(self).items() if isinstance(value, float)}
        return Checkpoint(state, tuple(len(one) for one in self._grown()))

    def rewind(self, checkpoint: Checkpoint) -> None:
        """Back to a checkpoint, as if what came after had not been flown; chance goes on, so it comes out anew."""
        vars(self).update(checkpoint.state)
        for one, count in zip(self._grown(), checkpoint.counts, strict=True):
            del one[count:]
        self.world.forget()

    def _grown(self) -> tuple[list, ...]:
        """The lists that grow as the day goes on."""
        return self.rows, self.marks.phases, self.marks.events, self.world.thermals, self.world.lines

    # -- motion -----------------------------------------------------------------------------------------------
    @property
    def height(self) -> float:
        """Height of the recorder's carrier (feet) above the ground (m)."""
        return self.z - self.ground_z - CARRY_HEIGHT_M

    def step(self, bank_command: float, speed_command: float, drag: float = 1.0, flare: bool = False) -> None:
        """Fly for one step: bank (radians, right positive), equivalent airspeed for wings level, extra drag.

        Only in a flare does the pilot let the wing fly slower than three quarters of its min-sink speed.
        """
        dt, wing, gauss, wander_mps = STEP_S, self.wing, self.rng.gauss, self.speed_wander_mps
        factor = density_speed_factor(self.z)
        # the pilot's hands wander
        self.wander += -self.wander * dt / 9 + wander_mps * _SPEED_PUSH * gauss(0, 1)
        self.bank_wander += -self.bank_wander * dt / 5 + 0.045 * wander_mps * _BANK_PUSH * gauss(0, 1)
        rate = (bank_command + self.bank_wander - self.bank) / wing.roll_lag_s
        self.bank += _within(rate, wing.roll_rate_rad) * dt
        load = 1 / math.cos(self.bank)
        root = math.sqrt(load)
        least = 0.45 * wing.trim_mps if flare else 0.75 * wing.min_sink_speed_mps
        speed = speed_command + self.wander
        gain = _within(((speed if speed > least else least) * root * factor - self.v) / wing.speed_lag_s, 3.0)
        self.v += gain * dt
        v = self.v
        self.psi += GRAVITY_MPS2 * math.tan(self.bank) / v * dt
        level = v / factor / root
        a, b, c = self._polar
        sink = ((a * level + b) * level + c) * load * root * factor * drag
        self._move_air(dt, v)
        self.climb = self.air_rise - sink - v * gain / GRAVITY_MPS2
        self.vario += (self.climb - self.vario) * dt / 1.5
        self.x += (v * math.sin(self.psi) + self.wx + self.gx) * dt
        self.y += (v * math.cos(self.psi) + self.wy + self.gy) * dt
        self.z += self.climb * dt
        self.ground_z = self.world.hill.height(self.x, self.y)
        self._write(drag, 1.0)
        if self.z - self.ground_z - CARRY_HEIGHT_M <= 0:
            raise GroundContactError

    def _move_air(self, dt: float, v: float) -> None:
        """The wind, gusts and rise of the air at this place and time (Ornstein-Uhlenbeck along the path)."""
        world, gauss, air, height = self.world, self.rng.gauss, self.world.air, self.height
        wind = world.mean_wind(self.t, self.z)
        share = world.surface_share(height) if self.z - self.ground_z < 40 else 1.0
        self.wx, self.wy = wind[0] * share, wind[1] * share
        if air.gust_mps > 0:
            keep = 1 - abs(v) * dt / air.gust_length_m
            keep = keep if keep > 0.0 else 0.0
            push = air.gust_mps * math.sqrt(1 - keep * keep)
            near = min(1.0, 0.35 + height / 30) if height < 20 else 1.0  # vertical gusts die at the ground
            self.gx = self.gx * keep + push * gauss(0, 1)
            self.gy = self.gy * keep + push * gauss(0, 1)
            self.gz = self.gz * keep + 0.7 * push * gauss(0, 1) * near
        if air.general_mps > 0:
            keep = 1 - abs(v) * dt / 600
            self.slow_rise = self.slow_rise * keep + air.general_mps * math.sqrt(1 - keep * keep) * gauss(0, 1)
        near = 1.0 if height >= 40 else max(height, 0.0) / 40
        self.air_rise = world.rise(self.t, self.x, self.y, self.z, wind) + self.gz + self.slow_rise * near

    def stand(self, east_mps: float, north_mps: float, heading_rad: float | None = None) -> None:
        """One step on the ground, moving with this velocity."""
        dt = STEP_S
        if heading_rad is not None:
            self.psi = heading_rad
        wind = self.world.mean_wind(self.t, self.z)
        share = self.world.surface_share(1.0)
        self.wx, self.wy = wind[0] * share, wind[1] * share
        before = self.z
        self.x += east_mps * dt
        self.y += north_mps * dt
        self.ground_z = self.world.hill.height(self.x, self.y)
        self.z = self.ground_z + CARRY_HEIGHT_M
        self.climb = (self.z - before) / dt
        self.bank = 0.0
        headwind = -(self.wx * math.sin(self.psi) + self.wy * math.cos(self.psi))
        self.v = headwind + east_mps * math.sin(self.psi) + north_mps * math.cos(self.psi)
        self.air_rise = 0.0
        self._write(1.0, 0.0)

    def _write(self, drag: float, in_air: float) -> None:
        self.t += STEP_S
        self.rows.append((
            self.t, self.x, self.y, self.z, self.v, self.psi, self.bank,
            self.wx, self.wy, self.gx, self.gy, self.air_rise, self.climb, drag, in_air,
        ))  # fmt: skip
        if self.t > self.end_s:
            raise DayOverError


def _within(value: float, limit: float) -> float:
    """The value, held between minus and plus the limit (as min and max would, at half their time)."""
    return limit if value > limit else -limit if value < -limit else value
