"""Coverage-guided fuzzing of every reader and of the whole debrief; `python -m tests.fuzz.guided igc`.

An input that opens a new branch is kept and changed further: that reaches code which blind mutation does not.
A failure prints its traceback and leaves the input in the working folder as `crash-...`, to become a unit test.
"""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

import atheris
import click

with atheris.instrument_imports(include=["flightlog"]):
    from flightlog.debriefing import debrief
    from flightlog.errors import FlightlogError
    from flightlog.tracks.csv_log import parse_csv
    from flightlog.tracks.gpx import parse_gpx
    from flightlog.tracks.igc import parse_igc
    from flightlog.tracks.kml import parse_kml
    from flightlog.tracks.nmea import parse_nmea
    from flightlog.writers.html_page import html_page
    from flightlog.writers.json_results import debrief_json
    from flightlog.writers.page import page_of

from tests.fuzz.test_other_readers_never_crash import SOUND
from tests.fuzz.test_readers_never_crash import SOUND_GPX, SOUND_IGC, check

LONGEST_INPUT_BYTES = 12_000
SAMPLE = Path(__file__).parents[2] / "sample_tracks" / "top-landing-day.igc"


def _whole(data: bytes) -> None:
    """Any bytes as an IGC log, through analysis, page and JSON."""
    try:
        day = debrief(parse_igc(data, file="x"))
    except FlightlogError:
        return
    text = debrief_json(day)
    assert b"NaN" not in text
    assert b"Infinity" not in text
    html_page(page_of(day))


def _thinned_sample() -> bytes:
    """A whole flight small enough to be mutated: every eighth fix of the sample day's first half hour."""
    lines = SAMPLE.read_bytes().splitlines(keepends=True)
    fixes = [line for line in lines if line.startswith(b"B")][300:2100:8]
    return b"".join(line for line in lines if not line.startswith((b"B", b"G"))) + b"".join(fixes)


SOUND_LOGS = {
    "igc": (parse_igc, SOUND_IGC),
    "gpx": (parse_gpx, SOUND_GPX),
    "nmea": (parse_nmea, SOUND[parse_nmea]),
    "kml": (parse_kml, SOUND[parse_kml]),
    "csv": (parse_csv, SOUND[parse_csv]),
}


def _readers(data: bytes) -> None:
    """Any bytes to every reader."""
    for parse, _ in SOUND_LOGS.values():
        check(lambda parse=parse: parse(data, file="x"))


TARGETS: dict[str, tuple[Callable[[bytes], None], tuple[bytes, ...]]] = {
    **{
        name: (lambda data, parse=parse: check(lambda: parse(data, file="x")), (sound,))
        for name, (parse, sound) in SOUND_LOGS.items()
    },
    "readers": (_readers, tuple(sound for _, sound in SOUND_LOGS.values())),
    "whole": (_whole, (_thinned_sample(),)),
}


@click.command()
@click.argument("target", type=click.Choice(sorted(TARGETS)))
@click.option("--seconds", default=60, show_default=True, help="Stop after that long.")
@click.option("--runs", default=-1, help="Stop after so many inputs; -1: no end.")
@click.option("--corpus", type=click.Path(file_okay=False), help="Keep telling inputs in this folder.")
def main(target: str, seconds: int, runs: int, corpus: str | None) -> None:
    """Fuzz one TARGET until the time is over or something fails."""
    run, seeds = TARGETS[target]
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(corpus or scratch)
        folder.mkdir(parents=True, exist_ok=True)
        for number, seed in enumerate(seeds):
            (folder / f"sound-{number}").write_bytes(seed)
        words = [sys.argv[0], str(folder), f"-max_total_time={seconds}", f"-runs={runs}", "-seed=1", "-timeout=10"]
        atheris.Setup([*words, f"-max_len={LONGEST_INPUT_BYTES}", "-rss_limit_mb=1000"], run)
        atheris.Fuzz()


if __name__ == "__main__":
    main()
