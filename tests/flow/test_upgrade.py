"""A site of each earlier version is taken over as it is, and the way back is the one that is told.

The sites lie in tests/stored; store.py there tells how each was made and when one is added.
"""

from __future__ import annotations

import json
import shutil
import sqlite3
import tarfile
from pathlib import Path

import pytest

from gatekeeper import __version__, verdict_document
from gatekeeper.clock import SystemClock
from gatekeeper.history.database import Database
from gatekeeper.history.interface import Wait
from gatekeeper.history.migrations import CURRENT, Goal
from gatekeeper.history.schema import VERSION
from gatekeeper.history.sqlite_store import SqliteStore
from gatekeeper.site import read_site

STORED = Path(__file__).parents[1] / "stored"
ARCHIVES = sorted(path.name for path in STORED.glob("*.tar.gz"))
SEALED = ("state", "job", "workflow", "customer", "was", "arrived", "ticket", "folder")


@pytest.fixture(params=ARCHIVES)
def stored(request, room, tmp_path):
    """A room whose site is one that an earlier version has left, and what that version said."""
    with tarfile.open(STORED / request.param) as archive:
        # Python 3.11.2, which Debian 12 has, knows no filter; from 3.14 on this one is the rule.
        archive.extraction_filter = getattr(tarfile, "data_filter", None)
        archive.extractall(tmp_path / "stored")  # noqa: S202 -- our own archive
    room.root = tmp_path / "stored/site"
    room.told = json.loads((tmp_path / "stored/told.json").read_text())
    room.call = _with_site(room, room.call)
    return room


def _with_site(room, call):
    return lambda *words, expect=0: call("--site", str(room.root), *words, expect=expect)


def sweep(stored, expect=0):
    return stored.call("sweep", "--settle", "0", expect=expect)


def listed(stored):
    return {line["job"]: line for line in json.loads(stored.call("jobs", "--json").stdout)}


def sealed(lines):
    """Return what was said of jobs that are filed; those in work have no verdict yet."""
    return {line["job"]: [line[key] for key in SEALED] for line in lines if "filed" in line}


def states(stored):
    return {job: line["state"] for job, line in listed(stored).items()}


def database_of(stored):
    return stored.root / "state/history.sqlite"


def rows(file, question):
    database = sqlite3.connect(file)
    try:
        return database.execute(question).fetchall()
    finally:
        database.close()


def without_history(stored):
    for path in (stored.root / "state").glob("history.sqlite*"):
        path.unlink()


def test_a_site_is_stored_of_every_version_of_a_format():
    wanted = f"{__version__}-verdict-{verdict_document.VERSION}-history-{VERSION}.tar.gz"
    assert wanted in ARCHIVES, "a version was raised: run python tests/stored/store.py once"
    assert [f"verdict-{number}-" in " ".join(ARCHIVES) for number in (1, 2)] == [True, True]


def test_its_rules_and_site_files_are_read_as_they_are(stored):
    stored.call("rules", "check")
    stored.call("rules", "show", "--workflow", "liquid-plate", "--customer", "Quillmark Cartons")
    stored.call("meters", "due", expect=None)


def test_its_history_answers_as_the_older_program_did(stored):
    chain = json.loads(stored.call("history", "verify", "--json").stdout)
    assert chain == stored.told["chain"]
    assert sealed(listed(stored).values()) == sealed(stored.told["jobs"])
    assert "the solid is too thin" in stored.call("why", "1044").stdout
    assert "concession" in stored.call("why", "1049").stdout
    assert "P1" in stored.call("trend", "--all", expect=None).stdout
    found = json.loads(stored.call("curve", "list", "--json").stdout)
    assert [curve["name"] for curve in found] == [curve["name"] for curve in stored.told["curves"]]


def test_its_history_is_brought_up_to_date_and_its_chain_still_holds(stored, sheet):
    stored.drop("new.csv", sheet(job="new"))
    sweep(stored)
    chain = json.loads(stored.call("history", "verify", "--json").stdout)
    assert (chain["broken"], chain["events"] > stored.told["chain"]["events"]) == (None, True)
    stored.call("history", "verify", "--head", stored.told["chain"]["head"])
    assert rows(database_of(stored), "SELECT max(version) FROM schema_versions") == [(VERSION,)]


def test_what_the_older_program_was_killed_over_is_carried_on_once(stored):
    (bench,) = (stored.root / "held/.gatekeeper/gate-1").glob("*/job/verdict.json")
    decided = bench.read_bytes()
    sweep(stored)
    assert states(stored).items() >= {"1043": "approved", "1045": "held"}.items()
    # What was decided by the older program is filed as it stands, not judged again.
    assert (stored.folder("1045") / "verdict.json").read_bytes() == decided
    assert stored.verdict("1043")["version"] == verdict_document.VERSION
    assert stored.work_in_progress() == _spellings(stored)


def _spellings(stored):
    """Return what stays in a folder of work: how a job's name was spelled first."""
    return [
        path for path in stored.work_in_progress() if path.startswith("held/.gatekeeper/spellings")
    ]


def test_its_job_folders_alone_give_the_same_history(stored):
    without_history(stored)
    said = stored.call("history", "rebuild").stdout
    assert f"{len(list(stored.root.glob('*/*/*/verdict*.json')))} verdicts found" in said
    assert sealed(listed(stored).values()) == sealed(stored.told["jobs"])


def test_its_held_job_is_approved_when_a_better_sheet_comes(stored, sheet):
    better = sheet(job="1044", customer="Pennyroyal Preserves", separation="green")
    stored.drop("1044.csv", better)
    sweep(stored)
    assert stored.decision("1044") == "approved"
    assert stored.verdict("1044")["was"] == "held"


def test_its_second_separation_completes_the_job(stored, sheet):
    assert stored.verdict("1070")["decision"] == "held"
    red = sheet(job="1070", customer="Pennyroyal Preserves", separation="red")
    stored.drop("1070-red.csv", red)
    sweep(stored)
    assert len(stored.verdict("1070")["sheets"]) == 2


def test_doctor_finds_nothing_broken_in_it(stored):
    sweep(stored)
    said = stored.call("doctor", "--deep", "--json", expect=None).stdout
    assert [line for line in json.loads(said) if line["state"] == "broken"] == []


def test_init_once_more_brings_the_schemas_up_to_date_and_leaves_the_rest(stored):
    files = [path for path in stored.root.rglob("*.yaml") if path.is_file()]
    before = {path: path.read_bytes() for path in files}
    schema = stored.root / "schemas/site.schema.json"
    schema.write_text("{}")
    stored.call("init", str(stored.root))
    assert "time_zone" in schema.read_text()
    assert {path: path.read_bytes() for path in files} == before
    said = stored.call("init", str(stored.root)).stdout
    assert "is complete" in said


def test_a_key_of_a_newer_version_in_site_yaml_is_named_with_its_line(stored):
    settings = stored.root / "site.yaml"
    lines = settings.read_text().splitlines()
    settings.write_text("\n".join([*lines, "lamp_log: yes", ""]))
    said = stored.call("rules", "check", expect=None)
    assert f"site.yaml:{len(lines) + 1}" in said.stdout + said.stderr
    assert "lamp_log" in said.stdout + said.stderr
    assert "Traceback" not in said.stderr


def test_the_way_back_from_a_newer_version_is_the_one_that_the_guide_tells(stored, sheet):
    database = database_of(stored)
    copy = stored.root / "state/before-update.sqlite"
    stored.call("history", "backup", str(copy))
    newer = sqlite3.connect(database)
    row = (VERSION + 1, "to come", "2030-01-01 00:00:00.000000", "gatekeeper 9")
    newer.execute("INSERT INTO schema_versions VALUES (?, ?, ?, ?)", row)
    newer.commit()
    newer.close()

    # The older program leaves the newer database alone, and judges without it.
    before = rows(database, "SELECT * FROM events"), rows(database, "SELECT * FROM verdicts")
    stored.drop("new.csv", sheet(job="new"))
    said = sweep(stored, expect=1).stderr
    assert f"the history is of version {VERSION + 1}" in said
    assert stored.decision("new") == "approved"
    after = rows(database, "SELECT * FROM events"), rows(database, "SELECT * FROM verdicts")
    assert after == before

    without_history(stored)
    copy.rename(database)
    stored.call("history", "rebuild")
    assert states(stored)["new"] == "approved"
    assert "unbroken" in stored.call("history", "verify").stdout


STEP = f"""
import sqlalchemy as sa
from alembic import op

revision, down_revision = "{VERSION + 1}", "{VERSION}"


def upgrade():
    op.add_column("verdicts", sa.Column("shift", sa.Text()))
"""


def test_its_history_is_copied_and_that_is_said_before_a_later_program_changes_it(
    stored, tmp_path, caplog
):
    caplog.set_level("INFO")
    scripts = tmp_path / "steps"
    shutil.copytree(CURRENT.scripts, scripts, ignore=shutil.ignore_patterns("__pycache__"))
    (scripts / f"versions/v{VERSION + 1}_shift.py").write_text(STEP)
    file = database_of(stored)
    before = rows(file, "SELECT * FROM verdicts")
    store = SqliteStore(file, lock_s=1, writable=True, goal=Goal(VERSION + 1, scripts))
    site = read_site(stored.root).mark
    later = Database(store, site=site, clock=SystemClock(), program="later", wait=Wait())
    done = later.upgraded()
    later.close()

    (copy,) = file.parent.glob(f"history.sqlite.version-{VERSION}-*")
    assert (done.found, done.version, done.copy) == (VERSION, VERSION + 1, copy.name)
    assert sum(copy.name in line for line in caplog.messages) == 1
    assert rows(copy, "SELECT * FROM verdicts") == before
    assert rows(file, "SELECT * FROM verdicts") == [(*row, None) for row in before]
    said = stored.call("jobs", expect=None).stderr
    assert f"the history is of version {VERSION + 1}" in said

    # The way back: the copy in its place, and this program.
    for ending in ("-wal", "-shm"):
        file.with_name(file.name + ending).unlink(missing_ok=True)
    copy.replace(file)
    assert sealed(listed(stored).values()) == sealed(stored.told["jobs"])
