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


def test_job_is_found_by_any_spelling_with_all_that_was_said_of_it(room, sheet):
    site = ("--site", str(room.root))
    thin = ("clear,,0.00,,,left", *(f"solid,,2.10,,,{where}" for where in ("l", "c", "r")))
    room.drop("one.csv", sheet(rows=(*thin, "tint,50,,50.8,,centre"), job="QC-7"))
    room.sweep()
    room.drop("two.csv", sheet(job="qc-7", operator="another"))
    room.sweep()
    assert room.decision("QC-7") == "approved"
    for spelling in ("QC-7", "qc-7", "Qc-7"):
        said = " ".join(room.call("why", spelling, *site).stdout.split())
        assert "APPROVED" in said
        assert "HISTORY OF ITS MEASUREMENTS" in said
        assert said.count("HELD") == 1


def test_job_without_a_workflow_is_found_on_its_own_shelf(room, sheet):
    room.drop("../loose.csv", sheet(job="77", workflow=None))
    room.sweep(expect=None)
    assert "HELD" in room.call("why", "77", "--site", str(room.root)).stdout
