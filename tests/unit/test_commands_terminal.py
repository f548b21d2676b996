"""Results on a terminal: prose is broken between words, tables and what programs read stay as they are."""

from __future__ import annotations

import pytest

from flightlog.commands import terminal

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


@pytest.mark.parametrize(("line", "width"), [(ROW, 40), (PROSE, None), ("short", 40), ("", 10)])
def test_what_stays_as_it_is(line: str, width: int | None) -> None:
    assert terminal.broken(line, width) == [line]


def test_json_is_never_broken(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(terminal.sys.stdout, "isatty", lambda: True)
    monkeypatch.setenv("COLUMNS", "20")
    terminal.print_result(b'{"note": "one two three four five six"}\n', "json")
    assert capsys.readouterr().out == '{"note": "one two three four five six"}\n'
    terminal.print_result(b"one two three four five six\n", "text")
    assert capsys.readouterr().out == "one two three four\nfive six\n"
