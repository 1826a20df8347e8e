"""Where each page lies: paths below the folder of pages, and how a link reaches them.

A job's page is called like its folder, so any job number has one, none can leave the folder, and a
number that is spelled in two ways has one page as it has one folder.
"""

from __future__ import annotations

from pathlib import PurePath, PurePosixPath
from urllib.parse import quote, unquote

from gatekeeper.filing.names import UNSORTED, folder_name

JOBS = "jobs"
"""Folder of the pages of jobs; a folder for each workflow lies in it."""

_WORKFLOWS = "workflows"
_ENDING = ".html"


def job_path(folder: PurePath) -> PurePosixPath:
    """Return where the page of the job in a folder lies, by its last two names."""
    shelf, name = folder.parts[-2:]
    return PurePosixPath(JOBS, shelf, name + _ENDING)


def workflow_path(workflow: str) -> PurePosixPath:
    """Return where the page of a workflow lies."""
    return PurePosixPath(_WORKFLOWS, (folder_name(workflow) if workflow else UNSORTED) + _ENDING)


def job_href(folder: PurePath) -> str:
    """Return a link from the folder of pages to the page of the job in a folder."""
    return _href(job_path(folder))


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
