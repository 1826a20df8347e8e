"""The cells of a workbook, read by the library in a process of its own, within limits."""

from __future__ import annotations

import importlib.util
import json
import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from gatekeeper.errors import UnreadableSheetError
from gatekeeper.readers.workbook_child import EXIT_REFUSED
from gatekeeper.readers.workbook_look import MAX_SHEETS
from gatekeeper.wording import plain

if TYPE_CHECKING:
    from gatekeeper.readers.interface import Declarations

TIME_S = 20
"""Wall-clock time that one workbook may take; a sheet of readings takes a tenth of a second."""

_PROGRAM = Path(__file__).with_name("workbook_child.py")


class CellSheet(NamedTuple):
    """One sheet; each cell is a letter for its type (t, n, d, b) and its text, empty when empty."""

    name: str
    visible: bool
    rows: list[list[str]]


def cells_of(content: bytes, limits: Declarations) -> list[CellSheet]:
    """Return the sheets of a workbook in their order.

    Raises
    ------
    UnreadableSheetError : the library is not installed, refuses the file, or came to an end over it
    """
    if importlib.util.find_spec("python_calamine") is None:
        raise UnreadableSheetError(
            "workbooks cannot be read here: the library for them is not installed",
            do="install gatekeeper with its extra spreadsheets, or export the sheet as CSV",
        )
    try:
        # Isolated (-I), so that nothing beside the program or in the environment is imported.
        done = subprocess.run(  # noqa: S603 -- our own interpreter and program, the file only as input
            [sys.executable, "-I", str(_PROGRAM), _limits(limits)],
            input=content,
            capture_output=True,
            timeout=TIME_S,
            check=False,
            env={},
        )
    except subprocess.TimeoutExpired as error:
        raise _unread(f"took longer than {TIME_S} s") from error
    if done.returncode == EXIT_REFUSED:
        raise UnreadableSheetError(
            f"the workbook cannot be read: {plain(json.loads(done.stdout)['refused'], 100)}",
            do="save it again with a spreadsheet program, or export the sheet as CSV",
        )
    if done.returncode != 0:
        raise _unread("ended the program that reads it")
    return [CellSheet(**sheet) for sheet in json.loads(done.stdout)["sheets"]]


def _limits(limits: Declarations) -> str:
    return json.dumps(
        {
            "sheets": MAX_SHEETS,
            "rows": limits.max_rows,
            "columns": limits.max_columns,
            "cell": limits.max_cell,
        }
    )


def _unread(what: str) -> UnreadableSheetError:
    return UnreadableSheetError(
        f"the workbook {what}: it is damaged, or far larger than a sheet of readings",
        do="save it again with a spreadsheet program, or export the sheet as CSV",
    )
