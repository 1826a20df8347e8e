"""All rule files of a site at one moment: which rules hold for whom, and which files are broken.

Pure: it is handed the bytes of the files. `files.py` reads them.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from gatekeeper.errors import RulesError
from gatekeeper.rules.compile import compile_rules
from gatekeeper.rules.merge import Layer, keyed
from gatekeeper.rules.models import CustomerFile, WorkflowFile
from gatekeeper.rules.sense import layer_problems, unknown_workflow_problems
from gatekeeper.yamlfiles.load import load
from gatekeeper.yamlfiles.places import BrokenFilesError, FileProblem, Scalar, Table
from gatekeeper.yamlfiles.validate import validate

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from pydantic import BaseModel

    from gatekeeper.rules.effective import EffectiveRules

WORKFLOWS = "workflows/"
CUSTOMERS = "customers/"


class UnknownNameError(RulesError):
    """No file defines this workflow or customer, and no broken file could be the one that does."""

    def __init__(self, kind: str, name: str, known: tuple[str, ...]) -> None:
        self.kind = kind
        self.name = name
        self.known = known
        super().__init__(what=f"no {kind} is called {name!r}")


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


def fold(name: str) -> str:
    """Return the form in which customers are compared: case and runs of blanks do not count."""
    return " ".join(name.casefold().split())


class Library:
    """Workflows and customers by name, effective rules by pair, problems by file."""

    def __init__(
        self,
        files: Mapping[str, bytes],
        *,
        always: Table,
        where_used: Table,
        floors: Table | None = None,
        last_good: Mapping[str, bytes] | None = None,
    ) -> None:
        self.workflows: dict[str, Workflow] = {}
        self.customers: dict[str, Customer] = {}
        self.problems: dict[str, tuple[FileProblem, ...]] = {}
        self._always = always
        self._where_used = where_used
        self._floors = Layer("site floor", keyed(floors)) if floors else None
        self._suspects: dict[str, str] = {}  # broken file → the name it probably defines, folded
        # file → said in reports while its last good text is in force
        self._notes: dict[str, str] = {}
        self._pairs: dict[tuple[str, str], EffectiveRules | BrokenFilesError] = {}
        for file in sorted(files):
            self._take(file, files[file], (last_good or {}).get(file))
        self._check_names()
        self._check_pairs()

    # -- asking -------------------------------------------------------------------------------

    def effective(self, workflow: str, customer: str) -> EffectiveRules:
        """Return the rules for a workflow and customer (empty: none named).

        Raises
        ------
        UnknownNameError : nobody defines the workflow or customer; the job is at fault
        BrokenFilesError : a file that governs this job is broken; the job waits
        """
        if workflow not in self.workflows:
            self._raise_if_suspect(WORKFLOWS, workflow)
            raise UnknownNameError("workflow", workflow, tuple(self.workflows))
        key = fold(customer)
        if key and key not in self.customers:
            self._raise_if_suspect(CUSTOMERS, customer)
            known = tuple(entry.name for entry in self.customers.values())
            raise UnknownNameError("customer", customer, known)
        return self._pair(workflow, key)

    def is_broken_for(self, workflow: str) -> tuple[FileProblem, ...]:
        """Return the problems for which every job of this workflow waits, whoever its customer."""
        try:
            self.effective(workflow, "")
        except BrokenFilesError as error:
            return error.problems
        except UnknownNameError:
            pass
        return ()

    @property
    def has_broken_customers(self) -> bool:
        """Whether a job's customer must be known before the job may be taken in."""
        return any(file.startswith(CUSTOMERS) for file in self.problems)

    @property
    def all_problems(self) -> tuple[FileProblem, ...]:
        """Every problem of every file, sorted by place."""
        return tuple(sorted({problem for found in self.problems.values() for problem in found}))

    # -- building -----------------------------------------------------------------------------

    def _take(self, file: str, content: bytes, last_good: bytes | None) -> None:
        try:
            self._add(file, content)
        except BrokenFilesError as error:
            self.problems[file] = error.problems
            if last_good is None:
                self._suspects[file] = fold(_probable_name(file, content))
                return
            self._add(file, last_good)
            place = error.problems[0].place
            self._notes[file] = f"last good rules of {file} are in force, because {place} is broken"

    def _add(self, file: str, content: bytes) -> None:
        table = load(content, file)
        model: type[BaseModel] = WorkflowFile if file.startswith(WORKFLOWS) else CustomerFile
        read, problems = validate(model, table)
        problems += [
            problem for block in _blocks_of_limits(table) for problem in layer_problems(block)
        ]
        if read is None or problems:
            raise BrokenFilesError(problems)
        if isinstance(read, WorkflowFile):
            self._add_workflow(file, read, table)
        elif isinstance(read, CustomerFile):
            self._add_customer(file, read, table)

    def _add_workflow(self, file: str, read: WorkflowFile, table: Table) -> None:
        other = self.workflows.get(read.workflow)
        if other:
            raise _name_twice("workflow", table, other.file)
        if "/" in read.workflow or read.workflow.startswith("."):
            raise BrokenFilesError(
                [
                    FileProblem(
                        table.entries["workflow"].place,
                        "not-a-folder-name",
                        f"the workflow's name {read.workflow!r} cannot be a folder's name",
                        "use letters, digits, - and _",
                    )
                ]
            )
        self.workflows[read.workflow] = Workflow(
            read.workflow, read.title or read.workflow, file, read.reading, read.dot_from, table
        )

    def _add_customer(self, file: str, read: CustomerFile, table: Table) -> None:
        key = fold(read.customer)
        if key in self.customers:
            raise _name_twice("customer", table, self.customers[key].file)
        self.customers[key] = Customer(read.customer, file, table)

    def _check_names(self) -> None:
        known = set(self.workflows) | set(self._suspects.values())
        for key, customer in list(self.customers.items()):
            found = tuple(unknown_workflow_problems(customer.table, known))
            if found:
                self.problems[customer.file] = found
                self._suspects[customer.file] = key
                del self.customers[key]

    def _check_pairs(self) -> None:
        for workflow in self.workflows:
            for customer in ("", *self.customers):
                try:
                    self._pair(workflow, customer)
                except BrokenFilesError as error:
                    for problem in error.problems:
                        file = problem.place.file
                        old = self.problems.get(file, ())
                        if problem not in old:
                            self.problems[file] = (*old, problem)

    def _pair(self, workflow: str, customer: str) -> EffectiveRules:
        key = (workflow, customer)
        if key not in self._pairs:
            try:
                self._pairs[key] = self._compile(
                    self.workflows[workflow], self.customers.get(customer)
                )
            except BrokenFilesError as error:
                self._pairs[key] = error
        found = self._pairs[key]
        if isinstance(found, BrokenFilesError):
            raise found
        return found

    def _compile(self, workflow: Workflow, customer: Customer | None) -> EffectiveRules:
        stated = [Layer("workflow", keyed(workflow.table))]
        if customer:
            stated += [
                Layer("customer", keyed(block))
                for block in _customer_blocks(customer, workflow.name)
            ]
        if self._floors:
            stated.insert(0, self._floors)
        used = {key for layer in stated for key in layer.table.entries}
        entries = dict(self._always.entries)
        entries |= {key: value for key, value in self._where_used.entries.items() if key in used}
        places = self._always.key_places | self._where_used.key_places
        built_in = Layer("built in", Table(entries, places, self._always.place))
        return compile_rules(
            workflow=workflow.name,
            customer=customer.name if customer else "",
            title=workflow.title,
            reading=workflow.reading,
            dot_from=workflow.dot_from,
            layers=[built_in, *stated],
            floors=self._floors,
            notes=tuple(
                self._notes[entry.file]
                for entry in (workflow, customer)
                if entry and entry.file in self._notes
            ),
        )

    def _raise_if_suspect(self, folder: str, name: str) -> None:
        """Raise when a broken file may define this name: the job waits, not held as unknown."""
        suspects = {
            file: probable for file, probable in self._suspects.items() if file.startswith(folder)
        }
        named = [file for file, probable in suspects.items() if probable == fold(name)]
        nameless = [file for file, probable in suspects.items() if not probable]
        if named or nameless:
            raise BrokenFilesError(self.problems[(named or nameless)[0]])


def _blocks_of_limits(table: Table) -> Iterator[Table]:
    """Yield each block that holds limits: the file itself, or a customer's blocks."""
    yield table
    for_all = table.entries.get("all_workflows")
    if isinstance(for_all, Table):
        yield for_all
    by_name = table.entries.get("workflows")
    if isinstance(by_name, Table):
        yield from (block for block in by_name.entries.values() if isinstance(block, Table))


def _customer_blocks(customer: Customer, workflow: str) -> Iterator[Table]:
    for_all = customer.table.entries.get("all_workflows")
    if isinstance(for_all, Table):
        yield for_all
    by_name = customer.table.entries.get("workflows")
    block = by_name.entries.get(workflow) if isinstance(by_name, Table) else None
    if isinstance(block, Table):
        yield block


def _name_twice(kind: str, table: Table, other_file: str) -> BrokenFilesError:
    node = table.entries[kind]
    name = node.text if isinstance(node, Scalar) else ""
    return BrokenFilesError(
        [
            FileProblem(
                node.place,
                "name-twice",
                f"the {kind} {name!r} is also defined in {other_file}",
                "give one of them another name or remove it",
            )
        ]
    )


def _probable_name(file: str, content: bytes) -> str:
    """Return the name that a broken file seems to define: its key's, else the file's stem."""
    text = content.decode("utf-8", "replace")
    if file.startswith(WORKFLOWS):
        found = re.search(r"^workflow:[ \t]*[\"']?([^\"'#\n]+)", text, re.MULTILINE)
        return found[1].strip() if found else file.removeprefix(WORKFLOWS).rsplit(".", 1)[0]
    found = re.search(r"^customer:[ \t]*[\"']?([^\"'#\n]+)", text, re.MULTILINE)
    return found[1].strip() if found else ""
