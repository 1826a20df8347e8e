"""The one way in which words reach a terminal: without markup, in letters that it can show."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich.text import Text

if TYPE_CHECKING:
    from rich.console import Console


def words(console: Console, text: str, style: str = "") -> Text:
    """Return text that means nothing to rich, with a question mark for what cannot be written."""
    encoding = console.encoding or "ascii"
    return Text(text.encode(encoding, "replace").decode(encoding), style=style)
