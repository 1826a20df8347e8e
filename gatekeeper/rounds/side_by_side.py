"""Many arrivals at once go through the gate side by side; one alone goes straight through."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING

from gatekeeper.cycles import cycles_left_alone
from gatekeeper.filing.abreast import Abreast
from gatekeeper.filing.wholedisk import WholeDisks

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
    from pathlib import Path

    from gatekeeper.case import FilmUse
    from gatekeeper.gate import Tools
    from gatekeeper.intake.sorting import Sorted
    from gatekeeper.record.ledger import Ledger
    from gatekeeper.sheet import Sheet

MOST_JOBS = 50
"""Jobs that go side by side: more of them would hardly save more, and a kill leaves more to do."""

MOST_BYTES = 8_000_000
"""Of all their files together: whoever brings a large file waits for it alone."""


def batches(arrivals: Iterable[Sorted]) -> Iterator[list[Sorted]]:
    """Yield arrivals in their order, as many at a time as may go side by side."""
    batch: list[Sorted] = []
    size = 0
    for one in arrivals:
        size += one.group.size
        if batch and (len(batch) == MOST_JOBS or size > MOST_BYTES):
            yield batch
            batch, size = [], one.group.size
        batch.append(one)
    if batch:
        yield batch


def run_side_by_side(
    tools: Tools,
    ledger: Ledger,
    tasks: Sequence[Callable[[Tools], None]],
    folders: Sequence[Path],
    meanwhile: Callable[[], None],
) -> None:
    """Run tasks side by side, handing them tools that wait for each other.

    Parameters
    ----------
    folders : those on whose filesystems the tasks write
    meanwhile : called while all of them stand still
    """
    if len(tasks) == 1:
        tasks[0](tools)
        return
    with WholeDisks(folders) as whole, cycles_left_alone():
        one_look = ledger.history.one_look
        abreast = Abreast(tools.disk, whole, ledger.tell, meanwhile, one_look)
        shared = replace(
            tools, record=_RecordTogether(ledger, abreast), wait_for_turn=abreast.wait_for_turn
        )
        abreast.run([partial(task, shared) for task in tasks])


@dataclass(frozen=True, slots=True)
class _RecordTogether:
    """The gate's record, told of several verdicts in one transaction."""

    ledger: Ledger
    abreast: Abreast

    def job_of_digest(self, sha256: str, *, other_than: str) -> str | None:
        return self.ledger.job_of_digest(sha256, other_than=other_than)

    def job_of_digits(self, digits: str, *, ticket: str, other_than: str) -> FilmUse | None:
        return self.ledger.job_of_digits(digits, ticket=ticket, other_than=other_than)

    def remember(self, filed: Path, sheets: Mapping[str, Sheet]) -> None:
        story = self.ledger.story_of(filed, sheets)
        self.abreast.wait_told(story)
        self.ledger.announce_filed(story)
