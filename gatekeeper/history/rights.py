"""Who may do what with a history on a server, as SQL for whoever owns its tables.

The account of a gate adds rows and marks which verdict is the newest; it owns no table, so that it
cannot take the guard from the events. A lead's account reads.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from sqlalchemy.dialects import postgresql

from gatekeeper.history.schema import metadata, tallies, verdicts

if TYPE_CHECKING:
    from collections.abc import Iterator

_CHANGED = {verdicts.name: "newest", tallies.name: "jobs"}
"""The only cells that a gate ever changes."""


def for_reader(role: str) -> Iterator[str]:
    """Yield what lets a role read everything and change nothing."""
    name = _quoted(role)
    yield f"REVOKE ALL ON {_tables()} FROM {name};"
    yield f"GRANT SELECT ON {_tables()} TO {name};"


def for_gate(role: str) -> Iterator[str]:
    """Yield what lets a role record verdicts, and no more."""
    name = _quoted(role)
    yield f"REVOKE ALL ON {_tables()} FROM {name};"
    yield f"GRANT SELECT, INSERT ON {_tables()} TO {name};"
    for changed, column in _CHANGED.items():
        yield f"GRANT UPDATE ({_quoted(column)}) ON {_quoted(changed)} TO {name};"
    for table in metadata.sorted_tables:
        if table.autoincrement_column is not None:
            counter = f"{table.name}_{table.autoincrement_column.name}_seq"
            yield f"GRANT USAGE ON SEQUENCE {_quoted(counter)} TO {name};"


def _tables() -> str:
    return ", ".join(_quoted(name) for name in sorted(metadata.tables))


def _quoted(name: str) -> str:
    dialect = postgresql.dialect()  # type: ignore[no-untyped-call]
    return str(dialect.identifier_preparer.quote_identifier(name))
