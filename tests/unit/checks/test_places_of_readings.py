"""A finding says where its reading stood: the very cell, not only the row."""

import pytest

from gatekeeper.sheet import Number, Patch, PatchKind, Trace

ROW, CELL, OTHER = Trace(19), Trace(19, 3), Trace(19, 4)


@pytest.mark.parametrize(
    ("readings", "place"),
    [
        ({"density": Number(2.9, "2.90", CELL)}, CELL),
        ({"dot_percent": Number(50.8, "50.8", OTHER)}, OTHER),
        ({"transmittance_percent": Number(0.2, "0.2", CELL)}, CELL),
        ({"length_mm": Number(600.0, "600", CELL)}, CELL),
        ({"density": Number(0.3, "0.3", CELL), "dot_percent": Number(50, "50", OTHER)}, ROW),
        ({"density": Number(2.9, "2.90")}, ROW),
        ({}, ROW),
    ],
)
def test_a_patch_knows_the_cell_of_its_one_reading(readings, place):
    assert Patch(PatchKind.SOLID, trace=ROW, **readings).read_at == place
