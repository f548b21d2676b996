"""The scripts of the live charts: BokehJS as the installed bokeh brings it along, and our own."""

from __future__ import annotations

import base64
import hashlib
from functools import cache
from importlib.util import find_spec
from pathlib import Path

from flightlog.errors import ReportError

LIBRARY = ("bokeh.min.js", "bokeh-api.min.js")
OWN = ("live_fixes.js", "live_plots.js", "live_tiles.js", "live_page.js")


@cache
def live_scripts() -> tuple[str, ...]:
    """Finished texts of the script elements of a page, in their order; bokeh itself is not imported.

    Raises
    ------
    ReportError
        bokeh is not installed as it should be.
    """
    found = find_spec("bokeh")
    folders = found.submodule_search_locations if found else None
    try:
        folder = Path((folders or [""])[0]) / "server" / "static" / "js"
        library = [(folder / name).read_text(encoding="utf-8") for name in LIBRARY]
    except OSError as error:
        raise ReportError("bokeh, which draws the live charts, is not whole", "install flightlog anew") from error
    own = "".join((Path(__file__).parent / name).read_text(encoding="utf-8") for name in OWN)
    scripts = (*library, f'(() => {{\n"use strict";\n{own}}})();\n')
    if any("</script" in script.lower() or "<!--" in script for script in scripts):
        raise ReportError("a script of bokeh cannot stand in a page", "install the bokeh that uv.lock names")
    return scripts


@cache
def script_sources() -> str:
    """Their digests for the content policy of a page: no other script may run there."""
    digests = (hashlib.sha256(script.encode()).digest() for script in live_scripts())
    return " ".join(f"'sha256-{base64.b64encode(digest).decode()}'" for digest in digests)
