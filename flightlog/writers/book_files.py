"""The logbook as files for other programs: CSV, JSON and Parquet."""

from __future__ import annotations

import types
import typing
from collections.abc import Sequence
from dataclasses import astuple, fields
from datetime import datetime
from pathlib import Path
from typing import Any

from flightlog.errors import ReportError
from flightlog.writers.book_json import export_json
from flightlog.writers.book_rows import ClimbRow, FlightRow, PassRow, rows_csv
from flightlog.writers.files import write_new

FORMATS = ("csv", "json", "parquet")
STEM = "logbook"


def export_files(
    flights: Sequence[FlightRow], climbs: Sequence[ClimbRow], passes: Sequence[PassRow], ending: str
) -> dict[str, bytes]:
    """The files of one format: name -> content; a file a table, but for JSON, which is one document.

    Raises
    ------
    ReportError
        Parquet is asked for, and pyarrow is not installed.
    """
    if ending == "json":
        return {f"{STEM}.json": export_json(flights, climbs, passes)}
    tables: dict[str, tuple[type, Sequence[Any]]] = {
        "flights": (FlightRow, flights), "climbs": (ClimbRow, climbs), "passes": (PassRow, passes),
    }  # fmt: skip
    if ending == "csv":
        return {f"{STEM}-{name}.csv": rows_csv(*table).encode() for name, table in tables.items()}
    return {f"{STEM}-{name}.parquet": _parquet(*table) for name, table in tables.items()}


def write_export(files: dict[str, bytes], folder: Path, *, force: bool = False) -> list[Path]:
    """Put the files into a folder; errors are those of `write_new`."""
    return [write_new(folder / name, content, force=force) for name, content in files.items()]


def _parquet(kind: type, rows: Sequence[Any]) -> bytes:
    """The rows of a class as Parquet, times as UTC timestamps, what is not known as null."""
    try:
        import pyarrow as pa  # type: ignore[import-untyped]
        import pyarrow.parquet as pq  # type: ignore[import-untyped]
    except ImportError as error:
        advice = "install it by: pip install 'flightlog[parquet]'"
        raise ReportError("Parquet needs the package pyarrow, which is not installed", advice) from error
    arrow = {
        float: pa.float64(), int: pa.int64(), str: pa.string(), bool: pa.bool_(),
        datetime: pa.timestamp("ms", tz="UTC"),
    }  # fmt: skip
    hints = typing.get_type_hints(kind)
    schema = pa.schema([(field.name, arrow[_plain_type(hints[field.name])]) for field in fields(kind)])
    columns = zip(*map(astuple, rows), strict=True) if rows else [()] * len(schema)
    arrays = [pa.array(list(column), field.type) for column, field in zip(columns, schema, strict=True)]
    sink = pa.BufferOutputStream()
    pq.write_table(pa.Table.from_arrays(arrays, schema=schema), sink, compression="zstd")
    content: bytes = sink.getvalue().to_pybytes()
    return content


def _plain_type(hint: Any) -> type:
    """The type without None."""
    if isinstance(hint, types.UnionType):
        hint = next(part for part in typing.get_args(hint) if part is not types.NoneType)
    plain: type = hint
    return plain
