"""Filed verdicts into the tables: many at a time, each table asked once and told once.

A verdict whose ticket is known changes nothing, and neither does a sheet that is known. Of several
verdicts on one job that of the highest ticket is the last word, whichever is told first: tickets
say which is later, clocks do not.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, TypeVar

from sqlalchemy import bindparam, insert, select, update

from gatekeeper.history import chain, rows, trouble
from gatekeeper.history.bulk import insert_many
from gatekeeper.history.canonical import storable
from gatekeeper.history.interface import EventKind
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
    from collections.abc import Callable, Iterable, Mapping, Sequence
    from datetime import datetime

    from sqlalchemy import Connection, Select, Table

    from gatekeeper.history.interface import FiledVerdict
    from gatekeeper.history.past import Event
    from gatekeeper.history.rows import Cells

AT_ONCE = 500
"""Verdicts of one question: databases take some 30,000 values a statement."""


@dataclass(frozen=True, slots=True)
class SheetRows:
    """A sheet of a verdict, and what was read from it where that is known."""

    sheet: Cells
    is_current: bool
    negatives: list[Cells]
    readings: list[Cells]

    @property
    def key(self) -> tuple[str, str]:
        """What makes a sheet of the site this one."""
        return self.sheet["ticket"], storable(self.sheet["name"])  # as the table gives it back


@dataclass(frozen=True, slots=True)
class Prepared:
    """Everything that can be said of a verdict without asking the database."""

    verdict: Cells
    event: tuple[str, str, Mapping[str, object]]
    sheets: tuple[SheetRows, ...]
    findings: list[Cells]
    rules_text: str

    @property
    def ticket(self) -> str:
        """What makes a verdict of the site this one."""
        return str(self.verdict["ticket"])


def prepared(filed: FiledVerdict) -> Prepared:
    """Return the rows of a verdict.

    Raises
    ------
    UnrecordableError : it can never be a row
    """
    row = rows.verdict_row(filed)
    read = {sheet.name: sheet for sheet in filed.sheets}
    judged_sheets = filed.verdict.sheets
    for name in read.keys() - {sheet.name for sheet in judged_sheets}:
        raise trouble.unrecordable(name, "is not among the sheets of its verdict")
    document = {
        **rows.sealed_facts(row),
        "sheets": [[sheet.name, sheet.sha256, sheet.current] for sheet in judged_sheets],
    }
    return Prepared(
        verdict=row,
        event=(EventKind.VERDICT, filed.verdict.job, document),
        sheets=tuple(
            SheetRows(
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


def take_in(
    connection: Connection, site: str, told: Sequence[Prepared], now: Callable[[], datetime]
) -> None:
    """Record verdicts of one site in the order given, within the caller's transaction."""
    for start in range(0, len(told), AT_ONCE):
        some = _first_of_each((one.ticket, one) for one in told[start : start + AT_ONCE])
        known = set(connection.scalars(_KNOWN, {"site": site, "wanted": list(some)}))
        new = [one for ticket, one in some.items() if ticket not in known]
        if new:
            happenings = [chain.Happening(now(), *one.event) for one in new]
            _record(connection, site, new, chain.append_all(connection, site, happenings))


def _record(
    connection: Connection, site: str, new: Sequence[Prepared], events: Iterable[Event]
) -> None:
    newest = _are_newest(connection, site, [one.verdict for one in new])
    connection.execute(
        _INSERT_VERDICTS,
        [
            {**one.verdict, "sequence": event.sequence, "newest": is_newest}
            for one, event, is_newest in zip(new, events, newest, strict=True)
        ],
    )
    asked = {"site": site, "wanted": [one.ticket for one in new]}
    ids = {row.ticket: row.id for row in connection.execute(_VERDICT_IDS, asked)}
    answered = [{**row, "verdict_id": ids[one.ticket]} for one in new for row in one.findings]
    insert_many(connection, findings, answered)
    sheet_ids = _sheet_ids(connection, site, [sheet for one in new for sheet in one.sheets])
    covered = [
        {
            "verdict_id": ids[one.ticket],
            "position": position,
            "site": site,
            "sheet_id": sheet_ids[sheet.key],
            "current": sheet.is_current,
        }
        for one in new
        for position, sheet in enumerate(one.sheets)
    ]
    insert_many(connection, judged, covered)
    _keep_rules(connection, site, new)


def _are_newest(connection: Connection, site: str, told: Sequence[Cells]) -> list[bool]:
    """Say of each verdict if it is the last word on its job; former ones lose that mark."""
    asked = {"site": site, "wanted": [row["home"] for row in told]}
    found = connection.execute(_NEWEST, asked).mappings()
    last: dict[str, Cells] = {row["home"]: dict(row) for row in found}
    changes: Counter[tuple[str, str]] = Counter()
    overtaken: list[int] = []
    for row in told:
        former = last.get(row["home"])
        if former is not None:
            if former["ticket"] > row["ticket"]:
                continue
            changes[former["workflow"], former["decision"]] -= 1
            overtaken += [former["id"]] if "id" in former else []
        changes[row["workflow"], row["decision"]] += 1
        last[row["home"]] = row
    if overtaken:
        connection.execute(_NOT_NEWEST, [{"former": number} for number in overtaken])
    for (workflow, decision), change in changes.items():
        key = {"of_site": site, "of_workflow": workflow, "of_decision": decision}
        if connection.execute(_TALLY, {**key, "change": change}).rowcount == 0:
            line = {"site": site, "workflow": workflow, "decision": decision, "jobs": change}
            connection.execute(_INSERT_TALLIES, line)
    return [last[row["home"]] is row for row in told]


def _sheet_ids(
    connection: Connection, site: str, told: Sequence[SheetRows]
) -> dict[tuple[str, str], int]:
    """Return the ids of sheets; each is recorded, and its readings are, when they are met first."""
    first = _first_of_each((sheet.key, sheet.sheet) for sheet in told)
    ids = _known_sheets(connection, site, first)
    missing = {key: row for key, row in first.items() if key not in ids}
    if missing:
        insert_many(connection, sheets, list(missing.values()))
        ids |= _known_sheets(connection, site, missing)
    # A verdict that was found decided after a crash comes without readings; the next on the same
    # job brings them.
    read = _first_of_each((ids[sheet.key], sheet) for sheet in told if sheet.negatives)
    if read:
        for number in connection.scalars(_HAVE_NEGATIVES, {"wanted": list(read)}).all():
            read.pop(number, None)
        _insert_readings(connection, read)
    return ids


def _insert_readings(connection: Connection, read: Mapping[int, SheetRows]) -> None:
    films = [{**row, "sheet_id": number} for number, one in read.items() for row in one.negatives]
    patches = [{**row, "sheet_id": number} for number, one in read.items() for row in one.readings]
    if films:
        connection.execute(_INSERT_NEGATIVES, films)
    insert_many(connection, readings, patches)


def _known_sheets(
    connection: Connection, site: str, keys: Iterable[tuple[str, str]]
) -> dict[tuple[str, str], int]:
    asked = {"site": site, "wanted": list(dict.fromkeys(ticket for ticket, _ in keys))}
    found = connection.execute(_SHEET_IDS, asked)
    return {(row.ticket, row.name): row.id for row in found}


def _keep_rules(connection: Connection, site: str, new: Sequence[Prepared]) -> None:
    """Keep the rules of verdicts that say them, once each, as they were first seen."""
    told = _first_of_each((one.verdict["rules_fingerprint"], one) for one in new if one.rules_text)
    known = set(connection.scalars(_RULES, {"site": site, "wanted": list(told)})) if told else ()
    missing = [
        {
            "site": site,
            "fingerprint": fingerprint,
            "text": one.rules_text,
            "first_seen": one.verdict["filed_at"],
        }
        for fingerprint, one in told.items()
        if fingerprint not in known
    ]
    if missing:
        connection.execute(_INSERT_RULES, missing)


Key = TypeVar("Key")
Value = TypeVar("Value")


def _first_of_each(pairs: Iterable[tuple[Key, Value]]) -> dict[Key, Value]:
    """Return for each key the value that came with it first."""
    first: dict[Key, Value] = {}
    for key, value in pairs:
        first.setdefault(key, value)
    return first


# Statements are built once: building costs more than running.


def _those(table: Table, wanted: str, key: str) -> Select[tuple[Any, ...]]:
    """Return a question for some columns of the site's rows that have one of the `wanted` keys."""
    columns = (table.c[name] for name in wanted.split())
    is_wanted = table.c[key].in_(bindparam("wanted", expanding=True))
    return select(*columns).where(table.c.site == bindparam("site"), is_wanted)


_KNOWN = _those(verdicts, "ticket", "ticket")
_VERDICT_IDS = _those(verdicts, "ticket id", "ticket")
_NEWEST = _those(verdicts, "id ticket workflow decision home", "home").where(verdicts.c.newest)
_NOT_NEWEST = update(verdicts).where(verdicts.c.id == bindparam("former")).values(newest=False)
_SHEET_IDS = _those(sheets, "ticket name id", "ticket")
_HAVE_NEGATIVES = select(negatives.c.sheet_id).where(
    negatives.c.sheet_id.in_(bindparam("wanted", expanding=True))
)
_RULES = _those(rule_sets, "fingerprint", "fingerprint")
_TALLY = (
    update(tallies)
    .where(
        *(tallies.c[name] == bindparam(f"of_{name}") for name in ("site", "workflow", "decision"))
    )
    .values(jobs=tallies.c.jobs + bindparam("change"))
)
_INSERT_VERDICTS = insert(verdicts)
_INSERT_NEGATIVES = insert(negatives)
_INSERT_RULES = insert(rule_sets)
_INSERT_TALLIES = insert(tallies)
