"""CGATS.17 text through a profile: its fields and header keywords under other names."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gatekeeper.readers.cgats import parse
from gatekeeper.readers.cgats_counts import remark_counts
from gatekeeper.readers.grid import Row
from gatekeeper.readers.names import FIELD_NAMES, plain_name
from gatekeeper.readers.patches import Cell
from gatekeeper.readers.profiled_table import layout_of, plain_column, take_rows
from gatekeeper.sheet import Trace

if TYPE_CHECKING:
    from gatekeeper.readers.cgats import Entry
    from gatekeeper.readers.gathering import Gathering
    from gatekeeper.readers.interface import Declarations
    from gatekeeper.readers.profile import Profile
    from gatekeeper.readers.remarks import Remarks


def take_tables(
    text: str, profile: Profile, limits: Declarations, gathering: Gathering, remarks: Remarks
) -> None:
    """Hand over the header and the rows of every table."""
    for table in parse(text, max_rows=limits.max_rows, max_columns=limits.max_columns).tables:
        remark_counts(table, remarks)
        for entry in table.header:
            _take_keyword(entry, profile, gathering)
        keywords = {plain_column(entry.keyword) for entry in table.header}
        layout = layout_of(table.fields, profile, remarks, elsewhere=keywords)
        rows = (Row(row[0].line, [cell.text for cell in row]) for row in table.rows)
        take_rows(rows, layout, gathering, remarks)


def _take_keyword(entry: Entry, profile: Profile, gathering: Gathering) -> None:
    own = plain_name(entry.keyword)
    name = next(
        (
            mapped
            for mapped, keyword in profile.columns.items()
            if plain_column(keyword) == plain_column(entry.keyword)
        ),
        own,
    )
    if name in FIELD_NAMES and entry.value.strip() and own not in profile.constants:
        trace = Trace(entry.line, 2)
        gathering.take({name: Cell(name, entry.value.strip(), trace)}, trace)
