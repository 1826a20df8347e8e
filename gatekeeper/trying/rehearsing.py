"""A site's history under edited rules: the folder, the history and the rehearsal put together."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gatekeeper.errors import UsageError
from gatekeeper.history.replay import Whose
from gatekeeper.register.register import REGISTER, read_register
from gatekeeper.rules.difference import read_record
from gatekeeper.rules.edits import is_compared_path, path_of
from gatekeeper.rules.files import read_yaml_files
from gatekeeper.trying.candidates import Candidates, candidates
from gatekeeper.trying.rehearsal import Rehearsal, rehearse
from gatekeeper.trying.rulebooks import as_written, edited_book, past_of
from gatekeeper.wording import did_you_mean, quoted

if TYPE_CHECKING:
    from collections.abc import Callable
    from datetime import datetime
    from pathlib import Path

    from gatekeeper.history.query import Lookup
    from gatekeeper.history.replay import Replay
    from gatekeeper.register.register import Register
    from gatekeeper.site import Site


def rehearse_folder(
    site: Site,
    folder: Path,
    since: datetime | None,
    workflow: str,
    customer: str,
    *,
    told: Callable[[int, int | None], None] = lambda _done, _total: None,
) -> Rehearsal:
    """Judge the history again under the rules of a folder, and tell how far it is.

    Raises
    ------
    UsageError : the folder holds no rules, or nothing has been judged here yet
    BrokenFilesError : the edited rules are broken: they would not count either
    """
    book = edited_book(site, folder)
    with past_of(site) as history:
        whose = Whose(since, workflow, as_written(site, customer) if customer else "")
        with history.replay(whose) as past:
            return rehearse(
                past,
                book,
                lambda fingerprint: _text(history, fingerprint),
                site.time_zone,
                register=_own_register(site),
                told=told,
            )


def _own_register(site: Site) -> Register:
    register, _ = read_register(read_yaml_files(site.root, (REGISTER,)))
    return register


def suggest_limits(
    site: Site, rule: str, since: datetime | None, workflow: str, customer: str
) -> list[Candidates]:
    """Return a table for a limit, or for each limit of a section, that jobs were judged by.

    Raises
    ------
    UsageError : no job was judged by such a limit; names those that can be had
    """
    with past_of(site) as history:
        whose = Whose(since, workflow, as_written(site, customer) if customer else "")
        with history.replay(whose) as past:
            asked = sorted(_asked(past, history))
            chosen = [name for name in asked if name == rule or name.startswith(f"{rule}.")]
            if not chosen:
                raise UsageError(
                    f"no job meant was judged by a number for {quoted(rule)}",
                    do=did_you_mean(rule, asked),
                )
            tables = [candidates(path_of(name), past.answers([name])) for name in chosen]
    return [table for table in tables if table]


def _asked(past: Replay, history: Lookup) -> set[str]:
    """Return the limits that jobs were judged by whose readings can be compared."""
    rules: set[str] = set()
    for fingerprint in {job.fingerprint for job in past.jobs()}:
        rules |= read_record(_text(history, fingerprint)).rules.keys()
    return {rule for rule in rules if is_compared_path(path_of(rule))}


def _text(history: Lookup, fingerprint: str) -> str:
    found = history.rule_set(fingerprint)
    return found.text if found else ""
