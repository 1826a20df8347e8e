"""What the gate's user may do, whoever asks: root may do anything, and an operator next to nothing.

Root looks as the gate's user, which counts access lists too. Anybody else can only go by owner and
mode.
"""

from __future__ import annotations

import grp
import os
import pwd
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING

from gatekeeper.screens.present import read_present
from gatekeeper.single import is_at_work
from gatekeeper.system_errors import is_read_only, owner_of, user_name

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from gatekeeper.site import Site

FULL = os.R_OK | os.W_OK | os.X_OK
READ = os.R_OK
WRITE = os.R_OK | os.W_OK
ENTER = os.R_OK | os.X_OK

EVERYBODY = "everybody"


@dataclass(frozen=True, slots=True)
class GateUser:
    """The user that the daemon is."""

    uid: int
    groups: tuple[int, ...]  # its own first

    @property
    def name(self) -> str:
        """What it is called."""
        return user_name(self.uid)


def gate_user(site: Site, processes: Path) -> GateUser:
    """Return the user of the daemon at work, else the one that the state folder belongs to."""
    present = read_present(site.state)
    places = [site.state, site.root]
    if present and is_at_work(site.state, site.gate):
        places.insert(0, processes / str(present.process))
    for place in places:
        try:
            return _user(place.stat().st_uid)
        except OSError:
            continue
    return _user(os.geteuid())


def _user(uid: int) -> GateUser:
    if uid == os.geteuid():
        own = os.getegid()
        return GateUser(uid, (own, *(group for group in os.getgroups() if group != own)))
    try:
        entry = pwd.getpwuid(uid)
    except KeyError:
        return GateUser(uid, ())
    return GateUser(uid, tuple(os.getgrouplist(entry.pw_name, entry.pw_gid)))


class Access:
    """Answers for one user."""

    def __init__(self, user: GateUser) -> None:
        self.user = user

    def may(self, path: Path, rights: int) -> bool:
        """Whether the user may do this with a file or folder that is there.

        Raises
        ------
        OSError : it cannot even be looked at by whoever asks
        """
        found = path.stat()
        if self.user.uid == os.geteuid():
            return os.access(path, rights, effective_ids=True)
        if os.geteuid() == 0:
            with _acting_as(self.user):
                return os.access(path, rights, effective_ids=True)
        return _by_mode(found, self.user, rights)

    def refusal(self, path: Path, rights: int) -> str:
        """Return why the user cannot do this, "" where it can."""
        if rights & os.W_OK and is_read_only(path):
            return f"{path} takes no changes"
        if self.may(path, rights):
            return ""
        runs = rights & os.X_OK and not path.is_dir()
        word = "written" if rights & os.W_OK else "run" if runs else "read"
        return f"{path} cannot be {word} by user {self.user.name} ({owner_of(path.stat())})"

    def strangers(self, path: Path) -> str:
        """Return who else may write to a file or folder by its mode, "" for nobody."""
        found = path.stat()
        if found.st_mode & 0o002:
            return EVERYBODY
        if found.st_mode & 0o020 and found.st_gid not in self.user.groups[:1]:
            return f"group {_group_name(found.st_gid)}"
        return "" if found.st_uid in {self.user.uid, 0} else f"user {user_name(found.st_uid)}"


def _group_name(gid: int) -> str:
    try:
        return grp.getgrgid(gid).gr_name
    except KeyError:
        return str(gid)


@contextmanager
def _acting_as(user: GateUser) -> Iterator[None]:
    """Be that user for a look. The real user stays root, so that there is a way back."""
    before = os.getegid(), os.getgroups()
    os.setgroups(user.groups)
    os.setegid(user.groups[0] if user.groups else before[0])
    os.seteuid(user.uid)
    try:
        yield
    finally:
        os.seteuid(0)
        os.setegid(before[0])
        os.setgroups(before[1])


def _by_mode(found: os.stat_result, user: GateUser, rights: int) -> bool:
    if user.uid == 0:
        return True
    whose = 6 if found.st_uid == user.uid else 3 if found.st_gid in user.groups else 0
    return (found.st_mode >> whose) & rights == rights
