"""A curve's table in three forms: CSV, CGATS.17 text (ISO 28178), and two columns to type from.

Units    percent, one decimal, as it is typed.
Source   ISO 28178: names that are not the standard's are declared by KEYWORD; text in quotes.
Pure     no file, no clock.
"""

from __future__ import annotations

import csv
import io
from typing import TYPE_CHECKING

from gatekeeper.control.curve_table import evenly
from gatekeeper.wording import plain

if TYPE_CHECKING:
    from collections.abc import Iterator

    from gatekeeper.control.curve import BuiltCurve

_FIELDS = ("WANTED", "SEND", "PREDICTED")


def as_csv(curve: BuiltCurve) -> str:
    """Return the table with a row of names: wanted, send, now, predicted."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(("wanted", "send", "now", "predicted"))
    writer.writerows(_rows(curve))
    return text.getvalue()


def as_cgats(curve: BuiltCurve) -> str:
    """Return the table as CGATS.17 text."""
    about = {
        "CURVE": curve.name,
        "WORKFLOW": curve.workflow,
        "PRINTER": curve.printer,
        "FILM_STOCK": curve.stock,
    }
    rows = [
        "\t".join((str(number), wanted, send, predicted))
        for number, (wanted, send, _, predicted) in enumerate(_rows(curve), start=1)
    ]
    lines = [
        "CGATS.17",
        'ORIGINATOR\t"gatekeeper"',
        'FILE_DESCRIPTOR\t"tone correction: percent to send for percent wanted"',
        f'CREATED\t"{curve.made}"',
        *(f'KEYWORD\t"{keyword}"\n{keyword}\t{_quoted(text)}' for keyword, text in about.items()),
        *(f'KEYWORD\t"{field}"' for field in _FIELDS),
        f"NUMBER_OF_FIELDS\t{len(_FIELDS) + 1}",
        "BEGIN_DATA_FORMAT",
        "\t".join(("SAMPLE_ID", *_FIELDS)),
        "END_DATA_FORMAT",
        f"NUMBER_OF_SETS\t{len(rows)}",
        "BEGIN_DATA",
        *rows,
        "END_DATA",
    ]
    return "\n".join(lines) + "\n"


def as_typed_text(curve: BuiltCurve) -> str:
    """Return two columns under the curve's name, to be typed into the printer's software."""
    lines = [plain(curve.name, 200), "", "wanted    send"]
    lines += [f"{wanted:>6}  {send:>6}" for wanted, send, *_ in _rows(curve)]
    return "\n".join(lines) + "\n"


def _rows(curve: BuiltCurve) -> Iterator[tuple[str, str, str, str]]:
    """Yield wanted, to be sent, sent by the curve in use (empty where there is none), predicted."""
    wanted = evenly(len(curve.steps))
    now = [f"{step:.1f}" for step in curve.before] or [""] * len(wanted)
    for asked, send, before, predicted in zip(
        wanted, curve.steps, now, curve.predicted, strict=True
    ):
        yield f"{asked:g}", f"{send:.1f}", before, f"{predicted:.1f}"


def _quoted(text: str) -> str:
    inner = plain(text, 200).replace('"', '""')
    return f'"{inner}"'
