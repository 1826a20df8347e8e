"""A printer that drifts, as `gatekeeper trend` tells of it once its sheets have been judged."""

from __future__ import annotations

import json
from datetime import datetime, timedelta

import pytest

NOW = datetime.now().astimezone().replace(second=0, microsecond=0)
STEPS = (0.3, -0.5, 0.1, 0.6, -0.2, -0.4, 0.5, -0.1, 0.2, -0.6)


@pytest.fixture
def drifting(room, sheet):
    """A site where P1 keeps its level for 24 films and then creeps up, until today."""
    register = room.root / "register"
    days = NOW.date() - timedelta(days=40)
    _replace(
        register / "films.yaml",
        "made: 2026-05-11, opened: 2026-11-02, expires: 2027-05-11",
        f"made: {days}, opened: {days}, expires: 2099-01-01",
    )
    _replace(register / "meters.yaml", "calibrated: 2026-09-01", f"calibrated: {days}")
    (register / "curves.yaml").write_text(
        "curves:\n  - {workflow: liquid-plate, printer: P1, stock: matte-5mil, linearized: "
        f"{NOW.date() - timedelta(days=20)}}}\n"
    )
    for index in range(42):
        printed = NOW - timedelta(hours=8 * (42 - index))
        dot = 50.0 + STEPS[index % 10] + 0.06 * max(0, index - 23)
        rows = (
            "clear,,0.00,,,left",
            "solid,,2.91,,,left",
            "solid,,2.88,,,centre",
            "solid,,2.90,,,right",
            f"tint,50,,{dot:.1f},,centre",
        )
        text = sheet(
            rows,
            job=f"J{index}",
            customer=None,
            printed=f"{printed:%Y-%m-%d %H:%M}",
            measured=f"{printed + timedelta(minutes=20):%Y-%m-%d %H:%M}",
        )
        room.drop(f"J{index}.csv", text)
    room.call("sweep", "--settle", "0", "--site", str(room.root))
    return room


def _replace(file, old, new):
    text = file.read_text()
    assert text.count(old) == 1
    file.write_text(text.replace(old, new))


def test_a_drift_is_told_before_the_first_hold(drifting):
    held = json.loads(
        drifting.call("jobs", "--state", "held", "--json", "--site", str(drifting.root)).stdout
    )
    assert held == []
    said = drifting.call("trend", "--site", str(drifting.root)).stdout
    assert said.startswith("ACT    mid-tone on P1 (matte-5mil, liquid-plate) has crept up")
    assert "print a wedge" in said
    assert "held now          0% (0 of 42" in said


def test_other_programs_get_the_same_as_data(drifting):
    data = json.loads(drifting.call("trend", "--json", "--site", str(drifting.root)).stdout)
    (north,) = data["rooms"]
    assert data["news"] == north["series"][0]["says"][:1]
    (chart,) = (entry for entry in north["series"] if entry["quantity"] == "tint 50")
    assert len(chart["points"]) == 42
    assert chart["drift"]["is_sure"]
    assert chart["drift"]["per_day"] == pytest.approx(0.18, abs=0.06)
    assert chart["capability"]["cpk"] > 0.3
    assert north["yield"]["first_pass"]["part"] == 42


def test_only_what_is_asked_for_is_looked_at(drifting):
    site = ("--site", str(drifting.root))
    other = drifting.call("trend", "--printer", "P2", *site).stdout
    assert other.startswith("no readings that could be charted")
    assert "held now          no jobs" in other, "yield and reasons are of the same printer"
    assert "first-pass yield  no jobs" in other
    own = drifting.call("trend", "--printer", "p1", *site).stdout
    assert "held now          0% (0 of 42" in own
    assert "P2" not in drifting.call("trend", "--workflow", "liquid-plate", *site).stdout
    nothing = drifting.call("trend", "--since", "2099-01-01", *site).stdout
    assert "first-pass yield  no jobs" in nothing


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--workflow", "liquid-plat"), 'nearest known one is "liquid-plate"'),
        (("--printer", "P9"), "known: L1, P1, P2"),
        (("--since", "yesterday"), "write 2026-11-20, 7d or 12h"),
    ],
)
def test_a_slip_in_the_call_is_explained(room, words, says):
    done = room.call("trend", *words, "--site", str(room.root), expect=2)
    assert says in done.stderr


def test_a_site_whose_history_has_not_begun_has_nothing_to_tell(room):
    assert "no readings" in room.call("trend", "--site", str(room.root)).stdout
