"""The pages that explain the rules, for people and programs."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from gatekeeper.explain import Page

WIDTH = 78
_INDENT = "    "


def page_lines(page: Page) -> Iterator[str]:
    """Yield the page of a section, its keys below it."""
    yield page.summary
    yield ""
    if page.text:
        yield from page.text.splitlines()
        yield ""
    for key in page.keys:
        name = f"{page.section}.{key.path}" if key.path else page.section
        yield f"{name} ({key.unit})" if key.unit else name
        yield from _filled(key.meaning)
        yield f"    default: {key.default}"


def list_lines(pages: Sequence[Page]) -> Iterator[str]:
    """Yield each section with what it asks."""
    widest = max(len(page.section) for page in pages)
    for page in pages:
        yield f"{page.section:<{widest}}  {page.summary}"
    yield ""
    yield "explain one with: gatekeeper rules explain CHECK"


def page_data(page: Page) -> dict[str, object]:
    """Return the page for other programs."""
    return {
        "section": page.section,
        "summary": page.summary,
        "text": page.text,
        "keys": [
            {"key": key.path, "unit": key.unit, "meaning": key.meaning, "default": key.default}
            for key in page.keys
        ],
    }


def _filled(text: str) -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent=_INDENT, subsequent_indent=_INDENT)
