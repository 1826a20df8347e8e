"""Which rules the gate goes by, told to the audit trail whenever they become others.

A verdict keeps the rules that it rests on, but a day on which nobody was judged has rules, too. So
the trail is told the whole text of each workflow's and customer's rules when they are taken up: at
a start, after an edit, at a midnight on which a change with a date begins.

What was told last lies in a file of the state folder, so that a start tells only what is new. It is
no record: lost, or of another history, everything is told once more, and a crash between the two
tells it twice.
"""

from __future__ import annotations

import contextlib
import json
import os
from dataclasses import dataclass
from typing import TYPE_CHECKING

from gatekeeper.history import HistoryAwayError
from gatekeeper.history.interface import EventKind
from gatekeeper.yamlfiles.places import BrokenFilesError

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from pathlib import Path

    from gatekeeper.record.ledger import Ledger
    from gatekeeper.rules.effective import EffectiveRules
    from gatekeeper.rules.library import Library

TAKEN_UP = "taken_up"
"""Key of the event's document; a list of workflow, customer, fingerprint and text."""

TOLD_FILE = "rules-told.json"


@dataclass(frozen=True, slots=True)
class RulesTakenUp:
    """What the trail has been told of the rules.

    Parameters
    ----------
    state : the gate's state folder
    history : what tells one history from another, so that a new one is told everything
    """

    state: Path
    history: str

    def untold(self, library: Library) -> list[dict[str, str]]:
        """Return the rules that the trail does not know to be in force, whole."""
        told = self._told()
        return [
            {
                "workflow": rules.workflow,
                "customer": rules.customer,
                "fingerprint": rules.fingerprint,
                "text": rules.text,
            }
            for key, rules in _in_force(library)
            if told.get(key) != rules.fingerprint
        ]

    def have_told(self, library: Library) -> None:
        """Note that the trail knows these rules now; where that fails, it is told again."""
        found = {key: rules.fingerprint for key, rules in _in_force(library)}
        document = {"history": self.history, "told": found}
        temporary = self.state / f".{TOLD_FILE}.{os.getpid()}"
        with contextlib.suppress(OSError):
            temporary.write_text(json.dumps(document, indent=1) + "\n", encoding="utf-8")
            temporary.replace(self.state / TOLD_FILE)

    def _told(self) -> dict[str, str]:
        with contextlib.suppress(OSError, ValueError, TypeError, KeyError):
            document = json.loads((self.state / TOLD_FILE).read_bytes())
            if document["history"] == self.history:
                return dict(document["told"])
        return {}


def _in_force(library: Library) -> Iterator[tuple[str, EffectiveRules]]:
    """Yield the rules of every pair that has some; of a broken file no rules are in force."""
    for workflow, customer in library.pairs():
        with contextlib.suppress(BrokenFilesError):
            yield json.dumps([workflow, customer]), library.effective(workflow, customer)


def tell_rules(
    ledger: Ledger, state: Path, library: Library, edit: Mapping[str, object] | None = None
) -> None:
    """Tell the audit trail which rules are in force, as far as it does not know.

    Parameters
    ----------
    state : the gate's own folder
    edit : what is to be told of an edit, whether rules changed by it or not
    """
    untold = RulesTakenUp(state, _mark(ledger)).untold(library)
    if untold or edit:
        ledger.note(EventKind.RULES, ledger.site, {**(edit or {}), TAKEN_UP: untold})
        RulesTakenUp(state, _mark(ledger)).have_told(library)


def _mark(ledger: Ledger) -> str:
    """Return what tells this history from any other, empty while it is away or empty."""
    with contextlib.suppress(HistoryAwayError):
        for event in ledger.history.events(limit=1):
            return event.sha256
    return ""
