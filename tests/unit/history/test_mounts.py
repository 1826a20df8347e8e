from pathlib import Path

import pytest

from gatekeeper.history.mounts import file_system_of, network_file_system

# The layout of proc(5), with invented hosts; blanks in a path stand as \040.
TABLE = """\
/dev/vda1 / ext4 rw,relatime 0 0
tmpfs /run tmpfs rw 0 0
share:/plates /site nfs4 rw,vers=4.2 0 0
/dev/vdb1 /site/state xfs rw 0 0
//pc/share /mnt/plate\\040room cifs rw 0 0
/dev/vdc1 /over ext4 rw 0 0
host:/x /over fuse.sshfs rw 0 0
broken line
"""


@pytest.mark.parametrize(
    ("folder", "kind"),
    [
        ("/srv/gatekeeper", "ext4"),
        ("/site/drop", "nfs4"),
        ("/site/state", "xfs"),
        ("/site/state/deep", "xfs"),
        ("/sites", "ext4"),  # a longer name is no part of /site
        ("/mnt/plate room/state", "cifs"),
        ("/over", "fuse.sshfs"),  # mounted over: the last counts
    ],
)
def test_the_deepest_and_last_mount_counts(folder, kind):
    assert file_system_of(Path(folder), TABLE) == kind


def test_a_network_share_is_told_from_a_local_disk(tmp_path):
    table = tmp_path / "mounts"
    table.write_text(f"pc:/x {tmp_path} nfs rw 0 0\n")
    assert network_file_system(tmp_path, table) == "nfs"
    table.write_text(f"/dev/vda1 {tmp_path} ext4 rw 0 0\n")
    assert network_file_system(tmp_path, table) == ""


def test_without_a_table_a_folder_counts_as_local(tmp_path):
    assert network_file_system(tmp_path, tmp_path / "none") == ""


def test_a_link_to_a_share_is_seen_through(tmp_path):
    (tmp_path / "share").mkdir()
    (tmp_path / "link").symlink_to(tmp_path / "share")
    table = tmp_path / "mounts"
    table.write_text(f"/dev/vda1 / ext4 rw 0 0\npc:/x {tmp_path / 'share'} cifs rw 0 0\n")
    assert network_file_system(tmp_path / "link", table) == "cifs"
