"""The README: every block runs and says what it says there; every link leads somewhere."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest

from tests.unit.readme_blocks import README, ROOT, RUNNERS, blocks, commands, folder_with_samples

TEXT = README.read_text(encoding="utf-8")
SET_UP = "python3 -m pip install -q uv && python3 -m uv run "
EXAMPLES = [(language, block) for language in RUNNERS for block in blocks(TEXT, language)]


@pytest.fixture(scope="module")
def folder(tmp_path_factory) -> Path:
    return folder_with_samples(tmp_path_factory.mktemp("readme"))


def test_there_are_examples_in_both_languages():
    assert len(blocks(TEXT, "console")) >= 3
    assert len(blocks(TEXT, "python")) >= 1
    assert all(commands(block, language) for language, block in EXAMPLES)


@pytest.mark.parametrize(("language", "block"), EXAMPLES, ids=lambda value: value.split("\n")[0][:40])
def test_an_example_says_what_the_readme_says(language, block, folder):
    assert RUNNERS[language](block, folder) == block, "run: python -m tests.unit.readme_blocks"


def test_the_set_up_commands_are_these_two():
    assert blocks(TEXT, "") == [f"{SET_UP}flightlog demo\n", f"{SET_UP}pytest\n"]


def test_the_first_set_up_command_runs_the_demo(tmp_path):
    words = blocks(TEXT, "")[0].split(SET_UP)[1].split()
    result = subprocess.run(
        [sys.executable, "-m", *words, "--out", str(tmp_path)],
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=300,
    )
    assert result.returncode == 0, result.stderr
    assert f"Open {tmp_path / 'top-landing-day.html'} in a browser." in result.stdout


def test_the_second_is_what_the_checks_run_last():
    checks = (ROOT / ".ci" / "run").read_text(encoding="utf-8").splitlines()
    runs = [line for line in checks if line and not line.startswith(("#", "say "))]
    assert runs[-1] == blocks(TEXT, "")[1].strip()
    subprocess.run([sys.executable, "-m", "pytest", "--version"], check=True, capture_output=True, timeout=60)


@pytest.mark.parametrize("name", ["README.md", "DEVELOPERS.md", "CHANGELOG.md"])
def test_links_lead_to_files_that_are_there(name):
    for target in re.findall(r"\]\(([^)#]+)(?:#[^)]*)?\)", (ROOT / name).read_text(encoding="utf-8")):
        assert target.startswith("https://") or (ROOT / target).exists(), target


def test_the_commands_for_developers_name_modules_that_are_there():
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    modules = re.findall(r"python -m ((?:flightlog|tests)[\w.]+)", text)
    assert len(modules) >= 3
    for module in modules:
        assert (ROOT / f"{module.replace('.', '/')}.py").is_file(), module


def test_methods_named_in_the_code_stand_in_the_table():
    table = set(re.findall(r"^\| (M \d+) \|", (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8"), re.MULTILINE))
    assert len(table) == 11
    for path in (ROOT / "flightlog").rglob("*.py"):
        named = set(re.findall(r"\bM \d+\b", path.read_text(encoding="utf-8")))
        assert named <= table, (path, named - table)
