"""Progress: a bar on a terminal, few plain lines in a pipe, nothing when quiet or short."""

from __future__ import annotations

import os
import pty
import re
import subprocess
import sys
from pathlib import Path

import pytest

from flightlog.commands import progress as module
from flightlog.commands.progress import progress

ROOT = Path(__file__).parents[2]
WORK = """
import sys, time
import click
from flightlog.commands.progress import progress
with progress(20, "reading [red]x[/]") as step:
    for number in range(20):
        time.sleep(0.05)
        step()
        if number == 10:
            click.echo("a message", err=True)
            click.echo("a result")
print("done")
"""


def on_a_terminal(**environment: str) -> str:
    """What the work above shows on a terminal of 80 columns."""
    leader, follower = pty.openpty()
    variables = {name: text for name, text in os.environ.items() if name not in ("NO_COLOR", "FORCE_COLOR")}
    variables |= {"TERM": "xterm-256color", "COLUMNS": "80", **environment}
    process = subprocess.Popen(
        [sys.executable, "-c", WORK], stdout=subprocess.PIPE, stderr=follower, env=variables, cwd=ROOT
    )
    os.close(follower)
    shown = b""
    while True:
        try:
            part = os.read(leader, 65536)
        except OSError:  # the other side closed it
            break
        if not part:
            break
        shown += part
    os.close(leader)
    assert process.communicate(timeout=60)[0] == b"a result\ndone\n"
    assert process.returncode == 0
    return shown.decode()


def test_a_terminal_shows_a_bar_with_count_rate_and_time_left():
    shown = on_a_terminal()
    plain = re.sub(r"\x1b\[[0-9;?]*[A-Za-z]", "", shown)
    assert "reading [red]x[/]" in plain  # text, not markup
    assert "20/20" in plain
    assert "a second" in plain
    assert re.search(r"\d:\d\d left", plain)
    assert "a message" in plain
    assert "\x1b[3" in shown  # coloured


def test_messages_stand_on_lines_of_their_own_above_the_bar():
    assert "\r\x1b[2Ka message\r\n" in on_a_terminal()  # the bar's line is cleared first


def test_no_color_is_honoured():
    shown = on_a_terminal(NO_COLOR="1")
    assert "20/20" in shown
    assert not re.search(r"\x1b\[(3|4|9)\d", shown)
    assert "\x1b[38;" not in shown


def test_a_dumb_terminal_gets_no_escapes():
    assert "\x1b" not in on_a_terminal(TERM="dumb")


@pytest.fixture
def clock(monkeypatch):
    """A clock that goes as told."""
    now = [1000.0]
    monkeypatch.setattr(module.time, "monotonic", lambda: now[0])
    return now


def test_a_pipe_gets_a_plain_line_every_ten_seconds(clock, capsys):
    with progress(100, "passes") as step:
        for _ in range(100):
            clock[0] += 0.5
            step()
    lines = capsys.readouterr().err.splitlines()
    assert lines[0] == "passes: 20 of 100, 2.0 a second, about 0:40 left"
    assert len(lines) == 4


def test_short_work_leaves_no_trace_in_a_pipe(clock, capsys):
    with progress(100, "passes") as step:
        for _ in range(100):
            clock[0] += 0.05
            step()
    assert capsys.readouterr() == ("", "")


def test_quiet_says_nothing(clock, capsys):
    with progress(100, "passes", quiet=True) as step:
        for _ in range(10):
            clock[0] += 60.0
            step(10)
    assert capsys.readouterr() == ("", "")


def test_work_within_work_shows_nothing_of_its_own(clock, capsys):
    with progress(100, "outer") as step, progress(100, "inner") as inner:
        for _ in range(100):
            clock[0] += 0.5
            inner()
            step()
    assert {line.partition(":")[0] for line in capsys.readouterr().err.splitlines()} == {"outer"}


def test_a_label_cannot_break_the_line(clock, capsys):
    with progress(10, "a\x1b[31m\nb") as step:
        clock[0] += 60.0
        step()
    shown = capsys.readouterr().err
    assert shown.count("\n") == 1
    assert "\x1b" not in shown
