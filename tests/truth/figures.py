"""How closely flightlog recovers known answers: every figure with its target, from the records of the suites."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from .cases import Suites
from .flight_scores import Record
from .summary import (
    PER_CENT,
    Measured,
    f1_scores,
    intervals,
    joined,
    plain,
    relative,
    rms,
    share,
    total,
    winds,
    within,
)

COVERAGE_TARGET = (0.90, 0.99)
"""What share of 95 % intervals should hold the truth."""
FEWEST_FOR_MOST = 100
"""Of fewer intervals, all may hold the truth and yet be no wider than they should."""


def coverage_bounds(cases: int) -> tuple[float, float]:
    """Between what the share that holds the truth should lie; few cases scatter by two standard errors."""
    low, high = COVERAGE_TARGET
    return min(low, 0.95 - 2 * (0.95 * 0.05 / cases) ** 0.5), high if cases >= FEWEST_FOR_MOST else 1.0


MAIN_KINDS = ("climb", "glide", "search", "approach")
INTERVALS: tuple[tuple[str, tuple[float, ...], float], ...] = (
    ("1 s", (1.0,), 0.5), ("2 s", (2.0,), 0.5), ("3-4 s", (3.0, 4.0), 0.55), ("5 s", (5.0,), 0.7),
)  # fmt: skip
"""Between fixes, with the target for the wind of a climb (m/s)."""
POLARS = ((True, 60, 6.0), (True, 30, 8.0), (True, 15, None), (False, 60, 4.0), (False, 30, 4.0))
"""Thermic or calm air, minutes of glide, target for the best glide ratio (%)."""
LEAST_SINK_MPS = 0.06
POLAR_SPEEDS = (("best_glide", "airspeed of best glide"), ("min_sink", "airspeed of least sink"))


@dataclass(frozen=True)
class Figure:
    """One row of the table. A share (unit `share`) is good when high, every other value is an error."""

    key: str
    group: str
    name: str
    unit: str  # s, m, m/s, deg, %, share
    target: float | None
    statistic: str
    value: float
    cases: int
    coverage: float | None  # share of 95 % intervals that hold the truth
    half_width: float | None  # median, in the unit of the value

    @property
    def meets_target(self) -> bool:
        """Whether the value is as good as its target; a figure without one is only reported."""
        if self.target is None:
            return True
        return self.value >= self.target if self.unit == "share" else self.value <= self.target

    @property
    def meets_coverage(self) -> bool:
        """Whether the intervals hold the truth as often as they say."""
        low, high = coverage_bounds(self.cases)
        return self.coverage is None or low <= self.coverage <= high


Rows = list[tuple[str, str, str, float | None, Measured]]  # key, name, unit, target, what came out


def all_figures(suites: Suites) -> list[Figure]:
    """Every figure, in the order of the table."""
    air, top = suites["air"], suites["top"]
    groups: dict[str, Rows] = {
        "flights": flight_rows(air + top),
        "phases": phase_rows(air + top),
        "climbs": climb_rows(air + top, air),
        "thermals": thermal_rows(air),
        "wind": wind_rows(air),
        "glides": glide_rows(air),
        "speed to fly": speed_rows(air),
        "polar": polar_rows(suites["polar"]),
        "passes": pass_rows(top),
        "steady air, no noise": calm_rows(suites["calm"]),
    }
    return [
        Figure(key, group, name, unit, target, *measured)
        for group, rows in groups.items()
        for key, name, unit, target, measured in rows
    ]


def flight_rows(records: Sequence[Record]) -> Rows:
    """Flights, lift-off, touchdown and launch, over both suites."""
    right = [r["flights_true"] == r["flights_found"] for r in records]
    off, down = joined(records, "liftoff_s"), joined(records, "touchdown_s")
    return [
        ("flight_count", "logs with the right number of flights", "share", 0.97, share(right)),
        ("liftoff", "lift-off", "s", 2.0, plain(off)),
        ("liftoff_95", "lift-off", "s", 6.0, plain(off, 95)),
        ("touchdown", "touchdown", "s", 2.0, plain(down)),
        ("touchdown_95", "touchdown", "s", 6.0, plain(down, 95)),
        ("headwind", "headwind at lift-off", "m/s", None, intervals(joined(records, "headwind_mps"))),
    ]


def phase_rows(records: Sequence[Record]) -> Rows:
    """F1 scores by the second, and the ends of circling against the bank flown."""
    scores = f1_scores(records)
    seconds = {kind: sum(_seconds_of(r, kind) for r in records) for kind in MAIN_KINDS}
    mean = float(np.mean([scores[kind] for kind in MAIN_KINDS]))
    word = "F1 by the second"
    rows: Rows = [("f1", "mean of the four", "share", 0.9, Measured(word, mean, sum(seconds.values())))]
    meant = f1_scores(records, "confusion_meant")
    mean = float(np.mean([meant[kind] for kind in MAIN_KINDS]))
    words = "the same, by what the pilot meant"
    rows.append(("f1_meant", words, "share", None, Measured(word, mean, sum(seconds.values()))))
    rows += [(f"f1_{k}", k, "share", None, Measured(word, scores[k], seconds[k])) for k in MAIN_KINDS]
    ends = plain(joined(records, "circling_bounds_s"))
    return [*rows, ("circling_ends", "first and last steady turn of a climb", "s", 3.0, ends)]


def _seconds_of(record: Record, kind: str) -> int:
    """Seconds of a true kind of phase."""
    return sum(n for key, n in record["confusion"].items() if key.startswith(kind + ">"))


def climb_rows(records: Sequence[Record], air: Sequence[Record]) -> Rows:
    """Climbs of both suites; those in circles of the cross-country suite."""
    true, found = total(records, "climbs_true"), total(records, "climbs_found")
    recall = Measured("share", total(records, "climbs_true_found") / true, true)
    precision = Measured("share", total(records, "climbs_found_true") / found, found)
    right, told, circled = (sum(r["directions"][k] for r in air) for k in (0, 1, 2))
    gains = joined(records, "mean_climb_mps")
    mean = intervals(gains)
    return [
        ("climb_recall", "true climbs that were found", "share", 0.95, recall),
        ("climb_precision", "found climbs that were true", "share", 0.95, precision),
        (
            "turn_direction",
            "turn direction, where told",
            "share",
            1.0,
            Measured("share right", right / told, told),
        ),
        ("turn_direction_told", "turn direction told", "share", None, Measured("share", told / circled, circled)),
        ("mean_climb", "mean climb", "m/s", 0.03, mean),
        ("mean_climb_rms", "mean climb", "m/s", 0.03, Measured("RMS", rms(gains[:, 0]), len(gains))),
        ("circle_period", "time of a circle", "s", None, relative(joined(air, "circle_period_s"), by=1.0)),
        ("circle_radius", "radius through the air", "m", None, relative(joined(air, "circle_radius_m"), by=1.0)),
        ("bank", "bank", "deg", 1.5, relative(joined(air, "bank_deg"), by=1.0)),
        ("airmass", "rise of the air", "m/s", 0.1, intervals(joined(air, "airmass_mps"))),
    ]


def thermal_rows(records: Sequence[Record]) -> Rows:
    """What the thermals were like, of the climbs in circles of the cross-country suite."""
    strength, radius = np.split(joined(records, "cores"), 2, axis=1)  # value, low, high, true
    shares = np.array(
        [(v / true - 1, low <= true <= high, (high - low) / 2 / true) for v, low, high, true in strength]
    )
    logs = np.array(
        [(math.log(v / true), low <= true <= high, (high - low) / 2 / true) for v, low, high, true in radius]
    )
    drift, lean, source = (relative(joined(records, key), by=1.0) for key in ("drift_mps", "lean_deg", "source_m"))
    return [
        ("core_strength", "rise in the core", "%", 13.0, relative(shares)),
        ("core_radius", "radius of the core, by its logarithm", "%", 25.0, relative(logs, root_mean_square=True)),
        ("centred", "how well centred, of the best climb", "%", None, relative(joined(records, "centred"))),
        ("drift", "drift of the circles, against the thermal's", "m/s", None, drift),
        ("lean", "lean from the vertical, against the thermal's", "deg", None, lean),
        ("steady_climb", "steady climb", "m/s", None, within(joined(records, "steady_climb_mps"), 95)),
        ("entry_time", "time that the way in took", "s", None, within(joined(records, "entry_s"), 95)),
        ("entry_loss", "height that the way in cost", "m", None, within(joined(records, "entry_loss_m"), 95)),
        ("leaving_time", "time that leaving took", "s", None, within(joined(records, "leaving_s"), 95)),
        ("leaving_loss", "height that leaving cost", "m", None, within(joined(records, "leaving_loss_m"), 95)),
        ("source", "source on the ground", "m", None, source),
    ]


def wind_rows(records: Sequence[Record]) -> Rows:
    """The wind of climbs by the interval between fixes, of bands of height, and the mean of flights."""
    rows: Rows = []
    for label, steps, target in INTERVALS:
        errors = joined([r for r in records if r["interval_s"] in steps], "wind_climb")
        rows.append((f"wind_climb_{label}", f"per climb, a fix every {label}", "m/s", target, winds(errors)))
    every = joined(records, "wind_climb")
    met = winds(np.column_stack([every[:, 3:5], every[:, 2]]))
    return [
        *rows,
        ("wind_climb_met", "per climb, against the air flown through, gusts included", "m/s", None, met),
        ("wind_band", "per band of height", "m/s", 0.5, winds(joined(records, "wind_band"))),
        ("wind_mean", "mean of a flight", "m/s", None, winds(joined(records, "wind_mean"))),
    ]


def glide_rows(records: Sequence[Record]) -> Rows:
    """Glides of a minute and more."""
    ground, air = (relative(joined(records, key)) for key in ("glide_ground", "glide_air"))
    return [
        ("glide_ground", "glide ratio over the ground", "%", 1.0, ground),
        ("glide_air", "glide ratio through the air", "%", 3.0, air),
        ("glide_sink", "sink", "m/s", None, intervals(joined(records, "glide_sink"))),
    ]


def speed_rows(records: Sequence[Record]) -> Rows:
    """What the speeds flown cost, by the polar fitted to the same flight, against the wing's own."""
    to_climb, on_the_ground = (relative(joined(records, f"speed_cost_{unit}"), by=1.0) for unit in ("s", "m"))
    return [
        ("speed_cost_s", "cost of a glide's speed, a climb to come", "s", None, to_climb),
        ("speed_cost_m", "cost of a glide's speed, no climb to come", "m", None, on_the_ground),
    ]


def polar_rows(records: Sequence[Record]) -> Rows:
    """Polars of single wings over several flights; those of wings beyond their class apart."""
    best: Rows = []
    least: Rows = []
    for thermic, minutes, target in POLARS:
        flown = [r for r in records if r["thermic"] == thermic and r["minutes"] == minutes]
        wings = [r for r in flown if not r["off_class"]]
        air = "thermic" if thermic else "calm"
        key, words = f"{air}_{minutes}", f"{minutes} min in {air} air"
        best.append((f"best_glide_{key}", f"best glide, {words}", "%", target, _polar_error(wings, "best_glide")))
        sink = _polar_error(wings, "min_sink", by=1.0)
        least.append((f"min_sink_{key}", f"least sink, {words}", "m/s", LEAST_SINK_MPS if target else None, sink))
    beyond = [r for r in records if r["off_class"]]
    off = "of wings better or worse than their class"
    return [
        *best,
        ("best_glide_off", f"best glide {off}", "%", None, _polar_error(beyond, "best_glide")),
        *least,
        ("min_sink_off", f"least sink {off}", "m/s", None, _polar_error(beyond, "min_sink", by=1.0)),
        *(row for figure, name in POLAR_SPEEDS for row in _polar_speed_rows(records, figure, name)),
    ]


def _polar_speed_rows(records: Sequence[Record], figure: str, name: str) -> Rows:
    """One of the polar's two airspeeds, of all wings in either air: it hardly gets better with more glide."""
    rows: Rows = []
    for thermic, air in ((True, "thermic"), (False, "calm")):
        error = _polar_error([r for r in records if r["thermic"] == thermic], f"{figure}_speed", by=1.0)
        rows.append((f"{figure}_speed_{air}", f"{name}, {air} air", "m/s", None, error))
    return rows


def _polar_error(records: Sequence[Record], key: str, by: float = PER_CENT) -> Measured:
    """Root mean square error of one figure of these wings."""
    return relative(joined(records, key), root_mean_square=True, by=by)


def pass_rows(records: Sequence[Record]) -> Rows:
    """Passes at the top meadow."""
    counts = joined(records, "pass_counts")
    right, matched = (sum(r["pass_outcomes"][k] for r in records) for k in (0, 1))
    true, found = total(records, "passes_true"), total(records, "passes_found")
    recall = Measured("share", 1 - sum(len(r["passes_missed"]) for r in records) / true, true)
    precision = Measured("share", 1 - total(records, "passes_false") / found, found)
    decisions, lowest = joined(records, "decision_s"), joined(records, "lowest_m")
    pressure = joined(records, "lowest_is_pressure").astype(bool)
    exact = share(counts[:, 0] == counts[:, 1])
    defined = share(joined(records, "pass_counts_defined").astype(bool))
    true_number, number, low, high = joined(records, "go_around_counts").T
    held = (true_number >= low) & (true_number <= high)
    clean = (true_number == number)[low == high]
    return [
        ("pass_count", "flights with the right number of passes", "share", 0.95, exact),
        ("pass_count_defined", "the same, by the published definition", "share", 0.95, defined),
        ("pass_count_held", "go-arounds of a flight within the interval given", "share", 0.95, share(held)),
        ("pass_count_clean", "the same number, where the interval is one", "share", 0.95, share(clean)),
        ("pass_recall", "true passes that were found", "share", None, recall),
        ("pass_precision", "found passes that were true", "share", None, precision),
        ("pass_outcome", "landed or go-around", "share", 0.99, Measured("share right", right / matched, matched)),
        ("decision", "moment of the decision", "s", 4.0, plain(decisions)),
        ("lowest", "lowest height", "m", 1.0, intervals(lowest)),
        ("lowest_95", "lowest height, barometer", "m", 5.0, plain(lowest[pressure, 0], 95)),
        ("lowest_95_gnss", "lowest height, satellites alone", "m", None, plain(lowest[~pressure, 0], 95)),
    ]


def calm_rows(records: Sequence[Record]) -> Rows:
    """What is left without gusts and errors of the recorder is the method's own."""
    values: dict[str, Callable[[np.ndarray], Measured]] = {
        "wind_climb": winds, "mean_climb_mps": intervals, "glide_air": relative, "touchdown_s": plain,
    }  # fmt: skip
    wind, climb, glide, down = (of(joined(records, key)) for key, of in values.items())
    return [
        ("calm_wind_climb", "wind per climb", "m/s", 0.3, wind),
        ("calm_mean_climb", "mean climb", "m/s", 0.02, climb),
        ("calm_glide_air", "glide ratio through the air", "%", 2.0, glide),
        ("calm_touchdown", "touchdown", "s", 2.0, down),
    ]
