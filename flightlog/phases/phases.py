"""Flights and their phases: the shapes that the phases layer hands on."""

from __future__ import annotations

from dataclasses import dataclass

from flightlog.errors import Note


@dataclass(frozen=True)
class Phase:
    """One stretch of a flight in which the pilot did one thing.

    `kind` is `launch_run`, `climb`, `glide`, `search` or `approach`; `mode` of a climb is `circling`, `ridge` or
    `straight`, else None. Phases of a flight lie end to end; times are UTC seconds.
    """

    kind: str
    mode: str | None
    start_s: float
    end_s: float


@dataclass(frozen=True)
class FlightSpan:
    """One flight in the log, from the start of the launch run to the first touch.

    `start_s` is the start of the run (lift-off where there is none), `liftoff_s` the moment the wing carries for
    good, `touchdown_s` the first touch. A log that starts in the air has `starts_in_air`, one that ends there
    `ends_in_air`; then that time is the first or last fix.
    """

    number: int  # 1 is the first of the log
    start_s: float
    liftoff_s: float
    touchdown_s: float
    starts_in_air: bool
    ends_in_air: bool
    liftoff_sd_s: float
    touchdown_sd_s: float
    first: int  # first fix (index into Motion) at or after start_s
    stop: int  # one past the last fix at or before touchdown_s
    phases: tuple[Phase, ...] = ()
    notes: tuple[Note, ...] = ()
