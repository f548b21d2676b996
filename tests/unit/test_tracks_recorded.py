"""The recorder's own columns: units, wide columns, and what is left as written."""

import numpy as np
import pytest

from flightlog.tracks.notebook import Notebook
from flightlog.tracks.recorded import median_ground_speed_mps, recorded_columns


def columns(code, values, width=3, ground_speed_mps=10.0):
    notebook = Notebook()
    return recorded_columns(
        {code: np.array(values, dtype=float)}, {code: width}, ground_speed_mps, notebook
    ), notebook


@pytest.mark.parametrize(("written", "width"), [(36, 3), (36, 5), (360, 4), (3600, 5)])
def test_speed_over_the_ground_tells_decimals_from_leading_zeros(written, width):
    found, notebook = columns("TAS", [written, written], width)
    assert found["airspeed_mps"] == pytest.approx([10.0, 10.0])
    assert not notebook.notes()


def test_a_wide_column_stays_as_written_where_nothing_tells_its_unit():
    assert columns("TAS", [3600.0], 5, None)[0] == {"tas": pytest.approx([3600.0])}
    assert columns("WSP", [1800.0], 5)[0] == {"wsp": pytest.approx([1800.0])}


def test_an_airspeed_in_another_unit_is_said():
    found, notebook = columns("TAS", [10.0, 10.0])  # metres a second under a code that means km/h
    assert found["airspeed_mps"] == pytest.approx([10 / 3.6, 10 / 3.6])
    assert [note.code for note in notebook.notes()] == ["airspeed_doubtful"]


def test_noughts_are_no_airspeed_in_another_unit():
    assert not columns("TAS", [0.0, 0.0])[1].notes()


def test_angles_beyond_a_circle_stay_as_written():
    assert columns("HDT", [360.0, 10.0])[0] == {"heading_deg": pytest.approx([0.0, 10.0])}
    assert columns("HDT", [2700.0])[0] == {"hdt": pytest.approx([2700.0])}


def test_magnetic_directions_are_not_taken_as_true():
    assert columns("HDM", [90.0])[0] == {"hdm": pytest.approx([90.0])}


def test_the_median_speed_leaves_out_standing():
    latitude = 47 + np.concatenate([np.zeros(50), np.arange(50) * 1e-4])  # 11.1 m a second
    longitude = np.full(100, 10.0)
    assert median_ground_speed_mps(np.arange(100.0), latitude, longitude) == pytest.approx(11.12, abs=0.01)
    assert median_ground_speed_mps(np.arange(100.0), np.full(100, 47.0), longitude) is None
