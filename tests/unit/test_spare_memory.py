import ctypes
import os
from pathlib import Path

import pytest

from gatekeeper.spare_memory import give_back

MANY, SIZE = 50_000, 2_000


def resident():
    """Return the bytes that this process has in memory."""
    return int(Path("/proc/self/statm").read_text().split()[1]) * os.sysconf("SC_PAGE_SIZE")


@pytest.mark.skipif(not hasattr(ctypes.CDLL(None), "malloc_trim"), reason="needs glibc")
def test_what_is_free_below_something_that_stays_is_given_back():
    held = [bytes(SIZE) for _ in range(MANY)]
    stays = held[-1]
    full = resident()
    del held
    give_back()
    assert full - resident() > MANY * SIZE / 2
    assert len(stays) == SIZE
