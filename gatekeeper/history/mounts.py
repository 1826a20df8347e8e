"""Which file system a folder lies on: SQLite's log works between programs of one machine only."""

from __future__ import annotations

import re
from functools import lru_cache
from pathlib import Path

NETWORK = frozenset(
    {
        "9p", "afs", "beegfs", "ceph", "cifs", "coda", "davfs", "fuse.ceph", "fuse.glusterfs",
        "fuse.rclone", "fuse.s3fs", "fuse.sshfs", "fuse.vmhgfs-fuse", "gfs2", "glusterfs", "lustre",
        "ncpfs", "nfs", "nfs4", "ocfs2", "prl_fs", "smb2", "smb3", "smbfs", "vboxsf", "vmhgfs",
    }
)  # fmt: skip
"""Kinds of file system that more than one machine may write to."""

TABLE = Path("/proc/self/mounts")
"""As this process sees them; the only table that a service without the rest of /proc is shown."""

_ESCAPE = re.compile(r"\\([0-7]{3})")


@lru_cache(maxsize=256)  # asked at every look at a drop folder, and mounts seldom change
def file_system_of(folder: Path, table: str) -> str:
    """Return the kind of file system of an absolute folder, from a table as in proc(5), or "".

    Of several mounts the deepest counts, and of several on one point the last.
    """
    kind, depth = "", -1
    for line in table.splitlines():
        fields = line.split(" ")
        if len(fields) < 3:  # noqa: PLR2004 -- device, point, kind
            continue
        point = Path(_ESCAPE.sub(lambda code: chr(int(code[1], 8)), fields[1]))
        if folder.is_relative_to(point) and len(point.parts) >= depth:
            kind, depth = fields[2], len(point.parts)
    return kind


def network_file_system(folder: Path, table: Path) -> str:
    """Return the kind of network file system that a folder lies on, or "" where it is local.

    Where the system shows no table of mounts it cannot be known, and counts as local.
    """
    try:
        text = table.read_text(encoding="utf-8", errors="surrogateescape")
    except OSError:
        return ""
    kind = file_system_of(folder.resolve(), text)
    return kind if kind in NETWORK else ""
