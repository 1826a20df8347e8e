"""A job that is held on a signal, killed on its way: judged again, it is judged the same."""

from __future__ import annotations

import shutil
from datetime import datetime, timedelta

import pytest
from disks import Died, DyingDisk
from plate_room import PlateRoom, sheet

from gatekeeper.filing.disk import Disk
from gatekeeper.room import read_book
from gatekeeper.rounds.sweeping import sweep_once
from gatekeeper.site import read_site
from gatekeeper.workshop import rounds_of

STEPS = (0.3, -0.5, 0.1, 0.6, -0.2, -0.4, 0.5, -0.1, 0.2, -0.6)
FIRST = datetime(2026, 11, 11, 6, 0)  # noqa: DTZ001 -- as a sheet says it


def film(number, level):
    printed = FIRST + timedelta(hours=5 * number)
    read = f"{level + STEPS[number % 10]:.1f}".encode()
    text = sheet(
        job=f"J{number:02d}",
        customer="Pennyroyal Preserves",
        printed=f"{printed:%Y-%m-%d %H:%M}",
        measured=f"{printed + timedelta(minutes=20):%Y-%m-%d %H:%M}",
    )
    return text.replace(b"tint,50,,50.8", b"tint,50,," + read)


def sweep(room, disk=None):
    book = read_book(room.site)
    rounds = rounds_of(room.site, room.clock, lambda: book, settle_s=0.0, disk=disk or Disk())
    try:
        sweep_once(rounds)
    finally:
        rounds.ledger.history.close()


@pytest.fixture
def risen(rooms):
    """A room whose rules hold on a signal, and whose printer has left its level."""
    room = rooms()
    rules = room.site.root / "workflows/liquid-plate.yaml"
    rules.write_text(rules.read_text() + "\ncontrol: {hold_on: [mid-tone]}\n")
    for number in range(40):
        room.drop(f"J{number:02d}.csv", film(number, 49.8 if number < 24 else 50.9))
    sweep(room)
    room.drop("J40.csv", film(40, 50.9))
    return room


def twin(room, number):
    """Return a copy of the room that goes its own way."""
    root = room.site.root.with_name(f"{room.site.root.name}-twin-{number}")
    shutil.copytree(room.site.root, root)
    return PlateRoom(read_site(root), room.pattern)


def test_killed_anywhere_a_job_under_a_signal_ends_with_the_same_findings(risen):
    whole = DyingDisk()
    calm = twin(risen, "calm")
    sweep(calm, whole)
    expected = calm.verdict("J40")
    assert expected["decision"] == "held"
    assert [f["rule"] for f in expected["findings"] if f["check"] == "control"] == [
        "control.hold_on"
    ]
    assert whole.done > 20
    for after in range(0, whole.done, 5):
        room = twin(risen, after)
        with pytest.raises(Died):
            sweep(room, DyingDisk(after))
        sweep(room)
        again = room.verdict("J40")
        assert (again["decision"], again["findings"]) == ("held", expected["findings"]), after
