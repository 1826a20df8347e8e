"""What takes minutes is left out unless the run asks for it: `sh tests/run.sh -m nightly`."""

import pytest


def pytest_collection_modifyitems(config, items):
    """Skip the nightly tests unless the run names them."""
    if "nightly" in (config.option.markexpr or ""):
        return
    for item in items:
        if item.get_closest_marker("nightly"):
            item.add_marker(pytest.mark.skip(reason="takes minutes; run with -m nightly"))
