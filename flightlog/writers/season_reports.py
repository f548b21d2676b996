"""The season review into files, and known again as ours when it is renewed."""

from __future__ import annotations

from pathlib import Path

from flightlog.season.results import SeasonReview
from flightlog.writers.display import Display
from flightlog.writers.files import is_kind, write_report
from flightlog.writers.season_json import SEASON_SCHEMA, season_geojson, season_json
from flightlog.writers.season_page import PAGE_MARK, page_of_season, season_page

FILES = {"html": "season.html", "json": "season.json", "geojson": "season.geojson", "pdf": "season.pdf"}
KEYWORD = "flightlog-page-season"
STARTS = (f'{{"schema":"{SEASON_SCHEMA}"', '{"type":"FeatureCollection","generator":"flightlog ')
"""How files written here begin, pages and PDF apart."""


def season_bytes(review: SeasonReview, ending: str, show: Display, *, paper: str = "a4") -> bytes:
    """The review as `html`, `json`, `geojson` or `pdf`; paper is `a4` or `letter`."""
    if ending == "json":
        return season_json(review) + b"\n"
    if ending == "geojson":
        return season_geojson(review)
    if ending == "html":
        return season_page(review, show)
    from flightlog.writers.pdf_season import pdf_season

    return pdf_season(page_of_season(review, show), keyword=KEYWORD, paper=paper)


def write_season_review(content: bytes, folder: Path, ending: str, *, force: bool = False) -> Path:
    """Write it into a folder as `season.html` and so on.

    An earlier file of this kind is renewed; another file there is left alone unless `force` is given.

    Raises
    ------
    ReportError
        A file that is none of ours stands there, or it cannot be written.
    """
    path = folder / FILES[ending]
    return write_report(path, content, "", force=force or is_kind(path, STARTS, PAGE_MARK, KEYWORD))
