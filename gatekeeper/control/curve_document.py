"""A curve as a JSON document and back. Reading is strict: what is not whole is refused. Pure.

Numbers are kept to six decimals, far below any meter, so that equal curves give equal bytes.
"""

from __future__ import annotations

import json
from dataclasses import asdict, fields
from typing import Any, Final

from gatekeeper.control.curve import BuiltCurve, Patch

FORMAT: Final = "gatekeeper curve"
VERSION: Final = 1
_DECIMALS: Final = 6
_NAMES: Final = frozenset(field.name for field in fields(BuiltCurve))

Document = dict[str, Any]


class NotACurveError(ValueError):
    """The bytes are not the document of a curve."""


def curve_document(curve: BuiltCurve) -> Document:
    """Return the curve as plain dicts, lists, text and numbers."""
    rounded: Document = _rounded(asdict(curve))
    return {"format": FORMAT, "version": VERSION, **rounded}


def curve_bytes(curve: BuiltCurve) -> bytes:
    """Return the document as UTF-8 text."""
    text = json.dumps(curve_document(curve), indent=1, ensure_ascii=False, allow_nan=False)
    return f"{text}\n".encode()


def read_curve(data: bytes) -> BuiltCurve:
    """Return the curve of a document.

    Raises
    ------
    NotACurveError : it is cut, of another format or version, or a key is missing or unknown
    """
    try:
        document = json.loads(data)
        form, version = document.pop("format"), document.pop("version")
        if (form, version) != (FORMAT, VERSION) or set(document) != _NAMES:
            raise NotACurveError(form, version)
        patches = tuple(Patch(**patch) for patch in document.pop("patches"))
        for name in ("steps", "before", "predicted"):
            document[name] = tuple(map(float, document[name]))
        sources = tuple(map(str, document.pop("sources")))
        return BuiltCurve(**document, patches=patches, sources=sources)
    except (ValueError, TypeError, KeyError, AttributeError) as error:
        raise NotACurveError(str(error)) from error


def _rounded(value: Any) -> Any:  # noqa: ANN401 -- whatever a curve is made of
    if isinstance(value, float):
        return round(value, _DECIMALS) + 0.0
    if isinstance(value, dict):
        return {key: _rounded(inner) for key, inner in value.items()}
    if isinstance(value, list | tuple):
        return [_rounded(inner) for inner in value]
    return value
