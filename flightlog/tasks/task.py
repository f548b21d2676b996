"""A task: cylinders in order, the times that bind it, and how far a fix may lie beside a boundary."""

from __future__ import annotations

from dataclasses import dataclass

ROLES = ("launch", "start", "turnpoint", "speed_end", "goal")
"""What a cylinder is for."""
KINDS = ("race", "elapsed")
"""race: the time counts from a start gate, one for many; elapsed: from each pilot's own start."""


@dataclass(frozen=True)
class Cylinder:
    """A circle on the ground, and the air above it.

    `direction` is how it is reached: `enter` from outside, `exit` from within. With `is_line` a goal is the line
    through the centre, square to the last leg, reaching `radius_m` to either side.
    """

    name: str
    lat_deg: float
    lon_deg: float
    radius_m: float
    role: str
    direction: str = "enter"
    is_line: bool = False


@dataclass(frozen=True)
class Task:
    """Cylinders in the order in which they are to be reached, the last one the goal. Times are UTC seconds.

    `points` is the `[points]` table of the task file as it stands there; flightlog.comparing reads it.
    """

    name: str
    kind: str
    cylinders: tuple[Cylinder, ...]
    start_opens_s: float | None = None
    deadline_s: float | None = None
    start_gates_s: tuple[float, ...] = (0.0,)  # after start_opens_s
    file: str = ""
    points: tuple[tuple[str, object], ...] = ()

    @property
    def gates_s(self) -> tuple[float, ...]:
        """The moments of the start gates, UTC seconds; none where the task has no times."""
        opens = self.start_opens_s
        return () if opens is None else tuple(opens + gate for gate in self.start_gates_s)

    @property
    def start(self) -> int:
        """Index of the start."""
        return next(k for k, cylinder in enumerate(self.cylinders) if cylinder.role == "start")

    @property
    def speed_end(self) -> int:
        """Index of the end of the speed section: the goal where the task names no other."""
        ends = [k for k, cylinder in enumerate(self.cylinders) if cylinder.role == "speed_end"]
        return ends[0] if ends else len(self.cylinders) - 1


@dataclass(frozen=True)
class Tolerance:
    """How far a fix may lie beside a boundary and still count, for the errors of recorders.

    A cylinder of radius r is reached from outside by a fix nearer than `outer_m(r)`, from within by one farther
    than `inner_m(r)`.
    """

    name: str
    rule: str
    share: float
    least_m: float

    def inner_m(self, radius_m: float) -> float:
        """The smaller radius of the band, m.

        >>> TOLERANCES["category-1"].inner_m(400.0), TOLERANCES["category-2"].inner_m(400.0)
        (395.0, 398.0)
        """
        return min(radius_m * (1.0 - self.share), radius_m - self.least_m)

    def outer_m(self, radius_m: float) -> float:
        """The larger radius of the band, m."""
        return max(radius_m * (1.0 + self.share), radius_m + self.least_m)


TOLERANCES = {
    "category-1": Tolerance(
        "category-1",
        "FAI Sporting Code Section 7, first-category events from 2019: 0.05 % of the radius, 5 m at least",
        0.0005,
        5.0,
    ),
    "category-2": Tolerance(
        "category-2", "FAI Sporting Code Section 7, second-category events: 0.5 % of the radius", 0.005, 0.0
    ),
}
"""By the name of the option. Sources: FAI/CIVL GAP, annex to Sporting Code Section 7, edition 2017 (the band), and
the CIVL announcement of 2018 (0.05 % with 5 m at least, on WGS 84, in first-category events; 0.5 % may stay
elsewhere)."""
