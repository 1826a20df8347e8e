"""Power cuts: from a record of changes, every state that a disk may legally be left in.

A change of names is sure to have happened only once a folder that it touches was flushed, and with
it whatever it needs; any other may have happened or not. A rename happens as a whole. The bytes of
a file are there once the file was flushed; before that it may be empty or cut.
"""

from __future__ import annotations

import contextlib
import os
import re
import shutil
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import random
    from collections.abc import Callable, Iterator
    from pathlib import Path

    from disks import Change


def sure_changes(log: list[Change], cut: int) -> set[int]:
    """Return the indices of what cannot be lost when the power is cut before change `cut`."""
    sure: set[int] = set()
    unsure: dict[Path, list[int]] = {}
    for index, change in enumerate(log[:cut]):
        if change.kind == "sync":
            sure.update(unsure.pop(change.paths[0], []))
        elif change.kind in {"flushed", "drop", "commit"}:
            sure.add(index)
        else:
            for folder in change.folders:
                unsure.setdefault(folder, []).append(index)
    return with_needed(log, sure)


def with_needed(log: list[Change], chosen: set[int]) -> set[int]:
    """Return the chosen changes with those that made the names on which they rest."""
    makers: dict[Path, int] = {}
    needs: dict[int, int] = {}
    for index, change in enumerate(log):
        if change.kind in {"rename", "link"} and change.paths[0] in makers:
            needs[index] = makers[change.paths[0]]
        if change.made:
            makers[change.made] = index
    whole = set(chosen)
    waiting = list(chosen)
    while waiting:
        needed = needs.get(waiting.pop())
        if needed is not None and needed not in whole:
            whole.add(needed)
            waiting.append(needed)
    return whole


def cuts(log: list[Change], cut: int, dice: random.Random, several: int) -> Iterator[set[int]]:
    """Yield sets of changes that may be all that is left: the least, the most, some between."""
    sure = sure_changes(log, cut)
    open_changes = [index for index in range(cut) if index not in sure]
    yield sure
    if not open_changes:
        return
    yield set(range(cut))
    for _ in range(several):
        some = {index for index in open_changes if dice.random() < 0.5}
        yield with_needed(log, sure | some)


def rebuild(
    log: list[Change], kept: set[int], moved: Callable[[Path], Path], dice: random.Random
) -> None:
    """Make the changes that were kept, in their order; what has lost its ground is lost too."""
    whole = {change.paths[0]: change.content for change in log if change.kind == "flushed"}
    for index, change in enumerate(log):
        make = _MAKING.get(change.kind)
        if index in kept and make:
            content = whole.get(change.paths[0], b"") if change.kind == "create" else change.content
            if change.kind == "create":
                content = content[: dice.randrange(len(content) + 1)]
            with contextlib.suppress(OSError):
                make(*map(moved, change.paths), content, change.mtime_ns)


def _drop(path: Path, content: bytes, mtime_ns: int) -> None:
    path.parent.mkdir(exist_ok=True)
    path.write_bytes(content)
    os.utime(path, ns=(mtime_ns, mtime_ns))


def _create(path: Path, content: bytes, _: int) -> None:
    with path.open("xb") as file:
        file.write(content)


def _flush(path: Path, content: bytes, _: int) -> None:
    if path.name in {"ticket.json.new", "ticket.json"}:
        # The files of a rebuilt tree have other inodes.
        content = re.sub(rb'"inode": \d+', b'"inode": 0', content)
    with path.open("r+b") as file:
        file.write(content)
        file.truncate()


def _rename(source: Path, target: Path, *_: object) -> None:
    if not target.exists():
        source.rename(target)


_MAKING: dict[str, Callable[..., object]] = {
    "mkdir": lambda path, *_: path.mkdir(),
    "create": _create,
    "flushed": _flush,
    "drop": _drop,
    "rename": _rename,
    "link": lambda source, target, *_: target.hardlink_to(source),
    "unlink": lambda path, *_: path.unlink(),
    "rmdir": lambda path, *_: path.rmdir(),
}


def copy_of(source: Path, target: Path) -> None:
    """Copy a tree as it is, modification times included: files are told apart by them."""
    shutil.copytree(source, target, symlinks=True)
