"""One sweep: rounds until nothing is on its way any more, then the sum of them."""

from __future__ import annotations

import threading
from typing import TYPE_CHECKING

from gatekeeper.rounds.outlook import Outlook

if TYPE_CHECKING:
    from collections.abc import Callable

    from gatekeeper.rounds.round import Rounds

LONGEST_PAUSE_S = 60.0
"""A sweep does not wait for what needs longer than this: an empty file, a slow copy."""


def sweep_once(
    rounds: Rounds, told: Callable[[int, int | None], None] = lambda _done, _total: None
) -> Outlook:
    """Go round until no file is settling any more; what waits for somebody is left and said.

    Parameters
    ----------
    told : called now and then with how many jobs were filed; of how many, nobody knows before the
        files have been read
    """
    total = Outlook()

    def goes_on() -> bool:
        told(rounds.filed, None)
        return False

    deadline = rounds.clock.monotonic() + 3 * rounds.settler.settle_s + LONGEST_PAUSE_S
    while True:
        outlook = rounds.go(should_stop=goes_on)
        total.filed += outlook.filed
        total.waiting = outlook.waiting
        total.alarms = list(dict.fromkeys(outlook.alarms))  # one fault may meet many jobs
        settling = [
            entry.due_s
            for entry in outlook.waiting
            if entry.is_settling and entry.due_s is not None and entry.due_s <= LONGEST_PAUSE_S
        ]
        if not settling or rounds.clock.monotonic() > deadline:
            return total
        threading.Event().wait(max(min(settling), 0.001))
