"""How much one log may hold: what bounds the time and memory that any file can cost."""

from __future__ import annotations

from flightlog.errors import TrackFileError

MOST_FIXES = 300_000
"""Eight hours at ten fixes a second, sixteen at five, three days and a half at one."""


def require_few_fixes(count: int, file: str) -> None:
    """Raise TrackFileError where a log holds more fixes than any day of flying gives."""
    if count > MOST_FIXES:
        raise TrackFileError(f"more than {MOST_FIXES} fixes", "no day gives so many; split the log by day", file)
