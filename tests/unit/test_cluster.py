"""The dataset of a season: the same bytes from one machine and from a cluster, one of whose workers is killed."""

import os
import subprocess
import sys
from pathlib import Path

import pandas as pd
import pyarrow.parquet as pq
import pytest
from click.testing import CliRunner

import flightlog
from flightlog.batch import Recipe, debrief_one
from flightlog.commands.main import main
from flightlog.tracks.reading import find_logs
from flightlog.writers.season import TABLES, columns_of, season_of
from tests.unit.small_logs import igc_text, write_log

ROOT = Path(__file__).parents[2]


def run(*words):
    return CliRunner().invoke(main, [str(word) for word in words])


def files_under(folder):
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


@pytest.fixture
def logs(tmp_path):
    """Logs of two months, one without a date, the same one twice, and one that is none."""
    folder = tmp_path / "logs"
    for number in range(8):
        month = 6 + number % 2
        write_log(folder / f"{number}.igc", igc_text(seed=number, date=f"{number + 1:02d}0{month}26"))
    write_log(folder / "again.igc", igc_text(seed=1, date="020726"))
    write_log(folder / "undated.igc", igc_text(seed=9, date=None))
    (folder / "broken.igc").write_bytes(b"AXXXABC\r\nHFDTE140626\r\n")
    return folder


def dataset(logs, out, *more):
    result = run("debrief", logs, "--to", "parquet", "--out", out, "--jobs", 1, "--quiet", *more)
    assert result.exit_code == 1, result.stderr  # the broken one
    assert len(result.stderr.splitlines()) == 1
    return files_under(out)


def test_columns_follow_from_the_results_and_have_units():
    assert {"duration_s", "takeoff_lat_deg", "wind_mean_speed_mps", "performance_glide_ratio_air_low"} <= set(
        columns_of("flights")
    )
    assert {"mean_climb_mps", "mean_climb_mps_high", "core_strength_mps_low"} <= set(columns_of("climbs"))
    assert columns_of("climbs")["start"].__name__ == "datetime"


def test_rows_say_what_the_results_say(tmp_path, logs):
    files = dataset(logs, tmp_path / "season")
    assert {name.split("/")[1] for name in files} == {"year=2026", "year=1970"}
    flights = pd.read_parquet(tmp_path / "season" / "flights")
    assert len(flights) == 9
    assert set(zip(flights["year"].astype(int), flights["month"].astype(int), strict=True)) == {
        (2026, 6),
        (2026, 7),
        (1970, 1),
    }
    assert flights[flights["log_date"].isna()]["year"].astype(int).tolist() == [1970]
    found = flightlog.debrief(flightlog.read_track(logs / "0.igc"))
    row = flights[flights["log_sha256"] == found.log.sha256].iloc[0]
    assert row["duration_s"] == found.flights[0].duration_s
    assert row["takeoff_time"].to_pydatetime() == found.flights[0].takeoff.time
    assert row["pilot"] == "Ada Example"


def test_every_file_has_the_columns_of_its_table(tmp_path):
    recipe = Recipe(places=tuple(flightlog.read_places(ROOT / "sample_tracks" / "places.geojson")))
    (source,) = find_logs([ROOT / "sample_tracks" / "top-landing-day.igc"])
    season = season_of(debrief_one(source, recipe))
    assert all(season.rows[table] for table in TABLES)
    out = tmp_path / "season"
    assert run("debrief", source.path, "--to", "parquet", "--out", out, "--anonymous").exit_code == 0
    for table in TABLES:
        (path,) = (out / table).rglob("*.parquet")
        assert pq.read_schema(path).names == list(columns_of(table))
        assert pd.read_parquet(path)["pilot"].isna().all()


def test_writing_again_changes_nothing_and_spares_files_of_others(tmp_path, logs):
    out = tmp_path / "season"
    first = dataset(logs, out)
    (out / "flights" / "year=2026" / "month=6" / "notes.parquet").write_bytes(b"mine")
    again = dataset(logs, out)
    assert again == first | {"flights/year=2026/month=6/notes.parquet": b"mine"}
    name = next(name for name in first if name.startswith("flights/year=2026"))
    (out / name).write_bytes(b"mine too")
    result = run("debrief", logs, "--to", "parquet", "--out", out, "--jobs", 1, "--quiet")
    assert result.exit_code == 2
    assert (out / name).read_bytes() == b"mine too"


@pytest.mark.parametrize(
    "words",
    [("--to", "parquet,json"), ("--to", "parquet", "--out", "-"), ("--to", "html", "--cluster", "tcp://x:1")],
)
def test_wrong_usage(logs, words):
    result = run("debrief", logs, *words)
    assert result.exit_code == 2
    assert len(result.stderr.splitlines()) == 1


def test_no_scheduler_is_one_line(tmp_path, logs, monkeypatch):
    monkeypatch.setattr("flightlog.cluster.PATIENCE_S", 0.5)
    result = run(
        "debrief", logs, "--to", "parquet", "--out", tmp_path / "s", "--cluster", "tcp://127.0.0.1:9", "--quiet"
    )
    assert result.exit_code == 2
    assert "no scheduler answers at tcp://127.0.0.1:9" in result.stderr
    assert len(result.stderr.splitlines()) == 1


CLUSTER_RUN = """
import os, signal, sys
from distributed import LocalCluster
from click.testing import CliRunner
from flightlog.cluster import work_on_cluster
from flightlog.commands import seasons
from flightlog.commands.main import main

if __name__ == "__main__":
    with LocalCluster(n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None) as cluster:
        workers = [worker.pid for worker in cluster.workers.values()]
        done = 0

        def with_a_death(*words):
            global done
            for pair in work_on_cluster(*words):
                done += 1
                if done == 2:
                    os.kill(workers[0], signal.SIGKILL)
                yield pair

        import flightlog.cluster
        flightlog.cluster.work_on_cluster = with_a_death
        words = ["debrief", sys.argv[1], "--to", "parquet", "--out", sys.argv[2], "--quiet"]
        result = CliRunner().invoke(main, [*words, "--cluster", cluster.scheduler_address])
        print(result.exit_code, done, len(result.stderr.splitlines()))
"""


@pytest.mark.slow
def test_a_cluster_with_a_worker_killed_gives_the_same_bytes(tmp_path, logs):
    alone = dataset(logs, tmp_path / "alone")
    script = tmp_path / "run.py"
    script.write_text(CLUSTER_RUN, encoding="utf-8")
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "OPENBLAS_NUM_THREADS": "1"}
    result = subprocess.run(
        [sys.executable, script, logs, tmp_path / "cluster"],
        capture_output=True, text=True, timeout=150, env=environment, cwd=tmp_path,
    )  # fmt: skip
    assert result.stdout.split() == ["1", "11", "1"], result.stdout + result.stderr[-2000:]
    assert files_under(tmp_path / "cluster") == alone
