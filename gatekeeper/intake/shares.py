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


def keeps_inodes(folder: Path, table: Path = TABLE) -> bool:
    """Whether files in a folder can be told apart by their inode numbers."""
    try:
        text = table.read_text(encoding="utf-8", errors="surrogateescape")
    except OSError:
        return True
    return file_system_of(folder.resolve(), text) not in CHANGING_INODES
