"""Job numbers ⇄ folder names.

Rule   letters, digits and ``. _ - + , = @ ( )`` and blanks inside stand for themselves; every other
       character, and what a share would change or refuse (a leading or trailing dot or blank, a
       leading dash, the device names of Windows), is written as %XX of its UTF-8 bytes. The job is
       first brought to NFC and its runs of blanks to one. Reading a folder name back is
       percent-decoding. A name beyond 200 bytes is cut and carries part of its SHA-256; its whole
       job number stands in verdict.json.

       Spellings that differ only in case or Unicode form are one job: they have one key, and the
       folder is named by the spelling that came first (`spelling.py`).
"""

from __future__ import annotations

import hashlib
import unicodedata
from functools import lru_cache
from urllib.parse import unquote

LONGEST = 200
"""Bytes of a folder name; leaves room for what is added, within the 255 of common filesystems."""

LONGEST_FILE = 255
"""Bytes of a file's name on common filesystems."""

UNSORTED = "unsorted"
"""Folder of jobs whose workflow nobody knows."""

_PLAIN = set("._-+,=@() ")
_DEVICES = {"con", "prn", "aux", "nul"} | {
    f"{port}{number}" for port in ("com", "lpt") for number in "0123456789¹²³"
}
_EMPTY = "%-"


def tidy(job: str) -> str:
    """Return the job number without what is not to be seen of it: NFC, single blanks."""
    return " ".join(unicodedata.normalize("NFC", job).split())


def caseless(text: str) -> str:
    """Return the form in which case and Unicode form do not count.

    Canonical caseless matching, Unicode Standard section 3.13, D145.
    """
    return unicodedata.normalize("NFC", unicodedata.normalize("NFD", text).casefold())


@lru_cache(1_024)
def key_of(job: str) -> str:
    """Return what makes two spellings one job: case, Unicode form and runs of blanks."""
    return " ".join(caseless(job).split())


@lru_cache(1_024)  # each step of filing asks for the same few
def folder_name(job: str) -> str:
    """Return the folder name of a job number; never empty, never a path."""
    text = tidy(job)
    encoded = "".join(
        character if _stands(character, index, len(text)) else _escaped(character)
        for index, character in enumerate(text)
    )
    if encoded.split(".", 1)[0].casefold() in _DEVICES:
        encoded = _escaped(encoded[0]) + encoded[1:]
    if len(encoded.encode()) > LONGEST:
        return f"{_cut(encoded, LONGEST - 18)}%~{_digest(text)}"
    return encoded or _EMPTY


def shelf_name(workflow: str) -> str:
    """Return the folder under approved and held in which a workflow's jobs stand."""
    if not workflow:
        return UNSORTED
    name = folder_name(workflow)
    return f"{_escaped(name[0])}{name[1:]}" if name.casefold() == UNSORTED else name


def job_of(folder: str) -> str | None:
    """Return the job number of a folder name, None for one that was cut."""
    if "%~" in folder:
        return None
    return "" if folder == _EMPTY else unquote(folder, errors="surrogateescape")


def _stands(character: str, index: int, length: int) -> bool:
    if character in ". " and index in {0, length - 1}:
        return False
    if character == "-" and index == 0:
        return False
    category = unicodedata.category(character)
    return character in _PLAIN or category[0] in "LN" or category in {"Mn", "Mc"}


def _escaped(character: str) -> str:
    return "".join(f"%{byte:02X}" for byte in _bytes(character))


def _digest(text: str) -> str:
    return hashlib.sha256(b"".join(map(_bytes, text))).hexdigest()[:16]


def _cut(encoded: str, most: int) -> str:
    """Cut to at most so many bytes, at a whole character and not inside a %XX."""
    kept = encoded.encode()[:most].decode("utf-8", "ignore")
    percent = kept.rfind("%", max(len(kept) - 2, 0))
    return kept[:percent] if percent >= 0 else kept


def numbered(name: str, number: int) -> str:
    """Return `1041.2.csv` for `1041.csv` and 2; 1 is the name itself.

    What is too long with the number is shortened, and carries part of the whole name's digest.
    """
    if number == 1:
        return name
    stem, dot, ending = name.rpartition(".")
    if not (dot and stem) or len(_bytes(ending)) > LONGEST // 4:
        stem, dot, ending = name, "", ""
    suffix = f".{number}{dot}{ending}"
    if len(_bytes(stem + suffix)) <= LONGEST_FILE:
        return stem + suffix
    mark = f"~{_digest(name)}"
    room = LONGEST_FILE - len(_bytes(mark + suffix))
    return _whole(_bytes(stem)[:room]) + mark + suffix


def _bytes(name: str) -> bytes:
    """Return the bytes of a name; half a surrogate pair, which JSON can bring in, is kept too."""
    try:
        return name.encode("utf-8", "surrogateescape")
    except UnicodeEncodeError:
        return name.encode("utf-8", "surrogatepass")


def _whole(name: bytes) -> str:
    """Return cut bytes as a name, without half a character at the end."""
    for cut in range(min(4, len(name))):
        try:
            return name[: len(name) - cut].decode()
        except UnicodeDecodeError:
            continue
    return name.decode("utf-8", "surrogateescape")
