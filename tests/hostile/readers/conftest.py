import pytest


def pytest_configure(config):
    config.addinivalue_line("markers", "nightly: takes minutes; run with -m nightly")


def pytest_collection_modifyitems(config, items):
    """Leave what takes minutes out of a run that does not ask for it."""
    if "nightly" in (config.option.markexpr or ""):
        return
    for item in items:
        if item.get_closest_marker("nightly"):
            item.add_marker(pytest.mark.skip(reason="takes minutes; run with -m nightly"))
