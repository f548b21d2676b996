"""Wing files: what is read, and what is said of a wrong one."""

import pytest

from flightlog.errors import WingFileError
from flightlog.wings import Wing, read_wing

GOOD = 'name = "Wing 1"\nclass = "hang_glider"\nempty_kg = 32\nall_up_kg = 118.5\n'
POLAR = "[[polar]]\nairspeed_mps = 12\nsink_mps = 1.1\n[[polar]]\nairspeed_mps = 9.5\nsink_mps = 0.9\n"


def write(tmp_path, text):
    path = tmp_path / "wing.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_the_least_and_the_most(tmp_path):
    assert read_wing(write(tmp_path, GOOD)) == Wing("Wing 1", "hang_glider", 32.0, 118.5)
    more = GOOD + "wing_area_m2 = 14.2\nspan_m = 10.1\nstall_airspeed_mps = 8.0\n" + POLAR
    wing = read_wing(write(tmp_path, more))
    assert (wing.wing_area_m2, wing.span_m, wing.stall_airspeed_mps) == (14.2, 10.1, 8.0)
    assert wing.polar == ((9.5, 0.9), (12.0, 1.1))  # slowest first


@pytest.mark.parametrize(
    ("text", "found"),
    [
        (GOOD.replace('name = "Wing 1"\n', ""), "no name"),
        (GOOD.replace("hang_glider", "balloon"), "class 'balloon' is not known"),
        (GOOD.replace("empty_kg = 32\n", ""), "empty_kg is missing"),
        (GOOD.replace("= 32", '= "32"'), "empty_kg is missing or no number"),
        (GOOD.replace("= 32", "= true"), "empty_kg is missing or no number"),
        (GOOD.replace("= 32", "= nan"), "lies outside"),
        (GOOD.replace("= 32", "= 32000"), "lies outside"),
        (GOOD.replace("= 32", "= " + "9" * 400), "lies outside"),
        (GOOD.replace("118.5", "30"), "not more than empty_kg"),
        (GOOD + "span_m = -1\n", "span_m"),
        (GOOD + "polar = 3\n", "polar is no list"),
        (GOOD + POLAR.replace("9.5", "12.0"), "two polar points at 12 m/s"),
        (GOOD + "[[polar]]\nairspeed_mps = 12\n", "polar point 1: sink_mps is missing"),
    ],
)
def test_what_is_wrong_is_said(tmp_path, text, found):
    path = write(tmp_path, text)
    with pytest.raises(WingFileError, match=found) as caught:
        read_wing(path)
    assert str(caught.value).startswith(f"{path}:1: ")


def test_the_line_of_broken_toml_and_a_missing_file(tmp_path):
    with pytest.raises(WingFileError, match=":2: no TOML"):
        read_wing(write(tmp_path, 'name = "A"\nclass =\n'))
    with pytest.raises(WingFileError, match="cannot be read"):
        read_wing(tmp_path / "none.toml")
