"""What takes minutes is left out unless the run asks for it: `sh tests/run.sh -m nightly`."""

import sys
from pathlib import Path

import pytest

# The folder is no package (tests are imported by path), so its shared modules need this.
sys.path.insert(0, str(Path(__file__).parent))

from postgres_server import postgres_server

__all__ = ["postgres_server"]


def pytest_collection_modifyitems(config, items):
    """Skip the nightly tests unless the run names them."""
    if "nightly" in (config.option.markexpr or ""):
        return
    for item in items:
        if item.get_closest_marker("nightly"):
            item.add_marker(pytest.mark.skip(reason="takes minutes; run with -m nightly"))
