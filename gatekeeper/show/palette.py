"""The few colours of every screen: a dark warm ground, cream letters, amber for what is held.

Why     safelight is yellow or amber: it flattens yellow, orange and white, and a blue screen would
        fog the room. So colour comes last: words say everything, shapes repeat it, and every pair
        below differs in lightness by at least 7 to 1.
Source  WCAG 2.2, success criterion 1.4.6 (contrast of text, level AAA) and 1.4.11 (of shapes).
"""

from __future__ import annotations

from dataclasses import dataclass, fields


@dataclass(frozen=True, slots=True)
class Palette:
    """Colours as #rrggbb, named by what they are for."""

    ground: str
    raised: str  # ground of a card
    text: str
    soft: str  # text of second rank
    held: str
    alarm: str
    passed: str
    line: str  # rules and frames, which are no text


DARK = Palette(
    ground="#17110b",
    raised="#241a10",
    text="#f6ead6",
    soft="#d3c2a6",
    held="#ffb84a",
    alarm="#ffa183",
    passed="#cdd9a0",
    line="#9c8259",
)

PAPER = Palette(
    ground="#ffffff",
    raised="#ffffff",
    text="#000000",
    soft="#333333",
    held="#000000",
    alarm="#000000",
    passed="#000000",
    line="#555555",
)
"""For the printer: ink is dear, and paper is white."""


def text_pairs(palette: Palette) -> list[tuple[str, str]]:
    """Return every (letters, ground) that a screen may show; held and alarm also stand reversed."""
    letters = [field.name for field in fields(palette) if field.name not in _GROUNDS | {"line"}]
    pairs = [
        (getattr(palette, name), getattr(palette, ground))
        for name in letters
        for ground in sorted(_GROUNDS)
    ]
    return [*pairs, (palette.ground, palette.held), (palette.ground, palette.alarm)]


def shape_pairs(palette: Palette) -> list[tuple[str, str]]:
    """Return every (shape, ground)."""
    return [(palette.line, palette.ground), (palette.line, palette.raised)]


_GROUNDS = {"ground", "raised"}
