"""All rule files of a site at one moment: which rules hold for whom, and which files are broken.

Pure: it is handed the bytes of the files. `files.py` reads them.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING

from gatekeeper.errors import RulesError
from gatekeeper.rules.compile import compile_rules
from gatekeeper.rules.dates import days_of_change, in_force
from gatekeeper.rules.job_ticket import TicketError, loosening_problems
from gatekeeper.rules.merge import BUILT_IN, CUSTOMER, SITE_FLOOR, WORKFLOW, Layer, keyed
from gatekeeper.rules.shelf import CUSTOMERS, WORKFLOWS, Shelf
from gatekeeper.wording import fold
from gatekeeper.yamlfiles.places import BrokenFilesError, FileProblem, Table

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from gatekeeper.register.register import Register
    from gatekeeper.rules.effective import EffectiveRules
    from gatekeeper.rules.stated import Customer, Workflow
    from gatekeeper.yamlfiles.load import Content

__all__ = ["CUSTOMERS", "WORKFLOWS", "Library", "TicketError", "UnknownNameError"]


class UnknownNameError(RulesError):
    """No file defines this workflow or customer, and no broken file could be the one that does."""

    def __init__(self, kind: str, name: str, known: tuple[str, ...]) -> None:
        self.kind = kind
        self.name = name
        self.known = known
        super().__init__(what=f"no {kind} is called {name!r}")


class Library:
    """Effective rules by workflow and customer, problems by file.

    Parameters
    ----------
    files : rule files by name, `workflows/…` and `customers/…`
    always, where_used : what is built in
    floors : the site's floors, sound by themselves
    last_good : earlier texts, used for a job whose own rules are broken; none: such a job waits
    register : what the room owns, so that a rule that nothing can satisfy is found
    notes : said in the report of every job
    today : the day of which changes with dates are asked
    """

    def __init__(
        self,
        files: Mapping[str, Content],
        *,
        always: Table,
        where_used: Table,
        floors: Table | None = None,
        last_good: Mapping[str, Content] | None = None,
        register: Register | None = None,
        notes: tuple[str, ...] = (),
        today: date = date.min,
    ) -> None:
        self._shelf = Shelf(files)
        self._always = always
        self._where_used = where_used
        self._floors = floors
        self._today = today
        self._register = register
        self._notes = notes
        self._pairs: dict[tuple[str, str], EffectiveRules | BrokenFilesError] = {}
        self.problems: dict[str, tuple[FileProblem, ...]] = dict(self._shelf.problems)
        self.doubtful = set(self.problems)
        """Files that are broken, or take part in rules that do not go together."""
        self.broken_from: dict[tuple[str, str], date] = {}
        """The first day to come on which the rules of a pair, good today, will not go together."""
        self._check_pairs()
        self._older: Library | None = None
        if last_good is not None and self.problems:
            self._older = Library(
                last_good,
                always=always,
                where_used=where_used,
                floors=floors,
                register=register,
                notes=notes,
                today=today,
            )

    # -- asking -------------------------------------------------------------------------------

    @property
    def workflows(self) -> Mapping[str, Workflow]:
        """Workflows that have rules, by name."""
        older = self._older.workflows if self._older else {}
        broken = {name: entry for name, entry in older.items() if self._is_broken(name)}
        return {**broken, **self._shelf.workflows}

    @property
    def customers(self) -> Mapping[str, Customer]:
        """Customers in good files, by their folded names."""
        return self._shelf.customers

    def effective(
        self, workflow: str, customer: str, tickets: Sequence[Layer] = ()
    ) -> EffectiveRules:
        """Return the rules for a workflow and customer (empty: none named).

        Parameters
        ----------
        tickets : what the job's own tickets ask on top

        Raises
        ------
        UnknownNameError : nobody defines the workflow or customer; the job is at fault
        BrokenFilesError : a file that governs this job is broken; the job waits
        TicketError : a ticket loosens these rules, or does not go with them; the job is at fault
        """
        try:
            return self._current(workflow, customer, tickets)
        except BrokenFilesError as error:
            older = self._last_good(workflow, customer, tickets)
            if older is None:
                raise
            why = f"the last good rules are in force, because {error.problems[0].place} is broken"
            return replace(older, notes=(*older.notes, why))

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
    def broken_files(self) -> tuple[str, ...]:
        """Files that are broken by themselves, whatever the others say."""
        return tuple(sorted(self._shelf.problems))

    @property
    def all_problems(self) -> tuple[FileProblem, ...]:
        """Every problem of every file, sorted by place."""
        return tuple(sorted({problem for found in self.problems.values() for problem in found}))

    def pairs(self) -> list[tuple[str, str]]:
        """Return every workflow with every customer, folded; empty for a job that names none."""
        customers = ("", *self._shelf.customers)
        return [(workflow, name) for workflow in self._shelf.workflows for name in customers]

    def fingerprints(self) -> dict[tuple[str, str], str]:
        """Return the fingerprint of the rules of every pair, empty where they are broken."""
        found = {pair: self._pairs[pair] for pair in self.pairs()}
        return {
            pair: "" if isinstance(rules, BrokenFilesError) else rules.fingerprint
            for pair, rules in found.items()
        }

    def days_of_change(self, workflow: str, customer: str) -> list[date]:
        """Return the days to come on which other limits begin to hold for a pair."""
        blocks = self._blocks(workflow, fold(customer))
        days = {day for _, block in blocks for day in days_of_change(block)}
        return sorted(day for day in days if day > self._today)

    def on_day(self, workflow: str, customer: str, day: date) -> EffectiveRules:
        """Return the rules of a known workflow and customer as they will be on a day.

        Raises
        ------
        BrokenFilesError : they will not go together
        """
        return self._compile(workflow, fold(customer), day)

    def customers_with_more(self, workflow: str) -> tuple[str, ...]:
        """Return the customers that ask something of a workflow today, on top of its own rules."""
        return tuple(
            customer.name
            for customer in self._shelf.customers.values()
            if any(
                keyed(table).entries
                for block in customer.blocks(workflow)
                for table in in_force(block, self._today)
            )
        )

    # -- finding the pair ---------------------------------------------------------------------

    def _current(self, workflow: str, customer: str, tickets: Sequence[Layer]) -> EffectiveRules:
        shelf = self._shelf
        if problems := shelf.problems_of_workflow(workflow):
            raise BrokenFilesError(problems)
        if workflow not in shelf.workflows:
            raise UnknownNameError("workflow", workflow, tuple(shelf.workflows))
        key = fold(customer)
        if key and (problems := shelf.problems_of_customer(customer)):
            raise BrokenFilesError(problems)
        if key and key not in shelf.customers:
            known = tuple(entry.name for entry in shelf.customers.values())
            raise UnknownNameError("customer", customer, known)
        below = self._pair(workflow, key)
        return self._with_tickets(below, key, tickets) if tickets else below

    def _with_tickets(
        self, below: EffectiveRules, key: str, tickets: Sequence[Layer]
    ) -> EffectiveRules:
        if problems := list(loosening_problems(below, tickets)):
            raise TicketError(problems)
        try:
            return self._compile(below.workflow, key, self._today, tickets)
        except BrokenFilesError as error:
            raise TicketError(error.problems) from error

    def _last_good(
        self, workflow: str, customer: str, tickets: Sequence[Layer]
    ) -> EffectiveRules | None:
        older = self._older
        try:
            return older.effective(workflow, customer, tickets) if older else None
        except (BrokenFilesError, UnknownNameError):
            return None

    def _is_broken(self, workflow: str) -> bool:
        return bool(self._shelf.problems_of_workflow(workflow))

    def _check_pairs(self) -> None:
        for workflow, customer in self.pairs():
            try:
                self._pair(workflow, customer)
            except BrokenFilesError as error:
                self._note_problems(error.problems)
                self.doubtful |= self._files_of(workflow, customer)
            for day in self.days_of_change(workflow, customer):
                try:
                    self._compile(workflow, customer, day)
                except BrokenFilesError as error:
                    self._note_later_problems(error.problems, day)
                    if not isinstance(self._pairs[workflow, customer], BrokenFilesError):
                        self.broken_from.setdefault((workflow, customer), day)

    def _note_problems(self, problems: tuple[FileProblem, ...]) -> None:
        for problem in problems:
            known = self.problems.get(problem.place.file, ())
            if problem not in known:
                self.problems[problem.place.file] = (*known, problem)

    def _note_later_problems(self, problems: tuple[FileProblem, ...], day: date) -> None:
        """Tell today what will be broken on a day to come; until then no job waits for it."""
        told = {(known.place, known.name) for found in self.problems.values() for known in found}
        later = [entry for entry in problems if (entry.place, entry.name) not in told]
        self._note_problems(
            tuple(
                replace(entry, what=f"from {day} on: {entry.what}", begins=day) for entry in later
            )
        )

    def _files_of(self, workflow: str, customer: str) -> set[str]:
        stated = (self._shelf.workflows[workflow], self._shelf.customers.get(customer))
        return {entry.file for entry in stated if entry}

    # -- putting it together ------------------------------------------------------------------

    def _pair(self, workflow: str, customer: str) -> EffectiveRules:
        key = (workflow, customer)
        if key not in self._pairs:
            try:
                self._pairs[key] = self._compile(workflow, customer, self._today)
            except BrokenFilesError as error:
                self._pairs[key] = error
        found = self._pairs[key]
        if isinstance(found, BrokenFilesError):
            raise BrokenFilesError(found.problems)
        return found

    def _compile(
        self, name: str, key: str, day: date, tickets: Sequence[Layer] = ()
    ) -> EffectiveRules:
        workflow, customer = self._shelf.workflows[name], self._shelf.customers.get(key)
        stated = [
            Layer(layer, keyed(table))
            for layer, block in self._blocks(name, key)
            for table in in_force(block, day)
        ]
        stated += tickets
        floors = [layer for layer in stated if layer.name == SITE_FLOOR]
        return compile_rules(
            workflow=workflow.name,
            customer=customer.name if customer else "",
            title=workflow.title,
            reading=workflow.reading,
            dot_from=workflow.dot_from,
            layers=[self._built_in(stated), *stated],
            floors=floors,
            register=self._register,
            notes=self._notes,
        )

    def _blocks(self, workflow: str, customer: str) -> Iterator[tuple[str, Table]]:
        """Yield the blocks of limits that govern a pair with the names of their layers."""
        if self._floors:
            yield SITE_FLOOR, self._floors
        yield WORKFLOW, self._shelf.workflows[workflow].table
        if customer:
            for block in self._shelf.customers[customer].blocks(workflow):
                yield CUSTOMER, block

    def _built_in(self, stated: list[Layer]) -> Layer:
        """Return what is built in: what holds always, and what completes the sections in use."""
        used = {key for layer in stated for key in layer.table.entries}
        entries = dict(self._always.entries)
        entries |= {key: value for key, value in self._where_used.entries.items() if key in used}
        places = self._always.key_places | self._where_used.key_places
        return Layer(BUILT_IN, Table(entries, places, self._always.place))
