"""The suites of simulated flights, run once a session."""

from __future__ import annotations

import os

import pytest

from .cases import Suites, run_suites
from .figures import Figure, all_figures


@pytest.fixture(scope="session")
def suites() -> Suites:
    """Records of every suite; about four minutes on two cores."""
    return run_suites(
        1 if "PYTEST_XDIST_WORKER" in os.environ else 2
    )  # the tests beside it keep the other core busy


@pytest.fixture(scope="session")
def figures(suites: Suites) -> dict[str, Figure]:
    """Every figure of the table by its key."""
    return {figure.key: figure for figure in all_figures(suites)}
