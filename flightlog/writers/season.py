"""The flights, climbs, glides and passes of many logs as one Parquet dataset, for pandas, DuckDB or Spark.

    season/flights/year=2026/month=6/<digest of the log>.parquet      and so for climbs, glides and passes

One file a log, table and month: writing a log again gives the same bytes in the same place, whatever machine does
it. Logs without a date have `log_date` null and lie in year 1970, as their times do. Columns carry SI units in
their names; an estimate takes three (`name`, `name_low`, `name_high`).
"""

from __future__ import annotations

import types
import typing
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, fields, is_dataclass
from datetime import datetime
from functools import cache
from pathlib import Path
from typing import Any

from flightlog.batch import Recipe, debrief_one, unexpected
from flightlog.debriefing import Debrief
from flightlog.errors import FlightlogError, ReportError
from flightlog.estimates import Estimate
from flightlog.measures.results import Climb, Flight, Glide, Pass
from flightlog.tracks.reading import LogSource
from flightlog.writers.anonymous import without_names
from flightlog.writers.files import write_own

SCHEMA = b"flightlog/season/1"
TABLES: Mapping[str, type] = {"flights": Flight, "climbs": Climb, "glides": Glide, "passes": Pass}
_LOG_COLUMNS = ("log_sha256", "log_file", "log_date", "pilot", "wing", "flight")
Row = dict[str, Any]
Month = tuple[int, int]


@dataclass(frozen=True)
class Season:
    """The rows of one log: table -> month -> rows."""

    sha256: str
    rows: Mapping[str, Mapping[Month, list[Row]]]
    flights: int


def season_of_log(source: LogSource, recipe: Recipe, *, anonymous: bool = False) -> Season | FlightlogError:
    """The rows of one log, as a worker makes them; or what stood in the way."""
    outcome = debrief_one(source, recipe)
    if isinstance(outcome, FlightlogError):
        return outcome
    try:
        return season_of(without_names(outcome) if anonymous else outcome)
    except Exception as error:  # the last resort, as in flightlog.batch
        return unexpected(source, error)


def season_of(debrief: Debrief) -> Season:
    """The rows of a debrief."""
    log = debrief.log
    rows: dict[str, dict[Month, list[Row]]] = {table: {} for table in TABLES}
    for flight in debrief.flights:
        head = (log.sha256, log.file, log.date, log.pilot, log.wing, flight.number)
        first = dict(zip(_LOG_COLUMNS, head, strict=True))
        start = flight.takeoff.time
        month = (start.year, start.month)
        for table, kind in TABLES.items():
            items = (flight,) if table == "flights" else getattr(flight, table)
            if items:
                flat = [first | _flat(kind, item) for item in items]
                rows[table].setdefault(month, []).extend(flat)
    return Season(log.sha256, rows, len(debrief.flights))


def write_season(seasons: Iterable[Season], folder: Path) -> None:
    """Put the rows of logs into the dataset; what an earlier run wrote of the same logs is replaced.

    Raises
    ------
    ReportError
        pyarrow is not installed, or a file of somebody else stands where one of the dataset should go.
    """
    encode = _encoder()
    there = _files_there(folder)
    for season in seasons:
        ours = there.setdefault(season.sha256, set())
        written = set()
        for table, months in season.rows.items():
            for (year, month), rows in months.items():
                path = folder / table / f"year={year}" / f"month={month}" / f"{season.sha256}.parquet"
                if path.exists() and path not in ours:
                    raise ReportError(
                        "a file that is none of this dataset stands there", "choose another --out", path
                    )
                write_own(path, encode(table, rows))
                written.add(path)
        for path in ours - written:  # of an earlier version, which dated or parted the flights in another way
            path.unlink(missing_ok=True)
        there[season.sha256] = written


def _files_there(folder: Path) -> dict[str, set[Path]]:
    """Files of an earlier run by the digest of their log; others in the folder are left out, and left alone."""
    import pyarrow.parquet as pq  # type: ignore[import-untyped]

    found: dict[str, set[Path]] = {}
    for table in TABLES:
        for path in sorted((folder / table).glob("year=*/month=*/*.parquet")):
            try:
                metadata = pq.read_schema(path).metadata or {}
            except (OSError, ValueError):  # ArrowInvalid is a ValueError
                continue
            if metadata.get(b"schema") == SCHEMA:
                found.setdefault(path.stem, set()).add(path)
    return found


def _encoder() -> Callable[[str, list[Row]], bytes]:
    """Rows of a table -> the bytes of a Parquet file, the same on every machine."""
    try:
        import pyarrow as pa
        import pyarrow.parquet as pq
    except ImportError as error:
        advice = "install it: pip install 'flightlog[parquet]'"
        raise ReportError("Parquet needs the package pyarrow, which is not installed", advice) from error
    arrow = {
        float: pa.float64(), int: pa.int64(), str: pa.string(), bool: pa.bool_(),
        datetime: pa.timestamp("ms", tz="UTC"),
    }  # fmt: skip
    schemas = {
        table: pa.schema(
            [(name, arrow[kind]) for name, kind in columns_of(table).items()], metadata={b"schema": SCHEMA}
        )
        for table in TABLES
    }

    def encode(table: str, rows: list[Row]) -> bytes:
        sink = pa.BufferOutputStream()
        pq.write_table(pa.Table.from_pylist(rows, schema=schemas[table]), sink, compression="zstd")
        content: bytes = sink.getvalue().to_pybytes()
        return content

    return encode


@cache
def columns_of(table: str) -> dict[str, type]:
    """Names and types (float, int, str, bool, datetime) of the columns of a table, in their order.

    They follow from the results classes, so that a column has its type even where no row knows a value.
    """
    head: dict[str, type] = dict(zip(_LOG_COLUMNS, (str, str, str, str, str, int), strict=True))
    return head | _columns(TABLES[table], "")


def _columns(kind: type, prefix: str) -> dict[str, type]:
    """Columns of one results class."""
    hints = _hints(kind)
    found: dict[str, type] = {}
    for entry in fields(kind):
        name, part = prefix + entry.name, _plain_type(hints[entry.name])
        if part is Estimate:
            found |= dict.fromkeys((name, f"{name}_low", f"{name}_high"), float)
        elif part is tuple:
            found[f"{name}_count"] = int
        elif is_dataclass(part):
            found |= _columns(part, f"{name}_")
        else:
            found[name] = part
    return found


@cache
def _hints(kind: type) -> dict[str, Any]:
    """Types of the fields of a results class."""
    return typing.get_type_hints(kind)


def _plain_type(hint: Any) -> type:
    """The type without None and without what it is a tuple or dict of."""
    if isinstance(hint, types.UnionType) or typing.get_origin(hint) is typing.Union:
        hint = next(part for part in typing.get_args(hint) if part is not types.NoneType)
    origin = typing.get_origin(hint)
    if origin is typing.Literal:
        return str
    plain: type = origin or hint
    return tuple if plain in (list, dict) else plain


def _flat(kind: type, item: Any, prefix: str = "") -> Row:
    """The columns of one results object that have a value."""
    row: Row = {}
    hints = _hints(kind)
    for entry in fields(kind):
        value, name, part = getattr(item, entry.name), prefix + entry.name, _plain_type(hints[entry.name])
        if value is None:
            continue
        if part is Estimate:
            row |= {name: value.value, f"{name}_low": value.low, f"{name}_high": value.high}
        elif part is tuple:
            row[f"{name}_count"] = len(value)
        elif is_dataclass(part):
            row |= _flat(part, value, f"{name}_")
        else:
            row[name] = value
    return row
