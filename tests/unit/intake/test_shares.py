"""What is believed of a filesystem goes by its kind; the layout of the table is that of proc(5)."""

import pytest

from gatekeeper.intake.shares import is_of_this_machine, keeps_inodes


@pytest.mark.parametrize(
    ("kind", "of_this_machine", "inodes"),
    [
        ("ext4", True, True),
        ("xfs", True, True),
        ("nfs4", False, True),
        ("cifs", False, False),
        ("9p", False, True),
        ("fuse.sshfs", False, False),
        ("overlay", False, True),
        ("vfat", False, False),
    ],
)
def test_kinds_of_filesystem(tmp_path, kind, of_this_machine, inodes):
    table = tmp_path / "mounts"
    table.write_text(f"/dev/vda1 / ext4 rw 0 0\nplace {tmp_path} {kind} rw 0 0\n")
    assert is_of_this_machine(tmp_path, table) is of_this_machine
    assert keeps_inodes(tmp_path, table) is inodes


def test_without_a_table_a_folder_may_be_anybodys(tmp_path):
    assert not is_of_this_machine(tmp_path, tmp_path / "absent")
    assert keeps_inodes(tmp_path, tmp_path / "absent")
