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
    from flightlog.logbook.checking import faults_of_file, faults_of_logs, flight_count_of, log_count
    from flightlog.logbook.remarks import loose_remarks
    from flightlog.logbook.renewing import outdated_logs
    from flightlog.writers.book_documents import check_json
    from flightlog.writers.book_entries import analysis_version
    from flightlog.writers.book_text import check_lines

    with opened(book_file) as book:
        logs, flights = log_count(book), flight_count_of(book)
        faults = faults_of_file(book)
        with progress(logs, "logs", quiet) as step:
            for fault in faults_of_logs(book):
                faults += [fault] if fault else []
                step()
        loose = loose_remarks(book)
        outdated = len(outdated_logs(book, analysis_version()))
    if ending == "json":
        click.echo(check_json(logs, flights, outdated, faults, loose))
    else:
        lines = check_lines(logs, flights, outdated, faults, loose)
        click.echo("\n".join(map(one_line, lines)))
    return SOME_FAILED if faults else ALL_DONE
