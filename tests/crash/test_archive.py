"""Old approved jobs go to the archive, whole and once, wherever the program dies."""

from __future__ import annotations

import errno
import os
import shutil
from datetime import UTC, datetime, timedelta

import pytest
from disks import Died, DyingDisk
from plate_room import GOOD, START, WEAK, PlateRoom, sheet

from gatekeeper.filing.archive import Archive
from gatekeeper.filing.desk import WORK
from gatekeeper.filing.disk import Disk
from gatekeeper.filing.online import OfflineError
from gatekeeper.filing.worklist import clear_rubbish
from gatekeeper.room import roots_of

LATER = START + timedelta(days=30)
MONTH = "2026/11/liquid-plate"


class OtherFilesystem(DyingDisk):
    """A disk on which the archive lies on another filesystem."""

    def rename_new(self, source, target):
        if "archive" in target.parts and "archive" not in source.parts:
            raise OSError(errno.EXDEV, os.strerror(errno.EXDEV))
        super().rename_new(source, target)


@pytest.fixture(scope="module")
def filed(pattern, fast_folder):
    """A room with two approved jobs and a held one, with artwork beside each of them."""
    room = PlateRoom.copy_of(pattern, fast_folder / "filed" / "site")
    for job, solid in (("1", GOOD), ("2", GOOD), ("3", WEAK)):
        room.drop(f"{job}.csv", sheet(solid, job=job))
        room.drop(f"{job}.pdf", f"art of {job}".encode())
    room.sweep()
    return room.site.root


@pytest.fixture
def folder(fast_folder):
    made = fast_folder / "archiving"
    yield made
    shutil.rmtree(made)


@pytest.fixture
def root(filed, folder):
    return shutil.copytree(filed, folder / "site")


def archive_of(root, disk=None):
    site = PlateRoom.at(root, root, None).site
    return Archive(disk or Disk(), roots_of(site), site.archive, UTC)


def jobs(root):
    """Return every job folder by where it stands, with its files."""
    return {
        str(path.parent.relative_to(root)): sorted(entry.name for entry in path.parent.iterdir())
        for path in root.rglob("verdict.json")
    }


def test_old_approved_jobs_go_by_year_and_month_and_held_ones_stay(root):
    before = jobs(root)
    done = archive_of(root).move_older(LATER)
    after = jobs(root)
    assert sorted(after) == [f"archive/{MONTH}/1", f"archive/{MONTH}/2", "held/liquid-plate/3"]
    assert after[f"archive/{MONTH}/1"] == before["approved/liquid-plate/1"]
    assert [path.name for path in done.moved] == ["1", "2"]
    assert done.left == ()


def test_young_jobs_stay(root):
    assert archive_of(root).move_older(START - timedelta(days=1)).moved == ()
    assert "approved/liquid-plate/1" in jobs(root)


def test_a_job_whose_ticket_is_in_work_stays_for_its_next_start(root):
    import json  # noqa: PLC0415 -- one look at a verdict

    verdict = json.loads((root / "approved/liquid-plate/1/verdict.json").read_bytes())
    claim = root / "drop/liquid-plate" / WORK / "gate-2" / verdict["ticket"]
    claim.mkdir(parents=True)
    done = archive_of(root).move_older(LATER)
    assert [path.name for path in done.moved] == ["2"]
    assert "its ticket is still in work" in done.left[0]


def test_a_folder_that_was_changed_by_hand_stays_and_is_named(root):
    (root / "approved/liquid-plate/1/1.csv").write_text("changed")
    shutil.copytree(root / "held/liquid-plate/3", root / "approved/liquid-plate/3")
    done = archive_of(root).move_older(LATER)
    assert [path.name for path in done.moved] == ["2"]
    assert ["not those of its verdict" in left for left in done.left] == [True, False]
    assert "its verdict is not approved" in done.left[1]


def test_a_job_of_the_same_number_in_the_same_month_never_takes_the_place_of_the_first(root):
    archive_of(root).move_older(LATER)
    room = PlateRoom.at(root, root, type("Clock", (), {})())
    again = root / "approved/liquid-plate/1"
    shutil.copytree(root / f"archive/{MONTH}/1", again)
    text = (again / "verdict.json").read_text()
    ticket = text.split('"ticket": "')[1].split('"')[0]
    (again / "verdict.json").write_text(text.replace(ticket, ticket[:-8] + "ffffffff"))
    archive_of(root).move_older(LATER)
    assert {path.name for path in (root / f"archive/{MONTH}").iterdir()} == {"1", "2", "1.2"}
    assert room.site.archive.is_dir()


def test_an_archive_that_is_not_mounted_is_not_taken_for_an_empty_one(root):
    shutil.rmtree(root / "archive")
    (root / "archive").mkdir()
    with pytest.raises(OfflineError):
        archive_of(root).move_older(LATER)
    assert "approved/liquid-plate/1" in jobs(root)


@pytest.mark.parametrize("kind", [DyingDisk, OtherFilesystem])
def test_killed_at_any_change_every_job_stands_in_one_place_after_the_next_run(filed, folder, kind):
    expected = {f"archive/{MONTH}/1", f"archive/{MONTH}/2", "held/liquid-plate/3"}
    whole = jobs(filed)
    for after in range(200):
        root = shutil.copytree(filed, folder / str(after))
        try:
            archive_of(root, kind(after)).move_older(LATER)
        except Died:
            archive_of(root, kind()).move_older(LATER)
            clear_rubbish(Disk(), roots_of(PlateRoom.at(root, root, None).site))  # as each round
        else:
            break
        found = jobs(root)
        assert set(found) == expected, after
        assert found[f"archive/{MONTH}/1"] == whole["approved/liquid-plate/1"], after
        litter = [path for path in root.rglob(f"{WORK}/*") if path.name.endswith("landing")]
        assert litter == [], after
        shutil.rmtree(root)
    assert 5 < after < 200


def test_a_moment_is_read_in_the_rooms_own_zone(root):
    site = PlateRoom.at(root, root, None).site
    east = datetime.fromisoformat("2026-12-01T00:00+14:00").tzinfo
    moved = Archive(Disk(), roots_of(site), site.archive, east).move_older(LATER).moved
    assert {path.relative_to(site.archive).parts[:2] for path in moved} == {("2026", "11")}
