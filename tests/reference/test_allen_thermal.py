"""The core fit in a thermal of Allen's published model, flown in the test.

Allen 2006, AIAA 2006-1510 (NASA NTRS 20060004052): shape constants and formulas second-hand, from two independent
public copies of the author's function; the values THM-01 to THM-04 come from a port of it.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from flightlog.air.cores import RiseSamples, fit_cores

SHAPES = {  # r1/r2 -> k1, k2, k3, k4
    0.14: (1.5352, 2.5826, -0.0113, -0.1950),
    0.25: (1.5265, 3.6054, -0.0176, -0.1265),
    0.36: (1.4866, 4.8356, -0.0320, -0.0818),
    0.47: (1.2042, 7.7904, 0.0848, -0.0445),
    0.58: (0.8816, 13.9720, 0.3404, -0.0216),
    0.69: (0.7067, 23.9940, 0.5689, -0.0099),
    0.80: (0.6189, 42.7965, 0.7157, -0.0033),
}


def sizes(height_m, mixing_depth_m, scale_mps):
    """Outer radius r2, inner radius r1, mean rise and peak rise of the model."""
    share = height_m / mixing_depth_m
    outer = max(10.0, 0.102 * share ** (1 / 3) * (1 - 0.25 * share) * mixing_depth_m)
    mean = scale_mps * share ** (1 / 3) * (1 - 1.1 * share)
    inner = outer * (0.0011 * outer + 0.14 if outer < 600 else 0.8)
    peak = 3 * mean * (outer**3 - outer**2 * inner) / (outer**3 - inner**3)
    return outer, inner, mean, peak


def rise(radius_m, height_m, mixing_depth_m, scale_mps):
    """Vertical speed of the air at a distance from the middle, the ring of sink around it included."""
    outer, inner, mean, peak = sizes(height_m, mixing_depth_m, scale_mps)
    k1, k2, k3, k4 = SHAPES[min(SHAPES, key=lambda share: abs(share - inner / outer))]
    x, share = radius_m / outer, height_m / mixing_depth_m
    air = max(0.0, 1 / (1 + abs(k1 * (x + k3)) ** k2) + k4 * x) * peak
    if radius_m > inner and x < 2 and 0.5 < share <= 0.9:
        air += min(0.0, 2.5 * (share - 0.5) * (math.pi / 6) * math.sin(math.pi * x)) * mean
    return air


def test_thm_01_to_04_the_port_gives_the_published_values():
    outer, inner, mean, peak = sizes(280, 1400, 2)
    assert (outer, inner, mean, peak) == pytest.approx((79.3345, 18.0302, 0.91229, 2.14000), abs=1e-4)
    for share, value in ((0, 2.13999), (0.25, 2.02249), (0.5, 1.47151), (0.75, 0.65465), (1, 0.13229)):
        assert rise(share * outer, 280, 1400, 2) == pytest.approx(value, abs=1e-4)
    assert sizes(700, 1400, 2)[::3] == pytest.approx((99.1729, 1.63445), abs=1e-4)
    outer = sizes(1000, 1401, 2.56)[0]
    assert outer == pytest.approx(104.9211, abs=1e-4)
    assert rise(1.5 * outer, 1000, 1401, 2.56) == pytest.approx(-0.13755, abs=1e-4)


@pytest.mark.parametrize("off_m", [10.0, 25.0])
def test_the_core_of_an_allen_thermal(off_m):
    """Strength within 20 % and place within 15 m, though the model's top is flat and the fit's is not."""
    height, depth, scale = 700.0, 1800.0, 4.0
    peak = sizes(height, depth, scale)[3]
    time = np.arange(-52.0, 53.0, 1.0)
    angle = 2 * np.pi * time / 16.0
    east, north = 28 * np.sin(angle) + off_m, 28 * np.cos(angle)
    way_in = time < -37
    east = np.where(way_in, off_m + (time + 37) * 10, east)
    north = np.where(way_in, 0.0, north)
    air = np.array([rise(math.hypot(x, y), height, depth, scale) for x, y in zip(east, north, strict=True)])
    centre = float(east[~way_in].mean()), float(north[~way_in].mean())
    (core,) = fit_cores([RiseSamples(time, east - centre[0], north - centre[1], 0 * time, air)])
    assert core is not None
    assert core.strength_mps == pytest.approx(peak, rel=0.2)
    assert math.hypot(core.east_m + centre[0], core.north_m + centre[1]) < 15
