"""Column types that keep what they are given, on every database."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

from sqlalchemy import BigInteger, DateTime, Integer, Text
from sqlalchemy.types import TypeDecorator
from typing_extensions import override

from gatekeeper.history.canonical import storable

if TYPE_CHECKING:
    from sqlalchemy.engine import Dialect
    from sqlalchemy.types import TypeEngine

RowId = BigInteger().with_variant(Integer(), "sqlite")
"""Counts rows: 64 bits everywhere; only a column of type INTEGER counts by itself in SQLite."""


class Words(TypeDecorator[str]):
    """Text, compared byte by byte."""

    impl = Text
    cache_ok = True

    @override
    def load_dialect_impl(self, dialect: Dialect) -> TypeEngine[Any]:
        # Tickets are ordered as text; a language's own order would place capitals differently.
        collation = "C" if dialect.name == "postgresql" else None
        return dialect.type_descriptor(Text(collation=collation))

    @override
    def process_bind_param(self, value: str | None, dialect: Dialect) -> str | None:
        return None if value is None else storable(value)


class Instant(TypeDecorator[datetime]):
    """A moment, kept in UTC; one without a time zone is refused."""

    impl = DateTime(timezone=True)
    cache_ok = True

    @override
    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError(value)
        return value.astimezone(UTC)

    @override
    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        # SQLite keeps no zone; it was UTC when it was written.
        return None if value is None else value.replace(tzinfo=value.tzinfo or UTC).astimezone(UTC)
