"""What really happened in a simulated log. Every time is UTC in seconds since 1970-01-01; SI units.

Boundaries are behavioural: a climb begins when the pilot begins to circle, a pass broken off ends at the moment
the controls change.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from .craft import STATE_COLUMNS, Craft
from .sensors import SensorTruth
from .terrain import CARRY_HEIGHT_M, Ground
from .wing import Wing
from .world import Thermal, World

COLUMN = {name: k for k, name in enumerate(STATE_COLUMNS)}
_SHORTEST_PHASE_S = 1.0
VAIN_TURNS, VAIN_CLIMB_MPS = 2.0, 0.3
HIGHEST_BREAK_OFF_M = 35.0  # given up higher than this, an approach was never a pass


@dataclass(frozen=True)
class TruePhase:
    """A phase in the words of the contract, and what the pilot meant by it."""

    start_s: float
    end_s: float
    kind: str  # ground, launch_run, climb, glide, search, approach
    mode: str | None
    behaviour: str
    gain_m: float


@dataclass(frozen=True)
class TrueFlight:
    """From the launch run to touchdown; None where the log or the day ended first."""

    run_start_s: float
    liftoff_s: float
    touchdown_s: float | None
    takeoff_place: str | None
    landing_place: str | None
    landing_kind: str  # top_landing, landing, end_of_day
    liftoff_airspeed_mps: float
    headwind_at_liftoff_mps: float
    ground_speed_at_liftoff_mps: float
    run_length_m: float
    touchdown_ground_speed_mps: float | None
    phases: tuple[TruePhase, ...]
    liftoff_recorded: bool
    touchdown_recorded: bool


@dataclass(frozen=True)
class TrueClimb:
    """A climb in circles, or a spell of beats or of straight lift (thermal fields None)."""

    start_s: float
    end_s: float
    mode: str
    base_m: float
    top_m: float
    gain_m: float
    mean_climb_mps: float
    turn_direction: str | None
    turns: float
    mean_bank_deg: float
    mean_airspeed_mps: float
    airmass_mps: float
    core_east_m: float | None  # at the middle of the climb in time
    core_north_m: float | None
    core_altitude_m: float | None
    core_strength_mps: float | None
    core_radius_m: float | None


@dataclass(frozen=True)
class TrueGlide:
    """A glide between two other phases."""

    start_s: float
    end_s: float
    distance_m: float
    air_distance_m: float
    height_lost_m: float
    ground_ratio: float | None
    air_ratio: float | None
    airspeed_mps: float
    airmass_mps: float


@dataclass(frozen=True)
class TruePass:
    """One approach to the top meadow or to the field where the pilot landed."""

    place: str
    on_top: bool
    pattern: str
    intent_s: float  # when the pilot began it
    start_s: float  # the last highest point before its end, 60 s at most
    end_s: float  # touchdown or decision
    outcome: str  # landed, go_around
    reason: str  # why broken off: planned, too high, ...
    planned: bool
    decision_height_m: float | None  # of the feet above the meadow
    decision_distance_m: float | None
    lowest_height_m: float | None  # of the recorder, within the radius + 25 m (at least 60 m)
    height_regained_m: float | None


@dataclass(frozen=True)
class Decoy:
    """Flying by the meadow without meaning to land."""

    what: str  # low_pass, edge_beats
    start_s: float
    end_s: float
    lowest_height_m: float | None


class Truth:
    """Everything true about a log: states (n, 15) by STATE_COLUMNS, flights, climbs, glides, passes."""

    def __init__(self, craft: Craft, world: World, wing: Wing, epoch_s: float, recorded: tuple[float, float]):
        self.wing, self.world, self.epoch_s = wing, world, epoch_s
        self.sensors: SensorTruth | None = None
        self.recorded_s = (epoch_s + recorded[0], epoch_s + recorded[1])
        self.states = np.array(craft.rows)
        self.states[:, 0] += epoch_s
        self.time_s = self.states[:, 0]
        self._marks = craft.marks
        begun = self._passes()
        self.passes = tuple(p for p in begun if _is_pass(p))
        self.given_up = tuple(p for p in begun if not _is_pass(p))  # before they were passes
        self.all_phases = self._phases(float(self.time_s[-1]))
        self.aborted_runs = tuple(epoch_s + t for t, name, _ in craft.marks.events if name == "aborted_run")
        self.flights = self._flights()
        self.climbs = self._climbs()
        self.glides = tuple(self._glide(p) for f in self.flights for p in f.phases if p.kind == "glide")
        self.decoys = self._decoys()

    # -- the path ---------------------------------------------------------------------------------------------
    def column(self, name: str) -> np.ndarray:
        """One column of the states, see STATE_COLUMNS."""
        return self.states[:, COLUMN[name]]

    def at(self, time_s: np.ndarray | float, name: str) -> np.ndarray:
        """A column at any times (linear; angles are stored unwrapped in flight)."""
        return np.interp(time_s, self.time_s, self.column(name))

    def wind(self, time_s: float, altitude_m: float) -> tuple[float, float]:
        """The mean wind at a time and altitude: where the air goes, east and north, gusts and ground left out."""
        return self.world.mean_wind(time_s - self.epoch_s, altitude_m)

    def mean_wind(self, start_s: float, end_s: float, gusts: bool = False) -> tuple[float, float]:
        """Mean along the path flown between two times, of the wind alone or with gusts."""
        rows = self.rows(start_s, end_s)
        east, north = rows[:, COLUMN["wind_east_mps"]].mean(), rows[:, COLUMN["wind_north_mps"]].mean()
        if gusts:
            east, north = (
                east + rows[:, COLUMN["gust_east_mps"]].mean(),
                north + rows[:, COLUMN["gust_north_mps"]].mean(),
            )
        return float(east), float(north)

    def core_strength_mps(self, climb: TrueClimb, altitude_m: float) -> float | None:
        """Rise in the core of the thermal of a climb, where and when the pilot passed this altitude in it."""
        thermal = self.thermal_of(climb)
        if thermal is None:
            return None
        rows = self.rows(climb.start_s, climb.end_s)
        passed = rows[int(np.argmin(np.abs(rows[:, COLUMN["altitude_m"]] - altitude_m))), 0]
        return thermal.strength(float(passed) - self.epoch_s, altitude_m)

    def thermal_of(self, climb: TrueClimb) -> Thermal | None:
        """The thermal that the pilot went up in."""
        return next((d["thermal"] for t, d in self._named("climb_start") if abs(t - climb.start_s) < 1), None)

    def phase_at(self, time_s: float) -> TruePhase:
        """What the pilot was doing."""
        for phase in self.all_phases:
            if phase.start_s <= time_s < phase.end_s:
                return phase
        return self.all_phases[-1]

    def per_second(self) -> tuple[np.ndarray, list[str], list[str | None]]:
        """Whole seconds within the recording, with the kind and mode of phase at each."""
        times = np.arange(math.ceil(self.recorded_s[0]), math.floor(self.recorded_s[1]) + 1, 1.0)
        starts = np.array([p.start_s for p in self.all_phases])
        which = np.clip(np.searchsorted(starts, times, side="right") - 1, 0, len(starts) - 1)
        return times, [self.all_phases[k].kind for k in which], [self.all_phases[k].mode for k in which]

    def still_air_sink_mps(self, equivalent_airspeed_mps: float) -> float:
        """Sink of the wing at sea level density, wings level."""
        return self.wing.sink_mps(equivalent_airspeed_mps)

    def rows(self, start_s: float, end_s: float) -> np.ndarray:
        """The states between two times, two at least."""
        a, b = np.searchsorted(self.time_s, (start_s, end_s))
        return self.states[a : max(b, a + 2)]

    # -- building ---------------------------------------------------------------------------------------------
    def _phases(self, end_s: float) -> tuple[TruePhase, ...]:
        marks = self._without_vain_circles(self._with_passes(self._with_forced_landings()))
        merged: list[list] = []
        for k, (start, kind, mode, behaviour) in enumerate(marks):
            end = marks[k + 1][0] if k + 1 < len(marks) else end_s - self.epoch_s
            if (
                end - start < _SHORTEST_PHASE_S
                and kind != "launch_run"
                and merged
                and merged[-1][2] not in ("launch_run", "ground")
            ) or (
                merged
                and merged[-1][2:4] == [kind, mode]
                and kind not in ("approach", "ground")
                and mode != "circling"
            ):
                merged[-1][1] = end
            elif end > start:
                merged.append([start, end, kind, mode, behaviour])
        altitude = self.column("altitude_m")
        made = []
        for start, end, kind, mode, behaviour in merged:
            z = np.interp([start + self.epoch_s, end + self.epoch_s], self.time_s, altitude)
            made.append(
                TruePhase(start + self.epoch_s, end + self.epoch_s, kind, mode, behaviour, float(z[1] - z[0]))
            )
        return tuple(made)

    def _with_forced_landings(self) -> list[tuple[float, str, str | None, str]]:
        """The marks, with what ended on the ground against the pilot's will called an approach."""
        marks = list(self._marks.phases)
        for time, name, _ in self._marks.events:
            if name == "touchdown":
                k = max(n for n, mark in enumerate(marks) if mark[0] < time - 0.01)
                if marks[k][1] != "approach":
                    marks[k] = (marks[k][0], "approach", None, "forced_landing")
        return marks

    def _with_passes(self, marks: list[tuple[float, str, str | None, str]]) -> list:
        """The marks, with every pass an approach from its last highest point on; one given up early is none."""
        for one in (*self.passes, *self.given_up):
            intent, start = one.intent_s - self.epoch_s, one.start_s - self.epoch_s
            k = next(n for n, mark in enumerate(marks) if mark[1] == "approach" and abs(mark[0] - intent) < 0.01)
            if one in self.given_up:
                marks[k] = (intent, "search", None, "given_up")
            elif one.on_top:
                first = next((n for n in range(k) if marks[n][0] >= start), k)
                marks[first : k + 1] = [(start, *marks[k][1:])]
        return marks

    def _without_vain_circles(self, marks: list[tuple[float, str, str | None, str]]) -> list:
        """The marks, with less than two circles that gave next to nothing called a search (M 9)."""
        made = []
        for mark, after in pairwise([*marks, (self.time_s[-1] - self.epoch_s,)]):
            rows = self.rows(mark[0] + self.epoch_s, after[0] + self.epoch_s)
            turns = np.abs(np.diff(rows[:, COLUMN["heading_rad"]])).sum() / (2 * math.pi)
            climb = (rows[-1, COLUMN["altitude_m"]] - rows[0, COLUMN["altitude_m"]]) / (rows[-1, 0] - rows[0, 0])
            vain = mark[2] == "circling" and turns < VAIN_TURNS and climb < VAIN_CLIMB_MPS
            made.append((mark[0], "search", None, "vain_circles") if vain else mark)
        return made

    def _named(self, name: str) -> list[tuple[float, dict]]:
        return [(t + self.epoch_s, d) for t, what, d in self._marks.events if what == name]

    def _flights(self) -> tuple[TrueFlight, ...]:
        flights, downs = [], self._named("touchdown")
        for liftoff, details in self._named("lift_off"):
            down = next(((t, d) for t, d in downs if t > liftoff), None)
            end = down[0] if down else float(self.time_s[-1])
            run_start = details["run_start"] + self.epoch_s
            place = None
            if down is not None:
                place = self._place_at(float(self.at(end, "east_m")), float(self.at(end, "north_m")))
            run = self.rows(run_start, liftoff)
            heading = details["heading_rad"]
            last = self.states[np.searchsorted(self.time_s, liftoff - 1e-6)]
            headwind = -(
                last[COLUMN["wind_east_mps"]] * math.sin(heading)
                + last[COLUMN["wind_north_mps"]] * math.cos(heading)
            )
            kind = "end_of_day" if down is None else "top_landing" if self._is_on_top(end) else "landing"
            flights.append(TrueFlight(
                run_start, liftoff, down[0] if down else None, self.world.hill.launch.name,
                place.name if place else None, kind,
                float(last[COLUMN["airspeed_mps"]]), float(headwind), float(details["ground_speed_mps"]),
                float(np.hypot(np.diff(run[:, 1]), np.diff(run[:, 2])).sum()),
                float(down[1]["ground_speed_mps"]) if down else None,
                tuple(
                    _cut(p, run_start, end) for p in self.all_phases
                    if p.end_s > run_start + 0.1 and p.start_s < end - 0.1
                ),
                self.recorded_s[0] <= run_start, down is not None and down[0] <= self.recorded_s[1],
            ))  # fmt: skip
        return tuple(flights)

    def _is_on_top(self, time_s: float) -> bool:
        return float(self.at(time_s, "altitude_m")) > self.world.hill.crest_m - 25

    def _place_at(self, east: float, north: float) -> Ground | None:
        near = [(math.hypot(p.x_m - east, p.y_m - north) / p.radius_m, p) for p in self.world.hill.places]
        share, place = min(near, key=lambda item: item[0])
        return place if share <= 1 else None

    def _passes(self) -> tuple[TruePass, ...]:
        starts, made, before = self._named("pass_start"), [], -math.inf
        for k, (intent, details) in enumerate(starts):
            until = starts[k + 1][0] if k + 1 < len(starts) else float(self.time_s[-1])
            down = next(((t, d) for t, d in self._named("touchdown") if intent < t <= until), None)
            decision = next(((t, d) for t, d in self._named("decision") if intent < t <= until), None)
            if decision and down and down[0] - decision[0] < 45:
                decision = None  # broken off too late: it ended on the ground
            if decision is None and down is None:
                continue
            end = decision[0] if decision else down[0]
            liftoff = max((t for t, _ in self._named("lift_off") if t < end), default=-math.inf)
            earliest = max(before, end - 60, liftoff)
            window = self.rows(earliest, end)
            top = len(window) - 1 - int(np.argmax(window[::-1, COLUMN["altitude_m"]]))
            place = next((p for p in self.world.hill.places if p.name == details["place"]), None)
            low = self._lowest(place, window[top, 0], min(end + 15, until))
            regained = self._regained(end, until) if decision else None
            made.append(TruePass(
                details["place"], details["on_top"], details["pattern"], intent, float(window[top, 0]), end,
                "go_around" if decision else "landed", decision[1]["why"] if decision else "",
                details["planned_break_off_m"] is not None, decision[1]["height_m"] if decision else None,
                decision[1]["distance_m"] if decision else None, low, regained,
            ))  # fmt: skip
            before = end
        return tuple(made)

    def _lowest(self, place: Ground | None, start_s: float, end_s: float) -> float | None:
        if place is None:
            return None
        rows = self.rows(start_s, end_s)
        near = np.hypot(rows[:, 1] - place.x_m, rows[:, 2] - place.y_m) <= max(60.0, place.radius_m + 25)
        return float(rows[near, 3].min() - place.elevation_m) if near.any() else None

    def _regained(self, decision_s: float, until_s: float) -> float:
        rows = self.rows(decision_s, min(until_s, decision_s + 300))[:, 3]
        low = int(np.argmin(rows[:200]))
        return float(rows[low:].max() - rows[low])

    def _climbs(self) -> tuple[TrueClimb, ...]:
        made = []
        thermals = [(t, d["thermal"]) for t, d in self._named("climb_start")]
        for flight in self.flights:
            for phase in flight.phases:
                if phase.kind == "climb" and phase.end_s - phase.start_s > 2:
                    thermal = next((th for t, th in thermals if abs(t - phase.start_s) < 1), None)
                    made.append(self._climb(phase, thermal if phase.mode == "circling" else None))
        return tuple(made)

    def _climb(self, phase: TruePhase, thermal: Thermal | None) -> TrueClimb:
        rows = self.rows(phase.start_s, phase.end_s)
        z, psi = rows[:, COLUMN["altitude_m"]], rows[:, COLUMN["heading_rad"]]
        turned = np.diff(psi)
        right, left = turned[turned > 0].sum(), -turned[turned < 0].sum()
        direction = None
        if phase.mode == "circling":
            share = right / max(right + left, 1e-9)
            direction = "right" if share > 0.8 else "left" if share < 0.2 else "mixed"
        middle = 0.5 * (phase.start_s + phase.end_s)
        height = float(self.at(middle, "altitude_m"))
        seconds = phase.end_s - phase.start_s
        core = thermal.core(middle - self.epoch_s, height) if thermal else (None, None)
        return TrueClimb(
            phase.start_s, phase.end_s, phase.mode or "", float(z[0]), float(z[-1]), float(z[-1] - z[0]),
            float(z[-1] - z[0]) / seconds, direction, float(np.abs(turned).sum() / (2 * math.pi)),
            float(np.degrees(np.abs(rows[:, COLUMN["bank_rad"]])).mean()),
            float(rows[:, COLUMN["airspeed_mps"]].mean()),
            float(rows[:, COLUMN["airmass_mps"]].mean()), core[0], core[1], height if thermal else None,
            thermal.strength(middle - self.epoch_s, height) if thermal else None,
            thermal.radius_m if thermal else None,
        )  # fmt: skip

    def _glide(self, phase: TruePhase) -> TrueGlide:
        rows = self.rows(phase.start_s, phase.end_s)
        distance = float(np.hypot(np.diff(rows[:, 1]), np.diff(rows[:, 2])).sum())
        seconds = float(rows[-1, 0] - rows[0, 0])
        air = float(rows[:, COLUMN["airspeed_mps"]].mean()) * seconds
        lost = float(rows[0, 3] - rows[-1, 3])
        return TrueGlide(
            phase.start_s, phase.end_s, distance, air, lost, distance / lost if lost > 1 else None,
            air / lost if lost > 1 else None, air / max(seconds, 0.1),
            float(rows[:, COLUMN["airmass_mps"]].mean()),
        )  # fmt: skip

    def _decoys(self) -> tuple[Decoy, ...]:
        ends, made = self._named("decoy_end"), []
        for start, details in self._named("decoy"):
            end = next((t for t, d in ends if t > start and d["what"] == details["what"]), float(self.time_s[-1]))
            made.append(Decoy(details["what"], start, end, self._lowest(self.world.hill.pad, start, end)))
        return tuple(made)

    @property
    def carry_height_m(self) -> float:
        """How high the recorder hangs above the feet."""
        return CARRY_HEIGHT_M


def _is_pass(one: TruePass) -> bool:
    """Whether a pass came close and low enough to be one in the words of the contract."""
    if one.outcome == "landed" or not one.on_top:
        return True
    if one.lowest_height_m is None:
        return False
    return max(one.lowest_height_m, one.decision_height_m or 0.0) <= HIGHEST_BREAK_OFF_M


def _cut(phase: TruePhase, start_s: float, end_s: float) -> TruePhase:
    return TruePhase(
        max(phase.start_s, start_s), min(phase.end_s, end_s), phase.kind, phase.mode, phase.behaviour, phase.gain_m
    )
