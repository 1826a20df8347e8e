"""Job numbers ⇄ folder names.

Rule   letters, digits and ``. _ - + , = @ ( )`` and blanks inside stand for themselves; every other
       character, and what a share would change or refuse (a leading or trailing dot or blank, a
       leading dash, the device names of Windows), is written as %XX of its UTF-8 bytes. The job is
       first brought to NFC and its runs of blanks to one. Reading a folder name back is
       percent-decoding. A name beyond 200 bytes is cut and carries part of its SHA-256; its whole
       job number stands in verdict.json.
"""

from __future__ import annotations

import hashlib
import unicodedata
from urllib.parse import unquote

LONGEST = 200
"""Bytes of a folder name; leaves room for what is added, within the 255 of common filesystems."""
_PLAIN = set("._-+,=@() ")
_DEVICES = {"con", "prn", "aux", "nul"} | {
    f"{port}{n}" for port in ("com", "lpt") for n in range(10)
}
UNSORTED = "unsorted"
"""Folder of jobs whose workflow nobody knows."""


def tidy(job: str) -> str:
    """Return the job number in the one spelling that names its folder."""
    return " ".join(unicodedata.normalize("NFC", job).split())


def folder_name(job: str) -> str:
    """Return the folder name of a job number; never empty, never a path."""
    text = tidy(job)
    encoded = "".join(
        character if _stands(character, index, len(text)) else _escaped(character)
        for index, character in enumerate(text)
    )
    if encoded.split(".", 1)[0].casefold() in _DEVICES:
        encoded = _escaped(encoded[0]) + encoded[1:]
    if not encoded:
        return "%00"
    if len(encoded.encode()) <= LONGEST:
        return encoded
    digest = hashlib.sha256(text.encode("utf-8", "surrogateescape")).hexdigest()[:16]
    return f"{_cut(encoded, LONGEST - 18)}%~{digest}"


def job_of(folder: str) -> str | None:
    """Return the job number of a folder name, None for one that was cut."""
    if "%~" in folder:
        return None
    return "" if folder == "%00" else unquote(folder, errors="surrogateescape")


def _stands(character: str, index: int, length: int) -> bool:
    at_edge = index in {0, length - 1}
    if character in ". " and at_edge:
        return False
    if character == "-" and index == 0:
        return False
    return (
        character in _PLAIN
        or unicodedata.category(character)[0] in "LN"
        or (unicodedata.category(character) in {"Mn", "Mc"})
    )


def _escaped(character: str) -> str:
    return "".join(f"%{byte:02X}" for byte in character.encode("utf-8", "surrogateescape"))


def _cut(encoded: str, most: int) -> str:
    """Cut to at most so many bytes, at a whole character and not inside a %XX."""
    kept = encoded.encode()[:most].decode("utf-8", "ignore")
    percent = kept.rfind("%", max(len(kept) - 2, 0))
    return kept[:percent] if percent >= 0 else kept


def numbered(name: str, number: int) -> str:
    """Return `1041.2.csv` for `1041.csv` and 2; 1 is the name itself."""
    if number == 1:
        return name
    stem, dot, ending = name.rpartition(".")
    return f"{stem}.{number}.{ending}" if dot and stem else f"{name}.{number}"
