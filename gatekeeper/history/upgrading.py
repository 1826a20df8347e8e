"""Leads an older history to this program's version, by Alembic; loaded only where one is older.

Which version a history has stands in `schema_versions`, with the moment and the program of each
step; Alembic's own note of it is written anew before each upgrade.

There is no way down by statements: what a newer version added would be lost. The way back is the
copy that was made before, with the older program; `gatekeeper history rebuild` then tells it what
was filed since, from the job folders.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from alembic import command
from alembic.config import Config

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from sqlalchemy import Connection


def upgrade(
    connection: Connection,
    *,
    scripts: Path,
    found: int,
    version: int,
    note: Callable[[int, str], None],
) -> None:
    """Run every step behind `found` up to `version`, within the caller's transaction.

    Parameters
    ----------
    scripts : the folder of the steps
    note : told the version and name of each step when it was made
    """
    is_stamped = False

    def told(*, step: Any, **_: Any) -> None:  # noqa: ANN401 -- Alembic's own
        if is_stamped:
            revision = step.up_revision
            note(int(revision.revision), revision.module.__name__.removesuffix("_py"))

    config = Config()
    config.set_main_option("script_location", str(scripts).replace("%", "%%"))
    config.attributes.update(connection=connection, note=told)
    command.stamp(config, str(found), purge=True)
    is_stamped = True
    command.upgrade(config, str(version))
