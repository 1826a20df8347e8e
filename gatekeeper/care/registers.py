"""Entries of the register as commands give them: checked as the files are, then written.

Every option of a command is a key of the file, so what can be written by hand can be typed, and the
same words say what is wrong with it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from gatekeeper.errors import UsageError
from gatekeeper.history import EventKind, HistoryAwayError
from gatekeeper.register.editing import with_entry, with_field
from gatekeeper.register.models import LotEntry, MeterEntry, PrinterEntry, StockEntry
from gatekeeper.wording import did_you_mean, fold, quoted
from gatekeeper.workshop import history_of
from gatekeeper.yamlfiles.places import BrokenFilesError, Node, Place, Scalar, Series, Table
from gatekeeper.yamlfiles.validate import validate

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping

    from gatekeeper.care.register_desk import RegisterDesk
    from gatekeeper.clock import Clock
    from gatekeeper.register.editing import Value
    from gatekeeper.site import Site
    from gatekeeper.yamlfiles.fields import Block

Typed = str | tuple[str, ...]
"""What stands behind an option: a text, or several where the option may be given again."""


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of entry."""

    block: str
    noun: str
    model: type[Block]


METERS = Kind("meters", "meter", MeterEntry)
LOTS = Kind("lots", "film lot", LotEntry)
STOCKS = Kind("stocks", "film stock", StockEntry)
PRINTERS = Kind("printers", "printer", PrinterEntry)

_NEW_STOCK = (
    'a new stock is entered with its first lot: films add LOT --stock NAME --kind "ink film"'
)

GROWING = frozenset({"head_changed"})
"""Keys that are a diary: what is given is added to what stands there."""


def add(desk: RegisterDesk, kind: Kind, key: str, given: Mapping[str, Typed]) -> str:
    """Write a new entry, and return the file that it stands in.

    Raises
    ------
    UsageError : the name is taken, or an option cannot be used
    """
    taken = _known(desk, kind, key)
    if taken is not None:
        raise UsageError(
            f"the {kind.noun} {quoted(taken)} is in the register already",
            do=f"change it: gatekeeper {_command(kind)} set {taken} …",
        )
    fields = typed_fields(kind, given)
    return _edit(desk, kind, lambda text: with_entry(text, kind.block, key, fields))


def change(desk: RegisterDesk, kind: Kind, key: str, given: Mapping[str, Typed]) -> str:
    """Set keys of an entry, and return the file that it stands in.

    Raises
    ------
    UsageError : there is no such entry, nothing is given, or an option cannot be used
    """
    name = _known(desk, kind, key)
    if name is None:
        entries = getattr(desk.register, kind.block)
        raise UsageError(f"no {kind.noun} is called {quoted(key)}", do=did_you_mean(key, entries))
    if not given:
        raise UsageError("nothing to change was given", do="name at least one option")
    entry = getattr(desk.register, kind.block)[name]
    fields = typed_fields(kind, given, entry)

    def set_all(text: str) -> str:
        for field, value in fields.items():
            text = with_field(text, kind.block, name, field, value)
        return text

    return _edit(desk, kind, set_all)


def _edit(desk: RegisterDesk, kind: Kind, change: Callable[[str], str]) -> str:
    """Write the change; what does not go with the other entries is the caller's fault.

    The register was good before, so every problem is one of the entry, which stands in no file yet.
    """
    try:
        return desk.edit(kind.block, change)
    except BrokenFilesError as error:
        hints = dict.fromkeys(problem.do for problem in error.problems)
        if any(problem.name == "unknown-stock" for problem in error.problems):
            hints[_NEW_STOCK] = None
        raise UsageError(
            "; ".join(problem.what for problem in error.problems),
            "the entry as it would be: "
            + "; ".join(dict.fromkeys(problem.place.text.strip() for problem in error.problems)),
            f"{'; '.join(hints)} (nothing was written)",
        ) from error


def typed_fields(
    kind: Kind, given: Mapping[str, Typed], entry: Block | None = None
) -> dict[str, Value]:
    """Return what is given as the values that the file holds.

    Parameters
    ----------
    entry : the entry that is changed; None for a new one, which must be complete

    Raises
    ------
    UsageError : with every problem, each beside its option
    """
    nodes = {name: _node(name, value) for name, value in given.items()}
    top = Place(f"the new {kind.noun}", 0, 0)
    checked = {**_as_nodes(kind, entry), **nodes} if entry else nodes
    table = Table(checked, {name: node.place for name, node in checked.items()}, top)
    model, problems = validate(kind.model, table)
    if model is None:
        raise UsageError(
            "; ".join(f"{problem.place.file}: {problem.what}" for problem in problems),
            do=problems[0].do,
        )
    return {name: _value(name, getattr(model, name), entry) for name in given}


def tell(site: Site, clock: Clock, subject: str, document: Mapping[str, object]) -> None:
    """Append an edit of the register to the audit chain; while it is away, the file must do."""
    history = history_of(site, clock)
    try:
        history.note(EventKind.REGISTER, subject, document)
    except HistoryAwayError:
        return
    finally:
        history.close()


def _command(kind: Kind) -> str:
    return "films" if kind is LOTS else kind.block


def _known(desk: RegisterDesk, kind: Kind, key: str) -> str | None:
    entries = getattr(desk.register, kind.block)
    return next((name for name in entries if fold(name) == fold(key)), None)


def _place(name: str) -> Place:
    return Place(f"--{name.replace('_', '-')}", 0, 0)


def _node(name: str, value: Typed) -> Node:
    place = _place(name)
    if isinstance(value, str):
        return Scalar(value, place)
    if all("=" in item for item in value):
        pairs = dict(item.split("=", 1) for item in value)
        return _table({key: Scalar(text, place) for key, text in pairs.items()}, place)
    return Series(tuple(Scalar(item, place) for item in value), place)


def _table(entries: dict[str, Node], place: Place) -> Table:
    return Table(entries, dict.fromkeys(entries, place), place)


def _as_nodes(kind: Kind, entry: Block) -> dict[str, Node]:
    """Return the entry as it was read, so that a changed one is checked as a whole."""
    return dict(_stated(kind, entry))


def _stated(kind: Kind, entry: Block) -> Iterator[tuple[str, Node]]:
    for name in kind.model.model_fields:
        value = getattr(entry, name)
        if name in entry.model_fields_set and value is not None:
            yield name, _node_of(name, value)


def _node_of(name: str, value: Any) -> Node:  # noqa: ANN401 -- whatever a field may hold
    place = _place(name)
    if isinstance(value, dict):
        return _table({key: _node_of(name, inner) for key, inner in value.items()}, place)
    if isinstance(value, tuple):
        return Series(tuple(_node_of(name, inner) for inner in value), place)
    return Scalar(str(value), place)


def _value(name: str, value: Any, entry: Block | None) -> Value:  # noqa: ANN401 -- likewise
    if name in GROWING and entry is not None:
        before = getattr(entry, name)
        return tuple(sorted({*before, *value}))
    found: Value = value
    return found
