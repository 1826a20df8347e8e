"""Work that nobody waits for."""

from __future__ import annotations

import threading
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable


def beside(work: Callable[[], None]) -> None:
    """Do work in a thread of its own, which ends with the program."""
    threading.Thread(target=work, name="beside", daemon=True).start()
