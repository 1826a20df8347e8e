"""Curves on a terminal: the list, and one curve beside the curve in use."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gatekeeper.show.lines import WIDTH, table, wrapped
from gatekeeper.wording import counted, listing

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from gatekeeper.control.tone_facts import ToneFacts


EVERY = "every ruling and resolution"


def list_lines(known: Sequence[tuple[ToneFacts, str]]) -> Iterator[str]:
    """Yield one row a curve, each with the day on which it was taken, empty where it was not."""
    if not known:
        yield "no curve was built yet: drop a wedge sheet, or gatekeeper curve build FILE"
        return
    rows = [("state", "curve", "made for", "mid-tone", "through it", "taken")]
    rows += [
        (
            facts.state,
            facts.title,
            facts.setting or EVERY,
            f"{facts.mid_tone:.1f} % {facts.read_how}",
            f"{facts.mid_tone_predicted:.1f} ± {facts.error:.1f} %",
            taken,
        )
        for facts, taken in known
    ]
    yield from table(rows, WIDTH)


def curve_lines(facts: ToneFacts) -> Iterator[str]:
    """Yield one curve: what it will do, its table beside the curve in use, and its wedge."""
    yield f"{facts.title}  ({facts.state})"
    yield f"  for {facts.setting or EVERY}"
    yield from wrapped(
        f"mid-tone reads {facts.mid_tone:.1f} % {facts.read_how} and should read "
        f"{facts.mid_tone_predicted:.1f} ± {facts.error:.1f} % through this curve; "
        f"leaving each step of the wedge out misses it by {facts.leave_one_out:.1f} % on average",
        WIDTH,
        first="  ",
        rest="  ",
    )
    odd = [reading for reading in facts.readings if reading.is_outlier]
    if odd:
        named = listing(f"{reading.sent:.1f} % sent ({reading.where})" for reading in odd)
        says = f"set aside, {counted(len(odd), 'patch', 'patches')}: {named}"
        yield from wrapped(says, WIDTH, first="  ", rest="  ")
    yield ""
    rows = [("wanted", "sent now", "send", "should read")]
    rows += [
        (
            f"{step.wanted:g} %",
            "" if step.now is None else f"{step.now:.1f}",
            f"{step.new:.1f}",
            f"{step.predicted:.1f} %",
        )
        for step in facts.steps
    ]
    yield from table(rows, WIDTH, indent="  ")
