"""LAPACK's solvers: the same numbers as scipy.linalg gives, without importing it."""

from __future__ import annotations

import subprocess
import sys
from importlib.machinery import PathFinder

import numpy as np
import pytest
import scipy.linalg

from flightlog import lapack


def banded_matrix(size=40, width=3):
    """Bands of a matrix that is positive definite, since its diagonal outweighs the rest, and the whole of it."""
    chance = np.random.default_rng(5)
    bands = chance.normal(size=(width + 1, size))
    bands[0] = 4.0 * (width + 1) + np.abs(bands[0])
    whole = np.diag(bands[0])
    for below in range(1, width + 1):
        bands[below, size - below :] = 0.0
        beside = np.diag(bands[below, : size - below], -below)
        whole += beside + beside.T
    return bands, whole


def test_banded_solutions_solve_the_equations():
    bands, whole = banded_matrix()
    right = np.random.default_rng(6).normal(size=(len(whole), 2))
    factor = lapack.cholesky_banded(bands.copy())
    assert factor == pytest.approx(scipy.linalg.cholesky_banded(bands, lower=True), abs=1e-14)
    assert whole @ lapack.solve_banded(factor, right.copy()) == pytest.approx(right, abs=1e-12)


def test_a_matrix_that_is_not_positive_definite_is_refused():
    bands, _ = banded_matrix()
    bands[0, 7] = -1.0
    with pytest.raises(np.linalg.LinAlgError, match="row 8 "):
        lapack.cholesky_banded(bands)


def test_the_analysis_imports_no_more_of_scipy():
    code = "import sys, flightlog.debriefing; print('scipy.linalg' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout == "False\n"


def test_where_the_extension_is_not_found_the_public_module_serves(monkeypatch):
    monkeypatch.delitem(sys.modules, "scipy.linalg")
    assert lapack._loaded() is not scipy.linalg.lapack
    monkeypatch.setattr(PathFinder, "find_spec", lambda *_: None)
    assert lapack._loaded().__name__ == "scipy.linalg.lapack"
