"""The demo: an invented plate room and its week of sheets."""
