"""The public names: there, loaded late, and what they say they are."""

from __future__ import annotations

import subprocess
import sys

import flightlog


def test_every_public_name_is_there():
    for name in flightlog.__all__:
        assert getattr(flightlog, name) is not None
    assert set(flightlog.__all__) <= set(dir(flightlog))


def test_the_main_job_is_a_function_beside_its_class():
    assert callable(flightlog.debrief)
    assert flightlog.Debrief.__name__ == "Debrief"
    assert flightlog.debrief.__module__ == "flightlog.debriefing"


def test_an_unknown_name_is_an_attribute_error():
    assert not hasattr(flightlog, "fly")


def test_importing_the_package_loads_nothing_heavy():
    code = "import sys, flightlog; assert not {'numpy', 'scipy', 'click', 'pandas'} & set(sys.modules)"
    subprocess.run([sys.executable, "-c", code], check=True, timeout=60)


def test_the_analysis_loads_no_pandas_and_no_matplotlib():
    code = (
        "import sys, flightlog; flightlog.debrief, flightlog.read_track, flightlog.write_json;"
        "bad = {'pandas', 'matplotlib', 'jinja2', 'click', 'scipy.signal'} & set(sys.modules); assert not bad, bad"
    )
    subprocess.run([sys.executable, "-c", code], check=True, timeout=60)


def test_the_version_is_that_of_the_project():
    import tomllib
    from pathlib import Path

    project = tomllib.loads((Path(__file__).parents[2] / "pyproject.toml").read_text(encoding="utf-8"))
    assert flightlog.__version__ == project["project"]["version"]
