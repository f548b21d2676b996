"""The cleaned track: the fixes that the analysis used, where they were recorded, each with what was done there."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass, fields, replace
from datetime import UTC, datetime

import numpy as np

from flightlog.arrays import Floats, Ints
from flightlog.debriefing import Debrief
from flightlog.errors import one_line
from flightlog.measures.results import Event

KINDS = ("", "launch_run", "climb", "glide", "search", "approach")
"""Code of a phase -> its kind; "" is on the ground, or not known."""
MODES = ("", "circling", "ridge", "straight")
EVENTS = {"takeoff": "Take-off", "landing": "Landing"}
LONGEST_NAME = 200


@dataclass(frozen=True)
class FlightEvent:
    """A take-off or a landing, and of which flight."""

    kind: str  # "takeoff" | "landing"
    flight: int
    event: Event


@dataclass(frozen=True, eq=False)
class CleanTrack:
    """n fixes in order of time; nothing is moved: positions are the recorder's, spikes and repeats left out."""

    time_s: Floats  # (n,) UTC, seconds since 1970-01-01
    latitude_deg: Floats  # (n,) WGS 84
    longitude_deg: Floats  # (n,) [-180, 180)
    altitude_m: Floats  # (n,) above mean sea level, calibrated; NaN where the recorder had none
    smooth_altitude_m: Floats  # (n,) the same, smoothed, without holes
    pressure_altitude_m: Floats  # (n,) above 1013.25 hPa, as recorded; NaN where there is none
    gnss_altitude_m: Floats  # (n,) above mean sea level, as recorded; NaN where there is none
    ground_speed_mps: Floats  # (n,)
    climb_mps: Floats  # (n,) up positive
    piece: Ints  # (n,) fixes with one number have no gap between them
    flight: Ints  # (n,) number of the flight, 0 on the ground
    kind: Ints  # (n,) index into KINDS
    mode: Ints  # (n,) index into MODES
    events: tuple[FlightEvent, ...]  # take-offs and landings in order of time
    file: str  # name of the log
    pilot: str | None
    wing: str | None
    recorder: str | None
    utc_offset_s: float | None
    has_date: bool  # False: the times are of a day that is not known, and begin at 1970-01-01


@dataclass(frozen=True)
class Stretch:
    """Fixes after each other, `first` to `stop` (exclusive), in which one flight and one phase went on."""

    first: int
    stop: int
    flight: int
    kind: str
    mode: str


def cleaned_track(debrief: Debrief) -> CleanTrack:
    """The cleaned track of a log, with flights and phases."""
    motion, track = debrief.motion, debrief.track
    fix = motion.fix
    flight, kind, mode = _labels(debrief)
    log = debrief.log
    return CleanTrack(
        time_s=motion.time_s,
        latitude_deg=track.latitude_deg[fix],
        longitude_deg=track.longitude_deg[fix],
        altitude_m=motion.measured_altitude_m,
        smooth_altitude_m=motion.altitude_m,
        pressure_altitude_m=_column(track.pressure_altitude_m, fix),
        gnss_altitude_m=_column(track.gnss_altitude_m, fix),
        ground_speed_mps=np.hypot(motion.velocity_east_mps, motion.velocity_north_mps),
        climb_mps=motion.climb_mps,
        piece=motion.piece,
        flight=flight,
        kind=kind,
        mode=mode,
        events=_events(debrief),
        file=one_line(log.file)[:LONGEST_NAME],
        pilot=_name(log.pilot),
        wing=_name(log.wing),
        recorder=_name(log.recorder),
        utc_offset_s=track.header.utc_offset_s,
        has_date=log.date is not None,
    )


def _column(values: Floats | None, fix: Ints) -> Floats:
    """The values of the fixes used; NaN where the log has none at all."""
    return np.full(len(fix), np.nan) if values is None else values[fix]


def _name(text: str | None) -> str | None:
    """A name in one line of bounded length."""
    return one_line(text)[:LONGEST_NAME] or None if text else None


def _events(debrief: Debrief) -> tuple[FlightEvent, ...]:
    """Take-offs and landings."""
    return tuple(
        FlightEvent(kind, flight.number, event)
        for flight in debrief.flights
        for kind, event in (("takeoff", flight.takeoff), ("landing", flight.landing))
    )


def _labels(debrief: Debrief) -> tuple[Ints, Ints, Ints]:
    """Flight, kind and mode of every fix."""
    time = debrief.motion.time_s
    flight, kind, mode = (np.zeros(len(time), dtype=np.int64) for _ in range(3))
    for span in debrief.spans:
        flight[(time >= span.start_s) & (time <= span.touchdown_s)] = span.number
        for phase in span.phases:
            during = (time >= phase.start_s) & (time <= phase.end_s)
            kind[during] = KINDS.index(phase.kind) if phase.kind in KINDS else 0
            mode[during] = MODES.index(phase.mode or "") if (phase.mode or "") in MODES else 0
    kind[flight == 0] = 0
    return flight, kind, mode


def cropped(track: CleanTrack, start_s: float, end_s: float) -> CleanTrack:
    """The fixes from one moment to another, both included; UTC seconds. There may be none."""
    kept = (track.time_s >= start_s) & (track.time_s <= end_s)
    columns = {
        entry.name: getattr(track, entry.name)[kept]
        for entry in fields(track)
        if isinstance(getattr(track, entry.name), np.ndarray)
    }
    events = tuple(one for one in track.events if start_s <= one.event.time.timestamp() <= end_s)
    return replace(track, **columns, events=events)


def stretches(track: CleanTrack) -> Iterator[Stretch]:
    """The track cut wherever flight, phase or mode change."""
    labels = np.stack([track.flight, track.kind, track.mode])
    cuts = np.flatnonzero((np.diff(labels, axis=1) != 0).any(axis=0)) + 1
    bounds = [0, *cuts.tolist(), len(track.time_s)]
    for first, stop in itertools.pairwise(bounds):
        if stop > first:
            yield Stretch(
                first, stop, int(track.flight[first]), KINDS[track.kind[first]], MODES[track.mode[first]]
            )


def unbroken(track: CleanTrack, first: int, stop: int) -> list[slice]:
    """The parts of a stretch without a gap of the recording inside."""
    cuts = np.flatnonzero(np.diff(track.piece[first:stop])) + first + 1
    bounds = [first, *cuts.tolist(), stop]
    return [slice(low, high) for low, high in itertools.pairwise(bounds)]


def connected(track: CleanTrack, stretch: Stretch) -> list[slice]:
    """The parts of a stretch, drawn on to the first fix of the next one, so that lines meet."""
    reaches = stretch.stop < len(track.time_s) and track.piece[stretch.stop] == track.piece[stretch.stop - 1]
    return unbroken(track, stretch.first, stretch.stop + (1 if reaches else 0))


def iso_time(time_s: float) -> str:
    """A time as ISO 8601 UTC, with milliseconds only where it has any.

    >>> iso_time(1781434923.0), iso_time(1781434923.25)
    ('2026-06-14T11:02:03Z', '2026-06-14T11:02:03.250Z')
    """
    thousandths = round(time_s * 1000.0)
    text = datetime.fromtimestamp(thousandths // 1000, tz=UTC).strftime("%Y-%m-%dT%H:%M:%S")
    return f"{text}.{thousandths % 1000:03d}Z" if thousandths % 1000 else f"{text}Z"
