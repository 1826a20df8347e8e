"""Readings of one job that come again under another, through the real gate and its history."""

from __future__ import annotations

import json

import pytest

RULE = "plausibility.same_readings_days"
ROWS = (
    "clear,,0.00,,,left",
    "solid,,2.91,,,left",
    "solid,,2.88,,,centre",
    "solid,,2.90,,,right",
    "tint,50,,50.8,,centre",
    "length,600.00,,,598.93,around",
)
OTHER_ROWS = (*ROWS[:3], "solid,,2.92,,,right", *ROWS[4:])
NEVER_USED = "no other film"


def as_json(job):
    """The same readings as the program of a meter would write them, in another order."""
    names = ["patch", "nominal", "density", "dot", "length", "where"]
    rows = [dict(zip(names, row.split(","), strict=True)) for row in reversed(ROWS)]
    head = {
        "job": job, "customer": "Quillmark Cartons", "separation": "cyan", "printer": "P1",
        "film lot": "M5-0317", "meter": "T-04", "operator": "MK", "measured": "2026-11-20 16:05",
        "printed": "2026-11-20 15:40", "zeroed on": "clear", "ruling": "65 lpi",
        "resolution": "1440 dpi", "cleaned": "yes",
    }  # fmt: skip
    patches = [
        {name: float(cell) if name not in {"patch", "where"} else cell.upper()
         for name, cell in row.items() if cell}
        for row in rows
    ]  # fmt: skip
    return json.dumps({**head, "patches": patches})


def answer(room, job):
    (found,) = [f for f in room.verdict(job)["findings"] if f["rule"] == RULE]
    return found


@pytest.fixture
def original(room, sheet):
    room.drop("1041.csv", sheet(ROWS))
    room.sweep()
    assert room.decision("1041") == "approved"
    return room


@pytest.mark.parametrize("spelling", ["typed again", "office program", "json"])
def test_readings_of_another_job_are_held_in_whatever_file_they_come(original, sheet, spelling):
    room = original
    again = sheet(ROWS, job="1042", operator="MK", separation="cyan", measured="2026-11-20 16:05")
    if spelling == "office program":
        again = again.replace(",", ";").replace(".", ",")
    room.drop("1042.txt", as_json("1042") if spelling == "json" else again)
    room.sweep()
    assert room.holds("1042") == [RULE]
    report = (room.folder("1042") / "report.txt").read_text()
    assert 'every reading is that of job "1041"' in " ".join(report.split())
    assert "exported twice" in " ".join(report.split())
    said = room.call("why", "1042", "--site", str(room.root)).stdout
    assert "1041" in said
    assert "Measure the negative again" in " ".join(said.split())


def test_copy_that_is_measured_for_itself_is_approved(original, sheet):
    room = original
    room.drop("1042.csv", sheet(ROWS, job="1042", operator="MK"))
    room.sweep()
    assert room.decision("1042") == "held"
    room.drop("1042-b.csv", sheet(OTHER_ROWS, job="1042", operator="MK"))
    room.sweep()
    assert room.decision("1042") == "approved"


def test_copy_stays_a_copy_when_another_separation_brings_its_job_back(original, sheet):
    room = original
    room.drop("1042-black.csv", sheet(ROWS, job="1042", separations="2"))
    room.sweep()
    room.drop("1042-red.csv", sheet(OTHER_ROWS, job="1042", separations="2", separation="red"))
    room.sweep()
    assert room.holds("1042") == [RULE]


def test_job_that_had_the_readings_first_keeps_them_whatever_others_copied(original, sheet):
    room = original
    room.drop("1042.csv", sheet(ROWS, job="1042", operator="MK"))
    room.sweep()
    room.drop("1041-again.csv", sheet(ROWS, operator="KL"))
    room.sweep()
    assert room.decision("1041") == "approved"
    assert answer(room, "1041")["measured"] == NEVER_USED


def test_separation_copied_within_a_job_holds_it_and_a_second_measurement_does_not(room, sheet):
    room.drop("7-black.csv", sheet(ROWS, job="7"))
    room.drop("7-red.csv", sheet(ROWS, job="7", separation="red"))
    room.sweep()
    assert room.holds("7") == ["plausibility.same_readings_days"] * 2
    room.drop("7-red-b.csv", sheet(OTHER_ROWS, job="7", separation="red"))
    room.sweep()
    assert room.decision("7") == "approved"
    room.drop("7-black-b.csv", sheet(ROWS, job="7", operator="KL"))
    room.sweep()
    assert room.decision("7") == "approved"


def test_wedges_with_the_same_readings_are_only_records(room, sheet):
    rows = [*ROWS[:4], *(f"tint,{n},,{n + 1.5}," for n in (10, 25, 50, 75, 90))]
    for day in (20, 21):
        moments = {"printed": f"2026-11-{day} 09:40", "measured": f"2026-11-{day} 10:05"}
        head = {"job": None, "customer": None, "sheet": "wedge", "curve": "none", **moments}
        room.drop(f"wedge-{day}.csv", sheet([row.replace(",,left", ",") for row in rows], **head))
    room.sweep(expect=None)
    told = [json.loads(path.read_bytes()) for path in room.root.glob("*/*/*/verdict.json")]
    assert len(told) == 2
    assert not [f for verdict in told for f in verdict["findings"] if "same_readings" in f["rule"]]


def test_while_the_history_is_away_nobody_knows_and_the_report_says_so(original, sheet):
    room = original
    file = room.root / "state/history.sqlite"
    kept = file.with_name("kept")
    file.rename(kept)
    file.mkdir()
    room.drop("1042.csv", sheet(ROWS, job="1042", operator="MK"))
    room.sweep(expect=None)
    assert room.decision("1042") == "approved"
    assert "the history is away" in " ".join(room.verdict("1042")["notes"])
    file.rmdir()
    kept.rename(file)
    room.drop("1042-b.csv", sheet(ROWS, job="1042", operator="KL"))
    room.sweep()
    assert room.decision("1042") == "held"


def test_a_history_made_again_knows_the_readings(original, sheet):
    room = original
    for path in (room.root / "state").glob("history.sqlite*"):
        path.unlink()
    room.call("history", "rebuild", "--site", str(room.root))
    room.drop("1042.csv", sheet(ROWS, job="1042", operator="MK"))
    room.sweep()
    assert room.holds("1042") == [RULE]


@pytest.mark.parametrize(
    ("rules", "after"),
    [
        ("same_readings_days: 14", "held"),
        ("same_readings_days: 0", "approved"),
        ("same_readings_count: 6", "approved"),
    ],
)
def test_edited_rules_are_tried_on_what_was_known_of_other_jobs(original, sheet, rules, after):
    room = original
    room.drop("1042.csv", sheet(ROWS, job="1042", operator="MK"))
    room.sweep()
    folder = room.root.parent / "edited/workflows"
    folder.mkdir(parents=True)
    text = (room.root / "workflows/liquid-plate.yaml").read_text()
    # A limit that is new makes the checks judge anew, where a comparison would not do.
    text += f"\nplausibility: {{{rules}, max_identical_spots: 9}}\n"
    (folder / "liquid-plate.yaml").write_text(text)
    site = ("--site", str(room.root))
    told = json.loads(room.call(*site, "rules", "try", str(folder.parent), "--json").stdout)
    changed = {entry["job"]: entry["after"] for entry in told["changed"]}
    assert changed.get("1042", "held") == after
    assert "1041" not in changed
