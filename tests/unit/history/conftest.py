"""A plate room that does not exist, and its history in a folder of the test's own."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta

import pytest

from gatekeeper.history import FiledSheet, FiledVerdict, Reading, Wait, open_history, read_history
from gatekeeper.history.database import Database
from gatekeeper.history.sqlite_store import SqliteStore
from gatekeeper.sheet import (
    Bound,
    Moment,
    Negative,
    Number,
    Patch,
    PatchKind,
    Sheet,
    SheetKind,
    Text,
    Trace,
    ZeroedOn,
)
from gatekeeper.verdict import Decision, Finding, JudgedSheet, Outcome, Status, Step, Verdict

PROGRAM = "gatekeeper 0.1.0"


@dataclass
class ScriptedClock:
    """Goes on by a second whenever it is asked for the moment; otherwise as the test says."""

    moment: datetime = datetime(2026, 11, 20, 9, 0, tzinfo=UTC)
    seconds: float = 0.0

    def now(self):
        self.moment += timedelta(seconds=1)
        return self.moment

    def monotonic(self):
        return self.seconds


@dataclass
class Room:
    """The state folder of the site, with the history in it."""

    folder: object
    clock: ScriptedClock
    opened: list = field(default_factory=list)
    name: str = "history.sqlite"

    @property
    def file(self):
        return self.folder / self.name

    def open(self, site="north", wait=None):
        history = open_history(
            f"sqlite:///{self.name}",
            base=self.folder,
            site=site,
            clock=self.clock,
            program=PROGRAM,
            wait=wait or Wait(lock_s=0.02, pause_s=0),
        )
        self.opened.append(history)
        return history

    def database(self, *, mounts=None, writable=True):
        """Return the history's own floor, with the table of mounts that the test says."""
        extra = {"mounts": mounts} if mounts else {}
        store = SqliteStore(self.file, lock_s=0.02, writable=writable, **extra)
        wait = Wait(lock_s=0.02, pause_s=0)
        database = Database(store, site="north", clock=self.clock, program=PROGRAM, wait=wait)
        self.opened.append(database)
        return database

    def look(self):
        history = read_history(
            f"sqlite:///{self.name}",
            base=self.folder,
            site="north",
            clock=self.clock,
            wait=Wait(lock_s=0.02, pause_s=0),
        )
        self.opened.append(history)
        return history

    def close(self):
        for history in self.opened:
            history.close()

    def dump(self, file=None):
        """Return every row of every table."""
        names = self.sql("SELECT name FROM sqlite_master WHERE type='table' ORDER BY 1", file=file)
        return {name: self.sql(f'SELECT * FROM "{name}"', file=file) for (name,) in names}  # noqa: S608

    def sql(self, statement, *values, file=None):
        """Do something to the file behind the program's back."""
        with closing(sqlite3.connect(file or self.file, isolation_level=None)) as connection:
            return connection.execute(statement, values).fetchall()

    def forge(self, *statements):
        """Change the audit chain as somebody would who knows of the triggers."""
        names = [row[0] for row in self.sql("SELECT name FROM sqlite_master WHERE type='trigger'")]
        for name in names:
            self.sql(f"DROP TRIGGER {name}")
        for statement in statements:
            self.sql(statement)


@pytest.fixture
def clock():
    return ScriptedClock()


@pytest.fixture
def new_room(tmp_path_factory):
    """Make rooms, one for each example of a property."""
    rooms = []

    def make_room():
        rooms.append(Room(tmp_path_factory.mktemp("room"), ScriptedClock()))
        return rooms[-1]

    yield make_room
    for room in rooms:
        room.close()


@pytest.fixture
def room(tmp_path, clock):
    room = Room(tmp_path, clock)
    yield room
    room.close()


def number(value, written="", bound=Bound.EXACT):
    return Number(value, written or f"{value}", Trace(line=20, column=3), bound)


NEGATIVE = Negative(
    job=Text("1041"),
    customer=Text("Quillmark Cartons"),
    workflow=Text("liquid-plate"),
    separation=Text("black"),
    printer=Text("P1"),
    film_lot=Text("M5-0317"),
    meter=Text("T-04"),
    measured=Moment(datetime(2026, 11, 20, 9, 5, tzinfo=UTC), "2026-11-20 10:05", has_time=True),
    zeroed_on=ZeroedOn.CLEAR,
    ruling_lpi=number(65.0, "65 lpi"),
    patches=(
        Patch(PatchKind.CLEAR, density=number(0.0), where="left", trace=Trace(17)),
        Patch(PatchKind.SOLID, density=number(2.91, bound=Bound.AT_LEAST), where="left"),
        Patch(PatchKind.TINT, nominal=number(50.0), dot_percent=number(50.8), where="centre"),
        Patch(PatchKind.LENGTH, nominal=number(600.0), length_mm=number(598.93), where="around"),
    ),
)
SHEET = Sheet(SheetKind.NEGATIVE, (NEGATIVE,), read_as="typed sheet (CSV)")
READINGS = (
    Reading(0, NEGATIVE.patches[0], net_density=0.0),
    Reading(0, NEGATIVE.patches[1], net_density=2.91),
    Reading(0, NEGATIVE.patches[2], dot_percent=50.8),
    Reading(0, NEGATIVE.patches[3]),
)
FINDINGS = (
    Finding("solid_density", "solid_density.min", Outcome.PASS, "dense enough", "black",
            measured=2.91, limit=2.7, where="left", off=-0.21,
            origin="workflows/liquid-plate.yaml:5"),
    Finding("film", "film.stocks", Outcome.PASS, "an allowed stock", measured="matte-5mil",
            limit="matte-5mil, matte-8mil"),
    Finding("tints", "tints.50.tolerance", Outcome.NOTE, "two readings", trace="line 20",
            unit="%", do=(Step(3, "Clean the film.", "Gloves; see the safety data sheet."),)),
)  # fmt: skip
TOO_THIN = Finding(
    "solid_density", "solid_density.min", Outcome.HOLD, "the solid lets light through"
)


def verdict(ticket="t001", **changes):
    decision = changes.pop("decision", Decision.APPROVED)
    values = {
        "ticket": ticket,
        "job": "1041",
        "workflow": "liquid-plate",
        "customer": "Quillmark Cartons",
        "decision": decision,
        "rules_fingerprint": "f" * 64,
        "arrived": "2026-11-20T09:00:00+00:00",
        "program": PROGRAM,
        "findings": FINDINGS if decision is Decision.APPROVED else (TOO_THIN, *FINDINGS),
        "sheets": (sheet(ticket),),
        "companions": ("1041.pdf",),
        "status": (Status("meter", "T-04 is due in 20 days", "black"),),
        "notes": ("the ending is .txt, the content CSV",),
        "rules_text": "workflow: liquid-plate\n",
    }
    return Verdict(**{**values, **changes})


def sheet(ticket="t001", name="1041.csv", **changes):
    values = {
        "sha256": f"{ticket}-{name}".encode().hex().ljust(64, "0"),
        "separations": ("black",),
        "read_as": "typed sheet (CSV)",
    }
    return JudgedSheet(name=name, ticket=ticket, **{**values, **changes})


def filed(ticket="t001", *, site="north", filed_at=None, folder=None, sheets=None, **changes):
    one = verdict(ticket, **changes)
    moment = filed_at or datetime(2026, 11, 20, 9, 10, tzinfo=UTC) + timedelta(
        seconds=int("".join(filter(str.isdigit, ticket)) or 0)
    )
    if sheets is None:
        sheets = (FiledSheet(one.sheets[0].name, SHEET, READINGS),) if one.sheets else ()
    folder = folder or f"{one.decision}/{one.workflow}/{one.job}"
    return FiledVerdict(site, one, folder, moment, sheets)


@pytest.fixture
def make():
    """Everything that makes a filed verdict."""

    class Make:
        filed = staticmethod(filed)
        verdict = staticmethod(verdict)
        sheet = staticmethod(sheet)
        number = staticmethod(number)
        FINDINGS, NEGATIVE, SHEET, READINGS = FINDINGS, NEGATIVE, SHEET, READINGS

    return Make
