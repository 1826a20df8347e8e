"""A site whose history holds as many jobs as are asked for: two that the gate judged, copied.

Every row is one that the program itself has written, with another number, name, digest and moment,
and the audit chain is whole. The copies have no job folders: what is measured is the history.
"""

from __future__ import annotations

import hashlib
from collections import defaultdict
from dataclasses import asdict, dataclass, replace
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

from sqlalchemy import func, insert, literal, select

from gatekeeper.clock import SystemClock
from gatekeeper.filing.disk import Disk
from gatekeeper.history import chain
from gatekeeper.history.bulk import insert_many
from gatekeeper.history.canonical import canonical, utc_text
from gatekeeper.history.carrying import renumber
from gatekeeper.history.past import Event
from gatekeeper.history.rows import sealed_facts
from gatekeeper.history.schema import (
    events,
    findings,
    judged,
    negatives,
    readings,
    sheets,
    tallies,
    verdicts,
)
from gatekeeper.layout import lay_out
from gatekeeper.room import read_book
from gatekeeper.rounds.sweeping import sweep_once
from gatekeeper.site import read_site
from gatekeeper.workshop import rounds_of

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator
    from pathlib import Path

    from sqlalchemy import Connection

    from gatekeeper.history.database import Database
    from gatekeeper.site import Site

HEAD = {
    "customer": "Quillmark Cartons",
    "workflow": "liquid-plate",
    "separation": "black",
    "printer": "P1",
    "film lot": "M5-0317",
    "meter": "T-04",
    "operator": "JV",
    "printed": "2026-11-20 09:40",  # while the example site's film is fresh
    "measured": "2026-11-20 10:05",
    "zeroed on": "clear",
    "ruling": "65 lpi",
    "resolution": "1440 dpi",
    "cleaned": "yes",
}
RECENT = timedelta(days=90)
RECENT_JOBS = 400
"""So many lie in the last three months, whatever lies before: a look at them costs the same."""
EARLIER = timedelta(days=3650)
HELD_EVERY = 4
"""Far too many; but the shorter history shall fill the lists of held jobs too."""
AT_ONCE = 20_000


def lay_out_with_two_jobs(root: Path, history: str = "") -> Site:
    """Lay out a site and let the gate judge two sheets: one is approved, one is held."""
    site, _ = lay_out(root, Disk())
    if history:
        settings = site.root / "site.yaml"
        settings.write_text(f"{settings.read_text()}\nhistory: {history}\n")
        site = read_site(site.root)
    for name, solid in (("sound", "2.90"), ("weak", "2.10")):
        (site.drop / "liquid-plate" / f"{name}.csv").write_text(sheet(name, solid))
    book = read_book(site)
    rounds = rounds_of(site, SystemClock(), lambda: book, settle_s=0.0)
    sweep_once(rounds)
    rounds.ledger.history.close()
    return site


def sheet(job: str, *solids: str, dot: str = "50.8") -> str:
    """Return a typed sheet; one solid stands for all three places."""
    left, centre, right = solids if len(solids) > 1 else solids * 3
    rows = ["clear,,0.00,,,left"]
    rows += [f"solid,,{left},,,left", f"solid,,{centre},,,centre", f"solid,,{right},,,right"]
    rows += [f"tint,50,,{dot},,centre"]
    lines = [f"{name},{value}" for name, value in {"job": job, **HEAD}.items()]
    return "\n".join([*lines, "", "patch,nominal,density,dot,length,where", *rows, ""])


def fill(database: Database, jobs: int, told: Callable[[int], None]) -> None:
    """Copy the two jobs until there are so many.

    Parameters
    ----------
    told : called now and then with how many there are
    """
    site = database.site
    number = 2
    while number < jobs:
        numbers = range(number + 1, min(number + AT_ONCE, jobs) + 1)
        with database.writing() as connection:
            if connection.dialect.name == "sqlite":
                connection.exec_driver_sql("PRAGMA cache_size = -400000")  # kB, for this alone
            _copy(connection, site, _moments(numbers, jobs))
        number = numbers[-1]
        told(number)
    with database.writing() as connection:
        renumber(connection)
        for decision in ("approved", "held"):
            count = select(func.count()).where(verdicts.c.newest, verdicts.c.decision == decision)
            total = connection.scalar(count)
            connection.execute(
                tallies.update().where(tallies.c.decision == decision).values(jobs=total)
            )


def _moments(numbers: range, jobs: int) -> Iterator[tuple[int, datetime]]:
    """Yield each number with its moment, evenly over the years and then the months."""
    now = datetime.now(UTC)
    earlier = max(1, jobs - RECENT_JOBS)
    for number in numbers:
        if number <= earlier:
            yield number, now - RECENT - EARLIER * (1 - number / earlier)
        else:
            yield number, now - RECENT * (jobs - number + 1) / (RECENT_JOBS + 1)


@dataclass
class _Patterns:
    """The rows of the two jobs that the gate judged, by their decision."""

    verdict: dict[str, dict[str, object]]
    sheet: dict[str, dict[str, object]]
    negative: dict[str, dict[str, object]]


def _patterns(connection: Connection) -> _Patterns:
    first_two = select(verdicts).order_by(verdicts.c.id).limit(2)
    found = {row.decision: row._asdict() for row in connection.execute(first_two)}
    patterns = _Patterns(found, {}, {})
    for decision, row in found.items():
        own = select(judged.c.sheet_id).where(judged.c.verdict_id == row["id"])
        number = connection.scalar(own)
        for table, key, kept in (
            (sheets, sheets.c.id, patterns.sheet),
            (negatives, negatives.c.sheet_id, patterns.negative),
        ):
            kept[decision] = connection.execute(select(table).where(key == number)).one()._asdict()
    return patterns


def _copy(connection: Connection, site: str, moments: Iterable[tuple[int, datetime]]) -> None:
    patterns = _patterns(connection)
    last = chain.last(connection, site)
    first = connection.scalar(select(func.max(verdicts.c.id))) + 1
    first_sheet = connection.scalar(select(func.max(sheets.c.id))) + 1
    rows = defaultdict(list)
    for offset, (number, moment) in enumerate(moments):
        decision = "approved" if number % HELD_EVERY else "held"
        new = _new_rows(patterns, decision, number, moment, first + offset, first_sheet + offset)
        last = _event(site, last, new[verdicts], new[sheets]["sha256"], moment)
        new[verdicts]["sequence"] = last.sequence
        rows[events].append({"site": site, **asdict(last)})
        for table, row in new.items():
            rows[table].append(row)
    is_text = connection.dialect.name == "sqlite"
    for table in (events, verdicts, sheets, negatives, judged):
        insert_many(connection, table, [_plain(row, is_text) for row in rows[table]])
    for decision in patterns.verdict:
        is_new = (verdicts.c.id >= first, verdicts.c.decision == decision)
        _spread(connection, findings, "verdict_id", patterns.verdict[decision]["id"], is_new)
        _spread(connection, readings, "sheet_id", patterns.sheet[decision]["id"], is_new)


def _new_rows(patterns, decision, number, moment, verdict_id, sheet_id):
    ticket, job = f"{moment:%Y%m%dT%H%M%S.%f}Z-{number:08x}", f"J{number:07}"
    digest = hashlib.sha256(ticket.encode()).hexdigest()
    home = f"liquid-plate/{job}"
    common = {"ticket": ticket, "job": job, "job_key": job.casefold(), "home": home}
    when = {"arrived_at": moment, "filed_at": moment, "folder": f"{decision}/{home}"}
    paper = {"id": sheet_id, "sha256": digest, "name": f"{job}.csv", "stem": job}
    film = {"sheet_id": sheet_id, "digits": digest[::-1], "sheet_ticket": ticket}
    return {
        verdicts: patterns.verdict[decision] | common | when | {"id": verdict_id},
        sheets: patterns.sheet[decision] | common | paper,
        negatives: patterns.negative[decision] | film | {"measured_at": moment},
        judged: {
            "verdict_id": verdict_id,
            "position": 0,
            "site": patterns.verdict[decision]["site"],
            "sheet_id": sheet_id,
            "current": True,
        },
    }


def _event(site, before, row, digest, moment):
    document = {**sealed_facts(row), "sheets": [[f"{row['job']}.csv", digest, True]]}
    event = Event(before.sequence + 1, utc_text(moment), "verdict", row["job"],
                  canonical(document), before.sha256, "")  # fmt: skip
    return replace(event, sha256=chain.seal(site, event))


def _plain(row, is_text):
    if not is_text:
        return row
    return {
        name: f"{value:%Y-%m-%d %H:%M:%S.%f}" if isinstance(value, datetime) else value
        for name, value in row.items()
    }


def _spread(connection, table, key, pattern, is_new):
    """Copy the rows of a pattern to every new verdict of its decision, by the database alone."""
    target = verdicts.c.id if key == "verdict_id" else judged.c.sheet_id
    columns = [target if column.name == key else column for column in table.columns]
    source = select(*columns).select_from(table).join(verdicts, literal(value=True))
    if key == "sheet_id":
        source = source.join(judged, judged.c.verdict_id == verdicts.c.id)
    names = [column.name for column in table.columns]
    chosen = source.where(table.c[key] == pattern, *is_new)
    connection.execute(insert(table).from_select(names, chosen))
