"""What has been read of one file → its `Sheet`: the last look, the same for every format."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gatekeeper.errors import UnreadableSheetError
from gatekeeper.readers.refusal import RefusedValueError
from gatekeeper.readers.values import words_of
from gatekeeper.sheet import NOWHERE, Negative, Sheet, SheetKind, Text
from gatekeeper.wording import listing, quoted

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from gatekeeper.readers.particulars import Particulars
    from gatekeeper.readers.remarks import Remarks
    from gatekeeper.sheet import Patch

MOST_NEGATIVES = 100
"""In one file; a job has a dozen separations at the very most."""

_SHARED = ("job", "customer", "workflow")


def assembled(
    kind: SheetKind | None, negatives: Sequence[Negative], remarks: Remarks, read_as: str
) -> Sheet:
    """Return the sheet, with a problem for negatives that cannot be told apart or hold nothing.

    Raises
    ------
    UnreadableSheetError : more than `MOST_NEGATIVES`
    """
    kind = kind or SheetKind.NEGATIVE
    if len(negatives) > MOST_NEGATIVES:
        raise UnreadableSheetError(
            f"the file names {len(negatives)} separations, more than any job has",
            do=f"look at the column or field separation; {MOST_NEGATIVES} are taken from one file",
        )
    remarks.separation = ""
    if kind is not SheetKind.METER_STUDY:  # its blocks are told apart by their operators
        _remark_equal_separations(negatives, remarks)
    for name in _SHARED:
        _remark_difference(name, negatives, remarks)
    if kind is not SheetKind.CONCESSION and not any(negative.patches for negative in negatives):
        remarks.problem(
            "the sheet has no readings",
            "write a row of column names (patch, nominal, density …) and the readings below it",
        )
    lone = negatives[0].separation_name if len(negatives) == 1 else ""
    return Sheet(kind, tuple(negatives), remarks.problems(lone), remarks.notes, read_as)


def negatives_of(
    particulars: Particulars, patches: Mapping[str, Sequence[Patch]], remarks: Remarks
) -> list[Negative]:
    """Return the negatives of one head: one, or as many as the rows name separations.

    Parameters
    ----------
    patches : by the separation that their rows name, without one under the empty name
    """
    own = patches.get("", ())
    found = [
        particulars.negative(tuple(of_one), separation=separation)
        for name, of_one in patches.items()
        if name and (separation := _named(name, remarks))
    ]
    if own or not found:
        found.insert(0, particulars.negative(tuple(own)))
    return found


def _named(name: str, remarks: Remarks) -> Text | None:
    try:
        return Text(words_of(name))
    except RefusedValueError as error:
        remarks.problem(f"separation: {error.says}", error.do)
        return None


def _remark_equal_separations(negatives: Sequence[Negative], remarks: Remarks) -> None:
    seen: set[str] = set()
    for negative in negatives:
        name = negative.separation_name.casefold()
        if name in seen:
            twice = f"the separation {quoted(name)} twice" if name else "two negatives without one"
            trace = negative.separation.trace if negative.separation else NOWHERE
            remarks.problem(
                f"the file holds {twice}", "name each negative's separation once", trace
            )
        elif len(negatives) > 1 and not name:
            remarks.problem(
                "the file holds several negatives and one of them names no separation",
                "name the separation of every negative",
            )
        seen.add(name)


def _remark_difference(name: str, negatives: Sequence[Negative], remarks: Remarks) -> None:
    texts: list[Text] = [text for negative in negatives if (text := getattr(negative, name))]
    values = list(dict.fromkeys(text.value for text in texts))
    if len(values) > 1:
        trace = next(text.trace for text in texts if text.value == values[1])
        remarks.problem(
            f"the negatives of one file name more than one {name}: {listing(values)}",
            "put each job into a file of its own",
            trace,
        )
