"""Steps that change the machine, each told in one line.

Each knows whether it is done already, so that a plan can be made again and again.
"""

from __future__ import annotations

import os
import shlex
import subprocess
from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

from gatekeeper.errors import RoomError

if TYPE_CHECKING:
    from pathlib import Path

COMMAND_S = 120.0
"""A command of the system that takes longer than this hangs (s)."""


class Step(Protocol):
    """One change."""

    @property
    def says(self) -> str:
        """What it does, in one line."""
        ...

    def is_done(self) -> bool:
        """Whether there is nothing to do."""
        ...

    def do(self) -> None:
        """Do it."""
        ...


@dataclass(frozen=True, slots=True)
class Write:
    """A file of ours, whole."""

    path: Path
    content: str

    @property
    def says(self) -> str:
        """What it does."""
        return f"{'replace' if self.path.exists() else 'write'} {self.path}"

    def is_done(self) -> bool:
        """Whether the file stands as wanted."""
        try:
            return self.path.read_text(encoding="utf-8") == self.content
        except (FileNotFoundError, UnicodeDecodeError):
            return False

    def do(self) -> None:
        """Swap the file in whole."""
        self.path.parent.mkdir(parents=True, exist_ok=True)
        temporary = self.path.with_name(f".{self.path.name}.new")
        temporary.write_text(self.content, encoding="utf-8")
        temporary.chmod(0o644)
        temporary.replace(self.path)


@dataclass(frozen=True, slots=True)
class Link:
    """A link of ours; `target` is as the machine calls it."""

    path: Path
    target: Path

    @property
    def says(self) -> str:
        """What it does."""
        return f"link {self.path} -> {self.target}"

    def is_done(self) -> bool:
        """Whether the link leads there."""
        return self.path.is_symlink() and self.path.readlink() == self.target

    def do(self) -> None:
        """Make the link, in place of one that leads elsewhere."""
        self.path.parent.mkdir(parents=True, exist_ok=True)
        self.path.unlink(missing_ok=True)
        self.path.symlink_to(self.target)


@dataclass(frozen=True, slots=True)
class Remove:
    """Takes away a file or link of ours, and its folder when that is empty then."""

    path: Path
    with_folder: bool = False

    @property
    def says(self) -> str:
        """What it does."""
        return f"remove {self.path}"

    def is_done(self) -> bool:
        """Whether it is away."""
        return not os.path.lexists(self.path)

    def do(self) -> None:
        """Take it away."""
        self.path.unlink(missing_ok=True)
        folder = self.path.parent
        if self.with_folder and not any(folder.iterdir()):
            folder.rmdir()


@dataclass(frozen=True, slots=True)
class Own:
    """A folder's owner, group or mode."""

    path: Path
    command: tuple[str, ...]  # chown, chgrp or chmod with its first argument
    done: bool

    @property
    def says(self) -> str:
        """What it does."""
        return shlex.join((*self.command, str(self.path)))

    def is_done(self) -> bool:
        """Whether it is so already."""
        return self.done

    def do(self) -> None:
        """Change it."""
        run((*self.command, str(self.path)))


@dataclass(frozen=True, slots=True)
class Run:
    """A command of the system."""

    command: tuple[str, ...]

    @property
    def says(self) -> str:
        """What it does."""
        return shlex.join(self.command)

    def is_done(self) -> bool:
        """Whether it is done; whoever plans it knows."""
        return False

    def do(self) -> None:
        """Run it."""
        run(self.command)


def run(command: tuple[str, ...]) -> None:
    """Run a command of the system to its end.

    Raises
    ------
    RoomError : it is not there, failed, or hangs
    """
    try:
        done = subprocess.run(  # noqa: S603 -- words of ours, no shell
            command, capture_output=True, text=True, check=False, timeout=COMMAND_S
        )
    except (OSError, subprocess.TimeoutExpired) as error:
        raise RoomError(f"{shlex.join(command)} could not be run: {error}") from error
    if done.returncode != 0:
        reason = (done.stderr or done.stdout).strip() or f"exit status {done.returncode}"
        raise RoomError(
            f"{shlex.join(command)} failed: {reason}",
            do="see to that, then run the same command again: what is done stays done",
        )
