"""Names and texts of a log, fit to be shown: what steers a terminal or turns the direction of writing goes."""

from __future__ import annotations

import re
from dataclasses import replace

from flightlog.tracks.track import Header, Track

LONGEST_NAME = 200
"""Characters kept of a name; recorders hold 30 or so."""
_STEERING = re.compile(
    "[\x00-\x1f\x7f-\x9f\u2028\u2029\u202a-\u202e\u2066-\u2069\ufeff\ufff0-\uffff\ud800-\udfff]+"
)
"""Control characters, line breaks, overrides of the writing direction (Unicode, UAX 9), and half
characters, as in file names that are no UTF-8."""


def plain_text(text: str, longest: int = LONGEST_NAME) -> str:
    """The text in one line, without what steers, 200 characters at most unless told otherwise.

    >>> plain_text(chr(27) + "[31mAda" + chr(0x202E) + "Example" + chr(10))
    '[31mAda Example'
    """
    return " ".join(_STEERING.sub(" ", text[: 2 * longest]).split())[:longest]


def with_plain_names(track: Track) -> Track:
    """The track with plain texts in its header and a plain name of its file."""
    head = track.header
    header = Header(
        pilot=_plain(head.pilot),
        wing=_plain(head.wing),
        wing_id=_plain(head.wing_id),
        recorder=_plain(head.recorder),
        recorder_id=_plain(head.recorder_id),
        site=_plain(head.site),
        date=head.date,
        utc_offset_s=head.utc_offset_s,
        declared_task=tuple((plain_text(name), lat, lon) for name, lat, lon in head.declared_task),
        events=tuple((time_s, plain_text(code), plain_text(text)) for time_s, code, text in head.events),
        other={plain_text(code): plain_text(text) for code, text in head.other.items()},
    )
    return replace(track, header=header, file=plain_text(track.file))


def _plain(text: str | None) -> str | None:
    """The text, plain; None where nothing is left of it."""
    return None if text is None else plain_text(text) or None
