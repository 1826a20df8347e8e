from datetime import date
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from ruamel.yaml import YAML

from gatekeeper.register.editing import with_entry, with_field, with_item
from gatekeeper.register.register import read_register

CONFIG = Path(__file__).parents[3] / "config/register"
WEDGE = {
    "workflow": "plate",
    "printer": "P1",
    "stock": "matte-5mil",
    "linearized": date(2026, 11, 25),
    "name": "P1: best # of all",
    "ruling_lpi": 65.0,
    "correction": (0.0, 3.5, 100.0),
}


def added(before, after):
    """Return the lines that are new; every old line must still be there, in order."""
    old, new = before.splitlines(), after.splitlines()
    fresh = []
    for line in new:
        if old and line == old[0]:
            old.pop(0)
        else:
            fresh.append(line)
    assert old == [], "a line was lost or changed"
    return fresh


@pytest.mark.parametrize("file", sorted(CONFIG.glob("*.yaml")), ids=lambda path: path.name)
def test_files_of_the_example_site_keep_every_line(file):
    text = file.read_text()
    (line,) = added(text, with_entry(text, "extra", "X", {"a": "b"}))[-1:]
    assert "X" in line


def test_an_item_is_written_like_its_neighbours_on_one_line():
    text = (CONFIG / "curves.yaml").read_text()
    (line,) = added(text, with_item(text, "curves", WEDGE))
    assert line == (
        "  - {workflow: plate, printer: P1, stock: matte-5mil, linearized: 2026-11-25, "
        "name: 'P1: best # of all', ruling_lpi: 65, correction: [0, 3.5, 100]}"
    )


def test_what_is_written_reads_back_as_it_was_meant():
    text = "stocks: {matte-5mil: {kind: ink film}}\nprinters: {P1: {}}\n"
    register, problems = read_register(
        {"register/a.yaml": with_item(text, "curves", WEDGE).encode()}
    )
    assert problems == ()
    (entry,) = register.curves
    assert (entry.name, entry.correction) == ("P1: best # of all", (0.0, 3.5, 100.0))
    assert entry.linearized == date(2026, 11, 25)


BLOCKS = """\
# top of the file
meters:
    # the good one
    T-04:
        calibrated: 2026-09-01   # by the laboratory
        uncertainty: 0.020
        serial: 00123
        note: 'it''s "fine"'

    # last words
"""


def test_an_entry_is_written_below_its_name_where_its_neighbours_are():
    fields = {"calibrated": date(2026, 1, 2), "serial": "0012", "uncertainty": 0.03}
    after = with_entry(BLOCKS, "meters", "T-99", fields)
    assert added(BLOCKS, after) == [
        "    T-99:",
        "        calibrated: 2026-01-02",
        "        serial: '0012'",
        "        uncertainty: 0.03",
    ]


def test_one_field_is_set_and_everything_else_stays():
    after = with_field(BLOCKS, "meters", "T-04", "calibrated", date(2026, 11, 20))
    assert after == BLOCKS.replace("2026-09-01", "2026-11-20")
    assert added(BLOCKS, with_field(BLOCKS, "meters", "T-04", "interval_days", 365.0)) == [
        "        interval_days: 365"
    ]


@pytest.mark.parametrize("text", ["", "# only a comment\n"])
def test_a_block_that_is_not_there_is_begun(text):
    after = with_entry(text, "meters", "T-04", {"calibrated": date(2026, 9, 1)})
    assert "T-04: {calibrated: 2026-09-01}" in after
    assert after.count("meters:") == 1


def test_an_empty_list_is_filled():
    assert "- {name: x}" in with_item("curves: []\n", "curves", {"name": "x"})


def test_line_ends_of_the_file_are_kept():
    text = BLOCKS.replace("\n", "\r\n")
    after = with_entry(text, "meters", "T-99", {"calibrated": date(2026, 1, 2)})
    assert "\r\n" in after
    assert "\n" not in after.replace("\r\n", "")


def test_lists_that_begin_at_the_margin_stay_there():
    text = "curves:\n- {name: a}   # first\n- name: b\n"
    assert added(text, with_item(text, "curves", {"name": "c"})) == ["- name: c"]


FOLDED = """\
meters:
  T-04: {calibrated: 2026-09-01,   # by the laboratory
         uncertainty: 0.02}
  T-05: {calibrated: 2026-09-02,
         tablet: {A: 0.05,
                  B: 1.48}}
  T-06: {calibrated: 2026-09-03, note: "a
    long one"}
curves:
  - {name: a,
     ruling_lpi: 65}
"""


def test_mappings_in_braces_that_run_over_several_lines_stay_so():
    after = with_entry(FOLDED, "meters", "T-99", {"calibrated": date(2026, 1, 2)})
    assert added(FOLDED, after) == ["  T-99: {calibrated: 2026-01-02}"]
    item = with_item(FOLDED, "curves", {"name": "b"})
    assert added(FOLDED, item) == ["  - {name: b}"]


def test_only_the_entry_that_is_changed_is_laid_out_anew():
    after = with_field(FOLDED, "meters", "T-05", "calibrated", date(2026, 11, 20))
    line = "  T-05: {calibrated: 2026-11-20, tablet: {A: 0.05, B: 1.48}}\n"
    begin, end = FOLDED.index("  T-05"), FOLDED.index("  T-06")
    assert after == FOLDED[:begin] + line + FOLDED[end:]


def test_an_edit_of_nothing_changes_nothing():
    assert with_field(FOLDED, "meters", "T-06", "calibrated", date(2026, 9, 3)) == FOLDED


def test_a_comment_inside_the_entry_that_is_changed_stands_above_it():
    after = with_field(FOLDED, "meters", "T-04", "uncertainty", 0.03)
    assert after == FOLDED.replace(
        "  T-04: {calibrated: 2026-09-01,   # by the laboratory\n         uncertainty: 0.02}\n",
        "  # by the laboratory\n  T-04: {calibrated: 2026-09-01, uncertainty: 0.03}\n",
    )


TEXT = st.sampled_from(["plain", "'it # is'", '"a # b"', "x#y"])
ENTRY = st.tuples(TEXT, st.sampled_from([" ", "\n    ", "   # why\n    "]), st.booleans())


@settings(deadline=None)
@given(st.lists(ENTRY, min_size=1, max_size=5), st.data())
def test_no_comment_and_no_line_of_another_entry_is_ever_lost(entries, data):
    blocks = [
        f"  T-{number}: {{note: {note},{gap}serial: {number}}}{'  # end' if ends else ''}\n"
        for number, (note, gap, ends) in enumerate(entries)
    ]
    text = "meters:\n" + "".join(blocks)
    which = data.draw(st.integers(0, len(entries) - 1))
    after = with_field(text, "meters", f"T-{which}", "serial", "new")
    for number, block in enumerate(blocks):
        assert number == which or block in after
    assert after.count("# why") == text.count("# why")
    assert after.count("# end") == text.count("# end")
    before, now = (YAML(typ="safe").load(each)["meters"] for each in (text, after))
    assert now == {**before, f"T-{which}": {**before[f"T-{which}"], "serial": "new"}}
