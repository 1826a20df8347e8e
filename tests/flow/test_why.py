"""`why` on a job that was measured again."""

from pathlib import Path


def test_why_remembers_the_measurement_that_held_the_job(room, sheet):
    thin = ("clear,,0.00,,,left", *(f"solid,,2.10,,,{where}" for where in ("l", "c", "r")))
    room.drop("1041.csv", sheet(rows=(*thin, "tint,50,,50.8,,centre")))
    room.sweep()
    assert room.decision("1041") == "held"
    said = room.call("why", "1041", "--site", str(room.root)).stdout
    assert "HISTORY" not in said
    room.drop("1041-b.csv", sheet())
    room.sweep()
    assert room.decision("1041") == "approved"
    said = room.call("why", "1041", "--site", str(room.root)).stdout
    _, _, history = said.partition("HISTORY OF ITS MEASUREMENTS")
    assert "HELD" in history
    assert "2.10 density, then 2.88 density" in history
    # A verdict that somebody cut short is left out, and the rest is told.
    cut = Path(room.folder("1041")) / "verdict.1.json"
    cut.write_bytes(cut.read_bytes()[:100])
    assert "HISTORY" not in room.call("why", "1041", "--site", str(room.root)).stdout
