"""Bytes out of .gz and .zip files, bounded: a small file that unpacks to a huge one is refused."""

from __future__ import annotations

import io
import struct
import zipfile
import zlib
from collections.abc import Iterator
from pathlib import Path

MOST_MEMBERS = 10_000
"""Entries of a .zip: many seasons of logs."""
LARGEST_RATIO = 200
"""Unpacked bytes for each packed one; a recorder lying on a table all day reaches about 60 (measured)."""
MOST_PARTS = 10_000
"""Parts of a .gz: those that are packed for access by block have one each 64 kB."""
_WINDOW_BYTES = 1 << 16  # packed bytes given to the unpacker at a time
_RATIO_MATTERS_BYTES = 10_000_000  # below this no expansion hurts
_MOST_TOTAL_BYTES = 4_000_000_000
_LARGEST_DIRECTORY_BYTES = 4_000_000  # of a .zip; 10 000 entries with long names need 2
_END_OF_DIRECTORY = struct.Struct("<4s4H2LH")
_LONGEST_COMMENT = 65535


class ArchiveError(Exception):
    """An archive that cannot or will not be unpacked; the text says why."""


def is_gzip(head: bytes) -> bool:
    """Whether bytes begin as a .gz file does."""
    return head.startswith(b"\x1f\x8b\x08")


def is_zip(head: bytes) -> bool:
    """Whether bytes begin as a .zip file does, an empty one included."""
    return head.startswith((b"PK\x03\x04", b"PK\x05\x06"))


def gunzipped(data: bytes, most: int, *, partial: bool = False) -> bytes:
    """Unpack a .gz file of `most` bytes at most; `partial` gives its first bytes instead of an error."""
    pieces: list[bytes] = []
    size, at, parts = 0, 0, 0
    while is_gzip(data[at : at + 3]):  # what follows the last part is padding
        parts += 1
        if parts > MOST_PARTS:
            raise ArchiveError(f"a .gz file of more than {MOST_PARTS} parts")
        unpacker = zlib.decompressobj(wbits=31)
        while not unpacker.eof and at < len(data):
            window = data[at : at + _WINDOW_BYTES]
            try:
                piece = unpacker.decompress(window, most + 1 - size)
            except zlib.error as error:
                if partial and pieces:
                    return b"".join(pieces)
                raise ArchiveError("a damaged .gz file") from error
            at += len(window) - len(unpacker.unused_data) - len(unpacker.unconsumed_tail)
            pieces.append(piece)
            size += len(piece)
            if partial and size >= most:
                return b"".join(pieces)
            if size > most or (size > _RATIO_MATTERS_BYTES and size > LARGEST_RATIO * len(data)):
                raise ArchiveError("a .gz file that unpacks to far more than a log")
        if not unpacker.eof and not partial:
            raise ArchiveError("a .gz file that is cut off")
    return b"".join(pieces)


def zip_heads(source: str | bytes, most: int) -> Iterator[tuple[int, str, bytes | ArchiveError]]:
    """Number, name and first bytes of the files in a .zip, by name; folders and hidden files left out.

    `source` is its path, or its bytes. A file whose first bytes cannot be had comes with the reason instead.
    """
    size = _check_directory(source)
    with _opened(source) as archive:
        members = archive.infolist()
        if len(members) > MOST_MEMBERS:
            raise ArchiveError(f"a .zip of more than {MOST_MEMBERS} files")
        unpacked = sum(member.file_size for member in members if not _is_bomb(member))
        if unpacked > min(_MOST_TOTAL_BYTES, max(_RATIO_MATTERS_BYTES, LARGEST_RATIO * size)):
            raise ArchiveError("a .zip that unpacks to far more than logs")
        numbered = sorted(
            (member.filename, number) for number, member in enumerate(members) if not member.is_dir()
        )
        for name, number in numbered:
            if name.replace("\\", "/").rpartition("/")[2].startswith("."):
                continue
            try:
                yield number, name, _unpacked(archive, members[number], most, partial=True)
            except ArchiveError as error:
                yield number, name, error


def read_member(source: str | bytes, number: int, most: int) -> bytes:
    """Unpack one file of a .zip, in memory: its name decides nothing, so `../` in it is harmless."""
    with _opened(source) as archive:
        return _unpacked(archive, archive.infolist()[number], most)


def _unpacked(archive: zipfile.ZipFile, member: zipfile.ZipInfo, most: int, *, partial: bool = False) -> bytes:
    """The bytes of one file, `most` of them at most; `partial` gives its first bytes instead of an error."""
    if _is_bomb(member):
        raise ArchiveError("a file in a .zip that unpacks to far more than a log")
    try:
        with archive.open(member) as file:
            data = file.read(most if partial else most + 1)
    except (zipfile.BadZipFile, zlib.error, EOFError, OSError, NotImplementedError) as error:
        raise ArchiveError("a damaged file in a .zip") from error
    except RuntimeError as error:  # what zipfile raises for a password
        raise ArchiveError("a file in a .zip that needs a password") from error
    if len(data) > most:
        raise ArchiveError("a file in a .zip that is far larger than a log")
    return data


def _is_bomb(member: zipfile.ZipInfo) -> bool:
    """Whether a file says that it unpacks to far more than any log does."""
    most = max(_RATIO_MATTERS_BYTES, LARGEST_RATIO * max(member.compress_size, 1))
    return member.file_size > most


def _opened(source: str | bytes) -> zipfile.ZipFile:
    try:
        return zipfile.ZipFile(io.BytesIO(source) if isinstance(source, bytes) else source)
    except (zipfile.BadZipFile, OSError, ValueError, NotImplementedError) as error:
        raise ArchiveError("a damaged .zip file") from error


def _check_directory(source: str | bytes) -> int:
    """Size of the .zip; ArchiveError for a directory of entries too large to hold, before anything holds it."""
    try:
        size, tail = _tail(source)
    except OSError as error:
        raise ArchiveError(f"cannot be read ({error.strerror})") from error
    at = tail.rfind(b"PK\x05\x06")
    if at < 0 or len(tail) - at < _END_OF_DIRECTORY.size:
        raise ArchiveError("a .zip file that is cut off")
    _, _, _, _, _, directory_bytes, _, _ = _END_OF_DIRECTORY.unpack_from(tail, at)
    if directory_bytes > _LARGEST_DIRECTORY_BYTES:
        raise ArchiveError(f"a .zip of more than {MOST_MEMBERS} files")
    return size


def _tail(source: str | bytes) -> tuple[int, bytes]:
    """Size of the .zip, and its last bytes, where its directory is announced."""
    longest = _LONGEST_COMMENT + _END_OF_DIRECTORY.size
    if isinstance(source, bytes):
        return len(source), source[-longest:]
    with Path(source).open("rb") as file:
        size = file.seek(0, 2)
        file.seek(max(0, size - longest))
        return size, file.read()
