"""What a pilot does to stay up: beats along the slope, circles in thermals (badly centred), searches, glides."""

from __future__ import annotations

import math
from collections.abc import Callable

from .craft import STEP_S, Craft
from .navigation import (
    bank_around,
    bank_for_heading,
    bank_for_point,
    bearing_to,
    distance_to,
    heading_for_track,
    wrapped,
)  # fmt: skip
from .world import LiftLine, Thermal

# commanded; a badly centred circle is flown 3 degrees flatter in the mean. Gives about 16 degrees of turn a second
CIRCLING_BANK_DEG = {"paraglider": (11.0, 23.0), "hang_glider": (12.0, 26.0), "rigid_wing": (14.0, 29.0)}


def beat(craft: Craft, until: Callable[[Craft], bool], target_m: float, out_m: float = 28.0, reach_m: float = 0.0,
         behaviour: str = "ridge_beats", centre_m: float = 0.0, hurry: bool = False,
         keep_out: bool = False) -> None:  # fmt: skip
    """Fly up and down along the slope, turning away from the hill, until something is true.

    The pilot flies in the best of the band below the wanted altitude and farther out and faster above it; in a
    hurry to get down, farther still and with more drag.
    """
    hill, rng, wing = craft.world.hill, craft.rng, craft.wing
    craft.phase("climb", "ridge", behaviour)
    reach = reach_m or rng.uniform(140, 320) * (1.0 if wing.wing_class == "paraglider" else 1.4)
    along, _ = hill.frame(craft.x, craft.y)
    side = 1 if along < centre_m else -1
    end, leg_out = centre_m + side * reach * rng.uniform(0.75, 1.2), out_m + rng.gauss(0, 6)
    turning = 0
    wander = 0.0
    leg_time = 0.0
    while not until(craft):
        along, out = hill.frame(craft.x, craft.y)
        leg_time += STEP_S
        if (end - along) * side < 0 or leg_time > 150:
            side = -side
            leg_time = 0.0
            end, leg_out = centre_m + side * reach * rng.uniform(0.75, 1.2), out_m + rng.gauss(0, 6)
            turning = side  # away from the hill
        over = craft.z - target_m
        wanted_out = leg_out + (hill.face_out(craft.z) if craft.z < hill.crest_m else 0.0)
        if over > 8 and not keep_out:
            wanted_out += min(190.0 if hurry else 110.0, 2.5 * over)
        wander += -wander * STEP_S / 12 + 0.05 * math.sqrt(2 * STEP_S / 12) * rng.gauss(0, 1)
        ahead_x, ahead_y = hill.point(along + side * 55, out + max(-45.0, min(45.0, wanted_out - out)))
        heading = heading_for_track(craft, math.atan2(ahead_x - craft.x, ahead_y - craft.y)) + wander
        # turn away from the hill: past the way out, never past the hill
        limit = math.radians(30) if over < 30 else math.radians(38)
        if turning and abs(wrapped(heading - craft.psi)) < math.radians(40):
            turning = 0
        bank = bank_for_heading(craft, heading, limit, turning)
        speed = wing.min_sink_speed_mps * 1.05 if over < 5 else wing.trim_mps + min(3.0, 0.1 * over)
        speed = max(speed, min(wing.top_mps, 1.2 * math.hypot(craft.wx, craft.wy)))  # never blown back
        craft.step(bank, speed, 1.7 if hurry and over > 6 else 1.0)


def climb_thermal(craft: Craft, thermal: Thermal, top_m: float, least_mps: float, error_m: float) -> str:
    """Circle in a thermal until it gives too little, or the wanted altitude is reached; say which.

    The pilot's idea of the core is off by a wandering error, large at first; now and then the circle is opened to
    shift it, or the direction changes.
    """
    rng = craft.rng
    along = wrapped(bearing_to(craft, *thermal.core(craft.t, craft.z)) - craft.psi)
    side = (1 if along >= 0 else -1) if rng.random() < 0.8 else rng.choice((-1, 1))
    bank = math.radians(rng.uniform(*CIRCLING_BANK_DEG[craft.wing.wing_class]))
    craft.phase("climb", "circling", "thermal")
    craft.event("climb_start", thermal=thermal, side=side)
    start, ex, ey = craft.t, rng.gauss(0, error_m), rng.gauss(0, error_m)
    mean, opened_until, slow_bank = craft.vario, -1.0, 0.0
    patience, reason = rng.uniform(20, 55), ""
    while not reason:
        age = craft.t - start
        spread = error_m * (0.7 + 1.0 * math.exp(-age / 45))
        ex += -ex * STEP_S / 45 + spread * math.sqrt(2 * STEP_S / 45) * rng.gauss(0, 1)
        ey += -ey * STEP_S / 45 + spread * math.sqrt(2 * STEP_S / 45) * rng.gauss(0, 1)
        slow_bank += -slow_bank * STEP_S / 25 + 0.06 * math.sqrt(2 * STEP_S / 25) * rng.gauss(0, 1)
        cx, cy = thermal.core(craft.t, craft.z)
        velocity = (
            thermal.lean_x * max(mean, 0) + thermal.drift_x_mps,
            thermal.lean_y * max(mean, 0) + thermal.drift_y_mps,
        )
        ff = bank + slow_bank
        radius = craft.v**2 / (9.81 * math.tan(ff))
        if rng.random() < STEP_S / 70 and craft.t > opened_until + 15:
            opened_until = craft.t + rng.uniform(1.5, 4.0)
            ex *= 0.3
            ey *= 0.3
        if age > 30 and rng.random() < STEP_S / 500:
            side = -side
            craft.event("direction_change", side=side)
        command = bank_around(craft, cx + ex, cy + ey, velocity, radius, ff, side)
        if craft.t < opened_until:
            command = side * math.radians(5)
        craft.step(command, craft.wing.min_sink_speed_mps * 1.06)
        mean += (craft.climb - mean) * STEP_S / 25
        if craft.z >= top_m:
            reason = "top"
        elif age > patience and mean < least_mps:
            reason = "weak"
        elif age > 1500:
            reason = "time"
    craft.event("climb_end", thermal=thermal, reason=reason)
    return reason


def glide(craft: Craft, x: float, y: float, speed_mps: float, until: Callable[[Craft], bool],
          behaviour: str = "glide") -> None:  # fmt: skip
    """Fly straight towards a point at a speed, the heading wandering a little, until something is true."""
    craft.phase("glide", None, behaviour)
    rng, wander = craft.rng, 0.0
    while not until(craft) and distance_to(craft, x, y) > 40:
        line = next((line for line in craft.world.lines if line.is_worth_following(craft.x, craft.y)), None)
        if line is not None and abs(wrapped(line.direction_rad - bearing_to(craft, x, y))) < 0.7:
            follow_line(craft, line)
            craft.phase("glide", None, behaviour)
        wander += -wander * STEP_S / 15 + 0.06 * math.sqrt(2 * STEP_S / 15) * rng.gauss(0, 1)
        heading = heading_for_track(craft, bearing_to(craft, x, y)) + wander
        speed = speed_mps
        if craft.vario > 0.2:  # slows down in lift and flies through it
            speed = max(craft.wing.min_sink_speed_mps * 1.05, speed_mps - 2.5)
        craft.step(bank_for_heading(craft, heading, math.radians(22)), speed)


def follow_line(craft: Craft, line: LiftLine) -> None:
    """Straight along a line of lift, as slowly as climbs best, to where it ends or the clouds begin."""
    craft.phase("climb", "straight", "lift_line")
    top, weak_s, wander = craft.world.hill.valley_m + craft.rng.uniform(1500, 2200), 0.0, 0.0
    end = craft.t + 420
    while craft.t < end and weak_s < 4 and craft.z < top and line.left_m(craft.x, craft.y) > 0:
        wander += -wander * STEP_S / 15 + 0.06 * math.sqrt(2 * STEP_S / 15) * craft.rng.gauss(0, 1)
        track = line.direction_rad - math.atan(line.side_m(craft.x, craft.y) / 120)
        heading = heading_for_track(craft, track) + wander
        craft.step(bank_for_heading(craft, heading, math.radians(22)), craft.wing.min_sink_speed_mps * 1.1)
        weak_s = weak_s + STEP_S if line.rise(craft.x, craft.y) < 0.5 * line.rise_mps else 0.0


def search(craft: Craft, seconds: float, until: Callable[[Craft], bool]) -> None:
    """Look for lift: wide turns this way and that, now and then a circle that finds nothing."""
    craft.phase("search", None, "search")
    rng, end = craft.rng, craft.t + seconds
    heading = craft.psi
    while craft.t < end and not until(craft):
        leg_end = craft.t + rng.uniform(7, 18)
        if rng.random() < 0.25:
            side, turned, last = rng.choice((-1, 1)), 0.0, craft.psi
            goal = math.radians(rng.uniform(270, 430))
            while turned < goal and not until(craft):
                craft.step(side * math.radians(24), craft.wing.min_sink_speed_mps * 1.08)
                turned += abs(craft.psi - last)
                last = craft.psi
        heading = craft.psi + rng.choice((-1, 1)) * math.radians(rng.uniform(50, 130))
        while craft.t < leg_end and not until(craft):
            craft.step(bank_for_heading(craft, heading, math.radians(26)), craft.wing.min_sink_speed_mps * 1.08)


def fly_to(craft: Craft, x: float, y: float, near_m: float, speed_mps: float, drag: float = 1.0,
           until: Callable[[Craft], bool] | None = None, side: int = 0,
           longest_s: float = 240.0) -> None:  # fmt: skip
    """Fly to within some metres of a point, without saying what it is for."""
    end = craft.t + longest_s
    while distance_to(craft, x, y) > near_m and craft.t < end and not (until and until(craft)):
        craft.step(bank_for_point(craft, x, y, side=side), speed_mps, drag)
