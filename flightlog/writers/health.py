"""The health of a log as lines of text: what it holds, then what is odd, in the order of its lines."""

from __future__ import annotations

from flightlog.debriefing import Debrief
from flightlog.errors import Note, one_line
from flightlog.writers.display import Display, flight_count

ALTITUDES = {"pressure": "pressure altitude", "gnss": "satellite altitude"}


def health_lines(name: str, debrief: Debrief) -> list[str]:
    """Lines for a terminal; each begins with the name of the log, and its line where there is one."""
    log = debrief.log
    interval = Display().number(log.interval_s, 1).removesuffix(".0")
    lines = [
        f"{name}: {log.format.upper()}, {log.fixes_used} of {log.fixes} fixes used, one every {interval} s,"
        f" heights from {ALTITUDES[log.altitude_source]}, {flight_count(len(debrief.flights))}"
    ]
    if not log.problems:
        lines.append(f"{name}: nothing odd was found")
    lines += [_line_of(name, note) for note in sorted(log.problems, key=lambda note: note.line or 0)]
    return [one_line(line) for line in lines]


def _line_of(name: str, note: Note) -> str:
    """One oddity, and how often it was met."""
    where = f"{name}:{note.line}" if note.line else name
    often = f" (met {note.count} times)" if note.count > 1 else ""
    return f"{where}: {note.message}{often} [{note.code}]"
