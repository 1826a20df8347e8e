"""Entries written into the register of a site, so that nothing of a person's file is lost.

Order    the files are read and must be good; the new text is made and read back with all the
         others; only then it takes the place of the old file, whole, by one rename. An edit that
         somebody made in between is noticed, and nothing is written.
"""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

from gatekeeper.errors import RoomError
from gatekeeper.register.register import REGISTER, Register, read_register
from gatekeeper.rules.files import read_content, read_yaml_files
from gatekeeper.yamlfiles.load import load
from gatekeeper.yamlfiles.places import BrokenFilesError

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from gatekeeper.filing.disk import Disk
    from gatekeeper.yamlfiles.load import Content

_FILES = {
    "meters": "meters.yaml",
    "stocks": "films.yaml",
    "lots": "films.yaml",
    "printers": "printers.yaml",
    "curves": "curves.yaml",
}
"""Where a block is begun that no file has yet."""


class RegisterDesk:
    """The register files of a site, for reading and for adding to."""

    def __init__(self, root: Path, disk: Disk) -> None:
        self._root = root
        self._disk = disk
        self._files = read_yaml_files(root, (REGISTER,))
        self.register = self._read(self._files)

    def edit(self, block: str, change: Callable[[str], str]) -> str:
        """Change the file that holds a block, and return its name.

        Parameters
        ----------
        change : takes the file's text and returns the new one

        Raises
        ------
        BrokenFilesError : with the change the register would be wrong; nothing was written
        RoomError : the file was edited in the meantime, or cannot be written; nothing was lost
        """
        name = self._file_of(block)
        before = self._files.get(name, b"")
        if not isinstance(before, bytes):
            raise RoomError(f"{name} cannot be read: {before.reason}")
        after = change(before.decode("utf-8-sig")).encode()
        files = {**self._files, name: after}
        register = self._read(files)
        self._swap(self._root / name, before, after)
        self._files, self.register = files, register
        return name

    def _read(self, files: dict[str, Content]) -> Register:
        register, problems = read_register(files)
        if problems:
            raise BrokenFilesError(problems)
        return register

    def _file_of(self, block: str) -> str:
        for name in sorted(self._files):
            if block in load(self._files[name], name).entries:
                return name
        return f"{REGISTER}{_FILES[block]}"

    def _swap(self, path: Path, before: bytes, after: bytes) -> None:
        if (read_content(path) or b"") != before:
            raise RoomError(
                f"{path} was changed in this moment by somebody else",
                do="run the command again; nothing was written",
            )
        # Hidden, so that nobody reads it as a register file before it is whole.
        fresh = path.with_name(f".{path.name}.{os.getpid()}")
        self._disk.unlink(fresh)
        try:
            self._disk.write_new(fresh, after)
            if before:
                fresh.chmod(path.stat().st_mode & 0o7777)
            fresh.replace(path)
        finally:
            self._disk.unlink(fresh)
        self._disk.sync(path.parent)
