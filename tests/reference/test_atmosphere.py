"""The standard atmosphere against published tables (ICAO Doc 7488 / U.S. Standard Atmosphere 1976)."""

import numpy as np
import pytest

from flightlog.earth import atmosphere

FEET_M = 0.3048
# ICAO Doc 7488 constants; rows computed from them, tropopause row as printed in the standard:
# H m, T K, p Pa, density kg/m3, TAS/EAS
TABLE = [
    (0, 288.15, 101325.0, 1.225000, 1.00000),
    (500, 284.90, 95460.84, 1.167269, 1.02443),
    (1000, 281.65, 89874.56, 1.111643, 1.04975),
    (1500, 278.40, 84555.99, 1.058067, 1.07600),
    (2000, 275.15, 79495.20, 1.006490, 1.10322),
    (2500, 271.90, 74682.52, 0.956859, 1.13147),
    (3000, 268.65, 70108.53, 0.909122, 1.16080),
    (3500, 265.40, 65764.06, 0.863229, 1.19126),
    (4000, 262.15, 61640.21, 0.819129, 1.22290),
    (4500, 258.90, 57728.30, 0.776774, 1.25580),
    (5000, 255.65, 54019.89, 0.736116, 1.29002),
    (5500, 252.40, 50506.78, 0.697105, 1.32562),
    (6000, 249.15, 47181.00, 0.659697, 1.36269),
    (11000, 216.65, 22632.0, 0.363918, None),
]


@pytest.mark.parametrize(("altitude_m", "temperature_k", "pressure_pa", "density_kgm3", "ratio"), TABLE)
def test_table_of_the_standard_atmosphere(altitude_m, temperature_k, pressure_pa, density_kgm3, ratio):
    tolerance_pa = 0.05 if altitude_m < 11000 else 0.1  # printed as 22632.0 and as 22632.1
    assert atmosphere.temperature_k(altitude_m) == pytest.approx(temperature_k, abs=0.005)
    assert atmosphere.pressure_pa(altitude_m) == pytest.approx(pressure_pa, abs=tolerance_pa)
    assert atmosphere.density_kgm3(altitude_m) == pytest.approx(density_kgm3, abs=1e-5)
    assert atmosphere.pressure_altitude_m(pressure_pa) == pytest.approx(altitude_m, abs=0.05)
    if ratio is not None:
        assert atmosphere.true_airspeed_mps(1.0, altitude_m) == pytest.approx(ratio, abs=1e-5)
        assert atmosphere.equivalent_airspeed_mps(ratio, altitude_m) == pytest.approx(1.0, abs=1e-5)


@pytest.mark.parametrize(
    ("geometric_m", "temperature_k", "pressure_pa", "density_kgm3"),
    [  # U.S. Standard Atmosphere 1976 by geometric height, as two independent packages give it
        (1000.0, 281.6510, 89876.28, 1.11166),
        (3000.0, 268.6592, 70121.16, 0.909254),
        (6000.0, 249.1868, 47217.64, 0.660111),
    ],
)
def test_geometric_heights(geometric_m, temperature_k, pressure_pa, density_kgm3):
    altitude_m = atmosphere.geopotential_m(geometric_m)
    assert atmosphere.temperature_k(altitude_m) == pytest.approx(temperature_k, abs=1e-4)
    assert atmosphere.pressure_pa(altitude_m) == pytest.approx(pressure_pa, abs=0.1)
    assert atmosphere.density_kgm3(altitude_m) == pytest.approx(density_kgm3, abs=1e-5)


def test_pressure_altitude_of_the_standard_pressure_surfaces():
    # derived from the defining formula of ICAO Doc 7488
    pressure_pa = np.array([95000.0, 90000.0, 85000.0, 70000.0, 50000.0])
    expected_m = [540.34, 988.50, 1457.30, 3012.18, 5574.43]
    assert atmosphere.pressure_altitude_m(pressure_pa) == pytest.approx(expected_m, abs=0.05)


def test_altimeter_settings_at_sea_level():
    # derived: 8.33 m per hPa near sea level
    assert atmosphere.pressure_altitude_m(100325.0) == pytest.approx(83.58, abs=0.05)
    assert atmosphere.pressure_altitude_m(102325.0) == pytest.approx(-82.91, abs=0.05)


def test_engineering_form_of_the_pressure_curve():
    # engineering handbook: p[psia] = 14.696 (1 - 6.8754e-6 Z[ft])^5.2559
    altitude_m = np.arange(0.0, 9000.0, 500.0)
    handbook_pa = 6894.757 * 14.696 * (1.0 - 6.8754e-6 * altitude_m / FEET_M) ** 5.2559
    assert atmosphere.pressure_pa(altitude_m) == pytest.approx(handbook_pa, rel=2e-4)


@pytest.mark.parametrize(
    ("height_ft", "errors_ft"),
    [  # FAA AIM, TBL 7-2-3, ICAO cold temperature error table: 0, -10, -20, -30, -40, -50 C
        (1000, [60, 100, 140, 190, 240, 300]),
        (3000, [170, 290, 420, 570, 720, 890]),
        (5000, [280, 490, 710, 950, 1210, 1500]),
    ],
)
def test_cold_temperature_error_table(height_ft, errors_ft):
    temperature_c = np.array([0.0, -10.0, -20.0, -30.0, -40.0, -50.0])
    found_ft = atmosphere.cold_air_error_m(height_ft * FEET_M, temperature_c) / FEET_M
    assert found_ft == pytest.approx(errors_ft, abs=10.0)


def test_four_percent_of_height_for_ten_degrees():
    # rule of thumb, common practice: 0.4 % of height per degree off standard
    error_m = atmosphere.cold_air_error_m(1000.0, -10.0)
    assert error_m / 1000.0 / 25.0 == pytest.approx(0.004, rel=0.1)


def test_outside_the_model_is_nan():
    assert np.isnan(atmosphere.density_kgm3([99999.0, -6000.0, np.nan, np.inf])).all()
    assert np.isnan(atmosphere.pressure_altitude_m([0.0, -5.0, np.nan, 1.0])).all()
