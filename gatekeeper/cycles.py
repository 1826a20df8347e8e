"""The interpreter's search for objects that name each other in a circle, put off for a while."""

from __future__ import annotations

import gc
from contextlib import contextmanager
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator


@contextmanager
def cycles_left_alone() -> Iterator[None]:
    """Let the interpreter look for cycles after the block, where it would within.

    Amid thousands of objects under way it would look at all of them again and again, for up to a
    third of the time, and find nothing: what the block makes goes when nobody names it any more.
    """
    was_looking = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_looking:
            gc.enable()
