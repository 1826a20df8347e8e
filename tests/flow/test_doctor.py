"""Faults that an installation can have, planted one by one in a real site: doctor names each."""

from __future__ import annotations

import json
import os
import re
import shutil
import sqlite3
import subprocess
import sys
import time
from contextlib import closing
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

import pytest

from gatekeeper.doctor import Circumstances, State, examine
from gatekeeper.history import chain
from gatekeeper.history.past import Event
from gatekeeper.screens.present import Present, write_present
from gatekeeper.single import only_one
from gatekeeper.site import read_site

if TYPE_CHECKING:
    from pathlib import Path

    from tests.flow.conftest import Room

WITHOUT_PRIVILEGE = ["setpriv", "--inh-caps=-all", "--bounding-set=-dac_override,-dac_read_search"]
"""Root may write anywhere; a service may not. Of root only the name is left by this."""


class At:
    """A clock that stands."""

    def __init__(self, moment):
        self.moment = moment

    def now(self):
        return self.moment

    def monotonic(self):
        return 0.0


@dataclass
class Here:
    """A site and the machine that it is on, both in good order."""

    room: Room
    machine: dict

    @property
    def root(self):
        return self.room.root

    def look(self, **changes):
        return examine(read_site(self.root), Circumstances(**(self.machine | changes)))


@pytest.fixture
def here(room, sheet, tmp_path, monkeypatch):
    monkeypatch.setenv("TZ", "Europe/London")
    time.tzset()
    inotify = tmp_path / "inotify"
    inotify.mkdir()
    (inotify / "max_user_watches").write_text("8192\n")
    (inotify / "max_user_instances").write_text("128\n")
    mounts = tmp_path / "mounts"
    mounts.write_text("/dev/sda1 / ext4 rw 0 0\n")
    room.drop("1.csv", sheet(job="1"))
    room.sweep()
    today = f"{datetime.now(UTC):%Y-%m-%d}"
    for path in (room.root / "register").iterdir():
        text = re.sub(r"expires: [-0-9]+", "expires: 2199-01-01", path.read_text())
        path.write_text(re.sub(r"\b20[0-9]{2}-[0-9]{2}-[0-9]{2}", today, text))
    yield Here(room, {"inotify": inotify, "mounts": mounts, "filling_bytes": 1})
    monkeypatch.undo()
    time.tzset()


def find(found, subject, *words):
    """Return the one answer on a subject that says all these words; it must say what to do."""
    fitting = [
        answer
        for answer in found
        if answer.subject == subject and all(word in answer.says for word in words)
    ]
    assert len(fitting) == 1, "\n".join(map(str, found))
    assert fitting[0].state is not State.OK
    assert fitting[0].do
    return fitting[0]


# -- planting -------------------------------------------------------------------------------------


def rewrite(path: Path, old: str, new: str) -> None:
    text = path.read_text()
    assert old in text
    path.write_text(text.replace(old, new, 1))


def marker_missing(here):
    (here.root / "held/.gatekeeper/site-id").unlink()


def marker_of_another_site(here):
    (here.root / "approved/.gatekeeper/site-id").write_text("annex-12345678\n")


def rules_broken(here):
    rewrite(here.root / "workflows/liquid-plate.yaml", "min: 2.70", "min: 2,70")


def register_broken(here):
    rewrite(here.root / "register/meters.yaml", "calibrated:", "calibratd:")


def no_workflow(here):
    for name in ("workflows", "customers"):
        shutil.rmtree(here.root / name)
    register = here.root / "register/curves.yaml"
    register.unlink()


def history_no_database(here):
    (here.root / "state/history.sqlite").write_bytes(b"no database " * 500)


def history_newer(here):
    with sqlite3.connect(here.root / "state/history.sqlite") as database:
        row = (99, "to come", "2030-01-01 00:00:00.000000", "gatekeeper 9")
        database.execute("INSERT INTO schema_versions VALUES (?, ?, ?, ?)", row)
    database.close()


def end_of_chain_altered(here):
    with sqlite3.connect(here.root / "state/history.sqlite") as database:
        database.execute("DROP TRIGGER events_refuse_update")
        database.execute(
            "UPDATE events SET subject = '9999' WHERE sequence = (SELECT max(sequence) FROM events)"
        )
    database.close()


def clock_behind(here):
    here.machine["clock"] = At(datetime(1999, 1, 1, tzinfo=UTC))


def clock_before_the_history(here):
    here.machine["clock"] = At(datetime.now(UTC) - timedelta(hours=2))


def zone_of_another_country(here):
    rewrite(here.root / "site.yaml", "time_zone: Europe/London", "time_zone: America/Denver")


def disk_full(here):
    here.machine["full_bytes"] = 10**18


def disk_filling(here):
    here.machine["filling_bytes"] = 10**18


def few_watches(here):
    (here.machine["inotify"] / "max_user_watches").write_text("3\n")


def share_looked_at_seldom(here):
    here.machine["mounts"].write_text(
        f"/dev/sda1 / ext4 rw 0 0\n//nas/plates {here.root}/drop cifs rw 0 0\n"
    )
    rewrite(here.root / "site.yaml", "rescan_s: 1", "rescan_s: 600")


def state_on_a_share(here):
    here.machine["mounts"].write_text(f"nas:/plates {here.root}/state nfs4 rw 0 0\n")


def meter_overdue(here):
    rewrite(here.root / "register/meters.yaml", "calibrated: 2026-", "calibrated: 2024-")


def folder_of_no_workflow(here):
    (here.root / "drop/liquid-plates").mkdir()


def transfer_cut_off(here):
    path = here.room.drop("1041.csv.part", "job,10")
    two_days_ago = time.time() - 2 * 86_400
    os.utime(path, (two_days_ago, two_days_ago))


def approved_open_to_all(here):
    (here.root / "approved/liquid-plate").chmod(0o777)


def concessions_open_to_all(here):
    (here.root / "drop/concessions").chmod(0o777)


def verdicts_untold(here):
    (here.root / "state/outbox").mkdir()
    (here.root / "state/outbox/20261124T140000-1").write_text("x")


def backup_missing(here):
    ten_days_ago = time.time() - 10 * 86_400
    os.utime(here.root / ".gatekeeper/site-id", (ten_days_ago, ten_days_ago))


def backup_old(here):
    (here.root / "state/backups").mkdir()
    (here.root / "state/backups/history-2026-01-02.sqlite").write_bytes(b"")


def verdicts_given_up(here):
    (here.root / "state/telling").mkdir()
    (here.root / "state/telling/20261124T140000-1.aside").write_text("{}")


def sheet_waits(here):
    here.room.drop("77.csv", "x")


def told_program_missing(here):
    settings(here, "tell: {command: [/opt/plate-desk/tell]}\n")


def told_program_not_to_be_run(here):
    program = here.root.parent / "tell"
    program.write_text("#!/bin/sh\n")
    program.chmod(0o644)
    settings(here, f"tell: {{command: ['{program}']}}\n")


MAIL = "mail: {server: m.example, sender: a@b.example, recipients: [c@d.example], user: a, %s}\n"


def mail_password_missing(here):
    settings(here, MAIL % "password_file: state/mail-password")


def mail_password_open_to_all(here):
    (here.root / "state/mail-password").write_text("of the room\n")
    (here.root / "state/mail-password").chmod(0o644)
    settings(here, MAIL % "password_file: state/mail-password")


def log_nowhere(here):
    settings(here, "log: {file: no-such-folder/gatekeeper.log}\n")


def lead_who_is_no_user(here):
    settings(here, "leads: [nobody-of-that-name]\n")


def settings(here, more):
    with (here.root / "site.yaml").open("a") as file:
        file.write(more)


PLANTED = [
    (told_program_missing, "tell", "there is no /opt/plate-desk/tell", "correct `tell`"),
    (told_program_not_to_be_run, "tell", "cannot be run by user", "the right to run it"),
    (mail_password_missing, "mail", "there is no", "mode 600"),
    (mail_password_open_to_all, "mail", "others than the daemon's user may read", "chmod 600"),
    (log_nowhere, "log", "the log cannot be written: there is no", "change `log`"),
    (lead_who_is_no_user, "leads", "is no user of this machine", "useradd"),
    (marker_missing, "held", "its marker cannot be read", "mount"),
    (marker_of_another_site, "approved", "annex-12345678", "share"),
    (rules_broken, "rules", '"2,70" is not a number', "point: 2.70"),
    (register_broken, "rules", 'the key "calibratd"', "write calibrated"),
    (no_workflow, "rules", "no workflow is defined", "workflows/"),
    (history_no_database, "history", "damaged", "rebuild"),
    (history_newer, "history", "version 99", "run the newer program"),
    (end_of_chain_altered, "audit chain", "last two events", "ask who"),
    (clock_behind, "clock", "1999-01-01", "timedatectl"),
    (clock_before_the_history, "clock", "newest entry", "set the clock"),
    (zone_of_another_country, "time zone", "America/Denver", "time_zone in site.yaml"),
    (disk_full, "space", "nothing new is taken in", "make room"),
    (disk_filling, "space", "filling", "make room"),
    (few_watches, "inotify", "max_user_watches is 3", "sysctl fs.inotify.max_user_watches="),
    (share_looked_at_seldom, "shares", "(cifs)", "rescan_s"),
    (state_on_a_share, "state", "(nfs4)", "local disk"),
    (meter_overdue, "due", "meter ", "calibration"),
    (folder_of_no_workflow, "drop", '"liquid-plates"', "nearest workflow is liquid-plate"),
    (transfer_cut_off, "litter", "1041.csv.part", "send it again"),
    (approved_open_to_all, "who may write", "approved/liquid-plate", "chmod"),
    (concessions_open_to_all, "who may write", "drop/concessions", "chmod"),
    (verdicts_untold, "history", "1 verdict", "as soon as"),
    (backup_missing, "backup", "no copy of the history", "gatekeeper history backup"),
    (backup_old, "backup", "2026-01-02", "journalctl"),
    (verdicts_given_up, "telling", "1 verdict given up", "state/telling/"),
    (sheet_waits, "waiting", "77", "start it"),
]


@pytest.mark.parametrize(
    ("plant", "subject", "says", "do"), PLANTED, ids=[entry[0].__name__ for entry in PLANTED]
)
def test_a_planted_fault_is_named_with_what_to_do(here, plant, subject, says, do):
    before = here.look()
    assert not [entry for entry in before if entry.subject == subject and says in entry.says]
    plant(here)
    fault = find(here.look(), subject, says)
    assert do in fault.do


def test_faults_planted_together_are_all_named(here):
    together = {
        marker_missing, rules_broken, register_broken, history_no_database, zone_of_another_country,
        disk_full, few_watches, share_looked_at_seldom, transfer_cut_off, concessions_open_to_all,
        verdicts_untold,
    }  # fmt: skip
    planted = [entry for entry in PLANTED if entry[0] in together]
    for plant, *_ in planted:
        plant(here)
    found = here.look()
    for _, subject, says, do in planted:
        assert do in find(found, subject, says).do


def test_a_site_in_order_gets_no_line_but_that_nothing_runs(here):
    wrong = [answer for answer in here.look() if answer.state is not State.OK]
    assert [answer.subject for answer in wrong] == ["daemon"]


# -- the daemon -----------------------------------------------------------------------------------


def test_a_daemon_that_writes_no_more_is_called_stuck(here):
    state = here.root / "state"
    with only_one(state, "gate-1"):
        write_present(state, Present("2026-11-24T13:00:00+00:00", os.getpid(), "gatekeeper 0.1.0"))
        long_ago = time.time() - 3600
        os.utime(state / "now.json", (long_ago, long_ago))
        fault = find(here.look(), "daemon", "NO WORD FROM THE GATE")
        assert "journalctl" in fault.do
        os.utime(state / "now.json", (time.time(), time.time()))
        assert all(entry.state is State.OK for entry in here.look())


def test_a_daemon_of_another_version_is_to_be_restarted(here):
    state = here.root / "state"
    with only_one(state, "gate-1"):
        write_present(state, Present("2026-11-24T14:00:00+00:00", os.getpid(), "gatekeeper 0.0.9"))
        fault = find(here.look(), "version", "gatekeeper 0.0.9 is at work")
    assert "restart" in fault.do


def test_what_the_daemon_at_work_says_is_passed_on(here, wait_for):
    now = here.root / "state/now.json"
    with here.room.daemon():
        (here.root / "held").rename(here.root / "away")
        (here.root / "held").mkdir()
        wait_for(lambda: json.loads(now.read_bytes())["alarms"])
        found = json.loads(
            here.room.call("doctor", "--json", "--site", str(here.root), expect=1).stdout
        )
        (here.root / "held").rmdir()
        (here.root / "away").rename(here.root / "held")
    told = [entry for entry in found if entry["subject"] == "alarm"]
    assert [entry["state"] for entry in told] == ["broken"]
    assert told[0]["do"]
    assert {"state": "ok", "subject": "daemon"}.items() <= next(
        entry for entry in found if entry["subject"] == "daemon"
    ).items()


# -- the history in depth -------------------------------------------------------------------------


def test_a_change_deep_in_the_history_is_found_only_when_it_is_asked_for(here, sheet):
    for job in ("2", "3"):
        here.room.drop(f"{job}.csv", sheet(job=job))
    here.room.sweep()
    with sqlite3.connect(here.root / "state/history.sqlite") as database:
        database.execute("DROP TRIGGER events_refuse_update")
        database.execute("UPDATE events SET subject = '9999' WHERE sequence = 2")
    database.close()
    cursory = next(entry for entry in here.look() if entry.subject == "audit chain")
    assert (cursory.state, "--deep" in cursory.says) == (State.OK, True)
    deep = find(here.look(is_deep=True), "audit chain", "event 2 was altered")
    assert "ask who" in deep.do


def test_looking_changes_nothing(here):

    def everything():
        return {
            path: path.stat().st_mtime_ns
            for path in here.root.rglob("*")
            # SQLite makes and removes two files of its own for a reader.
            if path.name != "state" and not path.name.endswith(("-shm", "-wal"))
        }

    before = everything()
    here.look(is_deep=True)
    assert everything() == before


# -- without the power to write anywhere ----------------------------------------------------------


def plainly(here, *words, expect):
    """Run a command as a user who may write only where modes allow it."""
    prefix = []
    if os.geteuid() == 0:
        if not shutil.which("setpriv"):
            pytest.skip("root may write anywhere, and setpriv (util-linux) is not there")
        prefix = WITHOUT_PRIVILEGE
    done = subprocess.run(
        [*prefix, sys.executable, "-m", "gatekeeper", *words, "--site", str(here.root)],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == expect, done.stdout + done.stderr
    return done


@pytest.mark.parametrize(
    "closed",
    [
        {"held/liquid-plate": 0o555, "approved/stencil": 0o555, "drop/liquid-plate": 0o555},
        {"held": 0o555, "approved/liquid-plate/1": 0o555, "state/history.sqlite": 0o444},
        {"drop": 0o555, "state/gate-1.lock": 0o444, "workflows/liquid-plate.yaml": 0o000},
        {"drop/liquid-plate/.gatekeeper": 0o555, "state": 0o555, "register": 0o000},
    ],
    ids=", ".join,
)
def test_a_folder_that_the_gate_may_not_use_is_broken(here, closed):
    before = {name: (here.root / name).stat().st_mode & 0o7777 for name in closed}
    for name, mode in closed.items():
        (here.root / name).chmod(mode)
    try:
        done = plainly(here, "doctor", "--json", expect=1)
    finally:
        for name, mode in before.items():
            (here.root / name).chmod(mode)
    told = [entry for entry in json.loads(done.stdout) if " by user " in entry["says"]]
    assert len(told) == len(closed), done.stdout
    assert all(entry["state"] == "broken" and entry["do"] for entry in told)
    for name, mode in closed.items():
        is_rules = name.startswith(("workflows", "register"))
        subject = "rule files" if is_rules else name.split("/")[0]
        says = next(entry["says"] for entry in told if entry["subject"] == subject)
        assert says.startswith(f"{here.root / name} cannot be ")
        assert f"mode {mode:o})" in says


def test_a_job_that_may_not_be_filed_waits_and_says_who_lacks_which_right(here, sheet):
    for job in ("2", "3"):
        here.room.drop(f"{job}.csv", sheet(job=job))
    folders = [here.root / state / "liquid-plate" for state in ("approved", "held")]
    for folder in folders:
        folder.chmod(0o555)
    try:
        done = plainly(here, "sweep", "--settle", "0", expect=1)
    finally:
        for folder in folders:
            folder.chmod(0o755)
    assert done.stderr.count("ALARM: Permission denied (EACCES)") == 1  # one fault, two jobs
    assert "give user" in done.stderr
    assert "mode 555" in done.stderr
    here.room.sweep()
    assert here.room.folder("2")


def test_a_command_that_may_not_read_says_who_lacks_which_right(here):
    state = here.root / "state"
    state.chmod(0o000)
    try:
        done = plainly(here, "sweep", expect=2)
    finally:
        state.chmod(0o755)
    what, where, do = done.stderr.splitlines()
    assert what == "gatekeeper: Permission denied"
    assert where.split() == ["where", str(state / "gate-1.lock")]
    assert do.split()[0] == "do"
    assert "mode 0" in do


# -- the command ----------------------------------------------------------------------------------


def test_the_command_prints_a_line_a_look_and_below_it_what_to_do(here):
    rules_broken(here)
    told = here.room.call("doctor", "--site", str(here.root), expect=1).stdout.splitlines()
    number = next(number for number, line in enumerate(told) if line.startswith("broken  rules"))
    assert "workflows/liquid-plate.yaml:" in told[number]
    assert told[number + 1].split()[:1] == ["do:"]


# -- the copy of the history ----------------------------------------------------------------------


def copy_of_today(here):
    """A nightly copy, as the daemon makes it."""
    copy = here.root / f"state/backups/history-{datetime.now(UTC):%Y-%m-%d}.sqlite"
    copy.parent.mkdir(exist_ok=True)
    here.room.call("history", "backup", str(copy), "--site", str(here.root))
    return copy


def of_copy(found):
    (answer,) = [entry for entry in found if entry.subject == "restore"]
    return answer


def test_newest_copy_is_restored_and_stands_in_the_history_of_today(here, sheet):
    copy = copy_of_today(here)
    before = copy.read_bytes(), sorted(path.name for path in copy.parent.iterdir())
    assert of_copy(here.look()).state is State.OK
    here.room.drop("2.csv", sheet(job="2", operator="another"))
    here.room.sweep()
    answer = of_copy(here.look())
    assert answer.state is State.OK
    assert "was restored: 1 job" in answer.says
    assert answer.says.endswith("the history goes on from it by 1")
    after = copy.read_bytes(), sorted(path.name for path in copy.parent.iterdir())
    assert after == before, "it looks only"


def test_only_the_newest_copy_is_restored(here):
    copy = copy_of_today(here)
    (copy.parent / "history-2026-01-02.sqlite").write_bytes(b"an old one, cut")
    (copy.parent / ".history-2199-01-01.sqlite").write_bytes(b"")
    (copy.parent / "history-of-mine.sqlite").write_bytes(b"")
    assert of_copy(here.look()).state is State.OK


def cut_off(copy):
    copy.write_bytes(copy.read_bytes()[:20_000])


def no_database(copy):
    copy.write_bytes(b"not a database at all" * 500)


def empty(copy):
    copy.write_bytes(b"")


def torn(copy):
    content = bytearray(copy.read_bytes())
    content[8192:16384] = b"\xff" * 8192
    copy.write_bytes(content)


def with_a_forged_event(copy):
    with closing(sqlite3.connect(copy)) as connection:
        for (name,) in connection.execute(
            "SELECT name FROM sqlite_master WHERE type = 'trigger'"
        ).fetchall():
            connection.execute(f"DROP TRIGGER {name}")
        connection.execute("UPDATE events SET subject = 'forged' WHERE sequence = 2")
        connection.commit()


@pytest.mark.parametrize("hand", [cut_off, no_database, empty, torn, with_a_forged_event])
def test_copy_that_cannot_be_restored_is_called_broken(here, hand):
    hand(copy_of_today(here))
    answer = of_copy(here.look())
    assert answer.state is State.BROKEN, answer
    assert answer.do


def test_copy_of_a_history_that_was_begun_anew_is_to_be_looked_at(here):
    copy_of_today(here)
    for path in (here.root / "state").glob("history.sqlite*"):
        path.unlink()
    here.room.call("history", "rebuild", "--site", str(here.root))
    answer = of_copy(here.look())
    assert answer.state is State.LOOK, answer
    assert "begun anew" in answer.says


def test_history_whose_past_was_made_anew_behind_its_first_event_is_found_by_the_copy(here, sheet):
    here.room.drop("2.csv", sheet(job="2", operator="another"))
    here.room.sweep()
    copy = copy_of_today(here)
    with_a_forged_event(here.root / "state/history.sqlite")
    with closing(sqlite3.connect(here.root / "state/history.sqlite")) as connection:
        seal_anew(connection, read_site(here.root).mark)
    verified = here.room.call("history", "verify", "--site", str(here.root), expect=None)
    answer = of_copy(here.look())
    assert answer.state is State.BROKEN, (answer, verified.stdout)
    assert "is not the one of" in answer.says
    assert copy.exists()


def seal_anew(connection, site):
    """Forge the whole chain: every hash after the change made to fit."""
    previous = chain.START
    found = connection.execute(
        "SELECT sequence, at, kind, subject, document, previous_sha256, sha256 FROM events"
        " ORDER BY sequence"
    ).fetchall()
    for row in found:
        event = replace(Event(*row), previous_sha256=previous)
        previous = chain.seal(site, event)
        connection.execute(
            "UPDATE events SET previous_sha256 = ?, sha256 = ? WHERE sequence = ?",
            (event.previous_sha256, previous, event.sequence),
        )
    connection.commit()


def test_copy_of_an_earlier_program_is_called_unproven(here):
    with closing(sqlite3.connect(copy_of_today(here))) as connection:
        connection.execute("UPDATE schema_versions SET version = 0")
        connection.commit()
    answer = of_copy(here.look())
    assert answer.state is State.LOOK, answer
    assert "version 0" in answer.says


def test_copy_without_room_for_it_is_said_to_be_untried(here):
    copy_of_today(here)
    answer = of_copy(here.look(full_bytes=10**18))
    assert answer.state is State.LOOK
    assert "has no room for it" in answer.says


def test_history_that_is_away_is_no_fault_of_the_copy(here):
    copy_of_today(here)
    (here.root / "state/history.sqlite").write_bytes(b"not a database" * 1000)
    answer = of_copy(here.look())
    assert answer.state is State.OK
    assert "was not compared" in answer.says
