"""A printer that has left its level: its jobs say so, and are held where the rules ask for that."""

from __future__ import annotations

import json
from datetime import datetime, timedelta

import pytest

NOW = datetime.now().astimezone().replace(second=0, microsecond=0)
STEPS = (0.3, -0.5, 0.1, 0.6, -0.2, -0.4, 0.5, -0.1, 0.2, -0.6)
RULE = "\ncontrol: {hold_on: [mid-tone, solid]}\n"


def film(sheet, index, dot):
    printed = NOW - timedelta(hours=8 * (43 - index))
    rows = (
        "clear,,0.00,,,left",
        "solid,,2.91,,,left",
        "solid,,2.88,,,centre",
        "solid,,2.90,,,right",
        f"tint,50,,{dot:.1f},,centre",
    )
    return sheet(
        rows,
        job=f"J{index:02d}",
        customer=None,
        printed=f"{printed:%Y-%m-%d %H:%M}",
        measured=f"{printed + timedelta(minutes=20):%Y-%m-%d %H:%M}",
    )


@pytest.fixture
def risen(room, sheet):
    """A site where P1 keeps its level for 24 films, and then another one that still passes."""
    register = room.root / "register"
    days = NOW.date() - timedelta(days=40)
    (register / "films.yaml").write_text(
        "stocks: {matte-5mil: {kind: ink film}, matte-8mil: {kind: ink film},\n"
        "  clear-5mil: {kind: ink film}, silver-7mil: {kind: silver film}}\n"
        f"lots: {{M5-0317: {{stock: matte-5mil, made: {days}, opened: {days}}}}}\n"
    )
    meters = register / "meters.yaml"
    meters.write_text(meters.read_text().replace("calibrated: 2026-09-01", f"calibrated: {days}"))
    (register / "curves.yaml").write_text(
        "curves:\n  - {workflow: liquid-plate, printer: P1, stock: matte-5mil, linearized: "
        f"{NOW.date() - timedelta(days=20)}}}\n"
    )
    for index in range(41):
        dot = 50.0 + STEPS[index % 10] + (1.0 if index > 23 else 0.0)
        room.drop(f"J{index:02d}.csv", film(sheet, index, dot))
    room.call("sweep", "--settle", "0", "--site", str(room.root))
    return room


def ask_for_a_hold(room):
    rules = room.root / "workflows/liquid-plate.yaml"
    rules.write_text(rules.read_text() + RULE)


def judged(room, sheet, number=41):
    room.drop(f"J{number}.csv", film(sheet, number, 51.0))
    room.call("sweep", "--settle", "0", "--site", str(room.root), expect=None)
    verdict = room.verdict(f"J{number}")
    return verdict["decision"], {
        finding["rule"]: finding for finding in verdict["findings"] if finding["check"] == "control"
    }


def test_by_default_the_report_names_the_signal_and_nothing_is_held(risen, sheet):
    decision, found = judged(risen, sheet)
    assert decision == "approved"
    assert found["control.signal"]["outcome"] == "note"
    report = (risen.root / "approved/liquid-plate/J41/report.txt").read_text()
    said = " ".join(report.split())
    assert "mid-tone on P1 (matte-5mil, liquid-plate) has stood" in said
    assert "above its base period since" in said


def test_a_rule_holds_the_next_job_until_a_new_curve_is_in_use(risen, sheet):
    ask_for_a_hold(risen)
    decision, found = judged(risen, sheet)
    assert decision == "held"
    assert set(found) == {"control.hold_on"}
    assert found["control.hold_on"]["says"].startswith("mid-tone on P1")
    assert found["control.hold_on"]["origin"].startswith("workflows/liquid-plate.yaml:")
    assert any("wedge" in step for step in found["control.hold_on"]["do"])
    curves = risen.root / "register/curves.yaml"
    curves.write_text(
        curves.read_text()
        + "  - {workflow: liquid-plate, printer: P1, stock: matte-5mil, linearized: "
        + f"{NOW.date() - timedelta(days=1)}}}\n"
    )
    decision, found = judged(risen, sheet, number=42)
    assert (decision, found["control.hold_on"]["outcome"]) == ("approved", "pass")


def test_while_the_history_is_away_nobody_knows_and_the_job_is_held(risen, sheet):
    ask_for_a_hold(risen)
    for file in (risen.root / "state").glob("history.sqlite*"):
        file.unlink()
    (risen.root / "state/history.sqlite").mkdir()
    decision, found = judged(risen, sheet)
    assert decision == "held"
    assert found["control.hold_on"]["outcome"] == "not judged"
    assert "the history is away" in found["control.hold_on"]["says"]


def test_a_file_that_is_only_checked_is_told_the_same(risen, sheet, tmp_path):
    ask_for_a_hold(risen)
    path = tmp_path / "J41.csv"
    path.write_text(film(sheet, 41, 51.0))
    said = risen.call(
        "check", str(path), "--workflow", "liquid-plate", "--site", str(risen.root), expect=1
    )
    assert "has stood" in " ".join(said.stdout.split())


def test_a_rehearsal_of_the_rule_rests_on_what_was_recorded_then(risen, sheet, tmp_path):
    judged(risen, sheet)
    edited = tmp_path / "edited"
    for name in ("workflows", "customers", "register", "readers"):
        (edited / name).mkdir(parents=True)
        for file in (risen.root / name).iterdir():
            (edited / name / file.name).write_bytes(file.read_bytes())
    rules = edited / "workflows/liquid-plate.yaml"
    rules.write_text(rules.read_text() + RULE)
    said = risen.call("rules", "try", str(edited), "--json", "--site", str(risen.root)).stdout
    by_rule = json.dumps(json.loads(said))
    assert "control.hold_on" in by_rule
    assert "J41" in by_rule
    assert '"J05"' not in by_rule  # no sign stood then
