"""What another user may do, as root sees it and as anybody else does."""

import os
import pwd
import shutil
import tempfile
from pathlib import Path

import pytest

from gatekeeper.doctor.access import ENTER, FULL, READ, WRITE, Access, GateUser, gate_user
from gatekeeper.screens.present import Present, write_present
from gatekeeper.single import only_one
from gatekeeper.site import site_of

NOBODY = 65534
"""A user on every Debian, and the overflow user of the kernel."""

as_root = pytest.mark.skipif(os.geteuid() != 0, reason="only root can look as another user")


@pytest.fixture
def folder():
    """A folder that every user can reach, unlike those of the test runner."""
    made = Path(tempfile.mkdtemp(prefix="gatekeeper-access-"))
    made.chmod(0o755)
    yield made
    shutil.rmtree(made)


@as_root
def test_root_looks_as_the_gates_user_and_is_root_again(folder):
    access = Access(GateUser(NOBODY, (NOBODY,)))
    before = os.geteuid(), os.getegid(), os.getgroups()
    assert access.may(folder, ENTER)
    assert not access.may(folder, FULL)
    os.chown(folder, NOBODY, NOBODY)
    assert access.may(folder, FULL)
    assert (os.geteuid(), os.getegid(), os.getgroups()) == before


@as_root
def test_refusal_names_user_owner_and_mode(folder):
    user = GateUser(NOBODY, (NOBODY,))
    owner = pwd.getpwuid(0).pw_name
    assert Access(user).refusal(folder, FULL) == (
        f"{folder} cannot be written by user {user.name} (owner {owner}, mode 755)"
    )
    folder.chmod(0o700)
    assert "cannot be read" in Access(user).refusal(folder, ENTER)
    assert Access(user).refusal(folder.parent, ENTER) == ""


@as_root
def test_group_of_the_gates_user_counts(folder):
    os.chown(folder, 0, 4242)
    folder.chmod(0o2770)
    assert Access(GateUser(NOBODY, (NOBODY, 4242))).may(folder, FULL)
    assert not Access(GateUser(NOBODY, (NOBODY,))).may(folder, ENTER)


@pytest.mark.parametrize(
    ("mode", "mine", "groups", "others"),
    [(0o750, FULL, ENTER, 0), (0o575, ENTER, FULL, ENTER), (0o640, WRITE, READ, 0)],
)
def test_who_is_not_root_goes_by_owner_and_mode(folder, monkeypatch, mode, mine, groups, others):
    found = folder.stat()
    monkeypatch.setattr(os, "geteuid", lambda: 1234)  # somebody who is neither root nor the gate
    users = (
        (GateUser(found.st_uid, ()), mine),
        (GateUser(77, (77, found.st_gid)), groups),
        (GateUser(77, (77,)), others),
    )
    folder.chmod(mode)
    for user, most in users:
        if user.uid == 0:
            continue  # the owner here is root, who may do anything
        for rights in (READ, WRITE, ENTER, FULL):
            assert Access(user).may(folder, rights) == (rights & most == rights)
    assert Access(GateUser(0, (0,))).may(folder, FULL)


def test_folder_that_is_closed_to_others_has_no_strangers(folder):
    found = folder.stat()
    owner = Access(GateUser(found.st_uid, (found.st_gid,)))
    assert owner.strangers(folder) == ""
    folder.chmod(0o775)
    assert owner.strangers(folder) == ""  # its own group, which nobody else is in by custom
    assert "group " in Access(GateUser(found.st_uid, (4242,))).strangers(folder)
    folder.chmod(0o757)
    assert owner.strangers(folder) == "everybody"


@as_root
def test_folder_of_another_user_is_a_strangers(folder):
    os.chown(folder, NOBODY, 0)
    assert Access(GateUser(4242, (4242,))).strangers(folder).startswith("user ")


def test_gates_user_is_the_daemons_while_it_works_else_the_owner_of_state(folder, tmp_path):
    site = site_of(folder, b"site: Ferrybank\n")
    site.state.mkdir()
    processes = tmp_path / "processes"
    process = processes / str(os.getpid())
    process.mkdir(parents=True)
    write_present(site.state, Present("2026-11-24T14:00:00+00:00", os.getpid(), "gatekeeper"))
    if os.geteuid() == 0:
        os.chown(site.state, 4242, 4242)
        os.chown(process, NOBODY, NOBODY)
        assert gate_user(site, processes).uid == 4242
        with only_one(site.state, site.gate):
            assert gate_user(site, processes).uid == NOBODY
    else:
        assert gate_user(site, processes).uid == os.geteuid()


def test_gates_user_without_an_account_is_known_by_number(folder):
    site = site_of(folder, b"site: Ferrybank\n")
    site.state.mkdir()
    if os.geteuid() == 0:
        os.chown(site.state, 4_000_123, 0)
        user = gate_user(site, Path("/proc"))
        assert (user.uid, user.name, user.groups) == (4_000_123, "4000123", ())


def test_disk_that_takes_no_changes_is_not_blamed_on_modes(folder, monkeypatch):
    monkeypatch.setattr("gatekeeper.doctor.access.is_read_only", lambda _: True)
    access = Access(GateUser(os.geteuid(), ()))
    assert access.refusal(folder, FULL) == f"{folder} takes no changes"
    assert access.refusal(folder, ENTER) == ""
