"""`history export --to` and `history import`, by the real commands."""

import json

import pytest


@pytest.mark.parametrize("form", ["csv", "parquet"])
def test_a_history_moves_to_another_file_whole(room, sheet, tmp_path, form):
    site = ("--site", str(room.root))
    room.drop("1041.csv", sheet())
    room.sweep()
    before = room.call("jobs", "--json", *site).stdout
    said = room.call("history", "export", "--to", str(tmp_path / "out"), "--form", form, *site)
    assert "1 verdicts" in said.stdout
    assert not (tmp_path / "out.new").exists()
    said = room.call("history", "import", str(tmp_path / "out"), *site, expect=2).stderr
    assert "has a history here already" in said
    (room.root / "state" / "history.sqlite").rename(tmp_path / "kept.sqlite")
    for name in ("-wal", "-shm"):
        (room.root / "state" / f"history.sqlite{name}").unlink(missing_ok=True)
    room.call("history", "import", str(tmp_path / "out"), *site)
    assert room.call("jobs", "--json", *site).stdout == before
    report = json.loads(room.call("history", "verify", "--json", *site).stdout)
    assert report["broken"] is None
    assert not list((room.root / "state").glob("*.unfilled")), "a start would fill it again"


def test_a_folder_that_is_there_is_not_written_over(room, tmp_path):
    site = ("--site", str(room.root))
    said = room.call("history", "export", "--to", str(tmp_path), *site, expect=2).stderr
    assert "is there already" in said
