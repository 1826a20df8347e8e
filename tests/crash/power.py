"""Power cuts: from a record of changes, every state that a disk may legally be left in.

A change of names is sure to have happened only once a folder that it touches was flushed, and with
it whatever it needs; any other may have happened or not. A rename happens as a whole. The bytes of
a file are there once the file was flushed; before that it may be empty or cut.
"""

from __future__ import annotations

import os
import random
import re
import shutil
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
    flushed = {change.paths[0]: change.content for change in log if change.kind == "flushed"}
    for index, change in enumerate(log):
        if index not in kept or change.kind in {"sync", "commit"}:
            continue
        paths = [moved(path) for path in change.paths]
        try:
            _make(change, paths, flushed, log, index, dice)
        except OSError:
            continue


def _make(change, paths, flushed, log, index, dice) -> None:
    if change.kind == "mkdir":
        paths[0].mkdir()
    elif change.kind == "create":
        whole = flushed.get(change.paths[0], b"")
        _write(paths[0], whole[: dice.randrange(len(whole) + 1)], os.O_EXCL)
    elif change.kind == "flushed":
        if paths[0].exists():
            _write(paths[0], change.content, 0)
    elif change.kind == "drop":
        paths[0].parent.mkdir(exist_ok=True)
        paths[0].write_bytes(change.content)
        os.utime(paths[0], ns=(change.mtime_ns, change.mtime_ns))
    elif change.kind == "rename":
        if paths[1].exists():
            raise FileExistsError(paths[1])
        paths[0].rename(paths[1])
    elif change.kind == "link":
        paths[1].hardlink_to(paths[0])
    elif change.kind == "unlink":
        paths[0].unlink()
    elif change.kind == "rmdir":
        paths[0].rmdir()


def _write(path: Path, content: bytes, flags: int) -> None:
    if path.name == "ticket.json":  # the files of a rebuilt tree have other inodes
        content = re.sub(rb'"inode": \d+', b'"inode": 0', content)
    handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_TRUNC | flags, 0o644)
    with os.fdopen(handle, "wb") as file:
        file.write(content)


def copy_of(source: Path, target: Path) -> None:
    """Copy a tree as it is, modification times included: files are told apart by them."""
    shutil.copytree(source, target, symlinks=True)
