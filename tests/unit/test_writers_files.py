"""Reports in files: whole or not at all, nothing of the user's overwritten, every name safe."""

from __future__ import annotations

import pytest

from flightlog.errors import ReportError
from flightlog.writers.files import StemGiver, is_report_of, safe_stem, write_html, write_json, write_report
from tests.unit.made_debrief import HOSTILE, made_debrief

SHA, OTHER_SHA = "ab" * 32, "cd" * 32


@pytest.mark.parametrize(("write", "ending"), [(write_json, "json"), (write_html, "html")])
class TestOneReport:
    def test_a_report_of_the_same_log_is_renewed(self, tmp_path, write, ending):
        path = write(made_debrief(), tmp_path / "new" / f"monday.{ending}")
        before = path.read_bytes()
        path.write_bytes(before + b"<!-- older -->")
        write(made_debrief(), path)
        assert path.read_bytes() == before

    def test_a_report_of_another_log_is_left_alone(self, tmp_path, write, ending):
        path = write(made_debrief(sha256=OTHER_SHA), tmp_path / f"monday.{ending}")
        before = path.read_bytes()
        with pytest.raises(ReportError, match=f"monday.{ending}"):
            write(made_debrief(), path)
        assert path.read_bytes() == before

    def test_a_file_of_the_user_is_left_alone_unless_forced(self, tmp_path, write, ending):
        path = tmp_path / f"monday.{ending}"
        path.write_text(f"my notes about {SHA}", encoding="utf-8")
        with pytest.raises(ReportError, match="left alone"):
            write(made_debrief(), path)
        assert path.read_text(encoding="utf-8").startswith("my notes")
        write(made_debrief(), path, force=True)
        assert is_report_of(path, SHA)

    def test_a_hostile_pilot_cannot_pass_for_another_log(self, tmp_path, write, ending):
        claim = f'"><meta name="flightlog-log-sha256" content="{OTHER_SHA}"> "sha256":"{OTHER_SHA}"'
        path = write(made_debrief(pilot=claim, file=f"{claim}.igc"), tmp_path / f"monday.{ending}")
        assert is_report_of(path, SHA)
        assert not is_report_of(path, OTHER_SHA)

    def test_nothing_else_is_left_in_the_folder(self, tmp_path, write, ending):
        write(made_debrief(), tmp_path / f"monday.{ending}")
        assert [path.name for path in tmp_path.iterdir()] == [f"monday.{ending}"]


def test_a_write_that_fails_leaves_the_old_file_and_no_draft(tmp_path, monkeypatch):
    path = tmp_path / "monday.json"
    write_json(made_debrief(), path)
    before = path.read_bytes()
    monkeypatch.setattr("pathlib.Path.replace", lambda *_: (_ for _ in ()).throw(OSError(28, "No space left")))
    with pytest.raises(ReportError, match="No space left"):
        write_json(made_debrief(), path)
    assert path.read_bytes() == before
    assert [entry.name for entry in tmp_path.iterdir()] == ["monday.json"]


def test_a_folder_in_the_way_is_named(tmp_path):
    (tmp_path / "monday.json").mkdir()
    with pytest.raises(ReportError, match="folder"):
        write_report(tmp_path / "monday.json", b"{}", SHA, force=True)


def test_a_link_is_replaced_and_its_target_left_alone(tmp_path):
    target = tmp_path / "precious.txt"
    target.write_text("precious", encoding="utf-8")
    link = tmp_path / "out" / "monday.json"
    link.parent.mkdir()
    link.symlink_to(target)
    with pytest.raises(ReportError):
        write_json(made_debrief(), link)
    write_json(made_debrief(), link, force=True)
    assert target.read_text(encoding="utf-8") == "precious"
    assert not link.is_symlink()


@pytest.mark.parametrize(
    ("name", "stem"),
    [
        ("monday.igc", "monday"),
        ("Montag früh.IGC", "Montag früh"),
        ("season.igc.gz", "season"),
        ("../../../etc/cron.d/x.igc", "x"),
        ("..\\..\\boot.gpx", "boot"),
        (".igc", "log"),
        ("...", "log"),
        ("", "log"),
        ("a\x00b\n.igc", "a-b"),
        ("NUL.igc", "log-NUL"),
        ("com1", "log-com1"),
        ("-rf.igc", "rf"),
    ],
)
def test_hostile_log_names_give_safe_file_names(name, stem):
    assert safe_stem(name) == stem


def test_a_very_long_name_is_cut():
    assert len(safe_stem("ä" * 300).encode()) <= 80


def test_two_logs_with_one_stem_get_two_names_and_always_the_same():
    def names() -> list[str]:
        stems = StemGiver()
        logs = [("monday.igc", SHA), ("Monday.gpx", OTHER_SHA), ("monday.igc", OTHER_SHA), ("monday.igc", SHA)]
        return [stems.stem_for(made_debrief(file=file, sha256=sha)) for file, sha in logs]

    assert names() == ["monday", "Monday-cdcdcdcd", "monday-cdcdcdcd-2", "monday-abababab"]
    assert names() == names()


def test_a_hostile_name_stays_inside_the_folder(tmp_path):
    stem = StemGiver().stem_for(made_debrief(file=f"../{HOSTILE}/../x.igc"))
    assert (tmp_path / f"{stem}.html").resolve().parent == tmp_path.resolve()
