"""Results on a terminal: prose is broken between words, tables between columns, and what programs read nowhere."""

from __future__ import annotations

import pytest

from flightlog.commands import terminal
from flightlog.writers.plain_text import text_table

PROSE = "   Third pass (13:43:32): broken off 12 m above the place, with 100 m to go 28 m up, 20 m too low"
ROW = "Open distance   52.68 km  11:54:57  –                           13:43:09  – and much more of it"


@pytest.mark.parametrize("width", [20, 37, 60])
def test_prose_fits_and_no_word_is_lost_or_torn(width: int) -> None:
    parts = terminal.broken(PROSE, width)
    assert len(parts) > 1
    assert all(len(part) <= width and part.startswith("   ") for part in parts)
    assert " ".join(parts).split() == PROSE.split()


def test_a_list_hangs_behind_its_dash_and_spaces_that_hold_together_do() -> None:
    assert terminal.broken("- speed 12\u00a0km/h or", 14) == ["- speed", "  12\u00a0km/h or"]


@pytest.mark.parametrize(("line", "width"), [(ROW, 200), (ROW, None), (PROSE, None), ("short", 40), ("", 10)])
def test_what_stays_as_it_is(line: str, width: int | None) -> None:
    assert terminal.fitted([line], width) == [line]


@pytest.mark.parametrize("width", [24, 40, 60])
def test_a_wide_table_is_folded_between_its_columns_and_no_cell_is_lost(width: int) -> None:
    rows = [("no.", "date", "place", "hours", "wing"), ("1", "2025-06-15", "Quillback top", "0:39", "Old wing"),
            ("12", "2025-06-16", "–", "1:02", "")]  # fmt: skip
    lines = terminal.fitted(["Flights", *text_table(rows), "", PROSE], width)
    assert all(len(line) <= width for line in lines)
    assert lines[0] == "Flights"
    for row in rows:
        mine = " ".join(line for line in lines if line.split("  ")[0] == row[0])
        assert all(cell in mine for cell in row)


def test_a_table_that_cannot_be_folded_stays() -> None:
    rows = ["a  b  c", "one long row that leaves no gap anywhere"]
    assert terminal.fitted(rows, 20) == rows


def test_json_is_never_broken(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(terminal.sys.stdout, "isatty", lambda: True)
    monkeypatch.setenv("COLUMNS", "20")
    terminal.print_result(b'{"note": "one two three four five six"}\n', "json")
    assert capsys.readouterr().out == '{"note": "one two three four five six"}\n'
    terminal.print_result(b"one two three four five six\n", "text")
    assert capsys.readouterr().out == "one two three four\nfive six\n"
