"""The health of a log, as JSON or as lines of text: what it holds, then what is odd, in the order of its lines."""

from __future__ import annotations

from dataclasses import dataclass

from flightlog.errors import Note, one_line
from flightlog.tracks.health import Health
from flightlog.tracks.track import Track
from flightlog.writers.display import Display, duration
from flightlog.writers.json_results import GENERATOR, Generator, encoded

CHECK_SCHEMA = "flightlog/check/1"


@dataclass(frozen=True)
class CheckDocument:
    """What `flightlog check --to json` writes."""

    schema: str
    generator: Generator
    file: str
    format: str
    sha256: str
    date: str | None
    health: Health


def check_json(track: Track, health: Health, *, indent: int = 0) -> bytes:
    """The health of a log as UTF-8 JSON, one line unless `indent` is given."""
    document = CheckDocument(
        CHECK_SCHEMA, GENERATOR, track.file, track.format, track.sha256, track.header.date, health
    )
    return encoded(document, indent)


def health_lines(name: str, track: Track, health: Health) -> list[str]:
    """Lines for a terminal; each begins with the name of the log, and its line where there is one."""
    lines = [f"{name}: {', '.join(_facts(track, health))}"]
    if not health.problems:
        lines.append(f"{name}: nothing odd was found")
    lines += [_line_of(name, note) for note in sorted(health.problems, key=lambda note: note.line or 0)]
    return [one_line(line) for line in lines]


def _facts(track: Track, health: Health) -> list[str]:
    """What the log holds, in a few words each."""
    interval = "one fix alone"
    if health.interval_s is not None:
        interval = f"one every {Display().number(health.interval_s, 1).removesuffix('.0')} s"
    span = duration(float(track.time_s[-1] - track.time_s[0]))
    altitudes = [
        word
        for word, is_there in (
            ("pressure altitude", health.has_pressure_altitude),
            ("satellite altitude", health.has_gnss_altitude),
        )
        if is_there
    ]
    own = [f"the recorder's own {', '.join(health.recorded)}"] if health.recorded else []
    return [
        f"{track.format.upper()} of {track.header.date or 'no date'}",
        f"{health.fixes} fixes in {health.records} records",
        interval,
        span,
        " and ".join(altitudes) or "no altitude",
        *own,
    ]


def _line_of(name: str, note: Note) -> str:
    """One oddity, and how often it was met."""
    where = f"{name}:{note.line}" if note.line else name
    often = f" (met {note.count} times)" if note.count > 1 else ""
    return f"{where}: {note.message}{often} [{note.code}]"
