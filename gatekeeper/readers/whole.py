"""Whether a file looks finished: half a copy of a table is a table too."""

from __future__ import annotations

import json

_ZIP = b"PK\x03\x04"
_ZIP_END = b"PK\x05\x06"
_ZIP_END_WITHIN = 66_000  # bytes: the record and the longest comment behind it
_OLE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
_OLE_SECTOR = 512


def ends_whole(content: bytes) -> bool:
    """Whether the content ends as its own format ends.

    A workbook has its closing directory, JSON its last bracket, CGATS.17 text an END_DATA for every
    BEGIN_DATA, any other text a line end. A copy cut inside the last number otherwise looks
    perfect, so a caller lets what is not whole rest longer before it takes it.
    """
    if content.startswith(_ZIP):
        return _ZIP_END in content[-_ZIP_END_WITHIN:]
    if content.startswith(_OLE):
        return len(content) % _OLE_SECTOR == 0
    text = content.replace(b"\x00", b"") if b"\x00" in content[:4] else content
    text = text.removeprefix(b"\xef\xbb\xbf").lstrip(b"\xff\xfe")
    stripped = text.strip()
    if stripped[:1] in {b"{", b"["}:
        return _is_json(stripped)
    if b"BEGIN_DATA_FORMAT" in text:
        lines = [line.split(None, 1)[0] for line in text.splitlines() if line.strip()]
        begun, ended = lines.count(b"BEGIN_DATA"), lines.count(b"END_DATA")
        return 0 < begun == ended
    return text.endswith((b"\n", b"\r", b"\x1a"))


def _is_json(text: bytes) -> bool:
    try:
        json.loads(text)
    except (ValueError, RecursionError):
        return False
    return True
