"""A whole history carried out as files, one a table, and in again: for other tools, another server.

Carrying in is all or nothing, in one transaction: the chain must hold from its first event to the
newest that the files name, and every verdict must agree with its event. Counts are made anew.
"""

from __future__ import annotations

import json
from collections import Counter
from typing import TYPE_CHECKING, Any, Protocol, TypeAlias

from sqlalchemy import func, insert, select

from gatekeeper.history import audit, chain, trouble
from gatekeeper.history.schema import (
    VERSION,
    events,
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
    from collections.abc import Callable, Iterable, Iterator, Mapping
    from pathlib import Path

    from sqlalchemy import Connection, Table

ABOUT = "about.json"
TABLES = (rule_sets, events, verdicts, sheets, judged, negatives, readings, findings)
"""In the order in which they are carried in: each stands behind those that it refers to."""

AT_ONCE = 5_000
_NUMBERED = {"id": None, "verdict_id": verdicts, "sheet_id": sheets}
"""Columns with numbers that another database has given already, and whose numbers they are."""

Row = dict[str, Any]

Told: TypeAlias = "Callable[[int, int | None], None]"
"""Called now and then with how many rows are done, and of how many."""


def tell_nobody(done: int, total: int | None) -> None:
    """Let rows go by without a word."""


class Form(Protocol):
    """A kind of file that holds a table."""

    ending: str

    def write(self, path: Path, table: Table, rows: Iterable[Row]) -> int:
        """Write a new file and return how many rows it holds."""
        ...

    def read(self, path: Path, table: Table) -> Iterator[Row]:
        """Yield its rows; raise `HistoryAwayError` for what is no such table."""
        ...


def carry_out(
    connection: Connection, site: str, folder: Path, form: Form, told: Told = tell_nobody
) -> dict[str, int]:
    """Write every table of a site into an empty folder; return how many rows each has."""
    written: dict[str, int] = {}
    for table in TABLES:
        before = sum(written.values())
        rows = _counted(_rows(connection, table, site), before, told)
        written[table.name] = form.write(folder / f"{table.name}.{form.ending}", table, rows)
    last = chain.last(connection, site)
    about = {
        "site": site,
        "version": VERSION,
        "head": last.sha256 if last else "",
        "form": form.ending,
        "rows": written,
    }
    (folder / ABOUT).write_text(json.dumps(about, indent=2) + "\n", encoding="ascii")
    return written


def carry_in(
    connection: Connection,
    site: str,
    folder: Path,
    about: Mapping[str, Any],
    form: Form,
    *,
    told: Told = tell_nobody,
) -> dict[str, int]:
    """Take every table of a folder up, within the caller's transaction.

    Raises
    ------
    HistoryAwayError : there is a history of this site already, the files are of another site or
        version, a row is none, or the chain does not hold
    """
    _refuse_unfit(connection, site, about, str(folder))
    shifts = {table: _highest(connection, table) for table in (verdicts, sheets)}
    counts: Counter[tuple[str, str]] = Counter()
    taken: dict[str, int] = {}
    for table in TABLES:
        before = sum(taken.values())
        path = folder / f"{table.name}.{form.ending}"
        number = 0
        for batch in _batches(form.read(path, table)):
            shifted = [_shifted(row, table, shifts) for row in batch]
            _refuse_others(shifted, site, str(path))
            connection.execute(insert(table), shifted)
            number += len(batch)
            told(before + number, _rows_in_all(about))
            if table is verdicts:
                newest = ((row["workflow"], row["decision"]) for row in batch if row["newest"])
                counts.update(newest)
        taken[table.name] = number
    _keep_counts(connection, site, counts)
    renumber(connection)
    report = audit.verify(connection, site, seen_sha256=str(about["head"]))
    if report.broken is not None:
        raise trouble.does_not_hold(report.broken.sequence, report.broken.says, str(folder))
    return taken


def about_of(folder: Path) -> dict[str, Any]:
    """Return what the folder says of itself."""
    try:
        about = json.loads((folder / ABOUT).read_text(encoding="utf-8"))
    except ValueError as error:
        raise trouble.no_carried_history(str(folder)) from error
    if not isinstance(about, dict) or not {"site", "version", "head", "form"} <= about.keys():
        raise trouble.no_carried_history(str(folder))
    return about


def _rows(connection: Connection, table: Table, site: str) -> Iterator[Row]:
    query = select(table).where(table.c.site == site).order_by(*table.primary_key)
    with connection.execute(query, execution_options={"yield_per": AT_ONCE}) as found:
        for row in found:
            yield row._asdict()


def _counted(rows: Iterator[Row], before: int, told: Told) -> Iterator[Row]:
    for number, row in enumerate(rows, start=before + 1):
        if number % AT_ONCE == 0:
            told(number, None)
        yield row


def _rows_in_all(about: Mapping[str, Any]) -> int | None:
    """Return how many rows the folder says it has: for the eye only, so None for anything odd."""
    rows = about.get("rows")
    numbers = list(rows.values()) if isinstance(rows, dict) else []
    return sum(numbers) if numbers and all(isinstance(each, int) for each in numbers) else None


def _refuse_unfit(connection: Connection, site: str, about: Mapping[str, Any], where: str) -> None:
    if about["version"] != VERSION:
        raise trouble.carried_version(about["version"], VERSION, where)
    if about["site"] != site:
        raise trouble.carried_from(str(about["site"]), site, where)
    if chain.last(connection, site) is not None:
        raise trouble.has_a_history(site)


def _refuse_others(rows: Iterable[Row], site: str, where: str) -> None:
    """Refuse rows of another site: they would lie in the database without being of any chain."""
    for row in rows:
        if row["site"] != site:
            raise trouble.carried_from(str(row["site"]), site, where)


def _highest(connection: Connection, table: Table) -> int:
    return int(connection.scalar(select(func.max(table.c.id))) or 0)


def _shifted(row: Row, table: Table, shifts: Mapping[Table, int]) -> Row:
    for name, owner in _NUMBERED.items():
        if name in row:
            row[name] += shifts[table if owner is None else owner]
    return row


def _batches(rows: Iterator[Row]) -> Iterator[list[Row]]:
    batch: list[Row] = []
    for row in rows:
        batch.append(row)
        if len(batch) == AT_ONCE:
            yield batch
            batch = []
    if batch:
        yield batch


def _keep_counts(connection: Connection, site: str, counts: Mapping[tuple[str, str], int]) -> None:
    kept = [
        {"site": site, "workflow": workflow, "decision": decision, "jobs": jobs}
        for (workflow, decision), jobs in counts.items()
    ]
    if kept:
        connection.execute(insert(tallies), kept)


def renumber(connection: Connection) -> None:
    """Let a server count on behind the numbers that were carried in; SQLite does so by itself."""
    if connection.dialect.name == "postgresql":
        from gatekeeper.history.postgres import count_on  # noqa: PLC0415 -- loads the driver

        for table in (verdicts, sheets):
            count_on(connection, table.name, _highest(connection, table))
