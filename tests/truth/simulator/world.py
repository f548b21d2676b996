"""The air: wind with height and time, thermals that lean and have sink around them, lift along the slope."""

from __future__ import annotations

import math
import random
from dataclasses import dataclass

from .terrain import Hill


@dataclass(frozen=True)
class AirSettings:
    """What the day is like; see Scenario for the meaning of each figure."""

    wind_mps: float
    wind_from_deg: float
    shear_per_km: float
    veer_deg_per_km: float
    wander_share: float
    wander_deg: float
    gust_mps: float
    gust_length_m: float
    general_mps: float
    thermal_mps: float
    anabatic_mps: float


@dataclass(frozen=True)
class Thermal:
    """A leaning column of rising air: Gaussian core with a ring of sink, living for a while.

    Rise = strength x share(t, z) x (exp(-q) - ring (q/6) exp(1 - q/6)), q = (distance / radius)^2.
    """

    x_m: float
    y_m: float
    base_m: float
    top_m: float
    born_s: float
    life_s: float
    strength_mps: float
    radius_m: float
    lean_x: float  # metres east for each metre up
    lean_y: float
    drift_x_mps: float  # a torn-off thermal drifts; a fixed one stays over its source
    drift_y_mps: float
    ring: float = 0.15

    def core(self, t: float, z: float) -> tuple[float, float]:
        """Where the middle of the rising air is at this time and altitude (m)."""
        up, age = z - self.base_m, t - self.born_s
        return (
            self.x_m + self.lean_x * up + self.drift_x_mps * age,
            self.y_m + self.lean_y * up + self.drift_y_mps * age,
        )

    def strength(self, t: float, z: float) -> float:
        """Rise in the core (m/s)."""
        age = (t - self.born_s) / self.life_s
        up = (z - self.base_m) / (self.top_m - self.base_m)
        if not 0 < age < 1 or not -0.05 < up < 1:
            return 0.0
        up = max(up, 0.02)
        return self.strength_mps * math.sqrt(math.sin(math.pi * age)) * (4 * up * (1 - up)) ** 0.35

    def rise(self, t: float, x: float, y: float, z: float) -> float:
        """Vertical speed of the air at a point (m/s)."""
        cx, cy = self.core(t, z)
        q = ((x - cx) ** 2 + (y - cy) ** 2) / (self.radius_m * self.radius_m)
        if q > 30:
            return 0.0
        return self.strength(t, z) * (math.exp(-q) - self.ring * (q / 6) * math.exp(1 - q / 6))


@dataclass(frozen=True)
class LiftLine:
    """A straight band of lift, such as under a row of clouds."""

    x_m: float
    y_m: float
    direction_rad: float
    length_m: float
    half_width_m: float
    rise_mps: float

    def side_m(self, x: float, y: float) -> float:
        """How far to the right of its middle a point lies."""
        return (x - self.x_m) * math.cos(self.direction_rad) - (y - self.y_m) * math.sin(self.direction_rad)

    def left_m(self, x: float, y: float) -> float:
        """How much of it lies ahead of a point."""
        sin, cos = math.sin(self.direction_rad), math.cos(self.direction_rad)
        return self.length_m - (x - self.x_m) * sin - (y - self.y_m) * cos

    def is_worth_following(self, x: float, y: float) -> bool:
        """Whether it carries well here, and for a while yet."""
        return self.left_m(x, y) > 400 and self.rise(x, y) > 0.7 * self.rise_mps

    def rise(self, x: float, y: float) -> float:
        """Vertical speed of the air at a point (m/s)."""
        ahead, side = self.length_m - self.left_m(x, y), self.side_m(x, y)
        if ahead < -300 or ahead > self.length_m + 300 or abs(side) > 3 * self.half_width_m:
            return 0.0
        ends = min(1.0, max(0.0, (ahead + 150) / 300)) * min(1.0, max(0.0, (self.length_m + 150 - ahead) / 300))
        return self.rise_mps * ends * math.exp(-((side / self.half_width_m) ** 2))


class World:
    """The hill and the air of one day."""

    def __init__(self, air: AirSettings, hill: Hill, rng: random.Random, hours: float = 6.0):
        self.air = air
        self.hill = hill
        self.rng = rng
        self.thermals: list[Thermal] = []
        self.lines: list[LiftLine] = []
        count = int(hours * 360) + 2
        self._speed_share = _slow_walk(rng, count, air.wander_share)
        self._turn_rad = _slow_walk(rng, count, math.radians(air.wander_deg))
        self._towards_rad = math.radians(air.wind_from_deg + 180)
        self._veer_rad_per_km = math.radians(air.veer_deg_per_km)
        self._nearby: list[Thermal] = []
        self._nearby_until = -1.0
        self._region: list[Thermal] = []
        self._region_until, self._region_count = -1.0, 0

    def mean_wind(self, t: float, z: float) -> tuple[float, float]:
        """The wind without gusts and away from the ground: where the air goes, east and north (m/s)."""
        air, shares, turns = self.air, self._speed_share, self._turn_rad
        k = t * 0.1 if t > 0.0 else 0.0
        i = min(int(k), len(shares) - 2)
        f = k - i
        rest = 1 - f
        swell = 1 + (shares[i] * rest + shares[i + 1] * f)
        turn = turns[i] * rest + turns[i + 1] * f
        up = (z - self.hill.crest_m) * 0.001
        up = 3.0 if up > 3.0 else -0.6 if up < -0.6 else up
        shear = 1 + air.shear_per_km * up
        speed = air.wind_mps * (swell if swell > 0.0 else 0.0) * (shear if shear > 0.1 else 0.1)
        towards = self._towards_rad + turn + self._veer_rad_per_km * up
        return speed * math.sin(towards), speed * math.cos(towards)

    def surface_share(self, height_above_ground: float) -> float:
        """How much of the wind is left this close to the ground."""
        return 1 - 0.28 * math.exp(-max(height_above_ground, 0.0) / 7)

    def rise(self, t: float, x: float, y: float, z: float, wind: tuple[float, float]) -> float:
        """Vertical speed of the air, gusts left out (m/s)."""
        total = self.slope_rise(x, y, z, wind)
        if t >= self._nearby_until:
            self._refresh_nearby(t, x, y, z)
        if self._nearby:  # two columns that meet do not add up
            most = least = 0.0
            for thermal in self._nearby:
                rise = thermal.rise(t, x, y, z)
                if rise > most:
                    most = rise
                elif rise < least:
                    least = rise
            total += most + least
        for line in self.lines:
            total += line.rise(x, y)
        return total

    def forget(self) -> None:
        """Drop what is remembered of the thermals around the pilot (needed when time is turned back)."""
        self._nearby_until, self._region_until = -1.0, 0.0

    def _refresh_nearby(self, t: float, x: float, y: float, z: float) -> None:
        self._nearby_until = t + 3.0
        if t >= self._region_until or self._region_count != len(self.thermals):
            self._region_until, self._region_count = t + 60.0, len(self.thermals)
            self._region = [
                thermal for thermal in self.thermals
                if t - 1 < thermal.born_s + thermal.life_s and thermal.born_s < t + 70
                and abs(thermal.core(t, z)[0] - x) < 4000 and abs(thermal.core(t, z)[1] - y) < 4000
            ]  # fmt: skip
        self._nearby = []
        for thermal in self._region:
            if thermal.born_s <= t + 3 and t <= thermal.born_s + thermal.life_s:
                cx, cy = thermal.core(t, z)
                reach = 5.5 * thermal.radius_m + 130
                if abs(cx - x) < reach and abs(cy - y) < reach:
                    self._nearby.append(thermal)

    def slope_rise(self, x: float, y: float, z: float, wind: tuple[float, float]) -> float:
        """Lift in front of the hill, growing with the wind onto it, and the sink behind its edge (m/s)."""
        hill = self.hill
        along = x * hill.along_x + y * hill.along_y
        out = x * hill.out_x + y * hill.out_y
        if out > hill.face_m + 250 or out < -700 or abs(along) > hill.half_length_m + 800:
            return 0.0
        above = z - hill.crest_m
        if above > 900:
            return 0.0
        onto = -(wind[0] * hill.out_x + wind[1] * hill.out_y)
        force = 0.30 * max(onto, -1.0) + self.air.anabatic_mps
        if above >= 0:
            middle, width = 28 - 0.05 * min(above, 200), 50 + 0.3 * above
            fade = math.exp(-above / (0.42 * hill.relief_m))
        else:
            middle, width = hill.face_out(z) + 28, 50.0
            fade = 0.4 + 0.6 * max(0.0, (z - hill.valley_m) / hill.relief_m)
        off = (out - middle) / (width if out < middle else 1.7 * width)
        rise = force * fade * math.exp(-off * off)
        if out < middle:
            behind = min(1.0, max(0.0, -off - 0.8))
            rise -= (
                0.10 * max(onto, 0.0) * behind * math.exp(-max(above, 0.0) / 70) * math.exp(-((out / 400) ** 2))
            )
        return rise * hill.length_share(along)

    def make_thermal(self, x: float, y: float, born_s: float, rng: random.Random, share: float = 1.0) -> Thermal:
        """Add a thermal at this source, drawn at random around the strength of the day."""
        strength = max(0.8, self.air.thermal_mps * rng.uniform(0.65, 1.35)) * share
        base = self.hill.height(x, y)
        top = base + rng.uniform(900, 1700)
        wind = self.mean_wind(born_s, base + 500)
        rise = max(0.8 * strength, 1.5)
        drift = min(
            1.0, max(0.0, rng.uniform(-0.4, 1.0) + 0.08 * math.hypot(*wind))
        )  # torn off more in strong wind
        lean = (1 - drift) * min(1.0, 2.5 / max(1e-6, math.hypot(*wind) / rise)) / rise
        thermal = Thermal(
            x, y, base, top, born_s, rng.uniform(700, 1700), strength, rng.uniform(55, 130),
            wind[0] * lean, wind[1] * lean, wind[0] * drift, wind[1] * drift,
        )  # fmt: skip
        self.thermals.append(thermal)
        return thermal


def _slow_walk(rng: random.Random, count: int, spread: float, correlation_s: float = 2400.0) -> list[float]:
    """A slowly wandering value on a 10 s grid, smooth over minutes."""
    keep = math.exp(-10 / correlation_s)
    push = spread * math.sqrt(1 - keep * keep)
    value, smooth, values = rng.gauss(0, spread), 0.0, []
    smooth = value
    for _ in range(count):
        value = value * keep + rng.gauss(0, push)
        smooth += (value - smooth) * 10 / 240
        values.append(smooth)
    return values
