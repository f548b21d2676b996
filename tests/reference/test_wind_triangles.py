"""Wind triangles against worked examples of navigation manuals (any one speed unit)."""

import numpy as np
import pytest

from flightlog.air import triangles
from flightlog.air.circle_fits import fit_geometric, fit_taubin


def test_track_and_ground_speed_from_the_1942_manual():
    # Mathematics for Air Crew Trainees, US War Department 1942, p. 45
    course_deg, ground_speed = triangles.ground_track(315.0, 150.0, 45.0, 30.0)
    assert course_deg == pytest.approx(304.0, abs=0.5)
    assert ground_speed == pytest.approx(153.0, abs=0.5)


def test_wind_from_drift_in_the_1940s_computer_manual():
    # Smithsonian NASM.XXXX.0136, Example 16, a slide-rule reading
    from_deg, speed = triangles.wind_from_tracks(94.0, 146.0, 104.0, 165.0)
    assert from_deg == pytest.approx(154.0, abs=1.5)
    assert speed == pytest.approx(34.0, abs=1.5)


@pytest.mark.parametrize(
    ("course", "airspeed", "wind_from", "wind", "crab", "heading", "ground_speed"),
    [
        (45.0, 110.0, 90.0, 25.0, 9.3, 54.0, 91.0),  # PPL study site, exercise 3
        (270.0, 120.0, 180.0, 30.0, -14.5, 255.5, 116.0),  # same, exercise 2
        (0.0, 90.0, 270.0, 10.0, -6.379, 354.0, 89.4),  # E6B calculator page (prints -6, 354, 89.4)
        (90.0, 120.0, 45.0, 40.0, -13.6, 76.0, 88.0),  # FAA-H-8083-25, ch. 16 (from memory)
    ],
)
def test_heading_that_holds_a_course(course, airspeed, wind_from, wind, crab, heading, ground_speed):
    found_crab, found_heading, found_speed = triangles.heading_to_hold(course, airspeed, wind_from, wind)
    assert found_crab == pytest.approx(crab, abs=0.5)
    assert found_heading == pytest.approx(heading, abs=0.5)
    assert found_speed == pytest.approx(ground_speed, abs=0.5)


def test_drift_of_the_recreational_tutorial():
    # recreational aviation tutorial, section 4.1: heading 045, 75 kt, wind 135/20, some 15 degrees of drift to the
    # left; after two hours 150 NM north-east and 40 NM north-west of the start
    course_deg, ground_speed = triangles.ground_track(45.0, 75.0, 135.0, 20.0)
    assert course_deg - 45.0 == pytest.approx(-15.0, abs=1.0)
    east, north = triangles.vector(course_deg, 2.0 * ground_speed)
    assert (east + north) / np.sqrt(2.0) == pytest.approx(150.0, abs=0.01)
    assert (north - east) / np.sqrt(2.0) == pytest.approx(40.0, abs=0.01)


def test_ground_velocities_of_a_circle_lie_on_a_circle_about_the_wind():
    # derived: airspeed 10, wind from 270 at 3
    heading_deg = np.arange(0.0, 360.0, 30.0)
    course_deg, speed = triangles.ground_track(heading_deg, 10.0, 270.0, 3.0)
    east, north = triangles.vector(course_deg, speed)
    for fit in (fit_taubin, fit_geometric):
        circle = fit(east[None, :], north[None, :])
        assert (circle.x[0], circle.y[0], circle.radius[0]) == pytest.approx((3.0, 0.0, 10.0), abs=1e-9)
    assert triangles.ground_track(90.0, 10.0, 270.0, 3.0) == pytest.approx((90.0, 13.0))
    assert triangles.ground_track(270.0, 10.0, 270.0, 3.0) == pytest.approx((270.0, 7.0))


def test_no_heading_holds_a_course_in_more_crosswind_than_airspeed():
    assert np.isnan(triangles.heading_to_hold(0.0, 10.0, 90.0, 11.0)).all()
