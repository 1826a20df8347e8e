"""Folders under drop, approved and held that are the gate's own, and so no workflow's."""

from __future__ import annotations

CONCESSIONS = "concessions"
"""Slips arrive here, and refused ones are filed here."""

WEDGES, METER_CHECKS, METER_STUDIES = "wedges", "meter-checks", "meter-studies"
"""Sheets about the room are filed here."""

RESERVED = frozenset({CONCESSIONS, WEDGES, METER_CHECKS, METER_STUDIES})
