"""Keeps a site of this version for the tests of later ones: `python tests/stored/store.py`.

Run once when the version of the program, of the verdict's document or of the history's tables has
been raised, and never again: made anew it would be a site of another program. The archive is named
by the three. It holds the site, laid out and filled by the program's own commands, and beside it
what that program itself said of it. Two jobs are in work: the program was killed behind the claim
of the one, and between verdict and folder of the other.
"""

import getpass
import json
import os
import subprocess
import sys
import tarfile
import tempfile
from pathlib import Path

from gatekeeper import __version__, verdict_document
from gatekeeper.bundled import bundled
from gatekeeper.clock import SystemClock
from gatekeeper.filing.disk import Disk
from gatekeeper.history import schema
from gatekeeper.room import read_book
from gatekeeper.rounds.sweeping import sweep_once
from gatekeeper.site import read_site
from gatekeeper.workshop import rounds_of

NAME = f"{__version__}-verdict-{verdict_document.VERSION}-history-{schema.VERSION}.tar.gz"
DROPS = (
    ("1041.csv", "1041.svg"),  # approved, with its artwork
    ("1044.csv",),  # held
    ("1049.csv",),  # held, then released by a lead
    ("1069-black.csv",),
    ("1069-red.csv",),  # approved when the second separation came
    ("1070-black.csv",),  # waits for its second
)
KILLED = 9
WEDGE = """sheet,wedge
printer,P1
film lot,M5-0317
meter,T-04
operator,JV
printed,2026-11-20 16:20
measured,2026-11-20 16:50
zeroed on,clear
ruling,65 lpi
resolution,1440 dpi
curve,none

patch,nominal,density,dot,where
solid,,2.90,,
"""


class KilledDisk(Disk):
    """Ends the program, as a kill does, ahead of the first change in one of the site's folders."""

    def __init__(self, site: Path, moment: str) -> None:
        self._moment = moment
        self._benches = site / "held/.gatekeeper"
        self._roots = (site / "approved", site / "held")

    def before(self, operation: str, *paths: Path) -> None:
        target = paths[-1]
        if self._moment == "claimed":
            is_now = self._benches in target.parents
        else:
            is_shelf = target.parent.parent in self._roots and target.parent.name[0] != "."
            is_now = operation == "rename" and is_shelf
        if is_now:
            os._exit(KILLED)


def gatekeeper(*words: str) -> str:
    command = [sys.executable, "-m", "gatekeeper", *words]
    done = subprocess.run(command, check=False, capture_output=True, text=True)  # noqa: S603
    if done.returncode > 1:
        sys.exit(f"{' '.join(words)}: {done.stderr}")
    return done.stdout


def fill(site: Path) -> None:
    """Let the program judge its example sheets, and die over two of them."""
    at = ("--site", str(site))
    gatekeeper("init", str(site))
    with (site / "site.yaml").open("a") as settings:
        settings.write(f"leads: [{getpass.getuser()}]\n")
    for names in DROPS:
        for name in names:
            drop(site, name, (bundled("examples") / "sheets/liquid-plate" / name).read_bytes())
        gatekeeper("sweep", "--settle", "0", *at)
    gatekeeper("release", "1049", "--by", "Ada", "--reason", "the buyer has seen it", *at)
    steps = (5, 10, 20, 30, 40, 50, 60, 70, 80, 90, 95)
    rows = (f"tint,{step},,{step + 0.0036 * step * (100 - step) / 10:.1f},\n" for step in steps)
    drop(site, "wedge.csv", (WEDGE + "".join(rows)).encode())
    gatekeeper("sweep", "--settle", "0", *at)
    gatekeeper("history", "backup", str(site / "state/by-hand.sqlite"), *at)


def drop(site: Path, name: str, content: bytes) -> None:
    (site / "drop/liquid-plate" / name).write_bytes(content)


def leave_half_done(site: Path) -> None:
    """Leave a job decided and another claimed; the start that claims would end the first."""
    with tempfile.TemporaryDirectory(dir=site.parent) as aside:
        leave(site, "decided", "1045.csv")
        places = [
            next((site / root / ".gatekeeper/gate-1").iterdir())
            for root in ("drop/liquid-plate", "held")
        ]
        for number, place in enumerate(places):
            place.rename(Path(aside) / str(number))
        leave(site, "claimed", "1043.csv")
        for number, place in enumerate(places):
            (Path(aside) / str(number)).rename(place)


def leave(site: Path, moment: str, name: str) -> None:
    drop(site, name, (bundled("examples") / "sheets/liquid-plate" / name).read_bytes())
    started = [sys.executable, __file__, moment, str(site)]
    status = subprocess.run(started, check=False).returncode  # noqa: S603
    if status != KILLED:
        sys.exit(f"{moment}: it was not killed but ended with {status}")


def sweep_until_killed(moment: str, root: Path) -> None:
    site = read_site(root)
    book = read_book(site)
    disk = KilledDisk(root, moment)
    sweep_once(rounds_of(site, SystemClock(), lambda: book, settle_s=0.0, disk=disk))


def main() -> None:
    target = Path(__file__).with_name(NAME)
    if target.exists():
        sys.exit(f"{target.name} is kept already")
    with tempfile.TemporaryDirectory() as work:
        site = Path(work) / "site"
        fill(site)
        leave_half_done(site)
        told = Path(work) / "told.json"
        at = ("--site", str(site))
        jobs = json.loads(gatekeeper("jobs", "--json", *at))
        chain = json.loads(gatekeeper("history", "verify", "--json", *at))
        curves = json.loads(gatekeeper("curve", "list", "--json", *at))
        told.write_text(json.dumps({"jobs": jobs, "chain": chain, "curves": curves}, indent=1))
        with tarfile.open(target, "w:gz") as archive:
            archive.add(site, "site", filter=_of_nobody)
            archive.add(told, "told.json", filter=_of_nobody)


def _of_nobody(entry: tarfile.TarInfo) -> tarfile.TarInfo | None:
    """Leave out who ran this, and what belongs to a run only."""
    if Path(entry.name).name.endswith((".lock", "-shm")):
        return None
    entry.uid = entry.gid = 0
    entry.uname = entry.gname = ""
    return entry


if __name__ == "__main__":
    if sys.argv[1:]:
        sweep_until_killed(sys.argv[1], Path(sys.argv[2]))
    else:
        main()
