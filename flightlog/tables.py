"""Results as pandas tables, for notebooks; the only place where pandas is used."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields
from typing import TYPE_CHECKING, Any

from flightlog.estimates import Estimate
from flightlog.measures.results import Flight

if TYPE_CHECKING:
    import pandas as pd


def results_table(flights: Sequence[Flight], kind: str) -> pd.DataFrame:
    """Rows of one kind from all flights as a pandas table.

    Parameters
    ----------
    flights : sequence of Flight
        From a Debrief, in order.
    kind : str
        `flights`, `phases`, `climbs`, `glides`, `passes` or `wind`.

    Returns
    -------
    pandas.DataFrame
        First column `flight`, then the fields of that kind. An estimate takes three columns: `name`, `name_low`,
        `name_high`; a part such as `wind` gives columns `wind_speed_mps` and so on; lists give their count.
    """
    import pandas as pd

    rows: list[dict[str, object]] = []
    for flight in flights:
        rows += [{"flight": flight.number, **_row(item)} for item in _items(flight, kind)]
    return pd.DataFrame(rows)


def _items(flight: Flight, kind: str) -> Sequence[Any]:
    """The results objects of one kind in a flight."""
    if kind == "flights":
        return (flight,)
    if kind == "wind":
        return flight.wind.profile
    items: Sequence[Any] = getattr(flight, kind)
    return items


def _row(item: Any, prefix: str = "") -> dict[str, object]:
    """Fields of a results object as one row of a table."""
    row: dict[str, object] = {}
    for entry in fields(item):
        value, name = getattr(item, entry.name), prefix + entry.name
        if isinstance(value, Estimate):
            row |= {name: value.value, f"{name}_low": value.low, f"{name}_high": value.high}
        elif isinstance(value, tuple):
            row[f"{name}_count"] = len(value)
        elif hasattr(value, "__dataclass_fields__"):
            row |= _row(value, f"{name}_")
        else:
            row[name] = value
    return row
