"""Bytes → text, by a stated order and never by statistics: a guess may change a digit.

Order    UTF-8 or UTF-16 by byte order mark, UTF-16 by its NUL bytes, UTF-8, then the one code page
         that the site declares. Detectors were tried: on short tables they choose alphabets freely.
Ends     whatever the line ends were, they come out as line feeds; a Ctrl-Z at the end goes.
"""

from __future__ import annotations

import codecs
import re
from typing import NamedTuple

from gatekeeper.errors import UnreadableSheetError

_CONTROLS = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f]")
_MOSTLY = (
    0.4  # of the byte pairs of UTF-16 text from Europe or America have a NUL; in truth nearly all
)


class Decoded(NamedTuple):
    """Text whose lines end in line feeds, and the name of the encoding that it was in."""

    text: str
    encoding: str


def decode(content: bytes, code_page: str) -> Decoded:
    """Return the text of a whole file.

    Raises
    ------
    UnreadableSheetError : not text in any of the encodings, or text with control characters
    """
    text, encoding = _decode(content, code_page)
    text = text.rstrip("\x1a")
    if "\r" in text:
        text = text.replace("\r\n", "\n").replace("\r", "\n")
    if found := _CONTROLS.search(text):
        line = text.count("\n", 0, found.start()) + 1
        raise UnreadableSheetError(
            f"the file is not text: it has the control character {ord(found[0])}",
            where=f"line {line}",
            do="export the readings as CSV text again; a picture or a printer file is no sheet",
        )
    return Decoded(text, encoding)


def decode_head(head: bytes, code_page: str) -> str:
    """Return the text of a file's beginning, empty when it is not text.

    The cut may fall inside a character, so up to three bytes at its end are given up.
    """
    for spare in range(4):
        try:
            return decode(head[: len(head) - spare], code_page if spare else "ascii").text
        except UnreadableSheetError:
            continue
    return ""


def _decode(content: bytes, code_page: str) -> tuple[str, str]:
    if content.isascii() and b"\x00" not in content:
        return content.decode("ascii"), "UTF-8"
    if marked := _by_mark(content):
        return _strictly(content, marked), marked.upper().removesuffix("-SIG")
    if b"\x00" in content:
        return _strictly(content, _by_nuls(content)), "UTF-16"
    try:
        return content.decode("utf-8"), "UTF-8"
    except UnicodeDecodeError:
        return _strictly(content, code_page), code_page


def _by_mark(content: bytes) -> str:
    if content.startswith(codecs.BOM_UTF8):
        return "utf-8-sig"
    if content.startswith((codecs.BOM_UTF32_LE, codecs.BOM_UTF32_BE)):
        return "utf-32"
    if content.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return "utf-16"
    return ""


def _by_nuls(content: bytes) -> str:
    """Return which UTF-16 it is; in text of western letters every second byte is NUL."""
    evens, odds = content[0::2].count(0), content[1::2].count(0)
    enough = len(content) // 2 * _MOSTLY
    if len(content) % 2 == 0 and odds > enough and not evens:
        return "utf-16-le"
    if len(content) % 2 == 0 and evens > enough and not odds:
        return "utf-16-be"
    raise UnreadableSheetError(
        "the file is not text: it has NUL bytes",
        do="export the readings as CSV text again; if the file was copied, copy it once more",
    )


def _strictly(content: bytes, encoding: str) -> str:
    try:
        return content.decode(encoding)
    except UnicodeDecodeError as error:
        line = content[: error.start].count(b"\n") + 1
        raise UnreadableSheetError(
            f"the file is neither UTF-8 nor {encoding} text: a byte at {error.start} does not fit",
            where=f"line {line}",
            do="save the file as UTF-8, or declare the right code page in site.yaml",
        ) from error
    except LookupError as error:
        raise UnreadableSheetError(
            f"the declared code page {encoding!r} is not known", do="correct code_page in site.yaml"
        ) from error
