"""A wedge from the drop folder to a curve in use, and back through the gate."""

from __future__ import annotations

import json
import re
from datetime import datetime
from zoneinfo import ZoneInfo

import pytest

TODAY = datetime.now(ZoneInfo("Europe/London")).date()
STEPS = (5, 10, 20, 30, 40, 50, 60, 70, 80, 90, 95)
HEAD = {
    "sheet": "wedge",
    "printer": "P1",
    "film lot": "M5-0317",
    "meter": "T-04",
    "operator": "JV",
    "printed": "2026-11-20 16:20",
    "measured": "2026-11-20 16:50",
    "zeroed on": "clear",
    "ruling": "65 lpi",
    "resolution": "1440 dpi",
    "curve": "none",
}
NAME = "P1 matte-5mil liquid-plate 2026-11-20"


def tone(sent):
    """Return what our invented printer makes of a percent."""
    return sent + 9.0 * 4 * (sent / 100) * (1 - sent / 100)


def wedge(through=float, **changes):
    head = HEAD | {name.replace("_", " "): value for name, value in changes.items()}
    lines = [f"{name},{value}" for name, value in head.items() if value is not None]
    rows = ["solid,,2.90,,", *(f"tint,{step},,{tone(through(step)):.1f}," for step in STEPS)]
    return "\n".join([*lines, "", "patch,nominal,density,dot,where", *rows]) + "\n"


@pytest.fixture
def plate_room(room):
    def call(*words, expect=0):
        return room.call("--site", str(room.root), *words, expect=expect)

    room.gatekeeper = call
    return room


def jobs(room):
    return json.loads(room.gatekeeper("jobs", "--json").stdout)


def test_a_dropped_wedge_is_filed_as_a_wedge_and_becomes_a_candidate(plate_room):
    plate_room.drop("wedge.csv", wedge())
    plate_room.sweep()
    (line,) = jobs(plate_room)
    assert (line["state"], line["workflow"]) == ("approved", "wedges")
    assert line["job"] == "P1 M5-0317 liquid-plate 2026-11-20 16.50"
    folder = plate_room.root / line["folder"]
    assert sorted(path.name for path in folder.iterdir()) == [
        "report.txt", "verdict.json", "wedge.csv",
    ]  # fmt: skip
    report = " ".join((folder / "report.txt").read_text().split())
    assert "the mid-tone reads 59.0 % without a curve" in report
    (curve,) = json.loads(plate_room.gatekeeper("curve", "list", "--json").stdout)
    assert (curve["name"], curve["state"]) == (NAME, "candidate")


def test_a_wedge_never_touches_the_job_whose_number_it_carries(plate_room, sheet):
    plate_room.drop("1041.csv", sheet())
    plate_room.sweep()
    before = plate_room.verdict("1041")
    plate_room.drop("1041-wedge.csv", wedge(job="1041"))
    plate_room.sweep()
    assert plate_room.verdict("1041") == before
    assert {line["workflow"] for line in jobs(plate_room)} == {"liquid-plate", "wedges"}


def test_a_negative_that_calls_itself_a_wedge_is_not_approved(plate_room, sheet):
    plate_room.drop("1041.csv", "sheet,wedge\n" + sheet())
    plate_room.sweep()
    (line,) = jobs(plate_room)
    assert line["state"] == "held"
    assert not list((plate_room.root / "approved/liquid-plate").iterdir())
    assert not (plate_room.root / "approved/wedges").exists()


def test_an_unsound_wedge_is_held_and_makes_no_curve(plate_room):
    plate_room.drop("wedge.csv", wedge(curve=None))
    plate_room.sweep()
    (line,) = jobs(plate_room)
    assert line["state"] == "held"
    assert "through which curve" in line["reason"]
    assert json.loads(plate_room.gatekeeper("curve", "list", "--json").stdout) == []


def test_an_accepted_curve_is_in_the_register_and_its_age_counts_from_today(plate_room):
    register = plate_room.root / "register/curves.yaml"
    before = register.read_text()
    plate_room.drop("wedge.csv", wedge())
    plate_room.sweep()
    said = plate_room.gatekeeper("curve", "accept", "P1", "--by", "JV").stdout
    assert said.startswith(f"{NAME} is in use from today (register/curves.yaml)")
    after = register.read_text()
    assert after.startswith(before)
    assert f"linearized: {TODAY}, name: {NAME}, resolution_dpi: 1440" in after
    assert plate_room.gatekeeper("rules", "check").stdout.startswith("all files are good")
    (curve,) = json.loads(plate_room.gatekeeper("curve", "list", "--json").stdout)
    assert (curve["state"], curve["accepted_by"]) == ("in use", "JV")
    again = plate_room.gatekeeper("curve", "accept", "P1", "--by", "JV", expect=2)
    assert "is in the register already" in again.stderr


def test_a_wedge_through_the_accepted_curve_proves_it(plate_room):
    plate_room.drop("wedge.csv", wedge())
    plate_room.sweep()
    plate_room.gatekeeper("curve", "accept", "P1", "--by", "JV")
    table = json.loads(plate_room.gatekeeper("curve", "show", "P1", "--json").stdout)["steps"]

    def through(step):
        left = int(step // 5)
        right = min(left + 1, 20)
        return table[left] + (table[right] - table[left]) * (step - 5 * left) / 5

    plate_room.drop(
        "proof.csv",
        wedge(through, curve=NAME, measured="2026-11-21 09:00", printed="2026-11-21 08:30"),
    )
    plate_room.sweep()
    curves = json.loads(plate_room.gatekeeper("curve", "list", "--json").stdout)
    proof = next(curve for curve in curves if curve["name"] != NAME)
    first = next(curve for curve in curves if curve["name"] == NAME)
    assert abs(proof["mid_tone"] - first["predicted_mid_tone"]) < first["error"]
    assert proof["mid_tone"] == pytest.approx(50.0, abs=0.3)


def test_curves_of_two_rulings_are_in_use_side_by_side(plate_room, sheet):
    plate_room.drop("coarse.csv", wedge())
    plate_room.drop("fine.csv", wedge(ruling="100 lpi", measured="2026-11-20 17:20"))
    plate_room.sweep()
    plate_room.gatekeeper("curve", "accept", NAME, "--by", "JV")
    plate_room.gatekeeper("curve", "accept", f"{NAME} 2", "--by", "JV")
    curves = json.loads(plate_room.gatekeeper("curve", "list", "--json").stdout)
    assert [(curve["ruling_lpi"], curve["state"]) for curve in curves] == [
        (65.0, "in use"),
        (100.0, "in use"),
    ]
    listed = plate_room.gatekeeper("curve", "list").stdout
    assert "65 lpi" in listed
    assert "100 lpi" in listed
    for name, ruling in (("a", "65 lpi"), ("b", "100 lpi"), ("c", "85 lpi")):
        head = {"printed": f"{TODAY} 00:00", "measured": f"{TODAY} 00:00", "ruling": ruling}
        plate_room.drop(f"{name}.csv", sheet(job=name, **head))
    plate_room.sweep()
    lines = {}
    for name in "abc":
        (lines[name],) = (
            status["says"]
            for status in plate_room.verdict(name)["status"]
            if status["subject"] == "curve"
        )
    assert lines["a"] == f"P1 on matte-5mil, 65 lpi at 1440 dpi, linearized {TODAY}"
    assert lines["b"] == f"P1 on matte-5mil, 100 lpi at 1440 dpi, linearized {TODAY}"
    assert lines["c"].endswith("no curve of its own for 85 lpi at 1440 dpi")


def test_a_curve_is_built_from_files_without_the_gate(plate_room, tmp_path):
    first, second = tmp_path / "a.csv", tmp_path / "b.csv"
    first.write_text(wedge())
    second.write_text(wedge().replace("tint,50,,59.0", "tint,50,,59.6"))
    said = plate_room.gatekeeper(
        "curve", "build", "--workflow", "liquid-plate", str(first), str(second)
    ).stdout
    assert f"{NAME}  (candidate)" in said
    assert f'gatekeeper curve accept "{NAME}" --by NAME' in said
    assert plate_room.jobs_on_disk() == []
    text = plate_room.gatekeeper("curve", "show", "P1", "--as", "text").stdout
    assert re.search(r"^ +50 +4[01]\.[0-9]$", text, re.MULTILINE)
    assert plate_room.gatekeeper("curve", "show", "P1", "--as", "csv").stdout.startswith("wanted,")
    assert plate_room.gatekeeper("curve", "show", "P1", "--as", "cgats").stdout.startswith("CGATS")


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("job,1041\n\npatch,nominal,dot\ntint,50,50\n", "is no wedge but the sheet of a negative"),
        ("not a sheet at all\n", "cannot be read"),
        (wedge(printer="P9"), "not in the register"),
        (wedge().replace("tint,50,,59.0", "tint,50,,abc"), "a.csv"),
    ],
)
def test_files_that_make_no_curve_are_refused_with_the_reason(plate_room, tmp_path, text, says):
    file = tmp_path / "a.csv"
    file.write_text(text)
    done = plate_room.gatekeeper(
        "curve", "build", "--workflow", "liquid-plate", str(file), expect=2
    )
    assert says in done.stderr


def test_wedges_of_two_printers_are_not_put_together(plate_room, tmp_path):
    first, second = tmp_path / "a.csv", tmp_path / "b.csv"
    first.write_text(wedge())
    second.write_text(wedge(printer="P2"))
    done = plate_room.gatekeeper(
        "curve", "build", "--workflow", "liquid-plate", str(first), str(second), expect=2
    )
    assert "the wedges differ in printer: P1 and P2" in done.stderr


def test_check_judges_a_wedge_without_moving_it(plate_room, tmp_path):
    file = tmp_path / "wedge.csv"
    file.write_text(wedge())
    said = plate_room.gatekeeper("check", "--workflow", "liquid-plate", str(file)).stdout
    assert "APPROVED" in said
    assert "wedge.fit" in said
    assert file.exists()


def test_curves_lost_from_the_state_are_built_again_from_the_filed_wedges(plate_room):
    plate_room.drop("wedge.csv", wedge())
    plate_room.sweep()
    plate_room.gatekeeper("curve", "list")
    for path in (plate_room.root / "state/curves").iterdir():
        path.unlink()
    (curve,) = json.loads(plate_room.gatekeeper("curve", "list", "--json").stdout)
    assert curve["name"] == NAME
