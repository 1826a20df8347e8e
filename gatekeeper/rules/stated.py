"""One rule file → the workflow or customer that it states, or every problem of the file alone."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from gatekeeper.rules.compile import limits_of
from gatekeeper.rules.dates import changes_of
from gatekeeper.rules.merge import CUSTOMER, WORKFLOW, Layer, keyed
from gatekeeper.rules.models import CustomerFile, WorkflowFile
from gatekeeper.rules.sense import layer_problems, value_problems
from gatekeeper.shelf_names import RESERVED
from gatekeeper.wording import fold, listing, quoted
from gatekeeper.yamlfiles.load import CannotRead, Content, load, parse
from gatekeeper.yamlfiles.places import BrokenFilesError, FileProblem, Scalar, Table
from gatekeeper.yamlfiles.validate import validate

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

_FOLDER_NAME = re.compile(r"\w(?:[\w ()+,=@.-]{0,58}[\w)])?")


@dataclass(frozen=True, slots=True)
class Workflow:
    """A workflow file in good shape."""

    name: str
    title: str
    file: str
    reading: str
    dot_from: str
    table: Table


@dataclass(frozen=True, slots=True)
class Customer:
    """A customer file in good shape."""

    name: str
    file: str
    table: Table

    def blocks(self, workflow: str) -> Iterator[Table]:
        """Yield the blocks of limits for a workflow: those for all first, its own over them."""
        for_all = self.table.entries.get("all_workflows")
        own = self.own_blocks.get(workflow)
        yield from (block for block in (for_all, own) if isinstance(block, Table))

    @property
    def own_blocks(self) -> dict[str, Table]:
        """The blocks for single workflows, by the workflow's name."""
        return _tables(self.table.entries.get("workflows"))


def read_workflow(content: Content, file: str) -> Workflow:
    """Return the workflow of a file.

    Raises
    ------
    BrokenFilesError : with every problem
    """
    table, problems = parse(content, file)
    _refuse_other_kind(table, "workflow", "customer")
    read, found = validate(WorkflowFile, table)
    problems += found
    problems += layer_problems(table)
    problems += _name_problems(table.entries.get("workflow"))
    if read is None or problems:
        raise BrokenFilesError([*problems, *_value_problems(read, WORKFLOW, [table])])
    title = read.title or read.workflow
    return Workflow(read.workflow, title, file, read.reading, read.dot_from, table)


def read_customer(content: Content, file: str) -> Customer:
    """Return the customer of a file.

    Raises
    ------
    BrokenFilesError : with every problem
    """
    table, problems = parse(content, file)
    _refuse_other_kind(table, "customer", "workflow")
    read, found = validate(CustomerFile, table)
    problems += found
    blocks = list(_customer_blocks(table))
    for block in blocks:
        problems += layer_problems(block)
    if read is None or problems:
        raise BrokenFilesError([*problems, *_value_problems(read, CUSTOMER, blocks)])
    return Customer(read.customer, file, table)


def _value_problems(
    read: WorkflowFile | CustomerFile | None, layer: str, blocks: Iterable[Table]
) -> Iterator[FileProblem]:
    """Yield numbers that no limit can have, of a file that is broken for another reason.

    Those of a good file are found where its layers are put together. Where the shape is wrong,
    nothing can be said of numbers.
    """
    for block in blocks if read else ():
        for part in (block, *changes_of(block)):
            yield from value_problems(limits_of([Layer(layer, keyed(part))]))


def probable_name(content: Content, file: str, key: str) -> str:
    """Return the name that a broken file seems to define, folded; empty where it cannot be seen."""
    if isinstance(content, CannotRead):
        return ""
    try:
        node = load(content, file).entries.get(key)
    except BrokenFilesError:
        return _name_in_ruins(content, key)
    return fold(node.text or "") if isinstance(node, Scalar) else ""


def _name_in_ruins(content: bytes, key: str) -> str:
    """Look for a plain `key: name` line in text that is no YAML; anything fancier is no answer."""
    text = content.decode("utf-8-sig", "replace")
    found = re.search(rf"^{key}[ \t]*:[ \t]+(.*?)[ \t\r]*(?:[ \t]#.*)?$", text, re.MULTILINE)
    name = found[1] if found else ""
    if quoted_name := re.fullmatch(r"\"([^\"\\]*)\"|'([^']*)'", name):
        return fold(quoted_name[1] or quoted_name[2] or "")
    return "" if re.search(r"^\W|[\"'\\\ufffd]", name) else fold(name)


def _refuse_other_kind(table: Table, own: str, other: str) -> None:
    """Refuse a file in the wrong folder; its keys would otherwise all be called unknown."""
    if own not in table.entries and other in table.entries:
        what = f"a file with the key {quoted(other)} does not belong in {own}s/"
        do = f"move it to {other}s/, or add the key {quoted(own)}"
        raise BrokenFilesError([FileProblem(table.key_places[other], "wrong-folder", what, do)])


def _name_problems(name: object) -> Iterator[FileProblem]:
    """Yield why a workflow's name cannot be that of its drop folder."""
    text = name.text if isinstance(name, Scalar) else None
    if text is None or not isinstance(name, Scalar):
        return
    if not _FOLDER_NAME.fullmatch(text.strip()):
        what = f"the workflow's name {quoted(text)} cannot be a folder's name"
        do = "use letters, digits, - and _, at most 60"
        yield FileProblem(name.place, "not-a-folder-name", what, do)
    elif fold(text) in RESERVED:
        what = f"the folder {quoted(text)} is the gate's own, so it cannot be a workflow's"
        do = f"give the workflow another name than {listing(sorted(RESERVED))}"
        yield FileProblem(name.place, "not-a-folder-name", what, do)


def _customer_blocks(table: Table) -> Iterator[Table]:
    for_all = table.entries.get("all_workflows")
    if isinstance(for_all, Table):
        yield for_all
    yield from _tables(table.entries.get("workflows")).values()


def _tables(node: object) -> dict[str, Table]:
    """Return the blocks inside a block by their keys."""
    entries = node.entries if isinstance(node, Table) else {}
    return {key: value for key, value in entries.items() if isinstance(value, Table)}
