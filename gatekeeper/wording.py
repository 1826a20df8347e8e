"""Turns of phrase that every message shares, and the one way foreign text enters a sentence."""

from __future__ import annotations

import unicodedata
from difflib import get_close_matches
from functools import lru_cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable

HIDDEN = frozenset({"Cc", "Cf", "Cs", "Co", "Zl", "Zp"})
"""Unicode categories of controls, direction marks, surrogates and line breaks."""


def plain(text: str, longest: int = 60) -> str:
    """Return foreign text, safe on a terminal and in a one-line log: no controls, bounded."""
    clean = text if text.isprintable() else "".join(map(_shown, text))
    return clean if len(clean) <= longest else clean[: longest - 1] + "…"


def _shown(character: str) -> str:
    return "?" if unicodedata.category(character) in HIDDEN else character


def quoted(text: str, longest: int = 60) -> str:
    """Return foreign text in quotes, made safe by `plain`."""
    return f'"{plain(text, longest)}"'


def nearest(word: str, known: Iterable[str]) -> str | None:
    """Return the known word most like this one, compared without case, or None."""
    by_fold = {entry.casefold(): entry for entry in known}
    found = get_close_matches(word.casefold(), list(by_fold), n=1, cutoff=0.6)
    return by_fold[found[0]] if found else None


def did_you_mean(word: str, known: Iterable[str]) -> str:
    """Return a half sentence that names the nearest known word, or the first few of them.

    Those that contain the word come first: it may be all that somebody remembers.
    """
    names = sorted(known)
    if not names:
        return "none is known yet"
    near = nearest(word, names)
    if near:
        return f"the nearest known one is {quoted(near)}"
    part = word.casefold()
    return "known: " + listing(sorted(names, key=lambda name: part not in name.casefold()))


def listing(words: Iterable[str], most: int = 8) -> str:
    """Return words as a comma list, cut with a count when there are many."""
    names = [plain(word) for word in words]
    if len(names) <= most:
        return ", ".join(names)
    return ", ".join(names[:most]) + f" and {len(names) - most} more"


@lru_cache(4_096)
def fold(name: str) -> str:
    """Return the form in which names are compared: case and runs of blanks do not count."""
    if name.isascii():  # has one Unicode form, and one lower case
        return " ".join(name.lower().split())
    return " ".join(unicodedata.normalize("NFC", name).casefold().split())


def shortest(value: float) -> str:
    """Return the shortest text that reads back as just this number: 50, 2.7, 2.695."""
    return repr(float(value)).removesuffix(".0")


def counted(number: int, noun: str, plural: str | None = None) -> str:
    """Return `1 job`, `2 jobs`."""
    return f"{number} {noun if number == 1 else plural or noun + 's'}"
