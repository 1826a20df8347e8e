"""What kind of filesystem a drop folder lies on, and what that means for telling files apart."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gatekeeper.history.mounts import TABLE, file_system_of

if TYPE_CHECKING:
    from pathlib import Path

CHANGING_INODES = frozenset(
    {
        "cifs", "davfs", "exfat", "fuse.rclone", "fuse.s3fs", "fuse.sshfs", "msdos", "smb2",
        "smb3", "smbfs", "vfat",
    }
)  # fmt: skip
"""Kinds of filesystem on which a file may get another inode number without being another file."""


OF_THIS_MACHINE = frozenset(
    {"bcachefs", "btrfs", "ext2", "ext3", "ext4", "f2fs", "jfs", "tmpfs", "xfs", "zfs"}
)
"""Kinds of filesystem that only this machine's kernel changes, so that it can tell of each change:
a server that exports one to others goes through the same kernel. Of a kind that is not named here
nothing of that sort is believed."""


def is_of_this_machine(folder: Path, table: Path = TABLE) -> bool:
    """Whether nobody but this machine's kernel changes what lies in a folder."""
    return _kind_of(folder, table) in OF_THIS_MACHINE


def keeps_inodes(folder: Path, table: Path = TABLE) -> bool:
    """Whether files in a folder can be told apart by their inode numbers."""
    return _kind_of(folder, table) not in CHANGING_INODES


def _kind_of(folder: Path, table: Path) -> str:
    """Return the kind of filesystem that a folder lies on, "" where nobody knows."""
    try:
        text = table.read_text(encoding="utf-8", errors="surrogateescape")
    except OSError:
        return ""
    return file_system_of(folder.resolve(), text)
