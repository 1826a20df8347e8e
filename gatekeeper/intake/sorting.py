"""Which files of a group are sheets, which companions, and whether the sheets end as whole ones."""

from __future__ import annotations

import os
from dataclasses import dataclass
from typing import TYPE_CHECKING

from gatekeeper.filing.disk import plain_file
from gatekeeper.filing.names import caseless
from gatekeeper.intake.scan import Group, stem_of

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable
    from pathlib import Path

    from gatekeeper.filing.tickets import Identity
    from gatekeeper.intake.scan import IsSheet

_HEAD = 8_192
_UNCLEAR = ": which one counts is not clear"


@dataclass(frozen=True, slots=True)
class Sorted:
    """A group told apart."""

    group: Group
    sheets: tuple[Identity, ...]
    companions: tuple[Identity, ...]
    ends_whole: bool
    unopened: str = ""  # name of a file that may not be opened, with the reason

    def refusal_of(self, sheet: Identity) -> str:
        """Return why a sheet is held without being read, empty where it is read."""
        if self.group.clashes:
            return f"names that differ only in case or Unicode form were dropped together{_UNCLEAR}"
        own = caseless(stem_of(sheet.own_name))
        same = [file for file in self.sheets if caseless(stem_of(file.own_name)) == own]
        if len(same) > 1:
            names = ", ".join(file.own_name for file in same)
            return f"two sheets of one name were dropped together ({names}){_UNCLEAR}"
        return ""

    def refused_beside(self, sheet: Identity) -> tuple[Identity, ...]:
        """Return the other sheets that are held without being read, if this one is."""
        if not self.refusal_of(sheet):
            return ()
        others = (other for other in self.sheets if other is not sheet)
        return tuple(other for other in others if self.refusal_of(other))

    def companions_of(self, sheet: Identity) -> tuple[Identity, ...]:
        """Return what travels with a sheet: its stem; the first takes what belongs to none."""
        if not self.group.in_folder:
            return self.companions if sheet is self.sheets[0] else ()
        stems = {stem_of(file.own_name) for file in self.sheets}
        own = stem_of(sheet.own_name)
        return tuple(
            file
            for file in self.companions
            if stem_of(file.own_name) == own
            or (sheet is self.sheets[0] and stem_of(file.own_name) not in stems)
        )


class Sorter:
    """Tells sheets from companions, looking into a file again only when it has changed."""

    def __init__(self, is_sheet: IsSheet, ends_whole: Callable[[bytes], bool], most: int) -> None:
        self._is_sheet = is_sheet
        self._ends_whole = ends_whole
        self._most = most
        # By folder and name; one entry a file, however often it changes.
        self._known: dict[str, dict[str, tuple[Identity, bool, bool]]] = {}

    def sort(self, folder: Path, group: Group) -> Sorted:
        """Return the group told apart."""
        sheets: list[Identity] = []
        companions: list[Identity] = []
        whole = True
        unopened = ""
        for file in group.files:
            try:
                is_sheet, ends = self._look(folder, file)
            except OSError as error:
                unopened = f"{file.own_name}: {error.strerror}"
                is_sheet, ends = self._is_sheet(file.own_name, b""), True
            (sheets if is_sheet else companions).append(file)
            whole = whole and (ends or not is_sheet)
        return Sorted(group, tuple(sheets), tuple(companions), whole, unopened)

    def forget_all_but(self, folder: Path, groups: Iterable[Group]) -> None:
        """Drop what is known of files that are gone from a folder."""
        known = self._known.get(str(folder), {})
        present = {file.name for group in groups for file in group.files}
        for name in known.keys() - present:
            del known[name]

    def _look(self, folder: Path, file: Identity) -> tuple[bool, bool]:
        known = self._known.setdefault(str(folder), {})
        earlier = known.get(file.name)
        if earlier and earlier[0] == file:
            return earlier[1], earlier[2]
        head = read_start(folder / file.name, _HEAD)
        is_sheet = self._is_sheet(file.own_name, head)
        ends = (
            not is_sheet
            or file.size > self._most
            or self._ends_whole(read_start(folder / file.name, self._most))
        )
        known[file.name] = (file, is_sheet, ends)
        return is_sheet, ends


def read_start(path: Path, most: int) -> bytes:
    """Return so many bytes of a plain file, or all."""
    with plain_file(path) as handle, os.fdopen(handle, "rb", closefd=False) as file:
        return file.read(most)
