"""Tables as Parquet, typed and compressed; the library is loaded with this module only."""

from __future__ import annotations

from itertools import islice
from typing import TYPE_CHECKING, Any, Final

import pyarrow as pa
import pyarrow.parquet as pq
from sqlalchemy import Boolean, Double, Integer

from gatekeeper.history import trouble
from gatekeeper.history.columns import Instant

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator
    from pathlib import Path

    from sqlalchemy import Column, Table

AT_ONCE: Final = 20_000

ending = "parquet"


def write(path: Path, table: Table, rows: Iterable[dict[str, Any]]) -> int:
    """Write a table, and return how many rows it has."""
    schema = _schema_of(table)
    number, left = 0, iter(rows)
    with pq.ParquetWriter(path, schema) as file:
        while batch := list(islice(left, AT_ONCE)):
            file.write_table(pa.Table.from_pylist(batch, schema=schema))
            number += len(batch)
    return number


def read(path: Path, table: Table) -> Iterator[dict[str, Any]]:
    """Yield the rows of a file that `write` has written."""
    try:
        with pq.ParquetFile(path) as file:
            if not file.schema_arrow.equals(_schema_of(table)):
                raise trouble.no_such_table(table.name, str(path))
            for batch in file.iter_batches(AT_ONCE):
                yield from batch.to_pylist()
    except pa.ArrowException as error:
        raise trouble.no_such_table(table.name, str(path)) from error


def _schema_of(table: Table) -> pa.Schema:
    return pa.schema([pa.field(column.name, _type_of(column)) for column in table.columns])


def _type_of(column: Column[Any]) -> pa.DataType:
    if isinstance(column.type, Boolean):
        return pa.bool_()
    if isinstance(column.type, Instant):
        return pa.timestamp("us", tz="UTC")
    if isinstance(column.type, Double):
        return pa.float64()
    return pa.int64() if isinstance(column.type, Integer) else pa.string()
