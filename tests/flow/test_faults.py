"""The real daemon meets what goes wrong in a room: it stays up, says so, and goes on when mended.

Disks of its own are mounted in a namespace of the daemon's: nobody else sees them, and they go with
it. Each test says `goes_on`: what was dropped during the fault is filed in the end, once.
"""

import json
import os
import shutil
import signal
import subprocess
import sys
from contextlib import contextmanager

import pytest

NAMESPACE = ("unshare", "--user", "--map-root-user", "--mount", "--propagation", "private")
WITHOUT_PRIVILEGE = ("setpriv", "--inh-caps=-all", "--bounding-set=-dac_override,-dac_read_search")
"""Root may write anywhere; a service may not. Of root only the name is left by this."""


def can(*command):
    """Whether this machine lets us do something."""
    if not shutil.which(command[0]):
        return False
    return subprocess.run(command, capture_output=True, check=False).returncode == 0


class Den:
    """A daemon in a namespace of its own, and what is done in there."""

    def __init__(self, room, process):
        self.room, self.process = room, process

    def do(self, *words):
        where = ("nsenter", "--target", str(self.process.pid), "--user", "--mount")
        subprocess.run([*where, "--preserve-credentials", *words], check=True)

    def sh(self, script):
        self.do("sh", "-c", script)


@contextmanager
def den(room, script):
    """Run the daemon behind a script that is let mount what it likes."""
    if not can(*NAMESPACE, "mount", "-t", "tmpfs", "none", "/mnt"):
        pytest.skip("needs namespaces of users and mounts (util-linux)")
    with room.daemon(*NAMESPACE, "sh", "-ec", f'{script}; exec "$@"', "sh") as process:
        yield Den(room, process)


def goes_on(room, wait_for, *jobs):
    """What was dropped meanwhile is filed, each job once, and nothing is wrong any more."""
    wait_for(lambda: all(list(room.root.glob(f"approved/*/{job}/verdict.json")) for job in jobs))
    wait_for(lambda: not room.present()["alarms"] and not room.present()["waiting"])
    for job in jobs:
        assert [path.name for path in room.folder(job).glob("verdict*")] == ["verdict.json"]
    assert [path.name for path in (room.root / "drop/liquid-plate").iterdir()] == [".gatekeeper"]


def own_disk(root, size="24m"):
    """Put held on a disk of its own."""
    held, kept = root / "held", root / "held-kept"
    shutil.copytree(held, kept)
    return f"mount -t tmpfs -o size={size} none {held}; cp -a {kept}/. {held}"


def test_full_disk(room, sheet, wait_for):
    held = room.root / "held"
    with den(room, own_disk(room.root)) as inside:
        inside.sh(f"head -c 10000000 /dev/zero > {held}/films.zip")
        room.drop("1.csv", sheet(job="1"))
        says = f"the disk of {held} is nearly full: nothing new is taken in; make room"
        wait_for(lambda: says in room.alarms())
        wait_for(lambda: "is nearly full: nothing new is taken in" in room.page())
        assert (room.root / "drop/liquid-plate/1.csv").exists()
        inside.do("rm", f"{held}/films.zip")
        goes_on(room, wait_for, "1")


def test_target_that_takes_no_changes(room, sheet, wait_for):
    held = room.root / "held"
    with den(room, own_disk(room.root, "80m")) as inside:
        inside.do("mount", "-o", "remount,ro", str(held))
        for job in ("1", "2"):
            room.drop(f"{job}.csv", sheet(job=job))
        wait_for(lambda: len(room.present()["waiting"]) == 2 and room.alarms())
        (alarm,) = room.present()["alarms"]  # one for all sheets, and the same at each round
        assert alarm.startswith(f"{held} takes no changes: nothing new is taken in; it is mounted")
        board = subprocess.run(
            ["nsenter", "--target", str(inside.process.pid), "--user", "--mount",
             "--preserve-credentials", sys.executable, "-m", "gatekeeper", "board",
             "--site", str(room.root)],
            capture_output=True, text=True, check=True,
        )  # fmt: skip
        assert "takes no changes" in board.stdout
        assert "DO     it is mounted read-only" in board.stdout
        assert (room.root / "drop/liquid-plate/1.csv").exists()
        inside.do("mount", "-o", "remount,rw", str(held))
        goes_on(room, wait_for, "1", "2")


@pytest.mark.parametrize("name", ["drop", "held", "state"])
def test_folder_whose_disk_is_away_is_no_empty_folder(room, sheet, wait_for, name):
    place, log = room.root / name, room.root.parent / "daemon.log"
    with den(room, "true") as inside:
        inside.do("mount", "-t", "tmpfs", "none", str(place))  # what a mount point shows without it
        wait_for(lambda: f"{place} is away" in log.read_text())
        room.drop("1.csv", sheet(job="1"))
        # Over a round nothing is begun in it; a screen's file may have been on its way.
        inside.sh(f"sleep 1.2; cd {place}; ! ls -A | grep -vE '^(page|metrics|[.]?now[.]json.*)$'")
        assert room.jobs_on_disk() == []
        inside.do("umount", str(place))
        goes_on(room, wait_for, "1")
    listed = json.loads(room.call("jobs", "--json", "--site", str(room.root)).stdout)
    assert [line["job"] for line in listed] == ["1"]


def test_permission_that_was_lost(room, sheet, wait_for):
    prefix = ()
    if os.geteuid() == 0:  # whom nothing is refused
        if not can(*WITHOUT_PRIVILEGE, "true"):
            pytest.skip("root may write anywhere, and setpriv (util-linux) is not there")
        prefix = WITHOUT_PRIVILEGE
    work = room.root / "drop/liquid-plate/.gatekeeper/gate-1"
    with room.daemon(*prefix):
        work.chmod(0o555)
        try:
            for job in ("1", "2"):
                room.drop(f"{job}.csv", sheet(job=job))
            wait_for(lambda: room.alarms() and len(room.present()["waiting"]) == 2)
            at = room.present()["at"]
            wait_for(lambda: room.present()["at"] > at)  # another round says the same
            (alarm,) = room.present()["alarms"]  # one for both sheets
            assert alarm.startswith(f"Permission denied (EACCES): {work}; give user")
        finally:
            work.chmod(0o755)
        goes_on(room, wait_for, "1", "2")
    log = (room.root.parent / "daemon.log").read_text()
    assert log.count("Permission denied") <= 2  # once, and perhaps that it is over


def test_kernel_that_grants_no_watches(room, sheet, wait_for):
    limit = "/proc/sys/user/max_inotify_instances"
    with den(room, f"echo 0 > {limit}") as inside:
        wait_for(lambda: "inotify instance limit reached" in room.alarms())
        wait_for(lambda: "sysctl fs.inotify.max_user_instances" in room.page())
        room.drop("1.csv", sheet(job="1"))
        wait_for(room.jobs_on_disk)  # by the rescan
        inside.sh(f"echo 64 > {limit}")
        room.drop("2.csv", sheet(job="2"))
        goes_on(room, wait_for, "1", "2")


def test_events_that_the_kernel_lost(room, sheet, wait_for):
    with room.daemon() as process:
        process.send_signal(signal.SIGSTOP)
        litter = room.root / "drop/liquid-plate/x.tmp"
        for _ in range(9_000):  # two events each, and the queue holds 16,384
            litter.touch()
            litter.unlink()
        room.drop("1.csv", sheet(job="1"))
        process.send_signal(signal.SIGCONT)
        goes_on(room, wait_for, "1")


def test_settings_that_were_deleted(room, sheet, wait_for):
    settings, aside = room.root / "site.yaml", room.root / "site.yaml.aside"
    with room.daemon() as process:
        settings.rename(aside)
        wait_for(lambda: "site.yaml:1 the file cannot be read" in str(room.present()))
        room.drop("1.csv", sheet(job="1"))
        wait_for(lambda: "waits for its rules: site.yaml" in str(room.present()["waiting"]))
        aside.rename(settings)
        process.send_signal(signal.SIGHUP)
        goes_on(room, wait_for, "1")


def test_disk_that_fails(room, sheet, wait_for):
    strace = shutil.which("strace")
    if not strace or not can(strace, "-qq", "-o", "/dev/null", "true"):
        pytest.skip("needs strace, and the right to trace")
    with room.daemon() as process:
        room.drop("0.csv", sheet(job="0"))
        wait_for(room.jobs_on_disk)
        traced = subprocess.Popen(
            [strace, "-f", "-qq", "-o", "/dev/null", "-p", str(process.pid),
             "-e", "trace=fsync", "-e", "inject=fsync:error=EIO"],
            stderr=subprocess.DEVNULL,
        )  # fmt: skip
        try:
            wait_for(lambda: "TracerPid:\t0" not in status(process))
            room.drop("1.csv", sheet(job="1"))
            place = room.root / "drop/liquid-plate"
            wait_for(lambda: f"Input/output error (EIO): {place}; the disk failed" in room.alarms())
        finally:
            traced.terminate()
            traced.wait(20)
        goes_on(room, wait_for, "0", "1")


def status(process):
    with open(f"/proc/{process.pid}/status") as file:  # noqa: PTH123 -- not a file of the test's
        return file.read()


def test_report_folder_that_is_open_in_a_file_manager(room, sheet):
    thin = ("clear,,0.00,,,left", "solid,,1.20,,,left", "solid,,1.20,,,centre",
            "solid,,1.20,,,right", "tint,50,,50.8,,centre")  # fmt: skip
    room.drop("1.csv", sheet(thin, job="1"))
    room.drop("2.csv", sheet(job="2"))
    room.sweep()
    litter = (".DS_Store", ".directory", "Thumbs.db", "desktop.ini", ".~lock.report.txt#")
    windows, handles = [], []
    for job in ("1", "2"):
        folder = room.folder(job)
        (folder / "@eaDir").mkdir()
        for name in litter:
            (folder / name).write_bytes(b"\0")
        windows.append(subprocess.Popen(["sleep", "60"], cwd=folder))
        handles.append(os.open(folder, os.O_RDONLY | os.O_DIRECTORY))
        handles.append(os.open(folder / "report.txt", os.O_RDONLY))
    for name in litter:
        (room.root / "approved/liquid-plate" / name).write_bytes(b"\0")
    try:
        room.drop("1.csv", sheet(job="1", operator="MT"))
        room.drop("2.csv", sheet(thin, job="2", operator="MT"))
        room.sweep()
    finally:
        for handle in handles:
            os.close(handle)
        for window in windows:
            window.kill()
            window.wait()
    assert (room.decision("1"), room.decision("2")) == ("approved", "held")
    assert {path.name for path in room.folder("1").iterdir()} >= {*litter, "@eaDir"}  # theirs
    assert "Companion" not in (room.folder("1").joinpath("report.txt")).read_text()
    told = json.loads(room.call("doctor", "--json", "--site", str(room.root), expect=1).stdout)
    assert [entry for entry in told if entry["state"] == "broken"] == []
    assert room.work_in_progress() == []
