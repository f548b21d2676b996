"""Results into files: whole or not at all, nothing of the user's overwritten."""

from __future__ import annotations

import os
import re
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

from flightlog.errors import ReportError

if TYPE_CHECKING:
    from flightlog.debriefing import Debrief
    from flightlog.writers.display import Display

HEAD_BYTES = 8192
"""How much of a file is read to see whether it is our own report."""
LARGEST_PDF_BYTES = 30_000_000
"""How much of a PDF is searched for our mark, which stands near its end; ours have 1 or 2 million bytes."""
LONGEST_STEM = 80
_ENDINGS = (".gz", ".zip", ".igc", ".gpx", ".kml", ".kmz", ".nmea", ".csv", ".tsv", ".xml")
_RESERVED = re.compile(r"(?i)(con|prn|aux|nul|com\d|lpt\d)(\..*)?$")  # device names of Windows


def write_json(debrief: Debrief, path: Path | str, *, force: bool = False) -> Path:
    """Write the results of a log as a JSON document.

    Parameters
    ----------
    debrief : Debrief
        From `flightlog.debrief`.
    path : path
        Its folder is made. An earlier report of the same log is renewed; another file there is left alone.
    force : bool
        Overwrite whatever file is there.

    Returns
    -------
    Path
        The file written.

    Raises
    ------
    ReportError
        The file exists and is no report of this log, or it cannot be written.
    """
    from flightlog.writers.json_results import debrief_json

    return write_report(Path(path), debrief_json(debrief, indent=1), debrief.log.sha256, force=force)


def write_html(debrief: Debrief, path: Path | str, *, display: Display | None = None, force: bool = False) -> Path:
    """Write the results of a log as one web page that needs nothing else.

    `display` says in which units and time zone it speaks: metric and in the time of the log without it. The other
    parameters and errors are those of `write_json`.
    """
    from flightlog.writers.html_page import html_page
    from flightlog.writers.page import page_of

    page = html_page(page_of(debrief, display))
    return write_report(Path(path), page, debrief.log.sha256, force=force)


def write_pdf(
    debrief: Debrief,
    path: Path | str,
    *,
    display: Display | None = None,
    paper: str = "a4",
    force: bool = False,
) -> Path:
    """Write the results of a log as pages to print, with its fonts in it; paper is `a4` or `letter`.

    What it says is what the web page says. The other parameters and errors are those of `write_html`.
    """
    from flightlog.writers.page import page_of
    from flightlog.writers.pdf_pages import pdf_page

    content = pdf_page(page_of(debrief, display), paper=paper)
    return write_report(Path(path), content, debrief.log.sha256, force=force)


def write_report(path: Path, content: bytes, sha256: str, *, force: bool = False) -> Path:
    """Put a report of the log with that digest where `path` says; errors as in `write_json`."""
    with _told_as("report", path):
        if _stands(path, "report") and not force and not is_report_of(path, sha256):
            raise _left_alone("a file that is no report of this log", path)
        _write_whole(path, content)
    return path


def write_new(path: Path, content: bytes, *, force: bool = False) -> Path:
    """Put a file where nothing stands, or the same to the byte; another one is overwritten only with `force`.

    Raises
    ------
    ReportError
        Another file stands there, or it cannot be written.
    """
    with _told_as("file", path):
        if _stands(path, "file") and not force and not _holds(path, content):
            raise _left_alone("another file", path)
        _write_whole(path, content)
    return path


def write_own(path: Path, content: bytes) -> None:
    """Put a file where the caller knows that nothing of the user's stands."""
    with _told_as("file", path):
        _write_whole(path, content)


@contextmanager
def _told_as(what: str, path: Path) -> Iterator[None]:
    """What the system says against writing, as the error of a report or a file."""
    try:
        yield
    except OSError as error:
        raise ReportError(
            f"the {what} cannot be written ({error.strerror or error})", "choose another --out", path
        ) from error


def _stands(path: Path, what: str) -> bool:
    """Whether something stands there; a folder never gives way."""
    if path.is_dir():
        raise ReportError(f"a folder stands where the {what} should go", "name a file", path)
    return path.exists() or path.is_symlink()


def _left_alone(found: str, path: Path) -> ReportError:
    """The error that keeps what stands there."""
    return ReportError(
        f"{found} stands there, and was left alone",
        "move it away, choose another --out, or overwrite it with --force",
        path,
    )


def _holds(path: Path, content: bytes) -> bool:
    """Whether a file holds these bytes and no others."""
    return path.is_file() and path.stat().st_size == len(content) and path.read_bytes() == content


def _write_whole(path: Path, content: bytes) -> None:
    """Write beside the target, then move into its place: a reader sees the old file or the whole new one."""
    path.parent.mkdir(parents=True, exist_ok=True)
    draft = path.with_name(f".flightlog-{os.getpid()}.tmp")
    try:
        with draft.open("xb") as file:
            file.write(content)
        draft.replace(path)
    except BaseException:
        draft.unlink(missing_ok=True)
        raise


def is_report_of(path: Path, sha256: str) -> bool:
    """Whether flightlog wrote that file, and about the log with that digest."""
    if not path.is_file() or not re.fullmatch("[0-9a-f]{64}", sha256):
        return False
    with path.open("rb") as file:
        start = file.read(HEAD_BYTES)
        if start.startswith(b"%PDF-"):
            return is_own_pdf(start + file.read(LARGEST_PDF_BYTES), f"log-sha256-{sha256}")
    head = start.decode("utf-8", "replace")
    if re.match(r'\s*\{\s*"schema":\s*"flightlog/[a-z]+/\d+"', head):
        return re.search(rf'"sha256":\s*"{sha256}"', head) is not None
    return (
        head.startswith("<!doctype html>")
        and '<meta name="generator" content="flightlog ' in head
        and f'<meta name="flightlog-log-sha256" content="{sha256}">' in head
    )


def is_kind(path: Path, starts: Sequence[str], page_mark: str | None = None, keyword: str | None = None) -> bool:
    """Whether that file begins in one of these ways, is a page with that mark, or our PDF with that keyword."""
    if not path.is_file():
        return False
    with path.open("rb") as file:
        head = file.read(HEAD_BYTES)
        if head.startswith(b"%PDF-"):
            return keyword is not None and is_own_pdf(head + file.read(LARGEST_PDF_BYTES), keyword)
    if head.startswith(b"<!doctype html>"):
        return page_mark is not None and page_mark.encode() in head
    return head.startswith(tuple(start.encode() for start in starts))


def is_own_pdf(content: bytes, keyword: str) -> bool:
    """Whether flightlog made that PDF, with that word among its keywords."""
    return re.search(rb"/Keywords\(flightlog [^()]*\b" + re.escape(keyword.encode()), content) is not None


def safe_stem(file_name: str) -> str:
    """The name of a log without its endings, made fit to name a file on any system.

    >>> safe_stem("monday.igc.gz"), safe_stem("../../etc/passwd"), safe_stem(".."), safe_stem("con.gpx")
    ('monday', 'passwd', 'log', 'log-con')
    """
    name = re.split(r"[/\\]", file_name)[-1]
    while name.lower().endswith(_ENDINGS):
        name = name.rpartition(".")[0]
    name = "".join(letter if letter.isalnum() or letter in "-_. " else "-" for letter in name)
    name = name.encode("utf-8", "ignore")[:LONGEST_STEM].decode("utf-8", "ignore").strip(" .-")
    if not name:
        return "log"
    return f"log-{name}" if _RESERVED.match(name) else name


class StemGiver:
    """Gives every log of one call a file name of its own, the same in every run."""

    def __init__(self) -> None:
        self._given: set[str] = set()

    def stem_for(self, debrief: Debrief) -> str:
        """The log's own stem; where that is taken, the first digits of its digest follow."""
        plain = safe_stem(debrief.log.file)
        marked = f"{plain}-{debrief.log.sha256[:8]}"
        choices: list[Any] = [plain, marked, *(f"{marked}-{number}" for number in range(2, len(self._given) + 3))]
        stem: str = next(choice for choice in choices if choice.casefold() not in self._given)
        self._given.add(stem.casefold())
        return stem
