"""Thousands of jobs in a room where everything goes wrong, and an oracle that knows the drops.

The usual run takes some hundred jobs, `GATEKEEPER_CRASH=whole` ten thousand, a number so many; a
tenth of them are the real daemon's.
"""

from __future__ import annotations

import logging
import os
import random
import tempfile
from contextlib import closing, contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from history_rows import rows_of
from oracle import Oracle
from soak import Soak
from soaked_daemon import SoakedDaemon

from gatekeeper.filing.disk import Disk
from gatekeeper.record.rebuild import rebuild
from gatekeeper.room import declarations_of, read_book
from gatekeeper.workshop import history_of

if TYPE_CHECKING:
    from plate_room import PlateRoom
    from soak import Troubled

ASKED = os.environ.get("GATEKEEPER_CRASH", "")
JOBS = 10_000 if ASKED == "whole" else int(ASKED or 120)
DAEMONS_JOBS = JOBS // 20 if ASKED else 30

PLACES = {
    "one filesystem": (),
    "approved elsewhere": ("approved",),
    "dropped elsewhere": ("drop",),
}
DAEMONS_PLACES = dict(list(PLACES.items())[0 if ASKED else 1 : 2])


@pytest.fixture
def troubled_room(request, rooms, elsewhere) -> PlateRoom:
    """A room some of whose folders lie on another filesystem."""
    folder = Path(tempfile.mkdtemp(dir=elsewhere))
    return rooms(**{name: folder / name for name in request.param})


@pytest.mark.timeout(14_400)
@pytest.mark.parametrize("troubled_room", PLACES.values(), ids=PLACES, indirect=True)
def test_jobs_among_faults_of_every_kind_are_filed_once_and_by_their_rules(
    request, troubled_room, tally, caplog
):
    dice = dice_for(request)
    soak = Soak(troubled_room, dice, tally)
    with no_fault_of_the_program(caplog):
        soak.work(JOBS * 3 // 10)
    soak.end()
    require_all(soak, tally)


@pytest.mark.timeout(14_400)
@pytest.mark.parametrize(
    "troubled_room", DAEMONS_PLACES.values(), ids=DAEMONS_PLACES, indirect=True
)
def test_daemon_that_is_killed_among_faults_files_every_job_once_and_by_its_rules(
    request, troubled_room, tally
):
    dice = dice_for(request)
    soak = SoakedDaemon(troubled_room, dice, tally)
    try:
        soak.work(DAEMONS_JOBS)
    finally:
        soak.daemon.kill()
    assert "Traceback" not in soak.daemon.says, soak.daemon.says
    require_all(soak, tally)


def dice_for(request) -> random.Random:
    """Return the same dice each time, but other ones for another number of jobs."""
    return random.Random(f"{request.node.name} {JOBS}")  # noqa: S311


@contextmanager
def no_fault_of_the_program(caplog):
    """Fail if anything was logged as an error: a traceback, or a job that broke the program."""
    with caplog.at_level(logging.ERROR):
        yield
    assert not caplog.records, caplog.text


def require_all(soak: Troubled, tally) -> None:
    soak.room.require_sound()
    oracle = Oracle(soak.people, soak.in_force)
    oracle.require_all()
    require_same_history_anew(soak.room)
    for what, count in oracle.found.items():
        tally[f"soak, verdicts: {what}"] += count


def require_same_history_anew(room: PlateRoom) -> None:
    """Fail unless a history that is made from the job folders alone has the same rows.

    It may have readings that the one at work lacks: what was told late was not always read again.
    """
    file = room.site.state / "history.sqlite"
    before = rows_of(file)
    file.rename(file.with_name("kept"))
    declarations = declarations_of(room.site, read_book(room.site).profiles)
    with closing(history_of(room.site, room.clock)) as history:
        rebuild(room.site, Disk(), history, declarations)
        assert history.verify().broken is None
    after = rows_of(file)
    for table, rows in before.items():
        lost = rows - after[table]
        assert not lost, f"{table}: {len(lost)} rows, {sorted(lost, key=str)[:3]}"
        if table not in {"negatives", "readings"}:
            assert rows == after[table], table
