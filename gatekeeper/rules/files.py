"""Reads the rule files of a site folder and the built-in defaults from disk."""

from __future__ import annotations

import os
from functools import cache
from importlib import resources
from typing import TYPE_CHECKING

from gatekeeper.rules.library import CUSTOMERS, WORKFLOWS
from gatekeeper.yamlfiles.load import MAX_BYTES, CannotRead, Content, load
from gatekeeper.yamlfiles.places import Table

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path

RULE_FOLDERS = (WORKFLOWS, CUSTOMERS)

Stamps = tuple[tuple[object, ...], ...]


def read_yaml_files(root: Path, folders: Iterable[str]) -> dict[str, Content]:
    """Return the content of every YAML file in these folders by its path relative to the site.

    A folder that is not there holds no file. One that cannot be listed stands under its own name,
    `workflows/`, as content that cannot be read: anything may be in it.
    """
    found: dict[str, Content] = {}
    for folder in folders:
        try:
            paths = sorted((root / folder).iterdir())
        except FileNotFoundError:
            continue
        except OSError as error:
            found[folder] = CannotRead(str(error.strerror))
            continue
        for path in paths:
            if not path.name.startswith(".") and path.suffix.casefold() in {".yaml", ".yml"}:
                content = read_content(path)
                if content is not None:
                    name = os.fsencode(path.name).decode("utf-8", "backslashreplace")
                    found[f"{folder}{name}"] = content
    return found


def stamps_of(root: Path, file: str, folders: Iterable[str]) -> Stamps | None:
    """Return what shows, without reading, that one of these files was changed, made or removed.

    None: something cannot be looked at, and then only reading tells. Each change of a file moves
    the time of its last change of any kind, which nobody can set back.
    """
    found: list[tuple[object, ...]] = []
    try:
        for folder in ("", *folders):
            paths = sorted((root / folder).iterdir()) if folder else [root / file]
            found.append((folder,))
            found += [(path.name, *_stamp(path)) for path in paths]
    except OSError:
        return None
    return tuple(found)


def _stamp(path: Path) -> tuple[int, ...]:
    found = path.stat()
    return found.st_ino, found.st_mode, found.st_size, found.st_mtime_ns, found.st_ctime_ns


def read_content(path: Path) -> Content | None:
    """Return the bytes of a file, as many as are needed; None where no plain file is there."""
    try:
        if not path.is_file():
            return None
        with path.open("rb") as file:
            return file.read(MAX_BYTES + 1)
    except FileNotFoundError:
        return None  # removed between the two looks
    except OSError as error:
        return CannotRead(str(error.strerror))


@cache
def built_in_defaults() -> tuple[Table, Table]:
    """Return the tables `always` and `where_used` of the packaged defaults.yaml."""
    content = resources.files("gatekeeper.rules").joinpath("defaults.yaml").read_bytes()
    table = load(content, "defaults.yaml")
    always, where_used = table.entries["always"], table.entries["where_used"]
    if not isinstance(always, Table) or not isinstance(where_used, Table):
        raise TypeError(table.place.file)
    return always, where_used
