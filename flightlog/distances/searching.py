"""What every search hands back, and when it has to stop."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass

Clock = Callable[[], float]


@dataclass(frozen=True)
class Found:
    """The best turnpoints found, as indices of fixes, and what is certain about them.

    `length_m` is their distance by arcs of chords; no other choice of fixes is longer than `bound_m`. `fixes` is
    empty where no course fits the rules; then, if `bound_m` is above 0, the time ran out before that was certain.
    """

    fixes: tuple[int, ...]
    length_m: float
    bound_m: float


NOTHING = Found((), 0.0, 0.0)


@dataclass(frozen=True)
class Deadline:
    """A moment on a clock after which searches stop."""

    end_s: float
    clock: Clock = time.monotonic

    @classmethod
    def after(cls, limit_s: float, clock: Clock = time.monotonic) -> Deadline:
        """So many seconds from now."""
        return cls(clock() + limit_s, clock)

    def is_over(self) -> bool:
        """Whether it is time to stop."""
        return self.clock() >= self.end_s
