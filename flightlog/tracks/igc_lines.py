"""The lines of a log as byte positions, so that 100 000 of them need no Python loop."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from flightlog.arrays import Ints
from flightlog.errors import TrackFileError
from flightlog.tracks.notebook import Notebook

Bytes = npt.NDArray[np.uint8]

MOST_LINES = 2_000_000
"""Several for each of as many fixes as a log may hold."""
_LONGEST_TEXT = 1000  # bytes; records hold 76 to 99
_LONGEST_PADDING = 64
_PIECE_BYTES = 1 << 17
_LF, _CR, _BLANK = 10, 13, 32
_UPPER = np.array([byte - 32 if 97 <= byte <= 122 else byte for byte in range(256)], dtype=np.uint8)


@dataclass(frozen=True, eq=False)
class Lines:
    """The text of a log and where its m lines lie; line i of these arrays is line i + 1 of the file."""

    data: bytes
    buffer: Bytes  # (size,) the same bytes
    start: Ints  # (m,) first byte that is no blank
    end: Ints  # (m,) one past the last byte that is no blank
    letter: Bytes  # (m,) first byte, upper case; 0 for an empty line

    def text(self, index: int) -> str:
        """Line `index` as text, cut at 1000 bytes: UTF-8 where it is that, else Latin-1, which never fails."""
        start = int(self.start[index])
        raw = self.data[start : min(int(self.end[index]), start + _LONGEST_TEXT)]
        try:
            return raw.decode("utf-8")
        except UnicodeDecodeError:
            return raw.decode("latin-1")

    def of_letter(self, letter: str) -> Ints:
        """Indices of the lines that begin with this letter, either case."""
        return np.flatnonzero(self.letter == ord(letter))


def split_lines(data: bytes, notebook: Notebook) -> Lines:
    """Find the lines, whatever ends them: CR LF, LF, CR, CR CR LF; a byte order mark and NUL bytes go."""
    data = _plain_text(data, notebook)
    if len(data) > 2 * MOST_LINES < data.count(b"\n") + data.count(b"\r"):  # before any array is made of them
        raise TrackFileError(f"more than {MOST_LINES} lines", "no log is so long; is it the right file?")
    buffer = np.frombuffer(data, dtype=np.uint8)
    breaks, returns = _line_breaks(buffer)
    if returns and returns != int(np.count_nonzero(buffer[breaks - 1] == _CR)):
        notebook.add("line_ends", "lines end in unusual ways (CR alone or CR CR LF)", 1)
        data = data.replace(b"\r\r\n", b"\n").replace(b"\r\n", b"\n").replace(b"\r", b"\n")
        buffer = np.frombuffer(data, dtype=np.uint8)
        breaks, _ = _line_breaks(buffer)
    if breaks.size > MOST_LINES:
        raise TrackFileError(f"more than {MOST_LINES} lines", "no log is so long; is it the right file?")
    start = np.concatenate([[0], breaks + 1])
    end = np.concatenate([breaks, [buffer.size]])
    _trim(buffer, start, end)
    letter = np.zeros(start.size, dtype=np.uint8)
    filled = np.flatnonzero(end > start)
    letter[filled] = _UPPER[buffer[start[filled]]]
    return Lines(data, buffer, start, end, letter)


def _line_breaks(buffer: Bytes) -> tuple[Ints, int]:
    """Positions of the line feeds, and the number of carriage returns; piece by piece, to stay in the cache."""
    pieces, returns = [np.array([], dtype=np.int64)], 0
    for first in range(0, buffer.size, _PIECE_BYTES):
        piece = buffer[first : first + _PIECE_BYTES]
        pieces.append(np.flatnonzero(piece == _LF) + first)
        returns += int(np.count_nonzero(piece == _CR))
    return np.concatenate(pieces), returns


def _plain_text(data: bytes, notebook: Notebook) -> bytes:
    """The bytes without byte order mark and NUL."""
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        notebook.add("encoding", "the log is UTF-16 text; read as such", 1)
        data = data.decode("utf-16", errors="replace").encode("utf-8")
    if data.startswith(b"\xef\xbb\xbf"):
        notebook.add("byte_order_mark", "the log begins with a byte order mark; skipped", 1)
        data = data[3:]
    if b"\0" in data:
        first = data.index(b"\0")
        line = data.count(b"\n", 0, first) + 1
        notebook.add("nul_bytes", "NUL bytes stand in the log; skipped", line, data.count(b"\0"))
        data = data.replace(b"\0", b"")
    return data


def _trim(buffer: Bytes, start: Ints, end: Ints) -> None:
    """Move start and end, in place, past blanks and control bytes at both ends of the lines."""
    if buffer.size == 0:
        return
    end -= (buffer[end - 1] == _CR) & (end > start)
    rows = np.flatnonzero((buffer[end - 1] <= _BLANK) & (end > start))
    for _ in range(_LONGEST_PADDING):
        if rows.size == 0:
            break
        end[rows] -= 1
        rows = rows[(end[rows] > start[rows]) & (buffer[end[rows] - 1] <= _BLANK)]
    rows = np.flatnonzero((buffer[np.minimum(start, buffer.size - 1)] <= _BLANK) & (end > start))
    for _ in range(_LONGEST_PADDING):
        if rows.size == 0:
            break
        start[rows] += 1
        rows = rows[end[rows] > start[rows]]
        rows = rows[buffer[start[rows]] <= _BLANK]
