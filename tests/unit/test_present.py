"""What the daemon writes for the screens is what they read, whatever has changed in between."""

from dataclasses import replace

import pytest

from gatekeeper.rounds.outlook import Waiting
from gatekeeper.screens.present import NOW_FILE, Present, PresentFile, read_present

WAITS = Waiting("liquid-plate", '"", 1041.pdf', 'waits for its "sheet" of readings')
FIRST = Present("2026-11-24T17:00:00+00:00", 1041, "gatekeeper 0", (WAITS,), ("full",), ("a:1 b",))


@pytest.mark.parametrize(
    "changes",
    [
        {"at": "2026-11-24T17:00:15+00:00"},
        {"waiting": (WAITS, replace(WAITS, name="1042.pdf", due_s=1.5))},
        {"waiting": (replace(WAITS, is_settling=True),)},
        {"waiting": ()},
        {"alarms": ()},
        {"broken_rules": ()},
        {"news": ("mid-tone on P1 has crept up",)},
        {"process": 7},
    ],
    ids=lambda changes: next(iter(changes)),
)
def test_each_writing_is_read_as_it_was_meant(tmp_path, changes):
    file = PresentFile(tmp_path)
    for present in (FIRST, replace(FIRST, **changes), FIRST):
        file.write(present)
        assert read_present(tmp_path) == present


def test_the_file_is_swapped_in_whole(tmp_path):
    file = PresentFile(tmp_path)
    file.write(FIRST)
    with (tmp_path / NOW_FILE).open("rb") as earlier:
        file.write(replace(FIRST, at="2026-11-24T17:00:15+00:00"))
        assert b"17:00:00" in earlier.read()
    assert [path.name for path in tmp_path.iterdir()] == [NOW_FILE]
