"""A Debrief made by hand, without analysis: every kind of result in it once, for tests of writers and commands."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import numpy as np

from flightlog.air.air import Air, WindWindows
from flightlog.arrays import Floats, frozen_floats, frozen_ints
from flightlog.debriefing import CAUTIONS, Debrief, LogSummary
from flightlog.earth.geodesy import LocalPlane
from flightlog.errors import Note
from flightlog.estimates import Estimate, Wind, wind_from_vector
from flightlog.measures import results as r
from flightlog.measures.thermal_leans import ThermalLean
from flightlog.measures.thermal_sources import ThermalSource
from flightlog.measures.thermals import ClimbBand, ThermalDetail
from flightlog.motion.motion import Motion
from flightlog.phases.approaches import PassSpan
from flightlog.phases.grounds import Ground
from flightlog.phases.phases import FlightSpan, Phase
from flightlog.settings import Settings
from flightlog.tracks.track import Header, Track

HOSTILE = "<script>alert('x')</script>\"&\u202e{{ 7*7 }} $\\frac{1}{0}$"
START_S = datetime(2026, 6, 14, 11, 0, 0, tzinfo=UTC).timestamp()
FIXES = 900
TOP = "Windy Top"


def moment(seconds: float) -> datetime:
    """So many seconds after the start of the log."""
    return datetime.fromtimestamp(START_S + seconds, tz=UTC)


def about(value: float, half_width: float = 0.2) -> Estimate:
    return Estimate(value, value - half_width, value + half_width)


def wind(east: float = 5.0, north: float = 1.0) -> Wind:
    return wind_from_vector(east, north, 0.4, 12.0)


def made_motion(fixes: int = FIXES) -> Motion:
    """A quarter of an hour: out, five circles up, back, down; a gap of half a minute in it."""
    time = np.arange(fixes, dtype=np.float64)
    time[fixes // 2 :] += 30.0
    angle = time / 14.0
    east = np.where(time < 300, time * 8.0, 2400.0 + 60.0 * np.sin(angle) - np.maximum(time - 600, 0) * 7.2)
    north = 60.0 * np.cos(angle) + 0.4 * time
    altitude = 1000.0 + 300.0 * np.sin(np.pi * time / time[-1]) + 5.0 * np.sin(time / 9.0)
    climb = np.gradient(altitude, time)

    def zeros(level: float = 0.0) -> Floats:
        return frozen_floats(np.full(fixes, level))

    return Motion(
        fix=frozen_ints(np.arange(fixes)),
        time_s=frozen_floats(START_S + time),
        piece=frozen_ints((np.arange(fixes) >= fixes // 2).astype(int)),
        plane=LocalPlane(46.0, 8.0),
        measured_east_m=frozen_floats(east),
        measured_north_m=frozen_floats(north),
        measured_altitude_m=frozen_floats(altitude),
        east_m=frozen_floats(east),
        north_m=frozen_floats(north),
        altitude_m=frozen_floats(altitude),
        velocity_east_mps=frozen_floats(np.gradient(east, time)),
        velocity_north_mps=frozen_floats(np.gradient(north, time)),
        climb_mps=frozen_floats(climb),
        acceleration_east_mps2=zeros(),
        acceleration_north_mps2=zeros(),
        altitude_source="pressure",
        altitude_scale=0.01,
        altitude_offset_m=3.0,
        altitude_scale_sd=0.002,
        interval_s=1.0,
    )


def made_track(motion: Motion, pilot: str | None, file: str, sha256: str) -> Track:
    lat, lon = motion.plane.to_degrees(motion.east_m, motion.north_m)
    return Track(
        time_s=motion.time_s,
        latitude_deg=frozen_floats(lat),
        longitude_deg=frozen_floats(lon),
        pressure_altitude_m=motion.altitude_m,
        gnss_altitude_m=motion.altitude_m,
        line=frozen_ints(motion.fix + 8),
        segment=frozen_ints(motion.fix * 0),
        gnss_datum="geoid",
        header=Header(pilot=pilot, wing="Some wing", recorder="Box 3", recorder_id="SN-77", date="2026-06-14"),
        file=file,
        format="igc",
        sha256=sha256,
        records_read=FIXES + 2,
    )


def made_air(motion: Motion) -> Air:
    n = len(motion.time_s)

    def level(value: float) -> Floats:
        return frozen_floats(np.full(n, value))

    none = frozen_floats([])
    windows = WindWindows(
        none, none, none, none, none, frozen_floats(np.empty((0, 2, 2))), none, none, frozen_ints(np.empty(0))
    )
    return Air(
        windows,
        level(5.0),
        level(1.0),
        level(0.5),
        level(10.0),
        level(90.0),
        level(0.0),
        level(1.1),
        frozen_ints(np.zeros(n)),
        (),
        wind(),
    )


def made_detail() -> ThermalDetail:
    """A thermal of which everything is told."""
    lean = ThermalLean(about(4.0), 74.6, about(66.0, 1.0), about(61.0, 4.0), about(0.9, 0.5))
    source = ThermalSource(
        46.0049, 8.0123, 750.0, 919.8, "rising at 1.6 m/s; ground judged by a place known 80 m away"
    )
    bands = (
        ClimbBand(1003.0, 1083.0, 61.0, about(1.31, 0.02)),
        ClimbBand(1083.0, 1163.0, 40.0, about(2.0, 0.02)),
    )
    return ThermalDetail(
        bands,
        1.9,
        38.0,
        36.2,
        12.0,
        8.4,
        about(0.86, 0.3),
        lean,
        source,
        weak_s=84.0,
        entry_interval_s=Estimate(38.0, 36.2, 64.8),
        entry_loss_interval_m=Estimate(36.2, 32.2, 48.2),
        leaving_interval_s=Estimate(12.0, 10.3, 13.7),
        leaving_loss_interval_m=about(8.4, 3.0),
    )


def made_flight(place: str = TOP, note: str | None = "the core cannot be told from these circles") -> r.Flight:
    def event(seconds: float, kind: str) -> r.Event:
        return r.Event(moment(seconds), 46.0012345, 8.0, 1003.4, place, kind, 0.6)

    climb = r.Climb(
        1,
        moment(10),
        moment(290),
        "circling",
        240.0,
        1003.0,
        1243.0,
        about(1.8),
        2.6,
        "left",
        9.2,
        17.1,
        31.0,
        24.0,
        about(2.9, 0.4),
        r.Core(about(3.4, 0.9), about(62.0, 30.0), 46.01, 8.01, 1150.0),
        wind(),
        note,
        made_detail(),
    )
    bare = r.Climb(
        2,
        moment(600),
        moment(640),
        "ridge",
        21.0,
        1100.0,
        1121.0,
        about(0.5),
        None,
        None,
        0.0,
        None,
        None,
        None,
        None,
        None,
        None,
    )
    glide = r.Glide(
        1,
        moment(290),
        moment(600),
        3210.0,
        402.0,
        10.3,
        about(10.0, 0.6),
        about(-1.4, 0.6),
        about(1.3, 0.03),
        about(8.0),
        about(7.7, 0.5),
        266.0,
    )
    polar = r.Polar(
        (8.0, 10.0, 12.0),
        (1.1, 1.15, 1.5),
        (1.0, 1.05, 1.3),
        (1.2, 1.25, 1.7),
        about(8.8, 0.5),
        about(9.9, 0.5),
        about(1.08, 0.1),
        about(8.4, 0.5),
        310.0,
    )
    band = r.WindBand(1000.0, 1200.0, wind())
    passes = (
        r.Pass(
            1,
            place,
            moment(650),
            moment(690),
            "go_around",
            "sure",
            12.0,
            6.4,
            r.Decision(moment(688), 7.1, 40.0),
            7.0,
            about(5.0, 0.5),
            1.1,
            2.2,
            6.0,
            14.0,
        ),
        r.Pass(
            2,
            None,
            moment(720),
            moment(760),
            "go_around",
            "possible",
            44.0,
            17.0,
            None,
            9.0,
            None,
            0.4,
            None,
            None,
            None,
            "no climb followed",
        ),
        r.Pass(
            3,
            place,
            moment(860),
            moment(929),
            "landed",
            "sure",
            0.0,
            0.0,
            None,
            4.0,
            about(5.0, 0.5),
            1.0,
            1.4,
            3.0,
            None,
        ),
    )
    return r.Flight(
        number=1,
        takeoff=event(10, "foot_launch"),
        landing=event(929, "top_landing"),
        duration_s=919.0,
        track_length_m=7654.3,
        altitude_gain_m=301.0,
        max_altitude_m=1304.0,
        max_climb_mps=3.1,
        max_sink_mps=2.4,
        phases=(
            r.PhaseRow("launch_run", None, moment(7.75), moment(10)),
            r.PhaseRow("climb", "circling", moment(10), moment(290)),
            r.PhaseRow("glide", None, moment(290), moment(600)),
            r.PhaseRow("search", None, moment(600), moment(860)),
            r.PhaseRow("approach", None, moment(860), moment(929)),
        ),
        launch=r.Launch(
            moment(7.75), moment(10), 2.25, 7.3, 5.1, about(4.0, 1.1), about(-0.5, 1.0), about(9.1, 1.2), None
        ),
        climbs=(climb, bare),
        glides=(glide,),
        wind=r.WindResult(
            wind(),
            (band, r.WindBand(1200.0, 1400.0, wind(7.0, 0.2))),
            (r.WindSample(moment(100), 1100.0, wind()), r.WindSample(moment(200), 1210.0, wind(6.0, -1.0))),
        ),
        performance=r.Performance(about(8.0), about(7.7, 0.5), 310.0, polar),
        passes=passes,
        approach=r.Approach(
            moment(860),
            moment(929),
            "figure_of_eight",
            55.0,
            1.2,
            4.1,
            about(5.0, 0.5),
            ("sank faster than 3 m/s at 20 m",),
        ),
        notes=("the recorder was silent for 30 s",),
        speed_to_fly=(
            r.SpeedToFly(
                1,
                "next_climb",
                1.8,
                about(-1.4, 0.6),
                about(-0.1, 0.3),
                about(10.0, 0.6),
                about(9.6, 0.6),
                about(11.2, 0.8),
                about(10.7, 0.8),
                about(21.0, 9.0),
                None,
                "the next climb was as strong as it was",
            ),
        ),
        speed_costs=(r.SpeedCost("next_climb", (1,), 1, about(21.0, 9.0), None),),
        time_budget=r.TimeBudget(
            921.25,
            (
                r.TimePart("launch_run", None, 1, 2.25, 2.25 / 921.25, 0.0, 0.4, about(-0.2, 0.5)),
                r.TimePart("climb", "circling", 1, 280.0, 280.0 / 921.25, 240.0, 0.0, about(0.857, 0.01)),
                r.TimePart("glide", None, 1, 310.0, 310.0 / 921.25, 0.0, 402.0, about(-1.3, 0.01)),
                r.TimePart("search", None, 1, 260.0, 260.0 / 921.25, 91.0, 0.0, about(0.35, 0.01)),
                r.TimePart("approach", None, 1, 69.0, 69.0 / 921.25, 0.0, 58.0, about(-0.84, 0.02)),
            ),
            "30 s of the flight are missing in the recording",
            30.0,
        ),
    )


def made_debrief(
    *,
    pilot: str | None = "Ada Example",
    file: str = "monday.igc",
    place: str = TOP,
    sha256: str = "ab" * 32,
    note: str | None = "the core cannot be told from these circles",
) -> Debrief:
    """One flight with two climbs, a glide, three passes, a launch and an approach."""
    motion = made_motion()
    phases = tuple(
        Phase(kind, mode, START_S + start, START_S + end)
        for kind, mode, start, end in (
            ("launch_run", None, 7.75, 10),
            ("climb", "circling", 10, 290),
            ("glide", None, 290, 600),
            ("search", None, 600, 860),
            ("approach", None, 860, 929),
        )
    )
    span = FlightSpan(1, START_S + 7.75, START_S + 10, START_S + 929, False, False, 0.5, 0.5, 8, FIXES, phases)
    level = frozen_floats([1000.0])
    ground = Ground(
        place,
        120.0,
        300.0,
        150.0,
        ("launch", "top_landing"),
        None,
        frozen_floats([START_S]),
        level,
        1.0,
        frozen_floats([0.0]),
        frozen_floats([0.0]),
        (1,),
        (1,),
    )
    spans = tuple(
        PassSpan(
            ground,
            START_S + start,
            START_S + end,
            outcome,
            certainty,
            START_S + end - 2 if outcome == "go_around" else None,
            START_S + end,
            6.0,
            12.0,
            START_S + end + 40,
            4.0,
        )
        for start, end, outcome, certainty in (
            (650, 690, "go_around", "sure"),
            (720, 760, "go_around", "possible"),
            (860, 929, "landed", "sure"),
        )
    )
    problems = (
        Note("spike", f"one fix of {pilot} was far off the track; it is left out", 77),
        Note("short_record", "a record was cut off; it is left out", 12, 3),
        Note("no_wind", "the wind is told by few circles"),
    )
    summary = LogSummary(
        file, "igc", sha256, "2026-06-14", pilot, "Some wing", "Box 3", FIXES + 2, FIXES, 1.0, "pressure", problems
    )
    return Debrief(
        summary,
        (made_flight(place, note),),
        CAUTIONS,
        made_track(motion, pilot, file, sha256),
        motion,
        made_air(motion),
        (span,),
        (spans,),
        (ground,),
        Settings(),
    )


def without_flights() -> Debrief:
    """A log in which nobody took off."""
    return replace(made_debrief(), flights=(), spans=(), pass_spans=())
