"""A job ticket: limits for one job, dropped beside its sheet, laid over all other layers.

Whoever may drop a sheet may drop a ticket, so a ticket can only tighten what workflow and customer
ask; where it would loosen, it is refused whole and the job is held. Two tickets of one job add up:
the stricter of two limits counts. Pure: it is handed the bytes.
"""

from __future__ import annotations

from pathlib import PurePath
from typing import TYPE_CHECKING

from gatekeeper.errors import JobError
from gatekeeper.rules.compile import field_of, limits_of
from gatekeeper.rules.floors import looser_than
from gatekeeper.rules.keys import Stricter
from gatekeeper.rules.merge import TICKET, Layer, keyed
from gatekeeper.rules.models import JobTicketFile
from gatekeeper.rules.sense import layer_problems
from gatekeeper.wording import fold, plain, quoted
from gatekeeper.yamlfiles.load import parse
from gatekeeper.yamlfiles.places import BrokenFilesError, FileProblem, Place, Table
from gatekeeper.yamlfiles.validate import validate

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from gatekeeper.rules.effective import EffectiveRules, Limit
    from gatekeeper.yamlfiles.load import Content

ENDINGS = frozenset({".yaml", ".yml"})
"""A companion of such a name is a ticket; one that cannot be understood as such holds the job."""

MAX_BYTES = 65_536
"""A ticket of every key there is has a few thousand."""

CAME_LATE = (
    "came after the verdict, which does not rest on it: drop the sheet again and its limits count"
)
"""What is said of a ticket that joined a held job."""

DROP_WITH_SHEET = "drop the sheet again beside this job ticket, and its limits count"
"""What is said of a ticket that came when its job was approved."""

_LONGEST_NAME = 255

_JUDGED_BY: Mapping[tuple[str, ...], frozenset[str]] = {
    ("dot", "spread_factor"): frozenset({"dot", "tints", "tone_scale"}),
}
"""Settings that say how limits of other sections are judged, too."""

Path = tuple[str, ...]


class TicketError(JobError):
    """A ticket cannot be used, by itself or with the rules it is laid over; its job is held."""

    def __init__(self, problems: Iterable[FileProblem]) -> None:
        self.problems = tuple(sorted(problems))
        super().__init__(what="\n".join(map(str, self.problems)))


def is_ticket(name: str) -> bool:
    """Whether a companion of this name is a job ticket."""
    return PurePath(name).suffix.casefold() in ENDINGS


def read_ticket(content: Content, name: str, job: str) -> Layer:
    """Return what a ticket asks of a job.

    Raises
    ------
    TicketError : with every problem of the file by itself, or because it names another job
    """
    if isinstance(content, bytes) and len(content) > MAX_BYTES:
        what = f"the file has more than {MAX_BYTES} bytes, which no job ticket has"
        do = "a file of the sheet's name with this ending is taken for a job ticket: rename it"
        raise TicketError([FileProblem(Place(plain(name), 1, 1), "too-large", what, do)])
    try:
        table, problems = parse(content, plain(name, _LONGEST_NAME))
    except BrokenFilesError as error:
        raise TicketError(error.problems) from error
    read, found = validate(JobTicketFile, table)
    problems += [*found, *layer_problems(table)]
    if read and read.job and fold(read.job) != fold(job):
        place = table.entries["job"].place
        what = f"the ticket is for job {quoted(read.job)}, the sheet for {quoted(job)}"
        problems.append(FileProblem(place, "other-job", what, "drop the ticket of this job"))
    if problems:
        raise TicketError(problems)
    return Layer(TICKET, keyed(table))


def added_up(tickets: Iterable[Layer]) -> list[Layer]:
    """Return the layers, each without what an earlier one asks as strictly or more so.

    Raises
    ------
    TicketError : two tickets ask what cannot both be met
    """
    asked: dict[Path, Limit] = {}
    layers: list[Layer] = []
    problems: list[FileProblem] = []
    for ticket in tickets:
        weaker: set[Path] = set()
        for path, limit in limits_of([ticket]).items():
            earlier = asked.get(path)
            if earlier is None or _is_stricter(limit, earlier):
                asked[path] = limit
            elif _is_stricter(earlier, limit) or earlier.value == limit.value:
                weaker.add(path)
            else:
                problems.append(_disagreement(limit, earlier))
        layers.append(Layer(ticket.name, _without(ticket.table, weaker)))
    if problems:
        raise TicketError(problems)
    return layers


def _is_stricter(limit: Limit, other: Limit) -> bool:
    stricter = field_of(limit.path)[1]
    return looser_than(other, limit, stricter) and not looser_than(limit, other, stricter)


def _disagreement(limit: Limit, earlier: Limit) -> FileProblem:
    what = f"{limit.rule}: {limit} and {earlier} ({earlier.origin}) cannot both be met"
    return FileProblem(limit.place, "tickets-disagree", what, "correct one of the two tickets")


def _without(table: Table, paths: set[Path], above: Path = ()) -> Table:
    entries = {
        key: _without(value, paths, (*above, key)) if isinstance(value, Table) else value
        for key, value in table.entries.items()
        if (*above, key) not in paths
    }
    return Table(entries, table.key_places, table.place)


def loosening_problems(below: EffectiveRules, tickets: Sequence[Layer]) -> Iterator[FileProblem]:
    """Yield what the tickets ask less strictly than the rules they are laid over, both lines named.

    A setting that no layer below states may only serve the ticket's own limits: it could change
    how others are judged.
    """
    for limit in limits_of(tickets).values():
        stated = below.limit(*limit.path)
        if stated and looser_than(limit, stated, field_of(limit.path)[1]):
            yield _looser(limit, stated)
        elif stated is None and limit.is_setting:
            yield from (_meddling(limit, judged) for judged in _judged_by(limit, below)[:1])


def _judged_by(setting: Limit, below: EffectiveRules) -> tuple[Limit, ...]:
    sections = _JUDGED_BY.get(setting.path, frozenset({setting.path[0]}))
    return tuple(
        limit for limit in below.limits if limit.path[0] in sections and not limit.is_setting
    )


def _looser(limit: Limit, stated: Limit) -> FileProblem:
    what = (
        f"{limit.rule}: {limit} is looser than {stated} ({stated.origin}, {stated.layer}); "
        "a job ticket may only tighten"
    )
    do = f"write {stated} or something stricter, or take the line out of the ticket"
    if isinstance(limit.value, tuple):
        adds = field_of(limit.path)[1] is Stricter.PRESENT
        which = f"all of {stated}, and more" if adds else f"only some of {stated}"
        do = f"name {which}, or take the line out of the ticket"
    return FileProblem(limit.place, "looser-than-rules", what, do)


def _meddling(limit: Limit, judged: Limit) -> FileProblem:
    what = (
        f"{limit.rule} says how {judged.rule} ({judged.origin}, {judged.layer}) is judged, "
        "and a job ticket may only tighten"
    )
    do = "take the line out of the ticket; the administrator can set it for workflow or customer"
    return FileProblem(limit.place, "setting-of-others", what, do)
