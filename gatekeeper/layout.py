"""Laying out a site: the example files, the folders, and the marks that tell roots apart.

Run again on an existing site it adds what is missing and brings the schemas, which are the
program's own, to those of this version. Nothing else that is there is changed.
"""

from __future__ import annotations

import re
import secrets
from dataclasses import replace
from typing import TYPE_CHECKING

from gatekeeper.bundled import bundled
from gatekeeper.errors import UsageError
from gatekeeper.filing.desk import SITE_ID, WORK
from gatekeeper.filing.names import shelf_name
from gatekeeper.filing.online import require_marked
from gatekeeper.room import read_book
from gatekeeper.schemas import FOLDER as SCHEMAS
from gatekeeper.schemas import write_schemas
from gatekeeper.shelf_names import CONCESSIONS
from gatekeeper.site import SITE_FILE, Site, read_site

if TYPE_CHECKING:
    from pathlib import Path

    from gatekeeper.filing.disk import Disk


_LEADS_ONLY = 0o2770
"""Who may write slips may release: the folder's group is that of the leads, and nobody else's."""


def lay_out(root: Path, disk: Disk) -> tuple[Site, list[str]]:
    """Lay out a site in a folder and return it, with what was made.

    Raises
    ------
    UsageError : the folder holds something else
    BrokenFilesError : site.yaml is there and wrong
    """
    made: list[str] = []
    if not (root / SITE_FILE).exists():
        if root.exists() and (not root.is_dir() or any(root.iterdir())):
            raise UsageError(
                f"{root} is not empty and holds no {SITE_FILE}",
                do="name a new folder; nothing was changed",
            )
        _copy_examples(root, disk, made)
    site = _mark_site(read_site(root), disk)
    _folders(site, disk, made)
    made += [f"{SCHEMAS}/{name}" for name in write_schemas(root / SCHEMAS, disk)]
    return site, made


def _copy_examples(root: Path, disk: Disk, made: list[str]) -> None:
    source = bundled("config")
    root.mkdir(parents=True, exist_ok=True)
    # site.yaml last: a layout that was cut short has none, and is begun again.
    files = sorted(path for path in source.rglob("*") if path.is_file())
    for path in sorted(files, key=lambda file: file.name == SITE_FILE):
        target = root / path.relative_to(source)
        if not target.exists():
            target.parent.mkdir(parents=True, exist_ok=True)
            disk.write_new(target, path.read_bytes())
            made.append(str(target.relative_to(root)))


def _folders(site: Site, disk: Disk, made: list[str]) -> None:
    for name in ("workflows", "customers", "readers", "register"):
        _make(site.root / name, made)
    workflows = read_book(site).library.workflows
    for root in (site.drop, site.approved, site.held):
        _make(root, made)
        _mark(site, root, disk)
        for workflow in workflows:
            _make(root / (workflow if root == site.drop else shelf_name(workflow)), made)
    _make(site.archive, made)
    _mark(site, site.archive, disk)
    for folder in (site.drop / CONCESSIONS, site.state):
        is_new = not folder.is_dir()
        _make(folder, made)
        if is_new and folder.name == CONCESSIONS:
            folder.chmod(_LEADS_ONLY)


def _make(path: Path, made: list[str]) -> None:
    if not path.is_dir():
        path.mkdir(parents=True)
        made.append(f"{path.name}/")


def _mark_site(site: Site, disk: Disk) -> Site:
    """Give the site a mark of its own, or that of its folders when only the site's was lost."""
    if site.mark:
        return site
    roots = (site.drop, site.approved, site.held)
    found = {mark for root in roots if (mark := _found_mark(root))}
    if len(found) > 1:
        raise UsageError(
            "the folders of this site carry the marks of several sites",
            where=", ".join(str(root) for root in roots),
            do="correct `folders` in site.yaml; nothing was changed",
        )
    words = re.sub(r"[^a-z0-9]+", "-", site.name.casefold()).strip("-")[:40]
    mark = found.pop() if found else f"{words or 'site'}-{secrets.token_hex(4)}"
    _write_mark(site.root, mark, disk)
    return replace(site, mark=mark)


def _found_mark(root: Path) -> str:
    marker = root / WORK / SITE_ID
    return marker.read_text(encoding="utf-8").strip() if marker.is_file() else ""


def _mark(site: Site, root: Path, disk: Disk) -> None:
    """Mark a root as this site's; a mark of another site is an error, never overwritten."""
    if (root / WORK / SITE_ID).exists():
        require_marked(disk, root, site.mark)
    else:
        _write_mark(root, site.mark, disk)


def _write_mark(root: Path, mark: str, disk: Disk) -> None:
    folder = root / WORK
    folder.mkdir(exist_ok=True)
    disk.write_new(folder / SITE_ID, f"{mark}\n".encode())
    disk.sync(folder)
