"""The whole examination, in the order in which faults hide one another."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gatekeeper.doctor import (
    arrivals,
    copies,
    daemon,
    disks,
    folders,
    meters,
    named,
    past,
    rule_files,
    timekeeping,
)
from gatekeeper.doctor.access import Access, gate_user
from gatekeeper.doctor.interface import Answer, Circumstances, Ward, broken, ok
from gatekeeper.errors import GatekeeperError
from gatekeeper.room import read_book
from gatekeeper.system_errors import advice
from gatekeeper.wording import plain

if TYPE_CHECKING:
    from collections.abc import Iterator

    from gatekeeper.doctor.interface import Look
    from gatekeeper.site import Site

LOOKS: tuple[Look, ...] = (
    daemon.version,
    timekeeping.clock,
    timekeeping.zone,
    folders.roots,
    folders.state,
    folders.readable,
    folders.strangers,
    disks.filesystems,
    disks.space,
    disks.shares,
    disks.watches,
    rule_files.rules,
    rule_files.register,
    rule_files.dues,
    meters.checked,
    arrivals.unknown_folders,
    arrivals.litter,
    past.history,
    past.outbox,
    past.backups,
    copies.restored,
    past.telling,
    named.command,
    named.passwords,
    named.log,
    named.leads,
    daemon.daemon,
)


def examine(site: Site, around: Circumstances | None = None) -> list[Answer]:
    """Look at everything; one look that fails does not hide the others."""
    around = around or Circumstances()
    ward = Ward(site, read_book(site), Access(gate_user(site, around.processes)), around)
    named = f"{plain(site.name)} in {plain(str(site.root), 400)}"
    answers = [ok("site", f"{named}, gate {site.gate} of user {ward.access.user.name}")]
    for look in LOOKS:
        answers += _answers(look, ward)
    return answers


def _answers(look: Look, ward: Ward) -> Iterator[Answer]:
    try:
        yield from look(ward)
    except OSError as error:
        says = f"{plain(str(error.filename or ''), 400)} cannot be looked at: {error.strerror}"
        yield broken(look.__name__.replace("_", " "), says, advice(error) or "see to that disk")
    except GatekeeperError as error:
        yield broken(look.__name__.replace("_", " "), error.what, error.do)
