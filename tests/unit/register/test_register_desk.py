from datetime import date

import pytest

from gatekeeper.care.register_desk import RegisterDesk
from gatekeeper.errors import RoomError
from gatekeeper.filing.disk import Disk
from gatekeeper.register.editing import with_entry
from gatekeeper.yamlfiles.places import BrokenFilesError

METERS = "# ours\nmeters:\n  T-04: {calibrated: 2026-09-01}  # keep\n"


class FailingDisk(Disk):
    """Dies at one operation."""

    def __init__(self, operation):
        self.operation = operation

    def before(self, operation, *_paths):
        if operation == self.operation:
            raise OSError(28, "No space left on device")


@pytest.fixture
def site(tmp_path):
    folder = tmp_path / "register"
    folder.mkdir()
    (folder / "meters.yaml").write_text(METERS)
    return tmp_path


def add(text):
    return with_entry(text, "meters", "T-05", {"calibrated": date(2026, 10, 1)})


def test_an_edit_is_read_back_at_once(site):
    desk = RegisterDesk(site, Disk())
    assert desk.edit("meters", add) == "register/meters.yaml"
    assert desk.register.meter("T-05").calibrated == date(2026, 10, 1)
    assert (site / "register/meters.yaml").read_text().startswith("# ours\n")
    assert [path.name for path in (site / "register").iterdir()] == ["meters.yaml"]


def test_a_block_goes_into_the_file_that_has_it_whatever_its_name(site):
    (site / "register/meters.yaml").rename(site / "register/all.yml")
    assert RegisterDesk(site, Disk()).edit("meters", add) == "register/all.yml"


def test_a_block_that_no_file_has_gets_its_own(site):
    desk = RegisterDesk(site, Disk())
    assert desk.edit("printers", lambda text: with_entry(text, "printers", "P1", {})) == (
        "register/printers.yaml"
    )
    assert desk.register.printer("P1") is not None


def test_an_edit_that_would_break_the_register_is_refused(site):
    desk = RegisterDesk(site, Disk())
    with pytest.raises(BrokenFilesError, match="not a date"):
        desk.edit("meters", lambda text: text + "  T-05: {calibrated: soon}\n")
    assert (site / "register/meters.yaml").read_text() == METERS


def test_a_broken_register_is_not_edited(site):
    (site / "register/films.yaml").write_text("lots: {A: {stock: none}}\n")
    with pytest.raises(BrokenFilesError, match="none"):
        RegisterDesk(site, Disk())


def test_an_edit_by_somebody_else_in_between_is_not_overwritten(site):
    desk = RegisterDesk(site, Disk())
    theirs = METERS + "  T-06: {calibrated: 2026-11-01}\n"
    (site / "register/meters.yaml").write_text(theirs)
    with pytest.raises(RoomError, match="somebody else"):
        desk.edit("meters", add)
    assert (site / "register/meters.yaml").read_text() == theirs


@pytest.mark.parametrize("operation", ["create", "write", "fsync"])
def test_a_full_disk_leaves_the_old_file_and_no_litter(site, operation):
    desk = RegisterDesk(site, FailingDisk(operation))
    with pytest.raises(OSError, match="No space left"):
        desk.edit("meters", add)
    assert (site / "register/meters.yaml").read_text() == METERS
    assert [path.name for path in (site / "register").iterdir()] == ["meters.yaml"]


def test_rights_of_the_file_are_kept(site):
    path = site / "register/meters.yaml"
    path.chmod(0o640)
    RegisterDesk(site, Disk()).edit("meters", add)
    assert path.stat().st_mode & 0o777 == 0o640
