"""A plate room that does not exist, and its history in a folder of the test's own."""

from __future__ import annotations

import importlib
import sqlite3
from contextlib import closing
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta

import pytest
from sqlalchemy import make_url

from gatekeeper.history import FiledSheet, FiledVerdict, Reading, Wait, open_history, read_history
from gatekeeper.history.database import Database
from gatekeeper.history.migrations import CURRENT
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


PATIENCE = Wait(lock_s=0.02, pause_s=0)


@dataclass
class Room:
    """A site, with its history in a database of the test's own; see the two kinds below."""

    folder: object
    clock: ScriptedClock
    url: str
    opened: list = field(default_factory=list)
    patience: Wait = PATIENCE

    def open(self, site="north", wait=None, **more):
        history = open_history(
            self.url,
            base=self.folder,
            site=site,
            clock=self.clock,
            program=PROGRAM,
            wait=wait or self.patience,
            **more,
        )
        self.opened.append(history)
        return history

    def look(self, site="north"):
        history = read_history(
            self.url, base=self.folder, site=site, clock=self.clock, wait=self.patience
        )
        self.opened.append(history)
        return history

    def _floor(self, store):
        database = Database(
            store, site="north", clock=self.clock, program=PROGRAM, wait=self.patience
        )
        self.opened.append(database)
        return database

    def close(self):
        for history in self.opened:
            history.close()

    def dump(self):
        """Return every row of every table."""
        return {name: self.sql(f'SELECT * FROM "{name}" ORDER BY 1, 2') for name in self.tables()}  # noqa: S608


@dataclass
class FileRoom(Room):
    """The history is an SQLite file in the state folder."""

    name: str = "history.sqlite"
    kind = "sqlite"

    @property
    def file(self):
        return self.folder / self.name

    def database(self, *, mounts=None, writable=True, goal=CURRENT, **extra):
        """Return the history's own floor, with the table of mounts that the test says."""
        extra |= {"mounts": mounts} if mounts else {}
        return self._floor(
            SqliteStore(self.file, lock_s=0.02, writable=writable, goal=goal, **extra)
        )

    def tables(self, file=None):
        names = "SELECT name FROM sqlite_master WHERE type='table' ORDER BY 1"
        return [name for (name,) in self.sql(names, file=file)]

    def dump(self, file=None):
        return {
            name: self.sql(f'SELECT * FROM "{name}"', file=file)  # noqa: S608
            for name in self.tables(file)
        }

    def sql(self, statement, *values, file=None):
        """Do something to the file behind the program's back."""
        with closing(sqlite3.connect(file or self.file, isolation_level=None)) as connection:
            return connection.execute(statement, values).fetchall()

    def columns(self, table):
        return [row[1] for row in self.sql(f"PRAGMA table_info({table})")]

    def forge(self, *statements):
        """Change the audit chain as somebody would who knows of the triggers."""
        names = [row[0] for row in self.sql("SELECT name FROM sqlite_master WHERE type='trigger'")]
        for name in names:
            self.sql(f"DROP TRIGGER {name}")
        for statement in statements:
            self.sql(statement)


@dataclass
class ServerRoom(Room):
    """The history lies on a PostgreSQL server."""

    server: object = None
    name: str = ""
    kind = "postgresql"

    def database(self, *, writable=True, goal=CURRENT, may_upgrade=False):
        return self._floor(
            importlib.import_module("gatekeeper.history.postgres_store").PostgresStore(
                make_url(self.url),
                password_file=None,
                wait=self.patience,
                writable=writable,
                may_upgrade=may_upgrade,
                goal=goal,
            )
        )

    def tables(self):
        names = "SELECT tablename FROM pg_tables WHERE schemaname = current_schema() ORDER BY 1"
        return [name for (name,) in self.sql(names)]

    def sql(self, statement, *values):
        """Do something to the database behind the program's back."""
        return self.server.sql(statement, *values, place=self.name)

    def columns(self, table):
        return [
            name
            for (name,) in self.sql(
                "SELECT column_name FROM information_schema.columns WHERE table_name = %s"
                " AND table_schema = current_schema()"
                " ORDER BY ordinal_position",
                table,
            )
        ]

    def forge(self, *statements):
        """Change the audit chain as the owner of the tables can."""
        self.sql("ALTER TABLE events DISABLE TRIGGER USER")
        for statement in statements:
            # A replica checks no foreign keys: a forger would not let himself be stopped by one.
            self.sql(f"SET session_replication_role = replica; {statement}")


@pytest.fixture
def file_room(tmp_path_factory):
    """Return a maker of rooms with an SQLite file."""
    made = []

    def make_room():
        folder = tmp_path_factory.mktemp("room")
        made.append(FileRoom(folder, ScriptedClock(), "sqlite:///history.sqlite"))
        return made[-1]

    yield make_room
    for room in made:
        room.close()


@pytest.fixture
def server_room(tmp_path_factory, postgres_server):
    """Return a maker of rooms with a place of their own on the server of this run."""
    made = []

    def make_room():
        name = postgres_server.new_place()
        room = ServerRoom(
            tmp_path_factory.mktemp("room"),
            ScriptedClock(),
            postgres_server.url(name),
            patience=Wait(lock_s=20, pause_s=0),
            server=postgres_server,
            name=name,
        )
        made.append(room)
        return room

    yield make_room
    for room in made:
        room.close()


@pytest.fixture(params=["file_room", "server_room"])
def make_room(request):
    """Every test of the history runs on both; one that is about one of them names it instead."""
    return request.getfixturevalue(request.param)


@pytest.fixture
def clock():
    return ScriptedClock()


@pytest.fixture
def new_room(make_room):
    """Make rooms, one for each example of a property."""
    rooms = []

    def make():
        rooms.append(make_room())
        return rooms[-1]

    yield make
    for room in rooms:
        room.close()


@pytest.fixture
def room(new_room, clock):
    room = new_room()
    room.clock = clock
    return room


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
