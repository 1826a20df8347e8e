"""Which jobs wait for a broken file, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gatekeeper.rules.library import WORKFLOWS, Library
from gatekeeper.yamlfiles.places import BrokenFilesError

if TYPE_CHECKING:
    from collections.abc import Iterator


def waiting(library: Library) -> tuple[str, ...]:
    """Return the jobs that wait, each group once; nothing while every file is good."""
    return tuple(dict.fromkeys((*_files(library), *_pairs(library))))


def waiting_later(library: Library) -> tuple[str, ...]:
    """Return the jobs that will wait from a day to come, each group once, with its day."""
    return tuple(dict.fromkeys(_later(library)))


def _later(library: Library) -> Iterator[str]:
    for (workflow, customer), day in library.broken_from.items():
        everyone_from = library.broken_from.get((workflow, ""))
        if everyone_from and everyone_from <= day:
            yield f"from {everyone_from} on every job for {workflow}"
        else:
            yield f"from {day} on {_jobs_of(library, workflow, customer)}"


def _files(library: Library) -> Iterator[str]:
    for file in library.broken_files:
        kind = "workflow" if file.startswith(WORKFLOWS) else "customer"
        yield f"every job of the {kind} in {file}"


def _pairs(library: Library) -> Iterator[str]:
    for workflow, customer in library.pairs():
        try:
            library.effective(workflow, customer)
        except BrokenFilesError:
            if library.is_broken_for(workflow):
                yield f"every job for {workflow}"
            else:
                yield _jobs_of(library, workflow, customer)


def _jobs_of(library: Library, workflow: str, customer: str) -> str:
    return f"jobs for {workflow} that name {library.customers[customer].name}"
