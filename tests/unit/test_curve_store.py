from dataclasses import replace
from datetime import UTC, datetime

import pytest

from gatekeeper.care.curve_store import Acceptance, CurveStore
from gatekeeper.control.curve import BuiltCurve
from gatekeeper.errors import UsageError
from gatekeeper.filing.disk import Disk

CURVE = BuiltCurve(
    name="P1 matte-5mil plate 2026-11-23",
    workflow="plate",
    printer="P1",
    stock="matte-5mil",
    lot="M5-0317",
    made="2026-11-23",
    through="",
    resolution_dpi=1440.0,
    ruling_lpi=None,
    steps=(0.0, 41.1, 100.0),
    before=(),
    predicted=(0.0, 50.0, 100.0),
    patches=(),
    leave_one_out=0.1,
    mid_tone=58.7,
    sources=("a" * 64,),
)
AT = datetime(2026, 11, 25, 9, 30, tzinfo=UTC)


@pytest.fixture
def store(tmp_path):
    return CurveStore(tmp_path / "state", Disk())


def test_a_curve_is_kept_with_its_tables_in_three_forms(store):
    store.put(CURVE)
    assert store.curves() == (CURVE,)
    assert sorted(path.suffix for path in store.folder.iterdir()) == [
        ".cgats", ".csv", ".json", ".txt",
    ]  # fmt: skip


def test_the_same_wedges_are_one_curve_however_often_they_are_built(store):
    assert store.put(CURVE) == store.put(replace(CURVE, mid_tone=1.0))
    assert len(store.curves()) == 1


def test_a_second_wedge_of_the_day_gets_a_name_of_its_own(store):
    store.put(CURVE)
    second = store.put(replace(CURVE, sources=("b" * 64,)))
    assert second.name == "P1 matte-5mil plate 2026-11-23 2"
    assert len(store.curves()) == 2


def test_a_part_of_a_name_is_enough_while_it_is_the_only_one(store):
    store.put(CURVE)
    other = store.put(replace(CURVE, name="P2 matte-8mil plate 2026-11-23", sources=("b" * 64,)))
    assert store.find("p2") == other
    assert store.find(CURVE.name.upper()) == CURVE
    with pytest.raises(UsageError, match="part of several names"):
        store.find("plate")
    with pytest.raises(UsageError, match="no curve is called"):
        store.find("P3")


def test_where_there_is_no_curve_the_way_to_one_is_told(store):
    with pytest.raises(UsageError, match="gatekeeper curve build FILE"):
        store.find("P1")
    assert store.curves() == ()
    assert store.accepted() == {}


def test_an_acceptance_is_remembered_to_the_minute(store):
    store.put(CURVE)
    assert store.acceptance(CURVE.name) is None
    store.accept(CURVE.name, Acceptance(AT, "JV"))
    assert store.acceptance(CURVE.name) == Acceptance(AT, "JV")
    assert store.accepted() == {CURVE.name: AT}


def test_damaged_files_are_as_good_as_none(store):
    store.put(CURVE)
    store.accept(CURVE.name, Acceptance(AT, "JV"))
    for path in store.folder.glob("*.json"):
        path.write_bytes(path.read_bytes()[:30])
    assert store.curves() == ()
    assert store.acceptance(CURVE.name) is None
    assert store.put(CURVE) == CURVE
    assert store.curves() == (CURVE,)


def test_names_that_are_no_file_names_are_kept_all_the_same(store):
    odd = replace(CURVE, name="P/1 ../x plate 2026-11-23", sources=("c" * 64,))
    assert store.put(odd) == odd
    assert store.find("../x") == odd
    assert {path.parent for path in store.folder.parent.rglob("*.json")} == {store.folder}
