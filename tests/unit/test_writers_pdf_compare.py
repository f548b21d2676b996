"""A comparison on paper: what its page says, known again as ours."""

from __future__ import annotations

import warnings
from pathlib import Path

import pytest
from click.testing import CliRunner

from flightlog.commands.main import main

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    from pypdf import PdfReader

TASK_DAY = Path(__file__).parents[2] / "sample_tracks" / "task-day"


def run(*words: object):
    return CliRunner().invoke(main, [str(word) for word in words])


@pytest.fixture(scope="module")
def folder(tmp_path_factory) -> Path:
    folder = tmp_path_factory.mktemp("compared")
    result = run("compare", "--task", TASK_DAY / "task.toml", TASK_DAY, "--to", "html,pdf", "--out", folder)
    assert result.exit_code == 0, result.stderr
    return folder


def test_it_says_who_was_where_and_why(folder):
    (path,) = folder.glob("*.pdf")
    reader = PdfReader(path)
    text = " ".join(" ".join(page.extract_text() for page in reader.pages).split())
    for words in ("Quillback race", "Where the time went", "Leg by leg", "Height along the course", "Clock"):
        assert words in text
    for pilot in ("Mira Aldwend", "Joren Fastwick", "Tove Lumbray", "Iko Brandevar"):
        assert text.count(pilot) > 3
    assert f"Page 1 of {len(reader.pages)}" in text


def test_another_pdf_of_that_name_is_left_alone(folder, tmp_path):
    (path,) = folder.glob("*.pdf")
    (tmp_path / path.name).write_bytes(b"%PDF-1.7 mine")
    result = run("compare", "--task", TASK_DAY / "task.toml", TASK_DAY, "--to", "pdf", "--out", tmp_path)
    assert result.exit_code == 2
    assert "was left alone" in result.stderr
    assert (tmp_path / path.name).read_bytes() == b"%PDF-1.7 mine"
