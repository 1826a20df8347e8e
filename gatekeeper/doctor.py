"""What is wrong with an installation, and how to mend it. It looks only; it changes nothing."""

from __future__ import annotations

import os
import shutil
from dataclasses import dataclass
from enum import Enum
from typing import TYPE_CHECKING

from gatekeeper.clock import SystemClock
from gatekeeper.errors import RoomError
from gatekeeper.filing.disk import Disk
from gatekeeper.filing.online import require_marked
from gatekeeper.history import HistoryAwayError, NoHistoryYetError, read_history
from gatekeeper.present import read_present
from gatekeeper.room import read_book
from gatekeeper.rounds import ROOM_TO_SPARE
from gatekeeper.single import is_at_work
from gatekeeper.waiting import waiting_now
from gatekeeper.wording import counted
from gatekeeper.workshop import history_url

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from gatekeeper.site import Site


class State(Enum):
    """How bad it is."""

    OK = "ok"
    LOOK = "look"
    BROKEN = "broken"


@dataclass(frozen=True, slots=True)
class Answer:
    """One line: what was looked at, how it is, what to do."""

    state: State
    subject: str
    says: str
    do: str = ""

    def as_data(self) -> dict[str, str]:
        """Return the line for other programs."""
        return {
            "state": self.state.value,
            "subject": self.subject,
            "says": self.says,
            "do": self.do,
        }


def examine(site: Site) -> list[Answer]:
    """Look at everything; one failing look does not hide the others."""
    return [
        Answer(
            State.OK, "site", f"{site.name} in {site.root}, time zone {site.settings.time_zone}"
        ),
        *_folders(site),
        *_filesystems(site),
        *_space(site),
        *_rules(site),
        *_history(site),
        *_daemon(site),
    ]


def _folders(site: Site) -> Iterator[Answer]:
    disk = Disk()
    for name, root in (("drop", site.drop), ("approved", site.approved), ("held", site.held)):
        try:
            require_marked(disk, root, site.mark)
        except RoomError as error:
            yield Answer(State.BROKEN, name, error.what, error.do)
            continue
        yield from _usable(name, root, disk)
    yield _permissions("state", site.state)


def _usable(name: str, root: Path, disk: Disk) -> Iterator[Answer]:
    """Look at a root and the folders of workflows in it; one line says that all are well."""
    inner = [root / entry for entry in disk.names(root) if not entry.startswith(".")]
    answers = [_permissions(name, folder) for folder in (root, *filter(disk.is_folder, inner))]
    broken = [answer for answer in answers if answer.state is not State.OK]
    yield from broken or answers[:1]


def _permissions(name: str, folder: Path) -> Answer:
    if not folder.is_dir():
        return Answer(
            State.BROKEN, name, f"{folder} is not there", "run `gatekeeper init` on the site"
        )
    if not os.access(folder, os.R_OK | os.W_OK | os.X_OK):
        owner = folder.stat()
        return Answer(
            State.BROKEN,
            name,
            f"{folder} cannot be written by user {os.getuid()} "
            f"(owner {owner.st_uid}, mode {owner.st_mode & 0o777:o})",
            "give the gate's user the right to read and write there",
        )
    return Answer(State.OK, name, str(folder))


def _filesystems(site: Site) -> Iterator[Answer]:
    devices = {}
    for name, root in (("drop", site.drop), ("held", site.held), ("approved", site.approved)):
        try:
            devices[name] = root.stat().st_dev
        except OSError:
            return  # said already
    if len(set(devices.values())) == 1:
        yield Answer(
            State.OK, "filesystems", "drop, held and approved are one: filing is one rename"
        )
    else:
        says = "drop, held and approved are not one: files are copied, flushed and then removed"
        yield Answer(State.OK, "filesystems", says)


def _space(site: Site) -> Iterator[Answer]:
    for name, folder in (("held", site.held), ("state", site.state)):
        if not folder.is_dir():
            continue
        free = shutil.disk_usage(folder).free
        if free < ROOM_TO_SPARE:
            yield Answer(
                State.BROKEN,
                f"space {name}",
                f"{free // 1_000_000} MB free: nothing new is taken in",
                "make room",
            )
        else:
            yield Answer(State.OK, f"space {name}", f"{free // 1_000_000} MB free")


def _rules(site: Site) -> Iterator[Answer]:
    try:
        book = read_book(site)
    except OSError as error:
        yield Answer(
            State.BROKEN,
            "rules",
            f"{error.filename} cannot be read: {error.strerror}",
            "mend its permissions",
        )
        return
    for problem in book.problems:
        yield Answer(State.BROKEN, "rules", f"{problem.place} {problem.what}", problem.do)
    workflows, customers = book.library.workflows, book.library.customers
    if not workflows:
        yield Answer(
            State.LOOK,
            "rules",
            "no workflow is defined: every job is held",
            "add a file to workflows/",
        )
    elif not book.problems:
        known = f"{counted(len(workflows), 'workflow')}, {counted(len(customers), 'customer')}"
        says = f"{known}, all files good"
        yield Answer(State.OK, "rules", says)


def _history(site: Site) -> Iterator[Answer]:
    try:
        with read_history(
            history_url(site), base=site.root, site=site.mark, clock=SystemClock()
        ) as history:
            counts = history.counts()
            chain = history.verify()
    except NoHistoryYetError:
        yield Answer(State.OK, "history", "not begun yet")
        return
    except HistoryAwayError as error:
        yield Answer(
            State.BROKEN,
            "history",
            error.what,
            error.do or "the gate goes on without it and catches up",
        )
        return
    yield Answer(
        State.OK, "history", f"{counted(counts.approved, 'job')} approved, {counts.held} held"
    )
    if chain.broken:
        yield Answer(
            State.BROKEN,
            "audit chain",
            str(chain.broken),
            "somebody changed the history: keep it and ask who",
        )
    else:
        yield Answer(State.OK, "audit chain", "unbroken")


def _daemon(site: Site) -> Iterator[Answer]:
    if is_at_work(site.state, site.gate) is False:
        yield Answer(
            State.LOOK,
            "daemon",
            "not running: nothing is judged",
            "start it with `gatekeeper run`",
        )
        for entry in waiting_now(site):
            yield Answer(State.LOOK, "waiting", f"{entry.name} in {entry.folder}: {entry.reason}")
        return
    present = read_present(site.state)
    yield Answer(State.OK, "daemon", f"running, last round {present.at}" if present else "running")
    for alarm in present.alarms if present else ():
        yield Answer(State.BROKEN, "alarm", alarm)
    for entry in present.waiting if present else ():
        yield Answer(State.LOOK, "waiting", f"{entry.name} in {entry.folder}: {entry.reason}")
