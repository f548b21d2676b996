"""The shell completes commands and options, by what click gives it."""

import os
import subprocess
import sys

import pytest


def asked(**environment):
    return subprocess.run(
        [sys.executable, "-m", "flightlog"],
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
        env={**os.environ, **environment},
    )


@pytest.mark.parametrize("shell", ["zsh", "fish"])
def test_each_shell_gets_its_script(shell):
    told = asked(_FLIGHTLOG_COMPLETE=f"{shell}_source")
    assert told.returncode == 0
    assert "_FLIGHTLOG_COMPLETE" in told.stdout


def test_commands_and_options_are_completed():
    commands = asked(_FLIGHTLOG_COMPLETE="bash_complete", COMP_WORDS="flightlog de", COMP_CWORD="1")
    assert {"plain,debrief", "plain,demo"} == set(commands.stdout.split())
    options = asked(_FLIGHTLOG_COMPLETE="bash_complete", COMP_WORDS="flightlog debrief --pl", COMP_CWORD="2")
    assert options.stdout.split() == ["plain,--places"]


def test_the_commands_of_the_logbook_are_completed():
    commands = asked(_FLIGHTLOG_COMPLETE="bash_complete", COMP_WORDS="flightlog book re", COMP_CWORD="2")
    assert {"plain,remove", "plain,renew"} == set(commands.stdout.split())
    options = asked(_FLIGHTLOG_COMPLETE="bash_complete", COMP_WORDS="flightlog book list --y", COMP_CWORD="3")
    assert options.stdout.split() == ["plain,--year"]
