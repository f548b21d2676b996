"""The coverage-guided fuzzer, shortly, on all readers and on the whole debrief (`guided.py` runs it at length)."""

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


@pytest.mark.parametrize(("target", "runs"), [("readers", 400), ("whole", 12)])
def test_inputs_that_open_new_branches_are_survived(target, runs, tmp_path):
    words = [sys.executable, "-m", "tests.fuzz.guided", target, "--runs", str(runs), "--seconds", "60"]
    done = subprocess.run(
        words,
        cwd=tmp_path,
        env={**os.environ, "PYTHONPATH": str(ROOT), "OPENBLAS_NUM_THREADS": "1"},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr[-3000:]
    tried = re.search(r"Done (\d+) runs", done.stderr)
    assert tried
    assert int(tried[1]) > runs // 2
    assert not list(tmp_path.iterdir()), "an input that failed was left behind"
