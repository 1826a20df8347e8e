"""Control: whether the printer stands under a signal of its control charts when a film is judged.

Why    a film may keep every limit while the printer that made it has left its level: the next ones
       will not. By default the report says so and nothing holds; a room that rather stops asks for
       a hold.
Keys   control: hold_on (mid-tone, solid, clear: quantities whose standing signal holds the job),
       signals (which signs count; built in: level).
         level         moving average or cumulative sum beyond its limit, by three films or more
         one side      seven films in a row on one side of the centre
         rise or fall  seven films in a row, each above (each below) the one before
         outside       the newest film beyond the limits of single films
       Looked at is the chart of this workflow, printer, film lot, curve and head, as it stood when
       the sheet was judged, without the film itself; fewer than 21 films give no sign. While the
       history is away nobody knows, and a job that a signal could hold is held.
Source ISO 7870-2:2013 (from memory) for the runs; Lucas and Saccucci 1990, Lucas and Crosier 1982
       for average and sum, see `control.watch`. What to do about a signal is common practice.
Pass   hold_on [mid-tone]; the mid-tone stands at its level.
Held   the mid-tone has stood 0.9 points above its base period for twelve films, and passes.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from gatekeeper.checks.advice import ADMINISTRATOR, CALL_LEAD, CLEAN_HEAD, FRESH_FILM, WEDGE
from gatekeeper.checks.interface import answer, aside
from gatekeeper.signals import MID_TONE, NOT_KNOWN
from gatekeeper.verdict import Outcome

if TYPE_CHECKING:
    from collections.abc import Iterator

    from gatekeeper.checks.interface import Subject
    from gatekeeper.rules.effective import Limit
    from gatekeeper.signals import Signal
    from gatekeeper.verdict import Finding, Step

NAME = "control"

_NOBODY_LOOKED = "nobody has looked at the control charts for this sheet"
_DO: dict[str, tuple[Step, ...]] = {
    MID_TONE: (WEDGE, CALL_LEAD),
    "solid": (CLEAN_HEAD, CALL_LEAD),
    "clear": (FRESH_FILM, CALL_LEAD),
}


def judge(subject: Subject) -> Iterator[Finding]:
    """Hold on the signals that the rules name, and note the others."""
    limit = subject.rules.limit(NAME, "hold_on")
    signals = subject.signals
    if signals is None or signals.unknown:
        yield from _not_known(subject, limit)
        return
    held = [signal for signal in signals.standing if limit and _holds(subject, limit, signal)]
    for signal in signals.standing:
        if limit and signal in held:
            outcome, do = Outcome.HOLD, _DO[signal.quantity]
            yield answer(subject, limit, outcome, signal.says, measured=signal.words, do=do)
        else:
            rule = "control.signal"
            yield aside(subject, rule, Outcome.NOTE, signal.says, measured=signal.words)
    if limit and not held:
        says = "no signal stands that would hold the job"
        yield answer(subject, limit, Outcome.PASS, says, measured="none")


def _holds(subject: Subject, limit: Limit, signal: Signal) -> bool:
    counting = subject.rules.limit(NAME, "signals")
    signs = set(counting.words) if counting else set()
    return signal.quantity in limit.words and not signs.isdisjoint(signal.signs)


def _not_known(subject: Subject, limit: Limit | None) -> Iterator[Finding]:
    signals = subject.signals
    says = signals.unknown if signals else _NOBODY_LOOKED
    if limit:
        do = (CALL_LEAD, ADMINISTRATOR)
        outcome = Outcome.NOT_JUDGED
        yield answer(subject, limit, outcome, says, measured=NOT_KNOWN, do=do)
    elif signals and signals.is_away:
        yield aside(subject, "control.known", Outcome.NOTE, says, measured=NOT_KNOWN)
