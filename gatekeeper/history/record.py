"""Writes into the history: one verdict once, whatever crashes and however often it is told."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gatekeeper.history import chain
from gatekeeper.history.carrying import carry_in, tell_nobody
from gatekeeper.history.query import Lookup
from gatekeeper.history.taking_in import prepared, take_in

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping
    from pathlib import Path

    from gatekeeper.history.carrying import Form, Told
    from gatekeeper.history.interface import EventKind, FiledVerdict, Upgrade
    from gatekeeper.history.past import Event


class History(Lookup):
    """The history with the right to write. Its methods raise `HistoryAwayError`, nothing else."""

    @property
    def begun(self) -> str:
        """Why a new history was begun, by this program or one that could not fill it; else empty.

        Whoever reads words here fills the history from the job folders.
        """
        return self._database.begun

    def is_filled(self) -> None:
        """Take to note that the new history holds by now what the job folders tell."""
        self._database.is_filled()

    def remember(self, filed: FiledVerdict) -> None:
        """Record one filed verdict, durably. A ticket that is known already changes nothing.

        Raises
        ------
        UnrecordableError : it can never be a row: a fault of the program, trying again is no use
        HistoryAwayError : it is not recorded, or the file that it was recorded in has gone
        """
        self.remember_many([filed])

    def remember_many(self, filed: Iterable[FiledVerdict]) -> None:
        """Record several, in one transaction: all of them, or on an error none."""
        told = [prepared(one) for one in filed]
        with self._database.writing() as connection:
            take_in(connection, self.site, told, self._database.now)

    def note(
        self, kind: EventKind, subject: str, document: Mapping[str, object], *, once: str = ""
    ) -> Event:
        """Append an event to the audit chain; `document` is what JSON can hold.

        Parameters
        ----------
        once : words of the document that make the event this one: told again it changes nothing
        """
        with self._database.writing() as connection:
            known = chain.recent_with(connection, self.site, once) if once else None
            happening = chain.Happening(self._database.now(), kind, subject, document)
            return known or chain.append(connection, self.site, happening)

    def carry_in(
        self,
        folder: Path,
        about: Mapping[str, object],
        form: Form,
        told: Told = tell_nobody,
    ) -> dict[str, int]:
        """Take up what `carry_out` has written, whole or not at all; return the rows of each."""
        with self._database.writing() as connection:
            return carry_in(connection, self.site, folder, about, form, told=told)

    def upgrade(self) -> Upgrade:
        """Bring the tables to this program's version; whoever opens the history does as much."""
        return self._database.upgraded()

    def backup(self, target: Path) -> None:
        """Write a consistent, durable copy to a new file; it appears whole or not at all."""
        self._database.copy_to(target)
