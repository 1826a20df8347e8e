"""The text of a register file with one entry more; comments, order and everything else stay.

Done by a round trip that keeps comments (ruamel.yaml). What is new is written like its neighbours:
in braces on one line where they are, below its name where they are not. Pure: text in, text out.
"""

from __future__ import annotations

import io
import re
from datetime import date
from typing import TYPE_CHECKING, Any

from ruamel.yaml import YAML
from ruamel.yaml.comments import CommentedMap, CommentedSeq

from gatekeeper.register.line_keeping import with_own_lines

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

Value = str | float | date | tuple[float, ...] | tuple[date, ...] | dict[str, float]

_WIDEST = 1_000_000  # no line of an administrator's file is broken anew
_ITEM = re.compile(r"^(?P<indent> *)- ", re.MULTILINE)
_KEY = re.compile(r"^(?P<indent> +)[^\s#-]", re.MULTILINE)


def with_entry(text: str, block: str, key: str, fields: Mapping[str, Value]) -> str:
    """Return the text with a named entry behind the others of a block.

    Parameters
    ----------
    block : such as `meters`; it is made where the file has none
    key : name of the entry, which the block must not have yet
    """
    editor, document = _load(text)
    entries = document.get(block)
    if entries is None:
        entries = document[block] = CommentedMap()
    entries[key] = _mapping(fields, entries.values())
    return _dump(editor, document, text)


def with_item(text: str, block: str, fields: Mapping[str, Value]) -> str:
    """Return the text with an item behind the others of a list."""
    editor, document = _load(text)
    items = document.get(block)
    if items is None:
        items = document[block] = CommentedSeq()
    items.append(_mapping(fields, items))
    return _dump(editor, document, text)


def with_field(text: str, block: str, key: str, name: str, value: Value) -> str:
    """Return the text with one field of a named entry set; the entry must be there."""
    editor, document = _load(text)
    document[block][key][name] = _plain(value)
    return _dump(editor, document, text)


def _load(text: str) -> tuple[YAML, Any]:
    editor = YAML()
    editor.preserve_quotes = True
    editor.width = _WIDEST
    keys, items = _KEY.search(text), _ITEM.search(text)
    step = len(keys["indent"]) if keys else 2
    offset = len(items["indent"]) if items else 2
    editor.indent(mapping=step, sequence=offset + 2, offset=offset)
    return editor, editor.load(text) or CommentedMap()


def _dump(editor: YAML, document: Any, before: str) -> str:  # noqa: ANN401 -- ruamel's own node
    own = before.replace("\r\n", "\n")
    text = with_own_lines(own, _written(editor, editor.load(own)), _written(editor, document))
    return text.replace("\n", "\r\n") if "\r\n" in before else text


def _written(editor: YAML, document: Any) -> str:  # noqa: ANN401 -- ruamel's own node
    if document is None:
        return ""
    out = io.StringIO()
    editor.dump(document, out)
    return out.getvalue()


def _mapping(fields: Mapping[str, Value], neighbours: Iterable[object]) -> CommentedMap:
    mapping = CommentedMap({name: _plain(value) for name, value in fields.items()})
    known = [entry for entry in neighbours if isinstance(entry, CommentedMap)]
    if not known or known[-1].fa.flow_style():
        mapping.fa.set_flow_style()
    return mapping


def _plain(value: Value) -> object:
    """Return what is written: whole numbers without a point, lists and tables on one line."""
    if isinstance(value, dict):
        table = CommentedMap({name: _plain(inner) for name, inner in value.items()})
        table.fa.set_flow_style()
        return table
    if isinstance(value, tuple):
        numbers = CommentedSeq(map(_plain, value))
        numbers.fa.set_flow_style()
        return numbers
    if isinstance(value, float) and value.is_integer():
        return int(value)
    return value
