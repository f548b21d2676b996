"""A recorder with sensors of its own: columns written from the truth, and what is said of them."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

import flightlog
from flightlog.air.recorder_check import RecorderCheck
from flightlog.debriefing import Debrief
from flightlog.writers.json_results import debrief_json

from .simulator import Scenario, SimulatedLog, simulate

SENSOR_GAIN = 1.06  # a pitot tube that reads 6 % high
COLUMNS = "I033638TAS3941WDI4244WSP"
"""IGC-2008, A3.4: three columns of three digits behind the 35 bytes of every B record."""


@pytest.fixture(scope="module")
def log() -> SimulatedLog:
    """A flight with wind, at 2 s."""
    scenario = Scenario("sensors", wind_mps=5.0, flight_minutes=40.0, interval_s=2.0, gust_mps=0.5)
    return simulate(scenario, 71)


def with_columns(log: SimulatedLog, *, constant: bool = False) -> str:
    """The log's IGC text with the columns added, whole km/h and degrees."""
    truth, lines = log.truth, []
    midnight = math.floor(truth.epoch_s / 86400.0) * 86400.0
    day, last = 0.0, -1.0
    for line in log.igc.split("\r\n"):
        if line.startswith("HFPLT"):
            lines.append(line)
            lines.append(COLUMNS)
        elif line.startswith("B"):
            second = int(line[1:3]) * 3600.0 + int(line[3:5]) * 60.0 + int(line[5:7])
            day += 86400.0 if second < last - 43200.0 else 0.0
            last = second
            lines.append(line + (f"{0:03d}" * 3 if constant else _sensed(log, midnight + day + second)))
        else:
            lines.append(line)
    return "\r\n".join(lines)


def _sensed(log: SimulatedLog, time_s: float) -> str:
    """Three columns of one moment."""
    truth = log.truth
    airspeed = SENSOR_GAIN * float(truth.at(time_s, "airspeed_mps")) * 3.6
    east, north = (float(truth.at(time_s, name)) for name in ("wind_east_mps", "wind_north_mps"))
    from_deg = round(math.degrees(math.atan2(-east, -north))) % 360
    return f"{max(round(airspeed), 0):03d}{from_deg:03d}{round(math.hypot(east, north) * 3.6):03d}"


def debriefed(text: str, folder: Path) -> Debrief:
    """The log as read and analysed."""
    path = folder / "sensors.igc"
    path.write_text(text, encoding="ascii")
    return flightlog.debrief(flightlog.read_track(path))


@pytest.fixture(scope="module")
def checks(log: SimulatedLog, tmp_path_factory: pytest.TempPathFactory) -> dict[str, RecorderCheck]:
    """The comparisons by what they compare."""
    found = debriefed(with_columns(log), tmp_path_factory.mktemp("sensors")).recorder_check
    assert found is not None
    return {check.quantity: check for check in found}


def test_airspeed_is_compared_with_a_sensor_that_reads_high(checks: dict[str, RecorderCheck]) -> None:
    check = checks["airspeed"]
    assert check.count > 600
    assert check.ratio == pytest.approx(1.0 / SENSOR_GAIN, abs=0.03)
    assert -1.1 < check.bias_mps < -0.3  # 6 % of some 11 m/s
    assert check.scatter_mps < 1.2
    assert "lower than the recorder's" in check.sentence
    assert f"Over {check.count} fixes" in check.sentence


def test_wind_is_compared_with_the_true_wind(checks: dict[str, RecorderCheck]) -> None:
    check = checks["wind"]
    assert check.count > 600
    assert abs(check.bias_mps) < 0.6
    assert check.rms_mps < 1.2
    assert "direction included" in check.sentence
    assert np.isfinite([check.ratio, check.scatter_mps]).all()


def test_columns_of_zeros_are_no_sensor(log: SimulatedLog, tmp_path: Path) -> None:
    debrief = debriefed(with_columns(log, constant=True), tmp_path)
    assert debrief.recorder_check is None
    assert sum(note.code == "column_constant" for note in debrief.log.problems) == 3


def test_own_figures_do_not_lean_on_the_recorder(log: SimulatedLog, tmp_path: Path) -> None:
    plain, sensed = debriefed(log.igc, tmp_path), debriefed(with_columns(log), tmp_path)
    assert plain.recorder_check is None
    assert plain.flights == sensed.flights
    assert b'"recorder_check":null' in debrief_json(plain)
    assert b'"recorder_check":[{"quantity":"airspeed"' in debrief_json(sensed)
