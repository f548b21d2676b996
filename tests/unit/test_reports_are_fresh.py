"""The committed report is the one that this code makes: `flightlog demo --force` writes it anew.

Another processor may round the last digit otherwise: figures may differ by one unit of it, words and shape not.
"""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from click.testing import CliRunner

from flightlog.commands.main import main

ROOT = Path(__file__).parents[2]
STALE = "run: flightlog demo --force"
NUMBER = re.compile(r"\d+(?:\.\d+)?")


@pytest.fixture(scope="module")
def made(tmp_path_factory) -> Path:
    folder = tmp_path_factory.mktemp("made")
    log, places = (str(ROOT / "sample_tracks" / name) for name in ("top-landing-day.igc", "places.geojson"))
    result = CliRunner().invoke(
        main, ["debrief", log, "--places", places, "--to", "html,json", "--out", str(folder)]
    )
    assert result.exit_code == 0, result.stderr
    return folder


def flattened(value, key=""):
    """Every word and number of a document with the keys that lead to it."""
    if isinstance(value, dict):
        return [leaf for name, part in value.items() for leaf in flattened(part, f"{key}.{name}")]
    if isinstance(value, list):
        return [(f"{key}.length", len(value)), *(leaf for part in value for leaf in flattened(part, key))]
    return [(key, value)]


def test_the_json_of_the_sample_day_is_fresh(made):
    new, old = (
        flattened(json.loads((folder / "top-landing-day.json").read_bytes()))
        for folder in (made, ROOT / "reports")
    )
    assert [key for key, _ in new] == [key for key, _ in old], STALE
    for (key, value), (_, committed) in zip(new, old, strict=True):
        if isinstance(value, float):
            step = 2e-7 if key.endswith(("lat_deg", "lon_deg")) else 0.011
            assert committed == pytest.approx(value, abs=step, rel=0), (key, STALE)
        else:
            assert committed == value, (key, STALE)


def test_the_page_of_the_sample_day_is_fresh(made):
    def text(folder: Path) -> str:
        page = (folder / "top-landing-day.html").read_text(encoding="utf-8")
        return re.sub(r'<svg.*?aria-label="([^"]*)".*?</svg>', r"\1", page, flags=re.DOTALL)

    new, old = text(made), text(ROOT / "reports")
    assert NUMBER.sub("#", new) == NUMBER.sub("#", old), STALE
    for value, committed in zip(NUMBER.findall(new), NUMBER.findall(old), strict=True):
        step = 1.01 * 10.0 ** -len(value.partition(".")[2])
        assert float(committed) == pytest.approx(float(value), abs=step, rel=0), STALE


def is_data(path: Path) -> bool:
    """Whether a file is a sample, and not one about them."""
    return path.is_file() and path.suffix != ".md" and not path.name.startswith(".")


def test_every_sample_has_its_link_in_the_package():
    """So that the wheel carries it: the build follows links to files."""
    samples, links = ROOT / "sample_tracks", ROOT / "flightlog" / "sample_tracks"
    there = {path.relative_to(samples) for path in samples.rglob("*") if is_data(path)}
    linked = {path.relative_to(links) for path in links.rglob("*") if is_data(path)}
    assert linked == there
    for path in there:
        assert (links / path).read_bytes() == (samples / path).read_bytes()
