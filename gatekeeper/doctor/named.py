"""What site.yaml names beside the site's folders: a program, passwords, a log, users.

Most of it is in the way of no verdict, so nobody misses it before a letter or a lead is wanted.
"""

from __future__ import annotations

import os
import pwd
from typing import TYPE_CHECKING

from gatekeeper.doctor.access import READ, WRITE
from gatekeeper.doctor.interface import Answer, broken, look
from gatekeeper.errors import RoomError
from gatekeeper.secret_file import refuse_others
from gatekeeper.wording import quoted

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from gatekeeper.doctor.interface import Ward

_RUN = os.R_OK | os.X_OK


def command(ward: Ward) -> Iterator[Answer]:
    """Look whether the program that is told of verdicts can be run."""
    tell = ward.site.settings.tell
    if tell is None:
        return
    program = ward.site.root / tell.command[0]
    says = _out_of_reach(ward, program, _RUN)
    if says:
        yield look(
            "tell",
            f"the program that is told of each verdict cannot be run: {says}",
            "correct `tell` in site.yaml, or give the gate's user the right to run it; what was "
            "not told is kept and tried again",
        )


def passwords(ward: Ward) -> Iterator[Answer]:
    """Look whether the gate's user, and nobody else, can read each password."""
    settings = ward.site.settings
    mail = settings.mail.password_file if settings.mail else None
    for subject, file in (("mail", mail), ("history", settings.history_password_file)):
        if file is None:
            continue
        path = ward.site.root / file
        says = _out_of_reach(ward, path, READ)
        if says:
            do = f"write it into that file, of user {ward.access.user.name} and with mode 600"
            yield broken(subject, f"the password cannot be read: {says}", do)
            continue
        try:
            refuse_others(path)
        except RoomError as error:
            yield broken(subject, error.what, error.do)


def log(ward: Ward) -> Iterator[Answer]:
    """Look whether the log's file can be written: the daemon does not start without it."""
    file = ward.site.settings.log.file
    if file is None:
        return
    path = ward.site.root / file
    says = _out_of_reach(ward, path if path.exists() else path.parent, WRITE)
    if says:
        do = "give the gate's user the right to write there, or change `log` in site.yaml"
        yield broken("log", f"the log cannot be written: {says}", do)


def leads(ward: Ward) -> Iterator[Answer]:
    """Look for leads that are no users of this machine: a slip of theirs would never count."""
    for name in ward.site.settings.leads:
        if not name.isdecimal() and not _is_user(name):
            says = f"{quoted(name)} in `leads` is no user of this machine: no slip of theirs counts"
            yield look("leads", says, "correct `leads` in site.yaml, or make the user: useradd")


def _out_of_reach(ward: Ward, path: Path, rights: int) -> str:
    """Return why the gate's user cannot do this with a file, "" where it can."""
    try:
        return ward.access.refusal(path, rights)
    except (FileNotFoundError, NotADirectoryError):
        return f"there is no {path}"
    except PermissionError:
        return ""  # whoever asks may not even look; the gate's user or root can


def _is_user(name: str) -> bool:
    try:
        pwd.getpwnam(name)
    except KeyError:
        return False
    return True
