"""A comparison into a file: which format, which name; nothing of the user's overwritten."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from flightlog.comparing.results import Comparison
from flightlog.writers.compare_json import compare_json, task_sha256
from flightlog.writers.files import safe_stem, write_report

if TYPE_CHECKING:
    from flightlog.writers.display import Display


def write_comparison(
    comparison: Comparison,
    folder: Path,
    ending: str,
    *,
    display: Display | None = None,
    paper: str = "a4",
    force: bool = False,
) -> Path:
    """Write a comparison as `compare-TASK.html`, `.pdf` or `.json` into a folder.

    An earlier comparison on the same task is renewed; another file there is left alone. `display` says in which
    units and time zone a page speaks; paper is `a4` or `letter`.

    Raises
    ------
    ReportError
        The file exists and is no comparison on this task, or it cannot be written.
    """
    path = folder / f"compare-{safe_stem(comparison.task.name).replace(' ', '-')}.{ending}"
    return write_report(
        path, _content(comparison, ending, display, paper), task_sha256(comparison.task), force=force
    )


def _content(comparison: Comparison, ending: str, display: Display | None, paper: str) -> bytes:
    """The bytes of the file."""
    if ending == "json":
        return compare_json(comparison, indent=1)
    from flightlog.writers.compare_page import compare_page
    from flightlog.writers.display import Display

    if ending == "pdf":
        from flightlog.writers.pdf_compare import pdf_compare

        return pdf_compare(comparison, display or Display(), paper=paper)
    return compare_page(comparison, display or Display())
