"""Fixtures of several unit tests."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

import flightlog.debriefing
from flightlog.debriefing import Debrief, debrief
from flightlog.tracks.track import Track


@pytest.fixture(scope="module")
def kept_debriefs() -> Iterator[None]:
    """A command run over the same logs again and again, in one process, debriefs each of them once.

    For tests of what a command does with debriefs, not of how it comes by them.
    """
    kept: dict[tuple[str, ...], Debrief] = {}

    def once(track: Track, **recipe: object) -> Debrief:
        key = (track.sha256, track.file, repr(track.header), repr(recipe))
        if key not in kept:
            kept[key] = debrief(track, **recipe)
        return kept[key]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(flightlog.debriefing, "debrief", once)
        yield
