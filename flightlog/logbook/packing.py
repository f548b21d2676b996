"""Bytes of logs and results, compressed for the logbook, and back within bounds."""

from __future__ import annotations

import lzma
import zlib

from flightlog.errors import BookError
from flightlog.tracks.sources import MOST_BYTES

_THOROUGH_BELOW_BYTES = 4_000_000
"""Longer logs are packed with less care: half the ratio in a tenth of the time (0.35 s a million bytes)."""
_MOST_MEMORY_BYTES = 100_000_000
_LARGEST_TEXT_BYTES = 100_000_000
"""Of the results of one log; a day of 200 flights, the most there may be, has a tenth of it."""


def packed_log(data: bytes) -> bytes:
    """The bytes of a log in xz, which packs tracks to half of what zlib makes of them (35 kB against 80)."""
    return lzma.compress(data, preset=6 if len(data) < _THOROUGH_BELOW_BYTES else 0)


def unpacked_log(content: bytes, size_bytes: int) -> bytes:
    """The bytes of a log that has so many.

    Raises
    ------
    BookError
        They are damaged, or not so many.
    """
    if not 0 <= size_bytes <= MOST_BYTES:
        raise _damaged()
    try:
        unpacker = lzma.LZMADecompressor(memlimit=_MOST_MEMORY_BYTES)
        data = unpacker.decompress(content, size_bytes + 1)
    except (lzma.LZMAError, EOFError) as error:
        raise _damaged() from error
    if len(data) != size_bytes:
        raise _damaged()
    return data


def packed_text(data: bytes) -> bytes:
    """JSON for the logbook, in zlib: quick both ways."""
    return zlib.compress(data, 6)


def unpacked_text(content: bytes, size_bytes: int) -> bytes:
    """JSON of so many bytes; errors as in `unpacked_log`."""
    if not 0 <= size_bytes <= _LARGEST_TEXT_BYTES:
        raise _damaged()
    try:
        data = zlib.decompressobj().decompress(content, size_bytes + 1)
    except zlib.error as error:
        raise _damaged() from error
    if len(data) != size_bytes:
        raise _damaged()
    return data


def _damaged() -> BookError:
    return BookError(
        "what the logbook keeps of a log is damaged", "take the file from a backup, or add the log anew"
    )
