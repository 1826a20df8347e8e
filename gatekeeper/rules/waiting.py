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
                yield f"jobs for {workflow} that name {library.customers[customer].name}"
