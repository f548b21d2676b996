"""Where logs come from: files, folders, .gz and .zip archives, standard input; bounded in bytes and number."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from flightlog.errors import TrackFileError
from flightlog.tracks.archives import (
    ArchiveError,
    gunzipped,
    is_gzip,
    is_zip,
    read_member,
    zip_heads,
)
from flightlog.tracks.csv_columns import columns_asked
from flightlog.tracks.kinds import is_log

MOST_BYTES = 200_000_000
"""A log larger than this is refused: a day at five fixes a second has 10 million bytes."""
HEAD_BYTES = 65536
"""First bytes of a file, by which it is told whether it is a log."""

IsLog = Callable[[bytes], bool]


@dataclass(frozen=True)
class LogSource:
    """A log that was found, and the way to its bytes; what stood in the way is raised by `read`.

    `path` is for messages (`season.zip/monday.igc`), `name` is the log's own name.
    """

    path: str
    name: str
    file: str = ""  # the file on disk; "" for standard input
    member: int | None = None  # number of the entry, in a .zip
    data: bytes | None = None  # what standard input held: the log, or the archive it is a member of
    trouble: tuple[str, str] | None = None  # what was found, what to do
    columns: Mapping[str, str] | None = None  # of tables: quantity -> name of the column, as the user says

    def read(self) -> bytes:
        """The bytes of the log, unpacked; TrackFileError where that fails."""
        if self.trouble is not None:
            raise TrackFileError(*self.trouble, self.path)
        try:
            if self.member is not None:
                return read_member(self.file if self.data is None else self.data, self.member, MOST_BYTES)
            data = self.data if self.data is not None else _file_bytes(self.file, MOST_BYTES + 1)
            if is_gzip(data):
                data = gunzipped(data, MOST_BYTES)
        except ArchiveError as error:
            raise TrackFileError(str(error), "unpack it yourself, or copy it anew", self.path) from error
        except OSError as error:
            raise TrackFileError(
                f"cannot be read ({error.strerror})", "check its name and rights", self.path
            ) from error
        if len(data) > MOST_BYTES:
            raise TrackFileError(f"larger than {MOST_BYTES} bytes", "no log is; is it the right file?", self.path)
        return data


def find_logs(paths: Iterable[str | Path], *, columns: str | None = None) -> Iterator[LogSource]:
    """All logs at these places: files, folders, archives, "-" for standard input.

    `columns` says what the columns of tables hold ("time=UTC,lat=Lat,lon=Lon,alt=Height [ft]"); ValueError where
    it cannot be understood. Otherwise nothing is raised: what cannot be read is raised by `read_log`, so that one
    bad log does not stop the others.
    """
    asked = columns_asked(columns) if columns is not None else None
    return (replace(source, columns=asked) if asked else source for source in find_sources(paths, is_log))


def find_sources(paths: Iterable[str | Path], is_log: IsLog) -> Iterator[LogSource]:
    """All logs at these places, in the order given, folders in the order of their names.

    A file named is always yielded, log or not; in folders and archives, files that are no logs are passed over in
    silence, and so are hidden ones. Links to folders are not followed. Nothing is raised here: a place without a
    log yields a source whose `read` says so.
    """
    for path in paths:
        if str(path) == "-":
            yield from _from_standard_input(is_log)
        elif Path(path).is_dir():
            yield from _or_nothing_found(_from_folder(Path(path), is_log), path, "no log in this folder")
        else:
            yield from _from_file(Path(path), is_log)


def _or_nothing_found(sources: Iterable[LogSource], path: str | Path, found: str) -> Iterator[LogSource]:
    """The sources, or one that says that there is none."""
    empty = True
    for source in sources:
        empty = False
        yield source
    if empty:
        yield LogSource(
            str(path), Path(path).name, trouble=(found, "name the place where the recorder's files are")
        )


def _from_standard_input(is_log: IsLog) -> Iterator[LogSource]:
    data = sys.stdin.buffer.read(MOST_BYTES + 1)
    if is_zip(data):
        sources = _from_zip(data, "-", "standard input", is_log)
        yield from _or_nothing_found(sources, "-", "no log in this archive")
        return
    trouble = None if data else ("standard input is empty", "send a log to it, or name a file")
    yield LogSource("-", "standard input", data=data, trouble=trouble)


def _from_file(path: Path, is_log: IsLog) -> Iterator[LogSource]:
    """A file that was named: one log, or the logs of an archive."""
    if path.exists() and not path.is_file():  # a pipe can be read only once
        yield _from_pipe(path)
        return
    try:
        head = _file_bytes(str(path), HEAD_BYTES)
    except (OSError, ValueError):
        head = b""  # reading it tells why
    if is_zip(head):
        sources = _from_zip(str(path), str(path), path.name, is_log)
        yield from _or_nothing_found(sources, path, "no log in this archive")
    else:
        yield LogSource(str(path), path.name, str(path))


def _from_pipe(path: Path) -> LogSource:
    try:
        return LogSource(str(path), path.name, data=_file_bytes(str(path), MOST_BYTES + 1))
    except OSError as error:
        return LogSource(str(path), path.name, trouble=(f"cannot be read ({error.strerror})", "check its rights"))


def _from_folder(folder: Path, is_log: IsLog) -> Iterator[LogSource]:
    """Logs of a folder and those below it: files first, then folders, both by name."""
    try:
        entries = sorted(entry for entry in folder.iterdir() if not entry.name.startswith("."))
    except OSError:
        return
    for entry in entries:
        if not entry.is_file():
            continue
        try:
            head = _file_bytes(str(entry), HEAD_BYTES)
            if is_zip(head):
                yield from _from_zip(str(entry), str(entry), entry.name, is_log)
            elif is_log(gunzipped(head, HEAD_BYTES, partial=True) if is_gzip(head) else head):
                yield LogSource(str(entry), entry.name, str(entry))
        except (OSError, ArchiveError):
            continue
    for entry in entries:
        if entry.is_dir() and not entry.is_symlink():
            yield from _from_folder(entry, is_log)


def _from_zip(archive: str | bytes, path: str, archive_name: str, is_log: IsLog) -> Iterator[LogSource]:
    """Logs of an archive in the order of their names; an archive inside it is refused, not opened.

    The track of a KMZ is called as the KMZ: inside it is always `doc.kml` (OGC KML 2.3, annex C).
    """
    try:
        for number, name, head in zip_heads(archive, HEAD_BYTES):
            place, own_name = f"{path}/{name}", name.replace("\\", "/").rpartition("/")[2]
            own_name = archive_name if name.lower() == "doc.kml" else own_name
            if isinstance(head, ArchiveError):
                yield LogSource(place, own_name, trouble=(str(head), "unpack it yourself, or copy it anew"))
            elif is_zip(head) or is_gzip(head):
                trouble = ("an archive inside an archive", "unpack the outer one first")
                yield LogSource(place, own_name, trouble=trouble)
            elif is_log(head):
                if isinstance(archive, str):
                    yield LogSource(place, own_name, archive, number)
                else:
                    yield LogSource(place, own_name, member=number, data=archive)
    except ArchiveError as error:
        yield LogSource(path, archive_name, trouble=(str(error), "unpack it yourself, or copy it anew"))


def _file_bytes(path: str, most: int) -> bytes:
    """The first bytes of a file."""
    with Path(path).open("rb") as file:
        return file.read(most)
