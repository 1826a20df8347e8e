"""Memory that is free inside the process, given back to the system.

What a backlog leaves free lies between things that stay, and the C library keeps it: page by page,
thousand jobs by thousand jobs, the process would grow without holding anything more.
"""

from __future__ import annotations

import ctypes

_libc = ctypes.CDLL(None)


def give_back() -> None:
    """Give back every page on which nothing stands; where the C library offers no way, do nothing.

    Takes some milliseconds, during which other threads of Python go on.
    """
    trim = getattr(_libc, "malloc_trim", None)  # of glibc
    if trim is not None:
        trim(ctypes.c_size_t(0))
