"""A grid laid out as the typed sheet → `Sheet`: the same for CSV and spreadsheets."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gatekeeper.readers.assembling import assembled, negatives_of
from gatekeeper.readers.grid import Block, Grid, Row, blocks_of
from gatekeeper.readers.names import FIELD_NAMES, PATCH_WORDS, plain_name, remark_unknown
from gatekeeper.readers.particulars import Particulars
from gatekeeper.readers.table import TableReader
from gatekeeper.wording import listing, plain, quoted

if TYPE_CHECKING:
    from gatekeeper.readers.remarks import Remarks
    from gatekeeper.readers.values import ValueReader
    from gatekeeper.sheet import Negative, Patch, Sheet, Trace

_NAME_AND_VALUE = 2


def sheet_of(grid: Grid, values: ValueReader, remarks: Remarks, read_as: str) -> Sheet:
    """Return everything that the grid says, negatives in the order of the file."""
    above: Particulars | None = None
    negatives: list[Negative] = []
    for block in blocks_of(grid.rows):
        remarks.separation = _separation_of(block)
        particulars = Particulars(values, remarks, above)
        for row in block.head:
            _give(row, particulars, grid, remarks)
        patches = _patches_of(block, grid, values, remarks)
        negatives += negatives_of(particulars, patches, remarks)
        above = particulars
    kind = above.kind if above else None
    return assembled(kind, negatives, remarks, read_as)


def _separation_of(block: Block) -> str:
    for row in block.head:
        if plain_name(row.cells[0]) == "separation" and len(row.cells) > 1:
            return row.cells[1].strip()
    return ""


def _give(row: Row, particulars: Particulars, grid: Grid, remarks: Remarks) -> None:
    """Hand one row of the head over, or say why it is not one."""
    written, *rest = (text.strip() for text in row.cells)
    name = plain_name(written)
    given = [text for text in rest if text]
    trace = grid.trace(row.line, 2)
    if name in PATCH_WORDS:
        remarks.problem(
            "readings stand above the row of column names",
            "write the column names (patch, nominal, density …) above the readings",
            trace,
        )
    elif name not in FIELD_NAMES:
        _remark_stray(written, given, grid.trace(row.line, 1), remarks)
    elif len(given) > 1 or (given and not rest[0]):
        _remark_too_many(name, rest, grid, row.line, remarks)
    else:
        particulars.give(name, given[0] if given else "", trace)


def _remark_stray(written: str, given: list[str], trace: Trace, remarks: Remarks) -> None:
    if not written:
        remarks.problem(
            f"a value without a name: {listing(given)}", "write the name before it", trace
        )
    elif not given and len(written) > max(map(len, FIELD_NAMES)):
        remarks.note(f"a line of text was left unread ({trace}): {plain(written, 40)}")
    else:
        remark_unknown(remarks, "field", written, FIELD_NAMES, trace)


def _remark_too_many(name: str, rest: list[str], grid: Grid, line: int, remarks: Remarks) -> None:
    whole = ",".join(rest).strip(",")
    if grid.splits_at_commas and rest[0][-1:].isdigit() and rest[1][:1].isdigit():
        says = f"{name}: {quoted(whole)} was cut at its comma, which separates cells in this file"
        do = "write the decimal mark as a point and leave out marks between thousands"
    else:
        says = f"{name}: more than one value stands behind it: {listing(filter(None, rest))}"
        do = "put quotes round a value that has the separator in it"
    remarks.problem(says, do, grid.trace(line, 2))


def _patches_of(
    block: Block, grid: Grid, values: ValueReader, remarks: Remarks
) -> dict[str, list[Patch]]:
    """Return the patches of all the block's tables by the separation that their rows name."""
    found: dict[str, list[Patch]] = {}
    for table in block.tables:
        for name, patches in TableReader(table, grid, values, remarks).patches().items():
            found.setdefault(name, []).extend(patches)
    return found
