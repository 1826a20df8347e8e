"""The rule files side by side: which workflows and customers there are, which files are broken."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeVar

from gatekeeper.rules.sense import unknown_workflow_problems
from gatekeeper.rules.stated import (
    Customer,
    Workflow,
    probable_name,
    read_customer,
    read_workflow,
)
from gatekeeper.wording import fold, quoted
from gatekeeper.yamlfiles.places import BrokenFilesError, FileProblem

if TYPE_CHECKING:
    from collections.abc import Mapping

    from gatekeeper.yamlfiles.load import Content

WORKFLOWS = "workflows/"
CUSTOMERS = "customers/"

Stated = TypeVar("Stated", Workflow, Customer)


class Shelf:
    """Workflows and customers by name, problems by file."""

    def __init__(self, files: Mapping[str, Content]) -> None:
        self.workflows: dict[str, Workflow] = {}
        self.customers: dict[str, Customer] = {}  # by the folded name
        self.problems: dict[str, tuple[FileProblem, ...]] = {}
        self._suspects: dict[str, str] = {}  # broken file → the folded name it probably defines
        for file in sorted(files):
            try:
                self._take(file, files[file])
            except BrokenFilesError as error:
                key = "workflow" if file.startswith(WORKFLOWS) else "customer"
                self.problems[file] = error.problems
                self._suspects[file] = probable_name(files[file], file, key)
        self._check_workflows_of_customers()

    def problems_of_workflow(self, name: str) -> tuple[FileProblem, ...]:
        """Return the problems of a broken file that defines this workflow, or may define it."""
        return self._in_the_way(WORKFLOWS, name, is_known=name in self.workflows)

    def problems_of_customer(self, name: str) -> tuple[FileProblem, ...]:
        """Return the problems of a broken file that defines this customer, or may define it."""
        return self._in_the_way(CUSTOMERS, name, is_known=fold(name) in self.customers)

    def _in_the_way(self, folder: str, name: str, *, is_known: bool) -> tuple[FileProblem, ...]:
        for file, probable in self._suspects.items():
            may_be_it = probable == fold(name) or (not probable and not is_known)
            if file.startswith(folder) and may_be_it:
                return self.problems[file]
        return ()

    def _take(self, file: str, content: Content) -> None:
        if file.startswith(WORKFLOWS):
            workflow = read_workflow(content, file)
            _refuse_second(workflow, "workflow", self.workflows)
            self.workflows[workflow.name] = workflow
        else:
            customer = read_customer(content, file)
            _refuse_second(customer, "customer", self.customers)
            self.customers[fold(customer.name)] = customer

    def _check_workflows_of_customers(self) -> None:
        for key, customer in list(self.customers.items()):
            found = tuple(
                problem
                for name, problem in unknown_workflow_problems(customer.table, self.workflows)
                if not self.problems_of_workflow(name)  # a broken file may be the one meant
            )
            if found:
                self.problems[customer.file] = found
                self._suspects[customer.file] = key
                del self.customers[key]


def _refuse_second(stated: Stated, kind: str, others: Mapping[str, Stated]) -> None:
    """Refuse a second file of the same name: nobody could tell which of the two counts."""
    for other in others.values():
        if fold(other.name) == fold(stated.name):
            what = f"the {kind} {quoted(stated.name)} is also defined in {other.file}"
            place = stated.table.entries[kind].place
            do = "give one of them another name or remove it"
            raise BrokenFilesError([FileProblem(place, "name-twice", what, do)])
