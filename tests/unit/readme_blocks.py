"""The blocks of the README: found, run, and on request their output written anew.

`python -m tests.unit.readme_blocks` runs every block and puts what it says into the README.
"""

from __future__ import annotations

import contextlib
import io
import os
import re
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).parents[2]
README = ROOT / "README.md"
FENCE = re.compile(r"^```(\w*)\n(.*?)^```$", re.MULTILINE | re.DOTALL)
PROMPTS = {"console": "$ ", "python": ">>> "}


def blocks(text: str, language: str) -> list[str]:
    """The fenced blocks of a language; "" for those without one."""
    return [match[2] for match in FENCE.finditer(text) if match[1] == language]


def commands(block: str, language: str) -> list[str]:
    """What is typed in a block."""
    prompt = PROMPTS[language]
    return [line.removeprefix(prompt) for line in block.splitlines() if line.startswith(prompt)]


def run_console(block: str, folder: Path) -> str:
    """A block of commands with what they say, run in a folder that holds the samples."""
    lines = []
    for command in commands(block, "console"):
        shell = f'flightlog() {{ "{sys.executable}" -m flightlog "$@"; }}; {command}'
        paths = {**os.environ, "PYTHONPATH": str(ROOT)}
        result = subprocess.run(
            ["bash", "-c", shell],
            cwd=folder,
            env=paths,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            timeout=120,
            check=True,
        )
        lines += [f"$ {command}", *result.stdout.splitlines()]
    return "\n".join(lines) + "\n"


def run_python(block: str, folder: Path) -> str:
    """A block of Python with the values it shows, run in that folder."""
    names: dict[str, object] = {}
    lines = []
    with contextlib.chdir(folder):
        for command in commands(block, "python"):
            said = io.StringIO()
            with contextlib.redirect_stdout(said):
                exec(compile(command, "README.md", "single"), names)  # noqa: S102 (our own README)
            lines += [f">>> {command}", *said.getvalue().splitlines()]
    return "\n".join(lines) + "\n"


RUNNERS = {"console": run_console, "python": run_python}


def folder_with_samples(folder: Path) -> Path:
    """The folder, with the samples in it."""
    shutil.copytree(ROOT / "sample_tracks", folder / "sample_tracks")
    return folder


def update() -> None:
    """Write what every block says into the README."""
    with tempfile.TemporaryDirectory() as name:
        folder = folder_with_samples(Path(name))

        def anew(match: re.Match[str]) -> str:
            runner = RUNNERS.get(match[1])
            return match[0] if runner is None else f"```{match[1]}\n{runner(match[2], folder)}```"

        README.write_text(FENCE.sub(anew, README.read_text(encoding="utf-8")), encoding="utf-8")


if __name__ == "__main__":
    update()
