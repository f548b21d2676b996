"""What stands in a folder of reports: made from which logs, and with what, so that only changes are redone."""

from __future__ import annotations

import hashlib
import re
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path

from flightlog.errors import ReportError
from flightlog.writers.files import write_own
from flightlog.writers.index_rows import LogRow

NAME = ".flightlog-reports.json"
SCHEMA = "flightlog/reports/2"
_ANY_SCHEMA = re.compile(r"flightlog/reports/\d{1,9}")
LARGEST_BYTES = 500_000_000


@dataclass(frozen=True)
class WrittenFile:
    """A report as it was when it was written; one that differs now was changed by somebody else."""

    size: int
    time_ns: int


@dataclass(frozen=True)
class Entry:
    """The reports of one log."""

    source: str  # where the log was found
    sha256: str  # of the log
    made_with: str  # digest of program and options
    files: dict[str, WrittenFile]  # by ending
    row: LogRow


@dataclass(frozen=True)
class Manifest:
    """The reports of a folder, by the stem of their names."""

    schema: str
    entries: dict[str, Entry] = field(default_factory=dict)


@dataclass(frozen=True)
class _Head:
    """What tells a manifest, of whatever release, from another file."""

    schema: str


def read_manifest(folder: Path) -> Manifest | None:
    """The manifest of a folder; an empty one where there is none, None where another file stands in its place.

    One of another release counts as none: the reports it names are made anew when their logs are given again.
    """
    import msgspec

    path = folder / NAME
    try:
        if not path.exists() and not path.is_symlink():
            return Manifest(SCHEMA)
        if not path.is_file() or path.stat().st_size > LARGEST_BYTES:
            return None
        content = path.read_bytes()
        schema = msgspec.json.decode(content, type=_Head).schema
        if schema == SCHEMA:
            return msgspec.json.decode(content, type=Manifest)
    except (OSError, msgspec.MsgspecError, UnicodeDecodeError):
        return None
    return Manifest(SCHEMA) if _ANY_SCHEMA.fullmatch(schema) else None


def write_manifest(folder: Path, manifest: Manifest, *, is_readable: bool = True) -> None:
    """Write it, unless another file was found in its place when it was read."""
    import msgspec

    if not is_readable:
        raise ReportError(
            "a file of this name is no list of reports, and was left alone",
            "move it away, so that the next run does only what changed",
            folder / NAME,
        )
    write_own(folder / NAME, msgspec.json.encode(manifest))


def endings_there(folder: Path, stem: str, entry: Entry) -> list[str]:
    """Endings of the reports of a log that are there, changed or not."""
    return [ending for ending in sorted(entry.files) if (folder / f"{stem}.{ending}").is_file()]


def written_file(path: Path) -> WrittenFile | None:
    """What tells whether a file is still as it was; None where it is gone."""
    try:
        found = path.stat()
    except OSError:
        return None
    return WrittenFile(found.st_size, found.st_mtime_ns)


def still_stands(folder: Path, stem: str, entry: Entry, ending: str) -> bool:
    """Whether the report with that ending is there as it was written."""
    before = entry.files.get(ending)
    return before is not None and written_file(folder / f"{stem}.{ending}") == before


@cache
def program_digest() -> str:
    """A digest of flightlog itself: another version, or a changed line of it, makes reports anew."""
    digest = hashlib.sha256()
    root = Path(__file__).parent.parent
    for path in sorted(root.rglob("*")):
        if path.is_file() and path.suffix in (".py", ".html", ".css", ".js", ".typ", ".xz"):
            digest.update(str(path.relative_to(root)).encode())
            digest.update(path.read_bytes())
    return digest.hexdigest()


def options_digest(*options: object) -> str:
    """A digest of all that a report depends on besides its log."""
    return hashlib.sha256(
        "\0".join([program_digest(), *map(repr, options)]).encode("utf-8", "replace")
    ).hexdigest()
