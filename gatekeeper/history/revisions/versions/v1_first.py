"""The first version: `schema.py` makes its tables, and nothing leads to it."""

from __future__ import annotations

revision = "1"
down_revision = None


def upgrade() -> None:
    """Do nothing: what is older than the first version is no history."""
