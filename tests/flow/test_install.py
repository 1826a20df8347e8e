"""The service of a site, installed in a scratch root and looked at by systemd's own tools."""

import os
import re
import shutil
import signal
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from gatekeeper.errors import RoomError
from gatekeeper.installing.plan import RELOAD, SYSUSERS, Machine, to_install, to_uninstall
from gatekeeper.installing.request import Request
from gatekeeper.installing.steps import Own, Run
from gatekeeper.installing.unit_files import own_files

UNITS = Path(__file__).parents[2] / "systemd"
PROGRAM = "/opt/gatekeeper/bin/gatekeeper"

needs_analyze = pytest.mark.skipif(
    not shutil.which("systemd-analyze"),
    reason="systemd-analyze is not there: apt-get install systemd",
)


@pytest.fixture
def machine(tmp_path):
    """A root that stands for a machine, with a program where the units look for it."""
    root = tmp_path / "machine"
    program = root / PROGRAM[1:]
    program.parent.mkdir(parents=True)
    program.write_text("#!/bin/sh\n")
    program.chmod(0o755)
    return root


@pytest.fixture
def site(room, machine):
    """The site, where sites are by custom."""
    place = machine / "srv/gatekeeper/main"
    place.parent.mkdir(parents=True)
    room.root.rename(place)
    room.root = place
    return room


def service(room, machine, *words, expect=0):
    return room.call(
        "service", words[0], "--root", str(machine), "--site", str(room.root), *words[1:],
        expect=expect,
    )  # fmt: skip


def install(room, machine, *words, expect=0):
    return service(room, machine, "install", "--program", PROGRAM, *words, expect=expect)


def files_of(machine):
    return {
        str(path.relative_to(machine)): path.readlink() if path.is_symlink() else path.read_text()
        for top in ("etc", "usr")
        for path in (machine / top).rglob("*")
        if path.is_symlink() or path.is_file()
    }


def verify(machine, *units):
    """Let systemd look at units; it says nothing about those in good order."""
    kill = machine / "bin/kill"
    kill.parent.mkdir()
    kill.write_text("#!/bin/sh\n")
    kill.chmod(0o755)
    shutil.copytree("/lib/systemd/system", machine / "lib/systemd/system", symlinks=True)
    done = subprocess.run(
        ["systemd-analyze", "verify", "--man=no", f"--root={machine}", *units],
        capture_output=True,
        text=True,
        check=False,
    )
    return [line for line in done.stderr.splitlines() if "gatekeeper" in line]


def exposure(unit):
    """Return the figure that systemd gives a unit: 0 is closed, 10 is open."""
    done = subprocess.run(
        ["systemd-analyze", "security", "--offline=yes", "--no-pager", str(unit)],
        capture_output=True,
        text=True,
        check=True,
    )
    return float(re.search(r"exposure level for \S+: ([\d.]+)", done.stdout)[1])


# -- the units ------------------------------------------------------------------------------------


@needs_analyze
@pytest.mark.parametrize("name", ["gatekeeper@", "gatekeeper-board@"])
def test_a_unit_is_in_good_order(tmp_path, name):
    text = (UNITS / f"{name}.service").read_text().replace(PROGRAM, "/bin/true")
    (tmp_path / f"{name}main.service").write_text(text)
    done = subprocess.run(
        ["systemd-analyze", "verify", "--man=no", str(tmp_path / f"{name}main.service")],
        capture_output=True,
        text=True,
        check=False,
    )
    assert (done.returncode, done.stdout + done.stderr) == (0, "")


@needs_analyze
@pytest.mark.parametrize(
    ("name", "with_network", "most"),
    [("gatekeeper@", False, 0.8), ("gatekeeper@", True, 1.5), ("gatekeeper-board@", False, 0.8)],
)
def test_a_unit_is_as_closed_as_was_promised(tmp_path, name, with_network, most):
    unit = tmp_path / f"{name}.service"
    lines = (UNITS / unit.name).read_text()
    if with_network:
        lines = lines.split("[Install]")[0] + (UNITS / "network.conf").read_text()
    unit.write_text(lines)
    assert exposure(unit) <= most


@needs_analyze
def test_the_figure_rises_when_a_wall_is_left_out(tmp_path):
    whole, open_to_all = tmp_path / "whole@.service", tmp_path / "open@.service"
    text = (UNITS / "gatekeeper@.service").read_text()
    whole.write_text(text)
    open_to_all.write_text(text.replace("ProtectSystem=strict\n", ""))
    assert exposure(open_to_all) > exposure(whole)


def test_every_line_that_is_looser_than_it_could_be_says_why():
    loose = {"UMask=0022", "CapabilityBoundingSet=CAP_LEASE", "PrivateUsers=no"}
    reason = ""
    for line in (UNITS / "gatekeeper@.service").read_text().splitlines():
        if line.startswith("#"):
            reason += line
            continue
        if line in loose:
            assert "Looser than it could be" in reason
            loose.remove(line)
        reason = ""
    assert loose == set()


@pytest.mark.skipif(
    not (shutil.which("strace") and shutil.which("systemd-analyze")),
    reason="needs strace and systemd-analyze: apt-get install strace systemd",
)
def test_the_daemon_uses_no_system_call_that_its_unit_forbids(site, sheet, wait_for, tmp_path):
    trace = tmp_path / "trace"
    site.drop("1.csv", sheet(job="1"))
    process = subprocess.Popen(
        ["strace", "--follow-forks", "--summary-only", f"--output={trace}", sys.executable, "-m",
         "gatekeeper", "run", "--site", str(site.root)],
        stderr=subprocess.DEVNULL,
    )  # fmt: skip
    try:
        wait_for(site.jobs_on_disk, 40)
    finally:
        # The daemon is asked to end, not strace, which would leave it.
        tasks = Path(f"/proc/{process.pid}/task/{process.pid}/children").read_text().split()
        os.kill(int(tasks[0]), signal.SIGTERM)
        process.wait(timeout=30)
    used = {line.split()[-1] for line in trace.read_text().splitlines()[2:-2]}
    assert {"openat", "inotify_add_watch"} <= used
    # Run by root, SQLite gives its files to the database's owner (posixFchown in its os_unix.c);
    # by anybody else it does not.
    assert used - allowed_calls() - ({"fchown"} if os.geteuid() == 0 else set()) == set()


def allowed_calls():
    """Return the calls that the unit's filter leaves, by systemd's own lists."""
    filters = re.findall(
        r"^SystemCallFilter=(.*)$", (UNITS / "gatekeeper@.service").read_text(), re.MULTILINE
    )
    allowed = set()
    for line in filters:
        names = set().union(*(members(name) for name in line.lstrip("~").split()))
        allowed = allowed - names if line.startswith("~") else allowed | names
    return allowed | members("@default")


def members(name):
    done = subprocess.run(
        ["systemd-analyze", "syscall-filter", "--no-pager", name],
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    listed = [line.strip() for line in done.stdout.splitlines()[1:]]
    found = {word for word in listed if word and not word.startswith(("#", "@"))}
    return found.union(*(members(word) for word in listed if word.startswith("@")))


# -- installing -----------------------------------------------------------------------------------


def test_a_site_in_its_usual_place_needs_the_shared_files_and_one_link(site, machine):
    install(site, machine)
    found = files_of(machine)
    assert set(found) - {"etc/systemd/system/gatekeeper@.service.d/back-off.conf"} == {
        "etc/systemd/system/gatekeeper@.service",
        "etc/systemd/system/multi-user.target.wants/gatekeeper@main.service",
        "etc/sysusers.d/gatekeeper.conf",
        "etc/tmpfiles.d/gatekeeper.conf",
        "usr/local/bin/gatekeeper",
        "usr/local/share/man/man1/gatekeeper.1",
    }
    assert found["usr/local/bin/gatekeeper"] == Path(PROGRAM)
    assert found["usr/local/share/man/man1/gatekeeper.1"].startswith(".TH GATEKEEPER 1")
    link = found["etc/systemd/system/multi-user.target.wants/gatekeeper@main.service"]
    assert link == Path("/etc/systemd/system/gatekeeper@.service")
    assert (
        found["etc/systemd/system/gatekeeper@.service"]
        == (UNITS / "gatekeeper@.service").read_text()
    )


def test_a_second_installation_changes_nothing_and_says_so(site, machine):
    install(site, machine)
    before = {path: path.lstat().st_mtime_ns for path in machine.rglob("etc/**/*")}
    assert install(site, machine).stdout == "nothing to do: it is so already\n"
    assert {path: path.lstat().st_mtime_ns for path in machine.rglob("etc/**/*")} == before


def test_a_dry_run_says_all_and_does_nothing(site, machine):
    said = install(site, machine, "--dry-run").stdout.splitlines()
    assert not (machine / "etc").exists()
    install(site, machine)
    assert len(said) == len(files_of(machine))
    assert all(line.startswith(("would write ", "would link ")) for line in said)


def test_an_older_unit_is_replaced(site, machine):
    install(site, machine)
    unit = machine / "etc/systemd/system/gatekeeper@.service"
    unit.write_text("[Service]\nExecStart=/old\n")
    assert install(site, machine).stdout == f"replace {unit}\n"
    assert unit.read_text() == (UNITS / "gatekeeper@.service").read_text()


@needs_analyze
def test_what_is_installed_is_in_good_order_and_closed(site, machine):
    install(site, machine, "--board")
    assert verify(machine, "gatekeeper@main.service", "gatekeeper-board@main.service") == []
    assert exposure(machine / "etc/systemd/system/gatekeeper@.service") <= 0.8


def test_mail_or_a_database_elsewhere_opens_the_network_and_without_them_it_is_closed(
    site, machine
):
    drop_in = machine / "etc/systemd/system/gatekeeper@main.service.d/network.conf"
    settings = site.root / "site.yaml"
    plain = settings.read_text()
    for line in (
        "mail: {server: mail.example, sender: a@b.example, recipients: [c@d.example]}\n",
        "history: postgresql://gatekeeper@database.example/plates\n",
    ):
        settings.write_text(plain + line)
        install(site, machine)
        assert drop_in.read_text() == (UNITS / "network.conf").read_text()
        settings.write_text(plain)
        install(site, machine)
        assert not drop_in.parent.exists()
    install(site, machine, "--network")
    assert drop_in.exists()


@needs_analyze
def test_a_site_elsewhere_with_a_share_gets_a_drop_in_that_opens_both(room, machine, tmp_path):
    share = tmp_path / "share of the bench"
    shutil.move(room.root / "drop", share)
    settings = room.root / "site.yaml"
    settings.write_text(settings.read_text() + f"folders: {{drop: '{share}'}}\n")
    install(room, machine, "--name", "annex")
    found = (machine / "etc/systemd/system/gatekeeper@annex.service.d/site.conf").read_text()
    assert f"ExecStart={PROGRAM} run --site {room.root}\n" in found
    assert f"ReadWritePaths=\nReadWritePaths={room.root}\n" in found
    assert f'ReadWritePaths="-{share}"\n' in found
    assert f"AssertPathExists=\nAssertPathExists={room.root}/site.yaml\n" in found
    assert "PrivateTmp=no\n" in found  # the runner's folder is one of temporary files
    assert verify(machine, "gatekeeper@annex.service") == []


def test_names_that_mean_something_to_systemd_are_written_so_that_they_do_not():
    place = Path('/data/50 %/a"b\\c$d')
    request = Request("main", place, (place / "drop",), Path(PROGRAM))
    (file,) = own_files(request)
    assert '--site "/data/50 %%/a\\"b\\\\c$$d"' in file.content
    assert 'ReadWritePaths="/data/50 %%/a\\"b\\\\c$d"' in file.content


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["--name", "a b"], "cannot be the name of a service"),
        (["--name", "../x"], "cannot be the name of a service"),
        (["--program", "/home/ada/bin/gatekeeper"], "in somebody's home"),
    ],
)
def test_what_cannot_work_is_refused_before_anything_is_written(site, machine, words, says):
    said = service(site, machine, "install", "--program", PROGRAM, *words, expect=2).stderr
    assert says in said
    assert "  do     " in said
    assert not (machine / "etc").exists()


# -- uninstalling ---------------------------------------------------------------------------------


def test_uninstalling_takes_away_all_that_was_installed_and_leaves_the_site(site, machine):
    site_before = sorted(site.root.rglob("*"))
    install(site, machine, "--board", "--network")
    service(site, machine, "uninstall")
    assert files_of(machine) == {}
    assert not list((machine / "etc/systemd/system").glob("*.d"))
    assert sorted(site.root.rglob("*")) == site_before
    assert service(site, machine, "uninstall").stdout == "nothing to do: it is so already\n"


def test_uninstalling_one_of_two_sites_leaves_what_the_other_needs(site, machine):
    install(site, machine)
    install(site, machine, "--name", "annex")
    service(site, machine, "uninstall", "--name", "annex")
    found = files_of(machine)
    assert "etc/systemd/system/gatekeeper@.service" in found
    assert "etc/systemd/system/multi-user.target.wants/gatekeeper@main.service" in found
    assert not [name for name in found if "annex" in name]


def test_what_the_administrator_added_stays(site, machine):
    install(site, machine, "--network")
    own = machine / "etc/systemd/system/gatekeeper@main.service.d/override.conf"
    own.write_text("[Service]\nUMask=0027\n")
    service(site, machine, "uninstall")
    assert list(files_of(machine)) == [str(own.relative_to(machine))]


def test_a_command_that_was_installed_otherwise_is_left_alone(site, machine):
    command = machine / "usr/local/bin/gatekeeper"
    command.parent.mkdir(parents=True)
    command.write_text("#!/bin/sh\n")
    install(site, machine)
    assert command.read_text() == "#!/bin/sh\n"
    service(site, machine, "uninstall")
    assert command.read_text() == "#!/bin/sh\n"


# -- what is run on a real machine ----------------------------------------------------------------


class Live(Machine):
    """A scratch root that plans as the machine itself would."""

    @property
    def is_live(self):
        return True

    def is_active(self, unit):
        return unit in ACTIVE


ACTIVE: set[str] = set()


@pytest.fixture
def request_main():
    return Request("main", Path("/srv/gatekeeper/main"), (), Path(PROGRAM))


def test_users_come_before_what_belongs_to_them_and_the_start_comes_last(machine, request_main):
    own = Own(
        Path("/srv/gatekeeper/main/held"), ("chown", "-R", "gatekeeper:gatekeeper"), done=False
    )
    steps = to_install(request_main, Live(machine), [own], start=True)
    said = [step.says for step in steps]
    assert said.index(" ".join(SYSUSERS)) < said.index(own.says) < said.index(" ".join(RELOAD))
    assert said[-1] == "systemctl restart gatekeeper@main.service"
    waiting = to_install(request_main, Live(machine), [own], start=False)
    assert not [step for step in waiting if "restart" in step.says]


def test_a_service_that_runs_unchanged_is_not_restarted(machine, request_main, monkeypatch):
    for step in to_install(request_main, Machine(machine), [], start=True):
        step.do()
    assert [step.says for step in to_install(request_main, Live(machine), [], start=True)] == [
        "systemctl restart gatekeeper@main.service"
    ]
    monkeypatch.setitem(globals(), "ACTIVE", {"gatekeeper@main.service"})
    assert to_install(request_main, Live(machine), [], start=True) == []


def test_a_service_is_stopped_before_its_files_go(machine, request_main, monkeypatch):
    for step in to_install(request_main, Machine(machine), [], start=True):
        step.do()
    monkeypatch.setitem(globals(), "ACTIVE", {"gatekeeper@main.service"})
    steps = to_uninstall(request_main, Live(machine))
    assert steps[0] == Run(("systemctl", "stop", "gatekeeper@main.service"))
    assert steps[-1] == Run(RELOAD)


def test_growing_pauses_are_installed_only_where_systemd_knows_them(machine, request_main):
    for version, is_there in ((252, False), (254, True)):
        request = replace(request_main, systemd=version)
        said = [step.says for step in to_install(request, Machine(machine), [], start=True)]
        assert any("back-off.conf" in line for line in said) == is_there


def test_a_command_that_fails_says_which_and_why():
    with pytest.raises(RoomError, match=r"^false failed: exit status 1\n") as error:
        Run(("false",)).do()
    assert "run the same command again" in error.value.do
    with pytest.raises(RoomError, match="no-such-command-here could not be run"):
        Run(("no-such-command-here",)).do()


@pytest.mark.skipif(os.geteuid() == 0, reason="root may do it")
def test_only_root_may_install_on_the_machine_itself(room):
    said = room.call(
        "service", "install", "--program", PROGRAM, "--site", str(room.root), expect=2
    ).stderr
    assert "only root can do this" in said
