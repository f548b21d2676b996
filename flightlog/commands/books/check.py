"""`flightlog book check`: whether the logbook is sound."""

from __future__ import annotations

import click

from flightlog.commands.books.choosing import book_option, opened
from flightlog.commands.main import ALL_DONE, SOME_FAILED
from flightlog.commands.options import debug_option, quiet_option
from flightlog.errors import one_line


@click.command("check")
@book_option
@click.option("--to", "ending", type=click.Choice(["text", "json"]), default="text", show_default=True)
@quiet_option
@debug_option
def check_command(book_file: str | None, ending: str, quiet: bool, debug: bool) -> int:
    """Check the file, every kept log against its digest, and every result; tell what is out of date.

    Example: flightlog book check
    """
    del debug
    from flightlog.commands.progress import progress
    from flightlog.logbook.checking import checked, log_count
    from flightlog.writers.book_documents import check_json
    from flightlog.writers.book_entries import analysis_version
    from flightlog.writers.book_text import check_lines

    with opened(book_file) as book, progress(log_count(book), "logs", quiet) as step:
        found = checked(book, analysis_version(), step)
    if ending == "json":
        click.echo(check_json(found))
    else:
        click.echo("\n".join(map(one_line, check_lines(found))))
    return SOME_FAILED if found.faults else ALL_DONE
