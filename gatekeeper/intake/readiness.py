"""Whether a group is taken now, and if not, why and when it is worth another look."""

from __future__ import annotations

import errno
import os
from dataclasses import dataclass
from typing import TYPE_CHECKING

from gatekeeper.errors import UnreadableSheetError
from gatekeeper.intake.settle import EMPTY_S, someone_writes
from gatekeeper.readers.choose import read_sheet
from gatekeeper.readers.interface import RawFile
from gatekeeper.system_errors import MAKE_ROOM, MOUNT_ANEW, advice, is_read_only
from gatekeeper.wording import plain
from gatekeeper.yamlfiles.places import BrokenFilesError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable
    from pathlib import Path

    from gatekeeper.filing.desk import Roots
    from gatekeeper.filing.disk import Disk
    from gatekeeper.intake.settle import Settler
    from gatekeeper.intake.situation import Situation
    from gatekeeper.intake.sorting import Sorted
    from gatekeeper.yamlfiles.places import FileProblem

ROOM_TO_SPARE = 20_000_000
"""Free bytes, beside twice the group's own size, below which nothing new is claimed."""

BEING_EDITED = "waits for its rules: somebody is saving them"
"""A sheet that comes after an edit is not to be judged by what the edit has replaced."""

_SHORTEST_LOOK_S = 0.5
_ARRIVING = "still arriving"


@dataclass(frozen=True, slots=True)
class NotYet:
    """Why a group is not taken now."""

    reason: str
    due_s: float | None = None  # seconds until it is worth another look; None: when somebody acts
    is_settling: bool = False  # it only needs to be at rest for a while
    is_alarm: bool = False  # the room is at fault, and not the file: to be said on every screen


class Readiness:
    """Looks at a group as the gate would take it."""

    def __init__(
        self,
        disk: Disk,
        roots: Roots,
        settler: Settler,
        situation: Callable[[], Situation],
        *,
        rescan_s: float,
    ) -> None:
        self._disk = disk
        self._roots = roots
        self._settler = settler
        self._situation = situation
        self._rescan_s = rescan_s

    def not_yet(self, workflow: str, folder: Path, told_apart: Sorted, now: float) -> NotYet | None:
        """Return why the group is not taken now, None where it can be.

        Parameters
        ----------
        now : by the monotonic clock (s)
        """
        return self._not_at_rest(folder, told_apart, now) or (
            self._not_allowed(workflow, folder, told_apart) if told_apart.sheets else None
        )

    def _not_at_rest(self, folder: Path, told_apart: Sorted, now: float) -> NotYet | None:
        group = told_apart.group
        rest_s = self._settler.rests_in(str(folder), group, now, whole=told_apart.ends_whole)
        if rest_s > 0:
            reason = _empty_reason(told_apart) or f"{_ARRIVING}: not at rest yet"
            return NotYet(reason, rest_s, is_settling=True)
        if told_apart.unopened:
            return NotYet(f"cannot be opened: {plain(told_apart.unopened)}", self._rescan_s)
        if any(someone_writes(folder / file.name) for file in group.files):
            due_s = max(self._settler.settle_s, _SHORTEST_LOOK_S)
            reason = f"{_ARRIVING}: a program has it open for writing"
            return NotYet(reason, due_s, is_settling=True)
        return None

    def _not_allowed(self, workflow: str, folder: Path, told_apart: Sorted) -> NotYet | None:
        if self._situation().is_being_edited:
            return NotYet(BEING_EDITED, _SHORTEST_LOOK_S)
        problems = self._rules_in_the_way(workflow, folder, told_apart)
        if problems:
            return NotYet(rules_reason(problems))
        most = self._situation().declarations.max_bytes
        reason = closed(self._roots, folder)
        full = "" if reason else without_room(self._roots, told_apart, most)
        if full:
            place = plain(str(full), 200)
            reason = f"the disk of {place} is nearly full: nothing new is taken in; {MAKE_ROOM}"
        return NotYet(reason, self._rescan_s, is_alarm=True) if reason else None

    def _rules_in_the_way(
        self, workflow: str, folder: Path, told_apart: Sorted
    ) -> tuple[FileProblem, ...]:
        """Return the problems of the rule files that govern a group; sheets are read if need be."""
        situation = self._situation()
        problems = situation.blocks(workflow) if workflow else situation.for_all
        if problems or not situation.library.problems:
            return problems
        for file in told_apart.sheets:
            try:
                content = self._disk.read(folder / file.name, situation.declarations.max_bytes)
                sheet = read_sheet(RawFile(file.own_name, content), situation.declarations)
            except (OSError, UnreadableSheetError):
                continue  # it is held as unreadable, whatever the rules say
            for negative in sheet.negatives:
                named = workflow or (negative.workflow.value if negative.workflow else "")
                customer = negative.customer.value if negative.customer else ""
                try:
                    situation.require_good_rules(named, customer)
                except BrokenFilesError as error:
                    return error.problems
        return ()


def without_room(roots: Roots, told_apart: Sorted, most: int) -> Path | None:
    """Return a folder that the group's job can go to and whose disk has no room for it, twice over.

    A sheet beyond `most` bytes is never copied on its own filesystem: a file with a hole may claim
    more bytes than any disk has.
    """
    stays = roots.drop.stat().st_dev == roots.held.stat().st_dev
    size = told_apart.group.size
    if stays:
        size -= sum(max(sheet.size - most, 0) for sheet in told_apart.sheets)
    for root in (roots.drop, roots.held, roots.approved):
        disk = os.statvfs(root)
        if disk.f_bavail * disk.f_frsize <= 2 * size + ROOM_TO_SPARE:
            return root
    return None


def _empty_reason(told_apart: Sorted) -> str:
    said = told_apart.group.emptiness
    if not said:
        return ""
    is_held = any(sheet.size == 0 for sheet in told_apart.sheets)
    then = ", then it is held" if is_held else ""
    return f"{said}: waits {EMPTY_S / 60:.0f} minutes for its content{then}"


def closed(roots: Roots, folder: Path) -> str:
    """Return why nothing can be taken from a drop folder, or filed, as it is now; else nothing.

    A ticket would find out as well. But a sheet is best left where whoever dropped it sees it, and
    one reason for all sheets is said once.
    """
    for place in (folder, roots.held, roots.approved):
        if is_read_only(place):
            says = f"{plain(str(place), 200)} takes no changes: nothing new is taken in"
            return f"{says}; {MOUNT_ANEW}"
    if not os.access(folder, os.W_OK | os.X_OK, effective_ids=True):
        refused = OSError(errno.EACCES, os.strerror(errno.EACCES), str(folder))
        says = f"sheets cannot be taken from {plain(str(folder), 200)}: permission denied"
        return f"{says}; {advice(refused)}"
    return ""


def rules_reason(problems: Iterable[FileProblem]) -> str:
    """Return the reason of whoever waits for a rule file to be mended."""
    first = min(problems)
    return f"waits for its rules: {first.place} {first.what}"
