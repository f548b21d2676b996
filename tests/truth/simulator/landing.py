"""Approaches: eights, circuit or straight in; landing, or breaking off at a known moment to fly away."""

from __future__ import annotations

import math
from contextlib import suppress

from .craft import STEP_S, Craft, GroundContactError
from .navigation import BANK_LIMIT, bank_for_heading, bank_for_point, distance_to, heading_for_track, wrapped
from .terrain import CARRY_HEIGHT_M, Ground

FARTHEST_BREAK_OFF_M = 95.0
PATTERNS = ("figure_of_eight", "circuit", "straight_in")


class _BrokenOffError(Exception):
    """The pilot gives this pass up."""


class _LandedError(Exception):
    """The feet touch."""


class _CutShortError(Exception):
    """Low: straight to the final from here."""


class Approach:
    """One pass at a landing place, in a frame of the wind: `ahead` metres upwind of it, `aside` to the right."""

    def __init__(self, craft: Craft, place: Ground, pattern: str, break_off_m: float | None, on_top: bool):
        self.craft, self.place, self.pattern = craft, place, pattern
        self.break_off_m, self.on_top = break_off_m, on_top
        hill = craft.world.hill
        wind = craft.world.mean_wind(craft.t, place.elevation_m + 15)
        self.wind_mps = math.hypot(*wind)
        out = math.radians(hill.faces_deg)
        course = math.atan2(-wind[0], -wind[1]) if self.wind_mps > 0.8 else out
        if on_top:
            course = out + max(-0.9, min(0.9, wrapped(course - out)))
        self.course = course
        wing = craft.wing
        self.speed = wing.trim_mps * craft.rng.uniform(0.95, 1.05)
        self.sink = wing.sink_mps(self.speed)
        forward = max(1.5, self.speed - self.wind_mps * 0.9)
        self.final_s = (
            craft.rng.uniform(9, 14) * {"paraglider": 1.0, "hang_glider": 1.25, "rigid_wing": 1.5}[wing.wing_class]
        )
        self.final_m = forward * self.final_s
        self.final_height_m = self.final_s * self.sink * 0.9
        self.side_m = craft.rng.uniform(35, 60) * (1.0 if wing.wing_class == "paraglider" else 1.6)
        self.aim_ahead, self.aim_height = self._aim(forward)
        self.armed = False  # far enough along for a break-off
        self.behind = False  # has been downwind of the place
        self.why = ""  # why it was broken off

    def _aim(self, forward: float) -> tuple[float, float]:
        """Where the final points: the middle of the place; a pass to be broken off low ends nearer to the edge."""
        if self.break_off_m is None or not self.on_top:
            short = 0.3 if self.craft.wing.wing_class == "paraglider" else 0.7
            return -short * self.place.radius_m if self.on_top else 0.0, 0.0
        _, out = self.craft.world.hill.frame(self.place.x_m, self.place.y_m)
        reach = max(4.0, (self.break_off_m - 0.7) * forward / (1.2 * self.sink))
        return max(0.0, min(-out - 6, -out - reach)), self.break_off_m * 0.85

    @property
    def needed_height_m(self) -> float:
        """Height above the place at which this pattern is best begun."""
        rest = {"straight_in": 3.0, "circuit": 8.0, "figure_of_eight": 14.0}[self.pattern]
        turns = {"straight_in": 0.0, "circuit": 1.5, "figure_of_eight": 2.5}[self.pattern]
        return self.final_height_m + rest + turns * self.sink * self.side_m / self.speed

    def point(self, ahead: float, aside: float) -> tuple[float, float]:
        """East and north of a point of the wind frame."""
        sin, cos = math.sin(self.course), math.cos(self.course)
        return self.place.x_m + ahead * sin + aside * cos, self.place.y_m + ahead * cos - aside * sin

    def where(self) -> tuple[float, float]:
        """(ahead, aside) of the pilot."""
        dx, dy = self.craft.x - self.place.x_m, self.craft.y - self.place.y_m
        sin, cos = math.sin(self.course), math.cos(self.course)
        return dx * sin + dy * cos, dx * cos - dy * sin

    @property
    def height(self) -> float:
        """Height of the feet above the place."""
        return self.height_of(self.craft.z)

    def height_of(self, altitude_m: float) -> float:
        """Height of the feet above the place when the recorder is at this altitude."""
        return altitude_m - CARRY_HEIGHT_M - self.place.elevation_m

    # -- flying -----------------------------------------------------------------------------------------------
    def fly(self) -> str:
        """Fly the pass; 'landed' or 'go_around'."""
        craft = self.craft
        craft.phase("approach", None, self.pattern)
        craft.event(
            "pass_start", place=self.place.name, pattern=self.pattern, course_rad=self.course, on_top=self.on_top,
            planned_break_off_m=self.break_off_m,
        )  # fmt: skip
        try:
            with suppress(_CutShortError):
                getattr(self, "_" + self.pattern)()
            self._final()
        except _BrokenOffError as why:
            self.why = str(why)
            craft.event("decision", place=self.place.name, height_m=self.height, why=self.why,
                        distance_m=distance_to(craft, self.place.x_m, self.place.y_m))  # fmt: skip
            return "go_around"
        except _LandedError:
            return settle(craft, self.place)
        raise AssertionError("an approach ends on the ground or is broken off")

    def _go(self, bank: float, speed: float, drag: float = 1.0, may_cut: bool = False,
            flare: bool = False) -> None:  # fmt: skip
        craft = self.craft
        try:
            craft.step(bank, speed, drag, flare)
        except GroundContactError:
            raise _LandedError from None
        ahead, _ = self.where()
        self.behind = self.behind or (self.armed and ahead < 0)
        near = distance_to(craft, self.place.x_m, self.place.y_m)
        may_cut = may_cut and craft.height < self.height + 5  # over the top, not in front of it
        if may_cut and self.height < near / max(1.5, self.speed - 0.8 * self.wind_mps) * 1.45 * self.sink + 6:
            raise _CutShortError
        if self.on_top:
            self._check(ahead, near)

    def _check(self, ahead: float, near: float) -> None:
        """Whether the pilot breaks this pass off now."""
        craft = self.craft
        _, out = craft.world.hill.frame(craft.x, craft.y)
        if self.break_off_m is not None and self.armed and near < 90 + 5 * self.speed:
            forward = max(2.0, 1.1 * self.speed - 0.8 * self.wind_mps)
            off = abs(wrapped(craft.psi - math.radians(craft.world.hill.faces_deg)))
            turn_s = max(0.0, off - 0.3) / 0.42 + 0.5
            way = max(0.0, -out) + turn_s * (self.wind_mps + 0.4 * self.speed * (off > 1.2))
            reserve = 0.6 + (way / forward + 0.5 * turn_s) * max(self.sink * 1.2, self.sink - craft.air_rise * 0.7)
            if self.height <= self.break_off_m and near < FARTHEST_BREAK_OFF_M:
                raise _BrokenOffError("planned")
            if self.height <= min(reserve, 30.0):
                raise _BrokenOffError("low for the way out")
            if self.behind and ahead > self.aim_ahead and self.height < self.break_off_m + 6:
                raise _BrokenOffError("planned")
        if self.behind and ahead > self.place.radius_m + 5 and self.height > 4:
            raise _BrokenOffError("too high")
        if out > -3 and self.behind and self.height > 1.5:
            raise _BrokenOffError("past the edge")
        if out > 5 and self.height < 1.5:
            raise _BrokenOffError("too low")

    def _to(self, ahead: float, aside: float, near_m: float, speed: float, drag: float = 1.0, side: int = 0,
            longest_s: float = 60.0) -> None:  # fmt: skip
        x, y = self.point(ahead, aside)
        end = self.craft.t + longest_s
        while distance_to(self.craft, x, y) > near_m and self.craft.t < end:
            self._go(bank_for_point(self.craft, x, y, BANK_LIMIT, side), speed, drag, may_cut=True)

    def _straight_in(self) -> None:
        _, aside = self.where()
        self.armed = True
        if self.on_top:  # along the edge, then slide in from the side
            side = 1 if aside >= 0 else -1
            self._to(-0.3 * self.final_m, side * 0.7 * self.side_m, 16, self.speed, longest_s=35)

    def _circuit(self) -> None:
        _, aside = self.where()
        side = 1 if aside >= 0 else -1
        near = 0.3 * self.side_m + 6
        self._to(0.2 * self.final_m, side * self.side_m, near, self.speed)
        self._lose_height(side)
        self._to(-0.8 * self.final_m, side * self.side_m, near, self.speed, longest_s=35)
        self.armed = True
        self._to(-self.final_m, side * 0.25 * self.side_m, near, self.speed, longest_s=25)

    def _figure_of_eight(self) -> None:
        _, aside = self.where()
        side = 1 if aside >= 0 else -1
        back = -(0.75 * self.final_m + 8)
        near = 14.0 if self.craft.wing.wing_class == "paraglider" else 24.0
        self._to(back, side * self.side_m, near, self.speed, longest_s=45)
        self.armed = True
        legs = 0
        leg_sink = 2 * self.side_m / self.speed * self.sink * 1.2
        while self.height > self.final_height_m + 0.6 * leg_sink and legs < 14:
            side = -side
            # flying to the right end the wind comes from the left: turn left, into the wind
            self._to(back, side * self.side_m, near, self.speed, side=side if legs else 0, longest_s=40)
            legs += 1
        self._to(back, side * 0.35 * self.side_m, near, self.speed, longest_s=20)

    def _lose_height(self, side: int) -> None:
        """Too high abeam: S-turns beside the place until the height fits."""
        end = self.craft.t + (300 if not self.on_top else 25)
        while self.height > self.needed_height_m + 12 and self.craft.t < end:
            self._to(0.3 * self.final_m + 20, side * self.side_m * 2.2, 25, self.speed, longest_s=30)
            self._to(0.0, side * self.side_m, 25, self.speed, longest_s=30)

    def _final(self) -> None:
        craft = self.craft
        self.armed = True
        weave, end = craft.rng.choice((-1.0, 1.0)), craft.t + 120
        touch_speed, flaring = 0.62 * craft.wing.trim_mps, False
        while craft.t < end:
            ahead, aside = self.where()
            left = self.aim_ahead - ahead
            headwind = -(craft.wx * math.sin(self.course) + craft.wy * math.cos(self.course))
            forward = max(0.8, craft.v - headwind)
            if not self.on_top and left < -70 and craft.height > 25:  # far too high: round again
                with suppress(_CutShortError):
                    self._circuit()
                continue
            needed = max(left, 0.0) / forward * self.sink + self.aim_height
            over = self.height - needed
            speed, drag = self.speed, 1.0
            if over > 1.5:
                drag = 1 + min(0.6 if craft.wing.wing_class == "paraglider" else 1.4, 0.12 * over)
                speed = self.speed * (0.93 if craft.wing.wing_class == "paraglider" else 1.08)
            elif over < -2:
                speed = craft.wing.best_ratio_mps + min(2.0, 0.25 * self.wind_mps)
            if craft.height < (2.2 if self.break_off_m is None else 1.3):
                flaring = True
            if flaring:
                slow = 0.8 if craft.height < 0.9 else 1.0
                self._go(bank_for_heading(craft, self.course, 0.25), touch_speed * slow, 1.3, flare=True)
                continue
            ahead_x, ahead_y = self.point(
                ahead + max(12.0, min(left, 40.0)), 0.35 * aside if abs(aside) < 30 else 0.6 * aside
            )
            heading = heading_for_track(craft, math.atan2(ahead_x - craft.x, ahead_y - craft.y))
            if over > 6 and craft.height > 12:
                heading = self.course + weave * 0.9
                if weave * aside > 0.5 * self.side_m:
                    weave = -weave
            elif left < 0 or craft.height < 5:
                heading = self.course
            self._go(bank_for_heading(craft, heading, BANK_LIMIT), speed, drag)
        raise _BrokenOffError("time")


def fly_back_into_lift(craft: Craft) -> str:
    """After a pass is broken off: out over the edge; 'flying', or 'landed' when the height did not suffice."""
    hill = craft.world.hill
    craft.phase("climb", "ridge", "climb_back")
    along, out = hill.frame(craft.x, craft.y)
    side = 1 if wrapped(craft.psi - math.radians(hill.faces_deg)) > 0 else -1
    x, y = hill.point(along + side * 30, 32.0)
    end = craft.t + 45
    while craft.t < end:
        _, out = hill.frame(craft.x, craft.y)
        if out > 15:
            return "flying"
        low = craft.height < 1.8 and out < -8
        speed = (0.65 if low else 1.06) * craft.wing.trim_mps
        try:
            craft.step(bank_for_point(craft, x, y, 0.2 if low else BANK_LIMIT), speed, flare=low)
        except GroundContactError:
            return settle(craft, None)
    return "flying"


def settle(craft: Craft, place: Ground | None) -> str:
    """Feet on the ground: a few steps, then stand."""
    craft.z = craft.ground_z + CARRY_HEIGHT_M
    east = craft.v * math.sin(craft.psi) + craft.wx + craft.gx
    north = craft.v * math.cos(craft.psi) + craft.wy + craft.gy
    distance = distance_to(craft, place.x_m, place.y_m) if place else None
    craft.event("touchdown", ground_speed_mps=math.hypot(east, north), distance_m=distance)
    craft.phase("ground", None, "run_out")
    for _ in range(int(craft.rng.uniform(1.0, 3.5) / STEP_S)):
        east, north = east * 0.86, north * 0.86
        craft.stand(east, north)
    return "landed"
