"""Writes into the history: one verdict once, whatever crashes and however often it is told."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Any

from sqlalchemy import bindparam, insert, select, update

from gatekeeper.history import chain, rows, trouble
from gatekeeper.history.bulk import insert_many
from gatekeeper.history.carrying import carry_in, tell_nobody
from gatekeeper.history.interface import EventKind
from gatekeeper.history.query import Lookup
from gatekeeper.history.schema import (
    findings,
    judged,
    negatives,
    readings,
    rule_sets,
    sheets,
    tallies,
    verdicts,
)

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping
    from pathlib import Path

    from sqlalchemy import Connection, RowMapping, Select, Table

    from gatekeeper.history.carrying import Form, Told
    from gatekeeper.history.interface import FiledVerdict, Upgrade
    from gatekeeper.history.past import Event
    from gatekeeper.history.rows import Cells


class History(Lookup):
    """The history with the right to write. Its methods raise `HistoryAwayError`, nothing else."""

    @property
    def begun(self) -> str:
        """Why a new history was begun since this program started; empty when it found one.

        Whoever reads words here fills the history from the job folders.
        """
        return self._database.begun

    def is_filled(self) -> None:
        """Take to note that the new history holds by now what the job folders tell."""
        self._database.begun = ""

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
        prepared = [_prepare(one) for one in filed]
        with self._database.writing() as connection:
            for one in prepared:
                if connection.execute(_KNOWN, one.key).first() is None:
                    _record(connection, one, chain.Happening(self._database.now(), *one.event))

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


# Statements are built once: for a single row, building costs more than running.


def _row_of(table: Table, wanted: str, *key: str) -> Select[tuple[Any, ...]]:
    conditions = (table.c[name] == bindparam(name) for name in key)
    return select(*(table.c[name] for name in wanted.split())).where(*conditions)


_insert_into = cache(insert)
_LINK = insert(judged)
_KNOWN = _row_of(verdicts, "id", "site", "ticket")
_NEWEST = _row_of(verdicts, "id ticket site workflow decision", "site", "home").where(
    verdicts.c.newest
)
_NOT_NEWEST = update(verdicts).where(verdicts.c.id == bindparam("former")).values(newest=False)
_SHEET = _row_of(sheets, "id", "site", "ticket", "name")
_NEGATIVES = _row_of(negatives, "position", "sheet_id").limit(1)
_RULES = _row_of(rule_sets, "first_seen", "site", "fingerprint")
_TALLY_KEY = ("site", "workflow", "decision")
_TALLY = (
    update(tallies)
    .where(*(tallies.c[name] == bindparam(f"of_{name}") for name in _TALLY_KEY))
    .values(jobs=tallies.c.jobs + bindparam("change"))
)


@dataclass(frozen=True, slots=True)
class _SheetRows:
    sheet: Cells
    is_current: bool
    negatives: list[Cells]
    readings: list[Cells]


@dataclass(frozen=True, slots=True)
class _Prepared:
    """Everything that can be said of a verdict without asking the database."""

    verdict: Cells
    event: tuple[str, str, Mapping[str, object]]
    sheets: tuple[_SheetRows, ...]
    findings: list[Cells]
    rules_text: str

    @property
    def key(self) -> Cells:
        """What makes a verdict this one."""
        return {"site": self.verdict["site"], "ticket": self.verdict["ticket"]}


def _prepare(filed: FiledVerdict) -> _Prepared:
    row = rows.verdict_row(filed)
    read = {sheet.name: sheet for sheet in filed.sheets}
    judged_sheets = filed.verdict.sheets
    for name in read.keys() - {sheet.name for sheet in judged_sheets}:
        raise trouble.unrecordable(name, "is not among the sheets of its verdict")
    document = {
        **rows.sealed_facts(row),
        "sheets": [[sheet.name, sheet.sha256, sheet.current] for sheet in judged_sheets],
    }
    return _Prepared(
        verdict=row,
        event=(EventKind.VERDICT, filed.verdict.job, document),
        sheets=tuple(
            _SheetRows(
                rows.sheet_row(filed, sheet),
                sheet.current,
                rows.negative_rows(filed.site, read[sheet.name], sheet.ticket)
                if sheet.name in read
                else [],
                rows.reading_rows(filed.site, read[sheet.name]) if sheet.name in read else [],
            )
            for sheet in judged_sheets
        ),
        findings=rows.finding_rows(filed.site, filed.verdict.findings),
        rules_text=filed.verdict.rules_text,
    )


def _record(connection: Connection, one: _Prepared, happening: chain.Happening) -> None:
    row = one.verdict
    event = chain.append(connection, row["site"], happening)
    is_newest = _replace_newest(connection, row)
    verdict_id = _insert(
        connection, verdicts, {**row, "sequence": event.sequence, "newest": is_newest}
    )
    insert_many(
        connection, findings, [{**finding, "verdict_id": verdict_id} for finding in one.findings]
    )
    links = [
        {
            "verdict_id": verdict_id,
            "position": position,
            "site": row["site"],
            "sheet_id": _sheet_id(connection, sheet),
            "current": sheet.is_current,
        }
        for position, sheet in enumerate(one.sheets)
    ]
    if links:
        connection.execute(_LINK, links)
    _keep_rules(connection, row, one.rules_text)


def _replace_newest(connection: Connection, row: Cells) -> bool:
    """Say if this verdict is the last word on its job, and take that mark from the former one.

    A catch-up may bring verdicts in any order; tickets say which is later, clocks do not.
    """
    former = connection.execute(_NEWEST, {name: row[name] for name in ("site", "home")}).first()
    if former is not None:
        if former.ticket > row["ticket"]:
            return False
        connection.execute(_NOT_NEWEST, {"former": former.id})
        _tally(connection, former._mapping, -1)  # noqa: SLF001 -- public in spite of its name
    _tally(connection, row, +1)
    return True


def _tally(connection: Connection, row: Cells | RowMapping, change: int) -> None:
    key = {f"of_{name}": row[name] for name in _TALLY_KEY}
    if connection.execute(_TALLY, {**key, "change": change}).rowcount == 0:
        first = {name: row[name] for name in _TALLY_KEY}
        connection.execute(_insert_into(tallies), {**first, "jobs": change})


def _sheet_id(connection: Connection, sheet: _SheetRows) -> int:
    """Return the id of a sheet; it is recorded, and its readings are, when they are met first."""
    key = {name: sheet.sheet[name] for name in ("site", "ticket", "name")}
    known: int | None = connection.scalar(_SHEET, key)
    sheet_id = _insert(connection, sheets, sheet.sheet) if known is None else known
    # A verdict that was found decided after a crash comes without readings; the next on the same
    # job brings them.
    if sheet.negatives and (known is None or not _has_negatives(connection, sheet_id)):
        own = {"sheet_id": sheet_id}
        connection.execute(_insert_into(negatives), [{**row, **own} for row in sheet.negatives])
        insert_many(connection, readings, [{**row, **own} for row in sheet.readings])
    return sheet_id


def _has_negatives(connection: Connection, sheet_id: int) -> bool:
    return connection.execute(_NEGATIVES, {"sheet_id": sheet_id}).first() is not None


def _keep_rules(connection: Connection, row: Cells, text: str) -> None:
    if not text:
        return
    key = {"site": row["site"], "fingerprint": row["rules_fingerprint"]}
    if connection.execute(_RULES, key).first() is None:
        connection.execute(
            _insert_into(rule_sets), {**key, "text": text, "first_seen": row["filed_at"]}
        )


def _insert(connection: Connection, table: Table, row: Cells) -> int:
    key = connection.execute(_insert_into(table), row).inserted_primary_key
    if key is None:
        raise TypeError(table.name)
    return int(key[0])
