"""Filed jobs into the history, and what could not be told into an outbox until it can.

The history is never in the path of a decision: while it is away the gate goes on, and catches up in
order, once.
"""

from __future__ import annotations

import logging
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from gatekeeper.checks.measured import measure
from gatekeeper.errors import UnreadableSheetError
from gatekeeper.filing.folder import VERDICT, read_record
from gatekeeper.history import FiledSheet, FiledVerdict, HistoryAwayError, Reading
from gatekeeper.readers.choose import read_sheet
from gatekeeper.readers.interface import RawFile

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping
    from datetime import datetime
    from pathlib import Path

    from gatekeeper.filing.disk import Disk
    from gatekeeper.history.interface import EventKind
    from gatekeeper.history.record import History
    from gatekeeper.readers.interface import Declarations
    from gatekeeper.sheet import Sheet

OUTBOX = "outbox"

log = logging.getLogger(__name__)


@dataclass
class Ledger:
    """The gate's way to the history."""

    history: History
    disk: Disk
    site: str
    root: Path  # of the site: folders are recorded relative to it
    outbox: Path
    declarations: Callable[[], Declarations]
    now: Callable[[], datetime]
    away: str = ""  # why the history cannot be used, empty while it can
    _has_outbox: bool = field(default=True, init=False)

    def job_of_digest(self, sha256: str, *, other_than: str) -> str:
        """Return another job that was judged by the same bytes, empty where none is known."""
        try:
            known = self.history.known_digest(sha256, other_than_job=other_than)
        except HistoryAwayError as error:
            self._is_away(error)
            return ""
        return known.job if known else ""

    def folders_with_stem(self, stem: str) -> list[tuple[str, str]]:
        """Return (workflow, job) of jobs whose sheets were dropped under a stem, newest first."""
        try:
            lines = self.history.jobs_with_stem(stem)
        except HistoryAwayError as error:
            self._is_away(error)
            return []
        return [(line.workflow, line.job) for line in lines]

    def remember(self, filed: Path, sheets: Mapping[str, Sheet] | None) -> None:
        """Record a filed job; while the history is away, leave a note in the outbox instead."""
        try:
            self.catch_up()
            if not self.away:
                self.history.remember(self._filed_verdict(filed, sheets or {}))
                return
        except HistoryAwayError as error:
            self._is_away(error)
        self._put_aside(filed)

    def note(self, kind: EventKind, subject: str, document: Mapping[str, object]) -> None:
        """Append an event to the audit chain; while the history is away the log must do."""
        try:
            self.history.note(kind, subject, document)
        except HistoryAwayError as error:
            self._is_away(error)
            log.warning("not in the history: %s %s", kind.value, subject)

    def catch_up(self) -> None:
        """Tell the history what it missed, oldest first.

        Raises
        ------
        HistoryAwayError : it is still away
        """
        if not self._has_outbox:
            return
        for name in self.disk.names(self.outbox):
            folder = self.root / self.disk.read(self.outbox / name, 100_000).decode(
                "utf-8", "surrogateescape"
            )
            if self.disk.is_folder(folder):
                self.history.remember(self._filed_verdict(folder, {}))
            self.disk.unlink(self.outbox / name)
        self._has_outbox = False
        self.away = ""

    def _is_away(self, error: HistoryAwayError) -> None:
        if not self.away:
            log.warning("the history is away: %s", error.what)
        self.away = error.what

    def _put_aside(self, filed: Path) -> None:
        record = read_record(self.disk, filed / VERDICT)
        if record is None:
            return
        if not self.disk.is_folder(self.outbox):
            self.disk.make_folder(self.outbox)
        path = self.outbox / record.verdict.ticket
        if self.disk.lstat(path) is None:
            self.disk.write_new(path, self._relative(filed).encode("utf-8", "surrogateescape"))
            self.disk.sync(self.outbox)
        self._has_outbox = True

    def _relative(self, folder: Path) -> str:
        return (
            str(folder.relative_to(self.root)) if folder.is_relative_to(self.root) else str(folder)
        )

    def _filed_verdict(self, folder: Path, sheets: Mapping[str, Sheet]) -> FiledVerdict:
        record = read_record(self.disk, folder / VERDICT)
        if record is None:
            raise HistoryAwayError(f"{folder} has no verdict that can be read")
        verdict = record.verdict
        read = {
            judged.name: sheets.get(judged.name) or self._read(folder, judged.name)
            for judged in verdict.sheets
            if judged.ticket == verdict.ticket
        }
        return FiledVerdict(
            site=self.site,
            verdict=verdict,
            folder=self._relative(folder),
            filed_at=self.now(),
            sheets=tuple(
                FiledSheet(name, sheet, readings_of(sheet)) for name, sheet in read.items() if sheet
            ),
        )

    def _read(self, folder: Path, name: str) -> Sheet | None:
        declarations = self.declarations()
        try:
            content = self.disk.read(folder / name, declarations.max_bytes)
            return read_sheet(RawFile(name, content), declarations)
        except (UnreadableSheetError, OSError):
            return None


def readings_of(sheet: Sheet) -> tuple[Reading, ...]:
    """Return every patch of a sheet with its net density, as the checks saw it."""
    return tuple(
        Reading(number, entry.patch, entry.net)
        for number, negative in enumerate(sheet.negatives)
        for entry in measure(negative).patches
    )
