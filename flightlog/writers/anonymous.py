"""A Debrief without the names in it."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from flightlog.debriefing import Debrief

HIDDEN = "…"


def without_names(debrief: Debrief) -> Debrief:
    """The same results without pilot, recorder, the log's file name and what else its header says of a person.

    The digest of the log stays, so that a report can be renewed: whoever has the log itself can still match it, as
    they could by the track. Places keep the names of the user's own places file.
    """
    from flightlog.tracks.track import Header

    header = debrief.track.header
    secrets = [header.pilot, header.recorder, header.recorder_id, header.wing_id, debrief.log.file]
    words = sorted((word for word in secrets if word), key=len, reverse=True)
    file = f"log-{debrief.log.sha256[:8]}.{debrief.log.format}"
    problems = tuple(replace(note, message=_masked(note.message, words)) for note in debrief.log.problems)
    bare = Header(wing=header.wing, date=header.date, utc_offset_s=header.utc_offset_s)
    return replace(
        debrief,
        log=replace(debrief.log, file=file, pilot=None, recorder=None, problems=problems),
        track=replace(debrief.track, file=file, header=bare, notes=()),
    )


def _masked(text: str, words: list[str]) -> str:
    """The text with every one of the words hidden."""
    for word in words:
        text = text.replace(word, HIDDEN)
    return text
