"""`flightlog check`: the health of a log."""

from __future__ import annotations

import datetime

import click

from flightlog.commands.options import Tally, columns_told, date_option, debug_option, logs_argument


@click.command("check")
@logs_argument
@click.option("--to", "ending", type=click.Choice(["text", "json"]), default="text", show_default=True)
@date_option
@debug_option
def check_command(logs: tuple[str, ...], ending: str, date: datetime.date | None, debug: bool) -> int:
    """Tell what logs hold and what is odd in them, line by line, without analysing them.

    Example: flightlog check sample_tracks/
    """
    from flightlog.commands.running import each_alone
    from flightlog.tracks.health import check_track
    from flightlog.tracks.reading import find_logs, read_log
    from flightlog.writers.health import check_json, health_lines

    tally = Tally(debug=debug)
    for source in find_logs(logs, columns=columns_told()):
        with each_alone(source, tally):
            track = read_log(source, date=date)
            health = check_track(track)
            lines = health_lines(source.path, track, health)
            click.echo(check_json(track, health) if ending == "json" else "\n".join(lines))
    return tally.status
