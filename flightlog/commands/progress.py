"""How far long work is: a bar on a terminal, a plain line now and then in a pipe, nothing when told so."""

from __future__ import annotations

import io
import os
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager, redirect_stderr
from typing import TYPE_CHECKING

import click

from flightlog.errors import one_line

if TYPE_CHECKING:
    from rich.console import Console
    from rich.progress import Progress

Step = Callable[..., None]
"""`step()` says that one more is done, `step(3)` three more."""

_shown: list[str] = []
"""Label of the bar that is on the screen: work within that work shows none of its own."""
LINE_EVERY_S = 10.0
"""A file or a pipe gets one line in so many seconds, so that short work leaves no trace."""


@contextmanager
def progress(total: int, label: str, quiet: bool = False) -> Iterator[Step]:
    """Tell on standard error how much of the work is done, how fast it goes, and how long it will take.

    Parameters
    ----------
    total : int
        How many pieces there are; with less than two nothing is shown.
    label : str
        What is being done, in a word or two; shown as text, whatever is in it.
    quiet : bool
        Show nothing at all.

    Yields
    ------
    Step
        To be called after each piece. Messages may be printed to standard error in between; on a terminal they
        stand above the bar. Colours follow the terminal, and NO_COLOR (no-color.org) turns them off.
    """
    if quiet or total < 2 or _shown:
        yield _say_nothing
        return
    _shown.append(label)
    try:
        if sys.stderr.isatty() and os.environ.get("TERM") != "dumb":
            with _bar(total, label) as step:
                yield step
        else:
            yield _plain_lines(total, label)
    finally:
        _shown.clear()


def _say_nothing(count: int = 1) -> None:
    """A step that nobody watches."""
    del count


@contextmanager
def _bar(total: int, label: str) -> Iterator[Step]:
    """A bar that is gone when the work is done."""
    shown = _new_bar()
    task = shown.add_task(one_line(label), total=total, rate="")
    began = time.monotonic()
    done = 0

    def step(count: int = 1) -> None:
        nonlocal done
        done += count
        shown.update(task, advance=count, rate=rate_text(done, time.monotonic() - began))

    with shown, closing(_AboveBar(shown.console)) as above, redirect_stderr(above):
        yield step


class _AboveBar(io.TextIOBase):
    """Standard error while a bar is shown: whole lines stand above it."""

    def __init__(self, console: Console) -> None:
        self._console = console
        self._begun = ""

    def write(self, text: str) -> int:
        """Show every line that is whole."""
        *lines, self._begun = (self._begun + text).split("\n")
        for line in lines:
            self._console.print(line, markup=False, highlight=False, soft_wrap=True)
        return len(text)

    def writable(self) -> bool:
        """It is."""
        return True

    def isatty(self) -> bool:
        """A bar is shown on a terminal only."""
        return True

    def close(self) -> None:
        """Show what has no end of line yet."""
        if self._begun:
            self.write("\n")
        super().close()


def _new_bar() -> Progress:
    """The bar's columns: what, how far, of how many, how fast, how long still."""
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

    return Progress(
        TextColumn("{task.description}", markup=False),
        BarColumn(),
        MofNCompleteColumn(),
        TextColumn("{task.fields[rate]}", markup=False),
        TimeRemainingColumn(),
        TextColumn("left"),
        console=Console(file=sys.stderr, highlight=False),
        transient=True,
        redirect_stdout=False,  # results belong where the user sent them
        redirect_stderr=False,  # done here: rich's own way does not hold what click prints
    )


def _plain_lines(total: int, label: str) -> Step:
    """A line every ten seconds at most, without colour or cursor movements."""
    began = told = time.monotonic()
    done = 0

    def step(count: int = 1) -> None:
        nonlocal done, told
        done += count
        now = time.monotonic()
        if now - told < LINE_EVERY_S or done >= total:
            return
        told = now
        left_s = (total - done) * (now - began) / done
        text = f"{label}: {done} of {total}, {rate_text(done, now - began)}, about {clock_text(left_s)} left"
        click.echo(one_line(text), err=True)

    return step


def rate_text(done: int, elapsed_s: float) -> str:
    """How fast the work goes, in pieces a second, or a minute where it is slow.

    >>> rate_text(30, 10.0), rate_text(3, 60.0), rate_text(0, 2.0)
    ('3.0 a second', '3.0 a minute', '')
    """
    if done <= 0 or elapsed_s <= 0.0:
        return ""
    rate = done / elapsed_s
    return f"{rate:.1f} a second" if rate >= 1.0 else f"{60.0 * rate:.1f} a minute"


def clock_text(seconds: float) -> str:
    """A span of time in minutes and seconds, as the bar shows it.

    >>> clock_text(75.4), clock_text(7384.0)
    ('1:15', '2:03:04')
    """
    whole = round(seconds)
    hours, minutes, rest = whole // 3600, whole // 60 % 60, whole % 60
    return f"{hours}:{minutes:02d}:{rest:02d}" if hours else f"{minutes}:{rest:02d}"
