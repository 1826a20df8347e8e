"""Whether the folders are there and this site's, and only the right people may write to them."""

from __future__ import annotations

import shlex
from itertools import islice
from typing import TYPE_CHECKING

from gatekeeper.doctor.access import ENTER, EVERYBODY, FULL, READ, WRITE
from gatekeeper.doctor.interface import Answer, State, broken, look, ok
from gatekeeper.errors import RoomError
from gatekeeper.filing.desk import WORK
from gatekeeper.filing.disk import Disk
from gatekeeper.filing.online import require_marked
from gatekeeper.room import YAML_FOLDERS
from gatekeeper.shelf_names import CONCESSIONS
from gatekeeper.site import SITE_FILE
from gatekeeper.system_errors import MOUNT_ANEW, is_read_only
from gatekeeper.wording import plain

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator
    from pathlib import Path

    from gatekeeper.doctor.interface import Ward

MOST_JOBS = 20_000
"""Job folders of one root that are looked at; beyond that a look takes too long."""

_WHO = "systemd/README.md says who may write where"


def roots(ward: Ward) -> Iterator[Answer]:
    """Look at drop, approved and held: marked, and open to the gate, with all that is in them."""
    site, disk = ward.site, Disk()
    for name, root in (("drop", site.drop), ("approved", site.approved), ("held", site.held)):
        try:
            require_marked(disk, root, site.mark)
        except RoomError as error:
            yield broken(name, error.what, error.do)
            continue
        inner = [root / entry for entry in disk.names(root) if not entry.startswith(".")]
        folders = list(filter(disk.is_folder, inner))
        work = [folder / WORK for folder in (root, *folders)]
        if name != "drop":
            folders += list(islice(_jobs(disk, folders), MOST_JOBS))
        yield from _open(ward, name, [root, *folders, *filter(disk.is_folder, work)])


def _jobs(disk: Disk, folders: Iterable[Path]) -> Iterator[Path]:
    """Yield job folders: one that a stranger owns cannot be taken to the bench."""
    for folder in folders:
        inner = (folder / job for job in disk.names(folder) if not job.startswith("."))
        yield from filter(disk.is_folder, inner)


def _open(ward: Ward, name: str, folders: list[Path]) -> Iterator[Answer]:
    """Say which folders the gate's user cannot use; one line says that it can use all."""
    refusals = [refusal for folder in folders if (refusal := ward.access.refusal(folder, FULL))]
    user = ward.access.user.name
    if any(map(is_read_only, folders)):
        do = MOUNT_ANEW
    elif name == "drop":
        do = f"give user {user} the right to read, write and enter it; {_WHO}"
    else:
        do = _own(ward, folders[0], "-R ")
    if refusals:
        rest = f" (and {len(refusals) - 1} more like it)" if len(refusals) > 1 else ""
        yield broken(name, plain(refusals[0], 400) + rest, do)
    else:
        yield ok(name, f"{plain(str(folders[0]), 400)}, open to user {user}")


def _own(ward: Ward, path: Path, option: str = "") -> str:
    user, place = shlex.quote(ward.access.user.name), shlex.quote(plain(str(path), 400))
    return f"chown {option}{user} {place} && chmod {option}u+rwX {place}"


def state(ward: Ward) -> Iterator[Answer]:
    """Look at the state folder and the files in it."""
    folder = ward.site.state
    if not folder.is_dir():
        do = "run `gatekeeper init` on the site, or bring its disk back"
        yield broken("state", f"{plain(str(folder), 400)} is not there", do)
        return
    inside = [path for path in sorted(folder.iterdir()) if not path.is_symlink()]
    answers = [*_open(ward, "state", [folder])]
    if answers[0].state is State.OK:
        for path in inside:
            rights = FULL if path.is_dir() else WRITE
            refusal = ward.access.refusal(path, rights)
            if refusal:
                do = MOUNT_ANEW if is_read_only(path) else _own(ward, path)
                answers = [broken("state", plain(refusal, 400), do)]
                break
    yield from answers


def readable(ward: Ward) -> Iterator[Answer]:
    """Look whether the gate can read what the administrator writes."""
    root = ward.site.root
    wanted = [root / SITE_FILE]
    for folder in (root / name for name in YAML_FOLDERS):
        if folder.is_dir():
            wanted += [folder, *sorted(folder.glob("[!.]*.y*ml"))]
    for path in wanted:
        refusal = ward.access.refusal(path, ENTER if path.is_dir() else READ)
        if refusal:
            right = "a+rX" if path.is_dir() else "a+r"
            yield broken(
                "rule files", plain(refusal, 400), f"chmod {right} {shlex.quote(str(path))}"
            )


def strangers(ward: Ward) -> Iterator[Answer]:
    """Look who else may write where a verdict, a rule or a concession stands."""
    site, disk = ward.site, Disk()
    guarded = [site.root / SITE_FILE, *(site.root / name for name in YAML_FOLDERS)]
    verdicts = [site.approved, site.held, site.state]
    for root in (site.approved, site.held):
        verdicts += [root / name for name in disk.names(root) if disk.is_folder(root / name)]
    for place in (*verdicts, site.drop / CONCESSIONS, *guarded):
        who = ward.access.strangers(place) if place.exists() else ""
        if who == EVERYBODY or (who and place in verdicts):
            says = f"{who} may write to {plain(str(place), 400)}: what stands there proves nothing"
            do = (
                f"chmod go-w {shlex.quote(str(place))}, and let user {ward.access.user.name} own it"
            )
            yield look("who may write", says, f"{do}; {_WHO}")
