"""The command line: which command there is, and what happens when one goes wrong.

Commands are loaded when they are called, and heavy modules only inside them, so that help answers at once.
"""

from __future__ import annotations

import os
import re
import sys
from collections.abc import Sequence
from contextlib import suppress
from importlib import import_module
from typing import Any, ClassVar

import click

from flightlog import __version__
from flightlog.errors import FlightlogError, one_line

ALL_DONE, SOME_FAILED, NOTHING_DONE = 0, 1, 2
INTERRUPTED = 130  # as shells report a process ended by Ctrl-C (common practice: 128 + signal)

COMMANDS = {
    "debrief": "Debrief logs: the main job, into pages, PDF, JSON or Parquet.",
    "compare": "Pilots side by side on one task, and where the time went.",
    "passes": "Landings, go-arounds and tries by place, over many flights.",
    "season": "Trends, calendar, places and the thermal map of many flights.",
    "glides": "Glide ratio and sink polar over many flights of a wing.",
    "distance": "Best distances of every flight over freely chosen turnpoints.",
    "book": "The logbook: logs added once, flights listed, totals, notes and corrections.",
    "convert": "The cleaned track of a log as GPX, GeoJSON, KML, CSV, Parquet or IGC.",
    "check": "Tell the health of logs, line by line.",
    "demo": "Debrief the sample tracks that come with flightlog.",
}
"""Command -> what the list of commands says; its code is `<name>_command` in the module of that name."""


class LateGroup(click.Group):
    """Commands that are each loaded when they are called."""

    described: ClassVar[dict[str, str]]
    package: ClassVar[str]

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Names in the order in which a newcomer needs them."""
        del ctx
        return list(self.described)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """The command of that name."""
        del ctx
        if cmd_name not in self.described:
            return None
        command: click.Command = getattr(import_module(f"{self.package}.{cmd_name}"), f"{cmd_name}_command")
        return command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """The command that is asked for; where there is none, which one may have been meant."""
        if args and args[0] not in self.described:
            raise click.UsageError(f"No such command {args[0]!r}{self._meant(ctx, args[0])}", ctx)
        return super().resolve_command(ctx, args)

    def _meant(self, ctx: click.Context, word: str) -> str:
        """What a word that is no command may have meant, as a question; nothing where nobody can tell."""
        from difflib import get_close_matches
        from pathlib import Path
        from shlex import quote

        options = [name for option in ctx.command.get_params(ctx) for name in option.opts if name == f"--{word}"]
        near = options or get_close_matches(word.lower(), self.described, n=1)
        if near:
            return f" (did you mean {near[0]!r}?)"
        with suppress(OSError):  # such as a word too long for a name
            if Path(word).exists():  # a log, and the main job with it
                first = next(iter(self.described))
                return f" (did you mean: {ctx.command_path} {first} {quote(word)} ?)"
        return ""

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """The list of commands in the help, without loading any."""
        del ctx
        with formatter.section("Commands"):
            formatter.write_dl(list(self.described.items()))


class CommandGroup(LateGroup):
    """The commands of flightlog."""

    described = COMMANDS
    package = "flightlog.commands"

    def main(  # type: ignore[override]
        self,
        args: Sequence[str] | None = None,
        prog_name: str | None = None,
        **options: Any,
    ) -> Any:
        """Run a command and leave with its status; errors become one line each."""
        if not options.pop("standalone_mode", True):
            return super().main(args, prog_name or "flightlog", standalone_mode=False, **options)
        self._main_shell_completion({}, "flightlog")  # answers a shell that asks, and leaves
        words = list(sys.argv[1:] if args is None else args)
        debug = "--debug" in words
        sys.exit(self._status(words, debug, options))

    def _status(self, words: list[str], debug: bool, options: dict[str, Any]) -> int:
        """Exit status of one call."""
        try:
            with self.make_context("flightlog", words, **options) as context:
                status = self.invoke(context)
            sys.stdout.flush()
            return status if isinstance(status, int) else ALL_DONE
        except click.exceptions.Exit as end:  # --help, --version
            return end.exit_code
        except click.exceptions.NoArgsIsHelpError as error:
            click.echo(error.format_message(), err=True)
            return NOTHING_DONE
        except click.UsageError as error:
            command = next((word for word in words if word in COMMANDS), "")  # click does not always say which
            where = error.ctx.command_path if error.ctx else f"flightlog {command}".strip()
            return _failed(f"{where}: {_usage_told(error)}; see '{where} --help'", error, debug)
        except FlightlogError as error:
            return _failed(str(error), error, debug)
        except BrokenPipeError:
            # nobody reads any more (`| head`): keep Python from complaining once more at its end
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
            return SOME_FAILED
        except (KeyboardInterrupt, click.Abort):
            click.echo("flightlog: stopped by the user; what was written before is whole", err=True)
            return INTERRUPTED
        except Exception as error:  # the last resort: one line instead of a traceback
            found = f"flightlog: it failed ({type(error).__name__}: {error}); please report it with --debug"
            return _failed(found, error, debug)


def _usage_told(error: click.UsageError) -> str:
    """What is wrong with the words of a call, to be followed by more."""
    told = error.format_message().rstrip(".")
    return re.sub(r"\.? \(?Did you mean (.*?)\?\)?$", r" (did you mean \1?)", told)


def _failed(message: str, error: BaseException, debug: bool) -> int:
    """Say what went wrong, in one line, and on request where."""
    say_error(message, error, debug=debug)
    return NOTHING_DONE


def say_error(message: str, error: BaseException, *, debug: bool) -> None:
    """One line on stderr; with `debug` the traceback after it."""
    click.echo(one_line(message), err=True)
    if debug:
        import traceback

        click.echo("".join(traceback.format_exception(error)), err=True)


@click.group(cls=CommandGroup, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="flightlog")
@click.option("--debug", is_flag=True, help="Show a traceback with every error.")
def main(debug: bool) -> None:
    """From the track log of a soaring day to numbers a pilot can trust.

    Example: flightlog debrief sample_tracks/top-landing-day.igc
    """
    del debug  # looked for among the arguments, wherever it stands
    for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
        os.environ.setdefault(
            name, "1"
        )  # matrices here are small: threads would wait for each other, turning idly
