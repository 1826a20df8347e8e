"""A meter's plain text dump: each line is tried against the profile's patterns, first match wins.

The named groups of a pattern are the sheet's names. A group that ends inside a number is a problem,
never half a reading.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from gatekeeper.readers.names import READING, plain_name
from gatekeeper.readers.patches import Cell
from gatekeeper.readers.patterns import LONGEST_LINE, compiled, cuts_a_number
from gatekeeper.sheet import Trace
from gatekeeper.wording import counted, quoted

if TYPE_CHECKING:
    import re

    from gatekeeper.readers.gathering import Gathering
    from gatekeeper.readers.profile import Profile
    from gatekeeper.readers.remarks import Remarks


def take_lines(text: str, profile: Profile, gathering: Gathering, remarks: Remarks) -> None:
    """Hand over what the patterns find, line by line; lines that fit none are counted in a note."""
    patterns = [compiled(pattern) for pattern in profile.lines]
    unread: list[tuple[int, str]] = []
    for number, line in enumerate(text.split("\n"), 1):
        if number <= profile.skip_lines or not line.strip():
            continue
        match = _first_match(line, patterns)
        if match is None:
            unread.append((number, line))
        elif texts := _texts(match, number, profile, remarks):
            gathering.take(texts, Trace(number))
    if unread:
        number, line = unread[0]
        remarks.note(
            f"{counted(len(unread), 'line')} fit no pattern of the profile and were left unread; "
            f"the first is line {number}: {quoted(line.strip(), 40)}"
        )


def _first_match(line: str, patterns: list[re.Pattern[str]]) -> re.Match[str] | None:
    if len(line) > LONGEST_LINE:
        return None
    return next((match for pattern in patterns if (match := pattern.search(line))), None)


def _texts(
    match: re.Match[str], number: int, profile: Profile, remarks: Remarks
) -> dict[str, Cell]:
    texts = {}
    for group, text in match.groupdict().items():
        if text is None or not text.strip():
            continue
        trace = Trace(number, match.start(group) + 1)
        if cuts_a_number(match.string, match.start(group), match.end(group)):
            remarks.problem(
                f"the profile's pattern takes {quoted(text, 20)} out of the middle of a number "
                f"in {quoted(match.string.strip(), 60)}",
                "let the group take the whole number, such as [-+0-9.,]+",
                trace,
            )
            return {}
        name = plain_name(group)
        name = profile.quantity or name if name == READING else name
        texts[name] = Cell(name, text.strip(), trace)
    return texts
