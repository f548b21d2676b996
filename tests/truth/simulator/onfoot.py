"""On the ground: standing, handling the wing, walking, aborted runs, the launch run, the ride home."""

from __future__ import annotations

import math
from contextlib import suppress

from .craft import STEP_S, Craft, GroundContactError
from .navigation import wrapped


def _steps(seconds: float) -> int:
    return max(1, int(seconds / STEP_S))


def stand(craft: Craft, seconds: float, handling: bool = False) -> None:
    """Stand about, or handle the wing on the ground: small steps to and fro."""
    rng = craft.rng
    craft.phase("ground", None, "handling" if handling else "standing")
    vx = vy = 0.0
    home_x, home_y = craft.x, craft.y
    spread = 0.7 if handling else 0.10
    for _ in range(_steps(seconds)):
        vx += (-vx / 3 - (craft.x - home_x) / 60) * STEP_S + spread * math.sqrt(2 * STEP_S / 3) * rng.gauss(0, 1)
        vy += (-vy / 3 - (craft.y - home_y) / 60) * STEP_S + spread * math.sqrt(2 * STEP_S / 3) * rng.gauss(0, 1)
        still = not handling and abs(vx) + abs(vy) < 0.15
        craft.stand(0.0 if still else vx, 0.0 if still else vy)


def walk(craft: Craft, x: float, y: float, speed_mps: float = 1.1, longest_s: float = 900.0) -> None:
    """Walk to a point, with the gear, not quite straight."""
    craft.phase("ground", None, "walking")
    end, wander = craft.t + longest_s, 0.0
    while math.hypot(x - craft.x, y - craft.y) > 1.5 and craft.t < end:
        wander += -wander * STEP_S / 8 + 0.25 * math.sqrt(2 * STEP_S / 8) * craft.rng.gauss(0, 1)
        bearing = math.atan2(x - craft.x, y - craft.y) + wander
        speed = max(0.2, speed_mps * (1 + 0.15 * craft.rng.gauss(0, 1)))
        craft.stand(speed * math.sin(bearing), speed * math.cos(bearing))


def into_wind(craft: Craft) -> float:
    """Heading of a launch run: into the wind, but down the slope within 35 degrees of it."""
    out = math.radians(craft.world.hill.faces_deg)
    if math.hypot(craft.wx, craft.wy) < 0.7:
        return out
    off = wrapped(math.atan2(-craft.wx, -craft.wy) - out)
    return out + max(-0.6, min(0.6, off))


def aborted_run(craft: Craft) -> None:
    """Start to run, give up, walk back to where it began."""
    x, y = craft.x, craft.y
    heading = into_wind(craft)
    craft.event("aborted_run")
    craft.phase("ground", None, "aborted_run")
    speed, top = 0.0, craft.rng.uniform(2.0, 4.2)
    while speed < top:
        speed += craft.rng.uniform(1.2, 2.2) * STEP_S
        craft.stand(speed * math.sin(heading), speed * math.cos(heading), heading)
    while speed > 0.2:
        speed -= craft.rng.uniform(1.5, 3.0) * STEP_S
        craft.stand(speed * math.sin(heading), speed * math.cos(heading), heading)
    walk(craft, x, y, 0.9)


def launch(craft: Craft) -> None:
    """Run into the wind until the wing carries; then fly straight out for a few seconds."""
    rng, wing = craft.rng, craft.wing
    heading = into_wind(craft)
    run_start = craft.t
    craft.phase("launch_run", None, "launch_run")
    craft.event("run_start")
    speed, acceleration = 0.0, rng.uniform(1.6, 2.6)
    factor = (1 - 2.25577e-5 * craft.z) ** -2.12794
    gust = rng.gauss(0, 0.4 * craft.world.air.gust_mps)
    while True:
        speed = min(speed + acceleration * STEP_S, wing.lift_off_mps * factor + 1)
        craft.stand(speed * math.sin(heading), speed * math.cos(heading), heading)
        if craft.v + gust > wing.lift_off_mps * factor or craft.t - run_start > 30:
            break
    craft.event("lift_off", run_start=run_start, ground_speed_mps=speed, heading_rad=heading)
    craft.phase("glide", None, "leaving_launch")
    end = craft.t + rng.uniform(4, 9)
    while craft.t < end:
        with suppress(GroundContactError):
            craft.step(0.8 * wrapped(heading - craft.psi), wing.trim_mps)
        if craft.height < 0.15:  # skims the slope
            craft.z = craft.ground_z + 1.15


def drive(craft: Craft, seconds: float) -> None:
    """A car takes the pilot away: a road with bends, nowhere steeper than 12 %, and stops."""
    rng = craft.rng
    craft.phase("ground", None, "vehicle")
    wish, speed, wanted, bend, error = rng.uniform(0, 6.28), 0.0, 12.0, 0.0, 0.0
    heading = road_heading(craft, wish)
    for k in range(_steps(seconds)):
        if k % 100 == 0:
            wanted = rng.choice((0.0, 6.0, 9.0, 12.0, 14.0, 17.0, 20.0))
            bend = rng.gauss(0, 0.03)
        if k % 5 == 0:
            wish += bend * min(speed, 10.0) / 10
            road = road_heading(craft, wish)
            wish, error = road + 0.9 * wrapped(wish - road), wrapped(road - heading)
        pace = min(wanted, 20.0 / (1 + 3 * abs(error)))  # slower into a bend, at a walk round a hairpin
        speed = max(0.0, speed + max(-3.5, min(1.5, 0.8 * (pace - speed))) * STEP_S)
        most = speed / 8 * STEP_S  # bends of 8 m and more
        if _is_steep(craft, heading, 5 + 0.3 * speed):  # the verge: hard on the brakes, and round
            speed, most = max(0.4, speed - 1.4), 0.8 * STEP_S
        turned = max(-most, min(most, error * STEP_S * 1.5))
        heading, error = heading + turned, error - turned
        craft.stand(speed * math.sin(heading), speed * math.cos(heading))


def _is_steep(craft: Craft, heading_rad: float, ahead_m: float) -> bool:
    """Whether the ground this way is too steep for a road."""
    x, y = craft.x + ahead_m * math.sin(heading_rad), craft.y + ahead_m * math.cos(heading_rad)
    return abs(craft.world.hill.height(x, y) - craft.ground_z) > 0.12 * ahead_m


def road_heading(craft: Craft, wish_rad: float) -> float:
    """The direction nearest to the one wished in which the ground is no steeper than a road, for a while."""
    height, here = craft.world.hill.height, craft.ground_z
    for k in range(64):
        way = wish_rad + (k + 1) // 2 * (1 if k % 2 else -1) * math.pi / 32
        sin, cos = math.sin(way), math.cos(way)
        if all(abs(height(craft.x + m * sin, craft.y + m * cos) - here) < 0.1 * m for m in (6, 15, 30, 60)):
            return way
    return wish_rad
