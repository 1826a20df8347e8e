"""The register on a terminal: what the room owns, and what runs out."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gatekeeper.show.lines import WIDTH, table
from gatekeeper.wording import counted, plain

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from gatekeeper.register.rows import DueRow, Row


_UNITS = frozenset({"days", "dpi", "m", "mil", "mm"})


def entry_lines(rows: Sequence[Row], noun: str) -> Iterator[str]:
    """Yield one row an entry: its name, and what stands about it."""
    if not rows:
        yield f"the register holds no {noun}"
        return
    yield from table([(plain(row.name), _fields(row)) for row in rows], WIDTH)


def due_lines(rows: Sequence[DueRow]) -> Iterator[str]:
    """Yield one row a day on which something runs out, the earliest first."""
    if not rows:
        yield "nothing runs out"
        return
    yield from table(
        [
            (
                "OVER" if row.days_left < 0 else "",
                str(row.last_day),
                _left(row.days_left),
                plain(row.subject, 120),
                f"{row.says} ({plain(', '.join(row.workflows), 120)})",
            )
            for row in rows
        ],
        WIDTH,
    )


def _fields(row: Row) -> str:
    parts = [_field(name, value) for name, value in row.fields.items()]
    if row.left_m is not None:
        parts.append(f"about {row.left_m:g} m left after {counted(row.films or 0, 'film')}")
    return ", ".join(parts)


def _field(name: str, value: object) -> str:
    """Return a key and its value, the unit behind the number instead of in the name."""
    words = name.split("_")
    unit = f" {words.pop()}" if words[-1] in _UNITS else ""
    return f"{' '.join(words)} {_text(value)}{unit}"


def _text(value: object) -> str:
    if isinstance(value, dict):
        return " ".join(f"{plain(str(key))}={inner:g}" for key, inner in value.items())
    if isinstance(value, list):
        return " ".join(
            plain(f"{item:g}" if isinstance(item, float) else str(item)) for item in value
        )
    return f"{value:g}" if isinstance(value, float) else plain(str(value), 120)


def _left(days: int) -> str:
    if days < 0:
        return f"{counted(-days, 'day')} ago"
    return "today" if days == 0 else f"in {counted(days, 'day')}"
