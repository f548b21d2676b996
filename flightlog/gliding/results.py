"""What is said of the gliding of many flights."""

from __future__ import annotations

from dataclasses import dataclass

from flightlog.errors import Note
from flightlog.measures.polar_differences import (
    PolarDifference,
)
from flightlog.measures.polars import GlideBlocks
from flightlog.measures.results import Glide, Performance


@dataclass(frozen=True, eq=False)
class GlideLog:
    """What one log adds to the gliding of a wing: kept small, so that many can be held."""

    file: str
    sha256: str
    date: str | None
    wing: str | None
    note: str | None
    flights: int
    glides: tuple[Glide, ...]
    blocks: GlideBlocks
    flown_s: tuple[tuple[float, float], ...] = ()  # take-off and landing of every flight, UTC


@dataclass(frozen=True)
class LogRow:
    """A log and the group it went into."""

    file: str
    date: str | None
    wing: str | None
    note: str | None
    group: str
    flights: int
    glide_time_s: float  # that counts for the polar


@dataclass(frozen=True)
class MakerComparison:
    """What the glides show less what the maker says; `sentence` says what can be told."""

    differences: tuple[PolarDifference, ...]
    sentence: str
    note: str | None = None


@dataclass(frozen=True)
class GlideGroup:
    """The gliding of the flights of one group. `performance` is as of one flight; its polar leans on the class."""

    name: str
    logs: int
    flights: int
    glides: int
    first_date: str | None
    last_date: str | None
    polar_time_s: float  # straight glide that counts for the polar
    airspeed_low_mps: float | None  # equivalent, of that glide
    airspeed_high_mps: float | None
    straight_climb_share: float | None  # of the straight flight; None without any
    performance: Performance
    maker: MakerComparison | None
    note: str | None = None


@dataclass(frozen=True)
class GroupComparison:
    """Second group less first; `sentence` says whether the logs can tell the two apart."""

    first: str
    second: str
    differences: tuple[PolarDifference, ...]
    tells_apart: bool
    sentence: str
    note: str | None = None


@dataclass(frozen=True)
class Gliding:
    """The gliding of many logs. `expected` names what the polars lean on where the glides say little."""

    group_by: str
    wing: str | None  # of the wing file
    wing_class: str
    expected: str
    logs: tuple[LogRow, ...]
    groups: tuple[GlideGroup, ...]
    comparisons: tuple[GroupComparison, ...]
    problems: tuple[Note, ...]
    cautions: tuple[str, ...]
