"""Whether a table of CGATS.17 text is all there: its counts and its end."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gatekeeper.sheet import Trace
from gatekeeper.wording import quoted

if TYPE_CHECKING:
    from gatekeeper.readers.cgats import DataTable
    from gatekeeper.readers.remarks import Remarks


def remark_counts(table: DataTable, remarks: Remarks) -> None:
    """Say so when the table has not as many rows or fields as it states, or does not end."""
    for miscount in table.miscounts:
        remarks.problem(
            f"the file states {quoted(miscount.stated, 20)} {miscount.what} "
            f"and has {miscount.found}",
            "copy the file again; if it was edited, correct the number or the rows",
            Trace(miscount.line),
        )
    if not table.ended:
        remarks.problem(
            "END_DATA is missing, so rows may be missing too",
            "copy the file again",
            Trace(table.line),
        )
