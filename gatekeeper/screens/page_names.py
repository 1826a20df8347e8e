"""Where each page lies: paths below the folder of pages, and how a link reaches them.

A job's page is called like its folder, so any job number has one and none can leave the folder.
"""

from __future__ import annotations

from pathlib import PurePosixPath
from urllib.parse import quote, unquote

from gatekeeper.filing.names import UNSORTED, folder_name

_JOBS = "jobs"
_WORKFLOWS = "workflows"
_ENDING = ".html"


def job_path(workflow: str, job: str) -> PurePosixPath:
    """Return where the page of a job lies."""
    shelf = folder_name(workflow) if workflow else UNSORTED
    return PurePosixPath(_JOBS, shelf, folder_name(job) + _ENDING)


def workflow_path(workflow: str) -> PurePosixPath:
    """Return where the page of a workflow lies."""
    return PurePosixPath(_WORKFLOWS, (folder_name(workflow) if workflow else UNSORTED) + _ENDING)


def job_href(workflow: str, job: str) -> str:
    """Return a link from the folder of pages to a job's page."""
    return _href(job_path(workflow, job))


def path_of(href: str) -> PurePosixPath:
    """Return where the page of a link lies."""
    return PurePosixPath(unquote(href, errors="surrogateescape"))


def folder_of(href: str) -> PurePosixPath:
    """Return which folder, below approved/ or held/, the page of a job is about."""
    path = path_of(href)
    return PurePosixPath(*path.parts[1:-1], path.name.removesuffix(_ENDING))


def workflow_href(workflow: str) -> str:
    """Return a link from the folder of pages to a workflow's page."""
    return _href(workflow_path(workflow))


def _href(path: PurePosixPath) -> str:
    # Names of folders hold percent signs of their own, and bytes that are no text.
    return quote(str(path).encode("utf-8", "surrogateescape"))
