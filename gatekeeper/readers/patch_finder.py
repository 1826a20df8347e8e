"""Which patch a row of a meter's file is: by words, patterns, nominals or order of its profile."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from gatekeeper.readers.names import ORDERED, PATCH_WORDS
from gatekeeper.readers.patterns import LONGEST_LINE, compiled
from gatekeeper.readers.refusal import RefusedValueError
from gatekeeper.sheet import PatchKind
from gatekeeper.wording import counted, listing, quoted

if TYPE_CHECKING:
    from collections.abc import Mapping

    from gatekeeper.readers.numerals import Numerals
    from gatekeeper.readers.profile import PatchRules

_FULL = 100.0


class FoundPatch(NamedTuple):
    """A kind, and what the row's word says besides: nominal, where, name."""

    kind: PatchKind
    says: Mapping[str, str]


class PatchFinder:
    """Finds the kinds of rows of one negative; rows are asked for in the order of the file."""

    def __init__(self, rules: PatchRules, numerals: Numerals) -> None:
        self._words = PATCH_WORDS | {
            word.casefold(): PatchKind(kind)
            for kind, words in rules.words.items()
            for word in words
        }
        self._patterns = [
            (PatchKind(kind), compiled(pattern))
            for kind, patterns in rules.patterns.items()
            for pattern in patterns
        ]
        self._by_nominal = rules.by_nominal
        self._order = [ORDERED.fullmatch(entry.casefold()) for entry in rules.order]
        self._ignored = {word.casefold() for word in rules.ignore}
        self._numerals = numerals
        self._rows = 0

    def is_ignored(self, word: str) -> bool:
        """Whether the profile says that such a row is no patch."""
        return word.casefold() in self._ignored

    def find(self, word: str, nominal: str) -> FoundPatch:
        """Return which patch the next row is.

        Raises
        ------
        RefusedValueError : nothing that the profile knows tells it, or patterns disagree
        """
        self._rows += 1
        if self._order:
            return self._in_order()
        if kind := self._words.get(word.casefold()):
            return FoundPatch(kind, {})
        if matched := self._matched(word):
            return matched
        if self._by_nominal and nominal:
            return FoundPatch(self._kind_of(nominal), {})
        says = f"{quoted(word, 40)} is no kind of patch" if word else "the row names no patch"
        known = sorted({*self._words}) + [pattern.pattern for _, pattern in self._patterns]
        raise RefusedValueError(
            f"{says} that the profile knows",
            f"known: {listing(known)}; add it to the profile's patches",
        )

    def missing(self) -> str:
        """Return what is wrong with the number of rows, empty when it is right."""
        if not self._order or self._rows == len(self._order):
            return ""
        return (
            f"the profile lists {counted(len(self._order), 'patch', 'patches')} in order, "
            f"and the file has {counted(self._rows, 'row')}"
        )

    def _in_order(self) -> FoundPatch:
        if self._rows > len(self._order):
            raise RefusedValueError(
                f"the row is beyond the {len(self._order)} patches that the profile lists",
                "measure just the patches listed, or correct patches: order in the profile",
            )
        entry = self._order[self._rows - 1]
        if entry is None:  # the profile would not have loaded
            raise RefusedValueError("the profile's order has no such patch", "correct the profile")
        says = {"nominal": entry["nominal"]} if entry["nominal"] else {}
        return FoundPatch(PatchKind(entry["kind"]), says)

    def _matched(self, word: str) -> FoundPatch | None:
        found: FoundPatch | None = None
        for kind, pattern in self._patterns:
            match = pattern.search(word) if len(word) <= LONGEST_LINE else None
            if match is None:
                continue
            if found and found.kind is not kind:
                raise RefusedValueError(
                    f"{quoted(word, 40)} fits the patterns of {found.kind} and of {kind}",
                    "make the profile's patterns tell them apart",
                )
            says = {group: text for group, text in match.groupdict().items() if text}
            found = found or FoundPatch(kind, says)
        return found

    def _kind_of(self, nominal: str) -> PatchKind:
        value = self._numerals.read(nominal).value
        if value == 0:
            return PatchKind.CLEAR
        return PatchKind.SOLID if value == _FULL else PatchKind.TINT
