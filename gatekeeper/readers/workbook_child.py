"""Run as a program of its own: a workbook on standard input → its cells as JSON on standard output.

The library that reads workbooks can end the whole process, or ask for all the memory there is, over
one stray cell. So it works here, where the kernel holds it to limits and its end is only an exit
code.

Imports nothing of the project, so that it starts fast and in isolated mode.
"""

from __future__ import annotations

import datetime as dt
import io
import json
import sys
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterator

MEMORY_BYTES = 1 << 30
CPU_S = 10
LARGEST_WHOLE = 1e15  # above it, a float no longer holds every whole number's digits for certain
EXIT_REFUSED = 3  # a reason stands on standard output


def main() -> int:
    """Read, convert and print; the reason for a refusal is printed in the same form."""
    _hold_to_limits()
    limits = json.loads(sys.argv[1])
    try:
        sheets = list(_sheets(sys.stdin.buffer.read(), limits))
    except Exception as error:  # noqa: BLE001 -- the library raises a dozen kinds, all mean the same here
        json.dump({"refused": _reason(error)}, sys.stdout)
        return EXIT_REFUSED
    json.dump({"sheets": sheets}, sys.stdout)
    return 0


class _TooLargeError(ValueError):
    """More than the site's limits allow."""


def _hold_to_limits() -> None:
    import resource  # noqa: PLC0415 -- only this program sets limits

    resource.setrlimit(resource.RLIMIT_AS, (MEMORY_BYTES, MEMORY_BYTES))
    resource.setrlimit(resource.RLIMIT_CPU, (CPU_S, CPU_S))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


def _sheets(content: bytes, limits: dict[str, int]) -> Iterator[dict[str, Any]]:
    from python_calamine import CalamineWorkbook, SheetTypeEnum, SheetVisibleEnum  # noqa: PLC0415

    workbook = CalamineWorkbook.from_filelike(io.BytesIO(content))
    if len(workbook.sheets_metadata) > limits["sheets"]:
        raise _TooLargeError(f"it has more than {limits['sheets']} sheets")
    for meta in workbook.sheets_metadata:
        if meta.typ != SheetTypeEnum.WorkSheet:
            continue
        sheet = workbook.get_sheet_by_name(meta.name)
        if sheet.total_height > limits["rows"]:
            raise _TooLargeError(f"a sheet has more than {limits['rows']} rows")
        if sheet.total_width > limits["columns"]:
            raise _TooLargeError(f"a sheet has more than {limits['columns']} columns")
        rows = [[_cell(value) for value in row] for row in sheet.to_python(skip_empty_area=False)]
        if any(len(cell) > limits["cell"] for row in rows for cell in row):
            raise _TooLargeError(f"a cell has more than {limits['cell']} characters")
        visible = meta.visible == SheetVisibleEnum.Visible
        yield {"name": meta.name, "visible": visible, "rows": rows}


def _cell(value: object) -> str:
    """Return the value as text behind a letter for its type, an empty cell as nothing."""
    if isinstance(value, str):
        return "t" + value if value else ""
    if isinstance(value, bool):
        return "byes" if value else "bno"
    if isinstance(value, (int, float)):
        return "n" + _number(value)
    if isinstance(value, dt.datetime):
        return "d" + value.isoformat(" ", "seconds")
    return "d" + str(value)  # dates and times of day are ISO 8601, durations what they are


def _number(value: float) -> str:
    """Return a whole number without a decimal point, which the workbook does not tell apart."""
    if float(value).is_integer() and abs(value) < LARGEST_WHOLE:
        return str(int(value))
    return repr(value)


def _reason(error: Exception) -> str:
    if isinstance(error, _TooLargeError):
        return str(error)
    name = type(error).__name__
    if name == "PasswordError":
        return "it is locked with a password"
    if isinstance(error, MemoryError):
        return "it needs more memory than a sheet of readings can"
    return f"it is damaged ({name})"


if __name__ == "__main__":
    sys.exit(main())
