from __future__ import annotations

import pytest

from gatekeeper.filing.desk import Desk, Roots
from gatekeeper.filing.disk import Disk
from gatekeeper.filing.lease import DEAD_S, LEASE, RENEWED_S, Lease, Rivals, take_over
from gatekeeper.filing.tickets import Identity, Ticket
from gatekeeper.filing.trouble import LostTicketError

TICKET = Ticket("T", "g1", "sheet", "", "2026-11-24T17:00:00+00:00", "x", Identity("x", 1, 1, 1))


class Hands:
    """A clock that a test moves."""

    def __init__(self) -> None:
        self.now = 1000.0

    def __call__(self) -> float:
        return self.now


@pytest.fixture
def hands() -> Hands:
    return Hands()


@pytest.fixture
def roots(tmp_path) -> Roots:
    for name in ("drop", "approved", "held"):
        for gate in ("g1", "g2"):
            (tmp_path / name / ".gatekeeper" / gate).mkdir(parents=True)
    return Roots(tmp_path / "drop", tmp_path / "approved", tmp_path / "held", "g1", "mark")


def word(roots) -> bytes:
    return (roots.claims(roots.drop) / LEASE).read_bytes()


def test_word_changes_every_half_minute_and_not_more_often(roots, hands):
    lease = Lease(hands)
    lease.renew(Disk(), roots, [roots.drop])
    first = word(roots)
    hands.now += RENEWED_S - 1
    lease.renew(Disk(), roots, [roots.drop])
    assert word(roots) == first
    hands.now += 1
    lease.renew(Disk(), roots, [roots.drop])
    assert word(roots) != first


def test_word_of_a_restart_is_another_word(roots, hands):
    Lease(hands).renew(Disk(), roots, [roots.drop])
    first = word(roots)
    Lease(hands).renew(Disk(), roots, [roots.drop])
    assert word(roots) != first
    assert len(word(roots)) == len(first)


def test_gate_works_on_a_ticket_that_is_its_own_while_it_is_awake(roots, hands):
    desk = Desk(roots, TICKET)
    desk.claim.mkdir()
    lease = Lease(hands)
    with pytest.raises(LostTicketError):
        lease.require(Disk(), desk)  # it has given no sign of life yet
    lease.renew(Disk(), roots, [roots.drop])
    lease.require(Disk(), desk)
    hands.now += DEAD_S / 2
    with pytest.raises(LostTicketError):
        lease.require(Disk(), desk)
    lease.renew(Disk(), roots, [roots.drop])
    desk.claim.rename(desk.claim.parent.parent / "g2" / "T")
    with pytest.raises(LostTicketError):
        lease.require(Disk(), desk)


@pytest.mark.parametrize("content", [b"word", None], ids=["a word", "no word"])
def test_gate_is_dead_when_its_word_has_stood_still_for_long(roots, hands, content):
    lease = roots.drop / ".gatekeeper" / "g2" / LEASE
    if content:
        lease.write_bytes(content)
    rivals = Rivals(hands)
    assert rivals.dead(Disk(), roots, roots.drop) == []
    hands.now += DEAD_S - 1
    assert rivals.dead(Disk(), roots, roots.drop) == []
    hands.now += 1
    assert rivals.dead(Disk(), roots, roots.drop) == ["g2"]
    lease.write_bytes(b"another word")
    assert rivals.dead(Disk(), roots, roots.drop) == []


def test_one_of_two_gates_wins_a_dead_ones_ticket(roots):
    (roots.drop / ".gatekeeper" / "g2" / "T").mkdir()

    class Rival(Disk):
        def rename_new(self, source, target):
            source.rename(source.with_name("elsewhere"))
            super().rename_new(source, target)

    assert take_over(Rival(), roots, roots.drop, "g2") == []
    (roots.drop / ".gatekeeper" / "g2" / "elsewhere").rename(
        roots.drop / ".gatekeeper" / "g2" / "T"
    )
    assert take_over(Disk(), roots, roots.drop, "g2") == ["T"]
    assert (roots.claims(roots.drop) / "T").exists()
